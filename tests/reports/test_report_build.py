"""What a report holds: sections, verdicts, decisions, tables, pictures to scale, pages that overlap."""

from __future__ import annotations

import csv
import io
import json
import re
from itertools import pairwise

import msgspec
import pytest

from benchmarks.many import side_by_side
from loopwright import reports
from loopwright.drawing.look import Look
from loopwright.drawing.plan import plan_sheet
from loopwright.engineering.runs.cut import power_cut
from loopwright.files.fingerprint import fingerprint
from loopwright.files.reader import load
from loopwright.reports import charts, drawn, pictures, plates, words
from loopwright.reports.exports import as_csv
from loopwright.reports.marks import draw_mark
from loopwright.reports.model import Card, Chart, Data, Line, Mark, Picture, Plate, Report, Table, Words
from loopwright.reports.sections.conditions import worth_trying
from loopwright.rules import review
from loopwright.rules.findings import Severity, told
from loopwright.rules.registry import all_rules, facts
from loopwright.rules.replay import named
from loopwright.survey import survey
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from recorded import RecordPlotter

from .conftest import CATALOGUE, DAY, ROOT


def blocks(report: Report, sort: type) -> list:
    return [b for s in report.sections for b in s.blocks if isinstance(b, sort)]


def section(report: Report, key: str):
    return next((s for s in report.sections if s.key == key), None)


def data(report: Report, name: str) -> Data:
    return next(t for t in report.tables if t.name == name)


def test_a_card_a_finding(faulty_report, faulty_survey):
    cards = blocks(faulty_report, Card)
    assert [c.title for c in cards] == [f.message for f in faulty_survey.findings]
    for card, finding in zip(cards, faulty_survey.findings):
        said = dict(card.facts)
        assert said["Do"] == finding.todo and said["Source"]
        assert ("Measured" in said) == (finding.measured is not None)
        assert card.picture is not None and finding.subject in card.picture.lit
        assert {f.flag.number for f in card.picture.labels.flags} == {finding.number}


def test_flags_stand_inside_their_pictures(faulty_report):
    for card in blocks(faulty_report, Card):
        x0, y0, x1, y1 = card.picture.box
        for flag in card.picture.labels.flags:
            assert x0 < flag.at[0] < x1 and y0 < flag.at[1] < y1
            assert x0 < flag.spot[0] < x1 and y0 < flag.spot[1] < y1


def test_what_is_lit_lies_inside_its_picture(faulty_report, faulty, faulty_survey):
    plan = plan_sheet(faulty, CATALOGUE, faulty_survey.services)
    for card in blocks(faulty_report, Card):
        x0, y0, x1, y1 = card.picture.box
        for key in card.picture.lit & plan.pipes.keys():
            assert all(x0 < x < x1 and y0 < y < y1 for x, y in plan.pipes[key].points)


def test_every_rule_answers(faulty_report):
    said = {row[0] for row in data(faulty_report, "answers").rows}
    assert said == set(all_rules())


def test_what_is_missing_names_its_part_once():
    assert told("Radiator pump", "Radiator pump: its head is not stated") == "Radiator pump: its head is not stated"
    assert told("Boiler stove", "the boiler stove: power is missing") == "The boiler stove: power is missing"
    assert told("Stove", "power is missing") == "Stove: power is missing"


def test_verdict_never_accepts(sound, faulty_report):
    assert faulty_report.verdict.startswith("Not accepted") and faulty_report.worst == "danger"
    clear = reports.build(sound, CATALOGUE, today=DAY)
    assert clear.verdict == "No danger, no fault found in what was assessed"
    assert "ccept" not in clear.verdict


def decided(sheet, **more):
    """The pump in the heat leak accepted, as a reviewer does it."""
    finding = survey(sheet, CATALOGUE).findings[0]
    given = {"by": "A. Fitter", "date": "2026-03-14", "fingerprint": "", "reason": "a gravity flap stands beside it"}
    return review.decide(sheet, finding, "accepted", **{**given, **more})


def test_a_settled_danger_is_still_printed(faulty):
    report = reports.build(decided(faulty), CATALOGUE, today=DAY)
    card = blocks(report, Card)[0]
    assert card.mark == Mark("danger", "1", open=True)
    assert card.strips[0].label == "Accepted" and "a gravity flap" in card.strips[0].words
    assert report.verdict.startswith("Settled")
    assert section(report, "decisions") is not None
    assert data(report, "findings").rows[0][-5:] == (
        "accepted",
        "a gravity flap stands beside it",
        "A. Fitter",
        "2026-03-14",
        False,
    )


def test_a_decision_on_another_state_is_marked_stale(faulty):
    sheet = decided(faulty)
    pump = sheet.parts["P5"]
    changed = msgspec.structs.replace(pump, props={**pump.props, "head_m": 3.5})
    later = msgspec.structs.replace(sheet, parts={**sheet.parts, "P5": changed})
    report = reports.build(later, CATALOGUE, today=DAY)
    card = blocks(report, Card)[0]
    assert card.strips[0].stale and "look again" in card.strips[0].words
    assert not card.mark.open and report.verdict.startswith("Not accepted")


def test_a_decision_whose_finding_is_gone_is_kept(sound, faulty):
    sheet = msgspec.structs.replace(sound, dispositions=decided(faulty).dispositions)
    table = section(reports.build(sheet, CATALOGUE, today=DAY), "decisions").blocks[0]
    assert table.rows[0][-1] == "nothing found there now"


def test_a_signature_has_the_last_word_on_its_own_state(faulty):
    sheet = decided(faulty)
    found = survey(sheet, CATALOGUE).findings
    signed = review.sign(sheet, found, accepted=True, by="A. Fitter", date="2026-03-14", fingerprint=fingerprint(sheet))
    assert reports.build(signed, CATALOGUE, today=DAY).verdict == "Accepted by A. Fitter, 2026-03-14"
    later = msgspec.structs.replace(signed, title="another")
    report = reports.build(later, CATALOGUE, today=DAY)
    assert report.verdict.startswith("Settled")
    assert section(report, "decisions").blocks[1].rows[0][-1] == "changed since"


def test_fingerprint_follows_the_drawing_alone(faulty):
    same = reports.build(decided(faulty), CATALOGUE, today=DAY).fingerprint
    assert same == reports.build(faulty, CATALOGUE, today=DAY).fingerprint
    assert re.fullmatch(r"([0-9a-f]{4} ){3}[0-9a-f]{4}", same)
    other = msgspec.structs.replace(faulty, title=faulty.title + "!")
    assert reports.build(other, CATALOGUE, today=DAY).fingerprint != same


def test_changed_limits_stand_beside_the_published_ones(sound):
    key = "sf.leak.share"
    key = key if key in facts() else next(k for k, f in facts().items() if isinstance(f.value, float))
    report = reports.build(msgspec.structs.replace(sound, limits={key: 12.5}), CATALOGUE, today=DAY)
    row = data(report, "limits").rows[0]
    assert row[0] == key and row[2] == 12.5 and row[4] == facts()[key].source


def test_conditions_tried_are_recorded(faulty):
    noted, tried = Condition(stopped=frozenset({"P5"})), Condition(shut=frozenset({"TV1"}))
    sheet = review.note_tried(faulty, noted)
    report = reports.build(sheet, CATALOGUE, tried=(tried,), today=DAY)
    said = {row[0]: row for row in data(report, "conditions").rows}
    ways = Waterways(sheet, CATALOGUE)
    assert {"Normal running", "Power cut", named(ways, noted), named(ways, tried)} <= set(said)


def test_a_fire_whose_pump_stands():
    """Without power no water goes round where a pump must push it: common practice, no source."""
    from loopwright import draw

    s = draw.sheet("alone")
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0, power_kw=8)
    radiator = s.add("radiator", "rad", x_m=4, height_m=2.0)
    pump = s.add("pump", "P1", x_m=2.5, height_m=1.5)
    ports = CATALOGUE["radiator"].ports
    s.pipe(stove["flow"], pump["a"], size="28")
    s.pipe(pump["b"], radiator[ports[0].name], size="28")
    s.pipe(radiator[ports[1].name], stove["return"], size="28")
    report = reports.build(s.done(), CATALOGUE, today=DAY)
    said = {row[0]: row for row in data(report, "conditions").rows}
    assert said["Normal running"][4] is True and "rad" in said["Normal running"][2]
    assert said["Power cut"][4] is False and "No water moves through stove" in said["Power cut"][1]
    assert said["Power cut"][3] == "rad"


def test_a_plausible_condition_that_leaves_a_danger_is_printed():
    """A lever left shut in the only way of a fire's heat: common practice, no source."""
    sheet = load(ROOT / "samples" / "faulty" / "valve-on-stove-flow.loopwright", CATALOGUE)
    report = reports.build(sheet, CATALOGUE, today=DAY)
    bad = [row for row in data(report, "conditions").rows if not row[4]]
    assert any("shut" in row[0] for row in bad)


def test_a_large_sheet_says_what_was_not_tried(sound):
    sort, todo = worth_trying(Waterways(side_by_side(sound, 12), CATALOGUE))
    assert (sort, todo) == ("", [])
    sort, todo = worth_trying(Waterways(sound, CATALOGUE))
    assert "pairs" in sort and NORMAL in todo and POWER_CUT in todo


# ---- the drawing to scale


def test_a_metre_of_house_is_twenty_millimetres_at_one_to_fifty():
    """Scales after ISO 5455."""
    from reportlab.pdfgen.canvas import Canvas

    from loopwright.reports.pen import PT_A_MM, PdfPlotter

    plot = PdfPlotter(Canvas(io.BytesIO()), Look.on_paper(50.0), (0.0, 0.0), (0.0, 0.0))
    (x0, _), (x1, _) = plot._at((0.0, 0.0)), plot._at((100.0, 0.0))
    assert (x1 - x0) / PT_A_MM == pytest.approx(20.0)


@pytest.mark.parametrize("paper", ["A4", "A3"])
@pytest.mark.parametrize("copies", [1, 3, 6])
def test_pages_cover_the_sheet_and_overlap(sound, paper, copies):
    plan = plan_sheet(side_by_side(sound, copies, 14.0), CATALOGUE)
    plate = pictures.plate(plan, (), paper)
    assert plate.picture.scale in pictures.SCALES
    x0, y0, x1, y1 = plate.picture.box
    mm = plate.picture.scale / 10
    room = pictures.plate_room_mm(paper, plate.upright)
    rows = len(plate.tiles) // plate.across
    assert rows * plate.across == len(plate.tiles)
    for k, (a, c, b, d) in enumerate(plate.tiles):
        assert (b - a) <= room[0] * mm + 1e-6 and (d - c) <= room[1] * mm + 1e-6
        column, row = k % plate.across, k // plate.across
        if column:
            assert plate.tiles[k - 1][2] - a >= pictures.OVERLAP_MM * mm - 1e-6
        if row:
            assert plate.tiles[k - plate.across][3] - c >= pictures.OVERLAP_MM * mm - 1e-6
    assert plate.tiles[0][:2] == pytest.approx((x0, y0)) and plate.tiles[-1][2:] == pytest.approx((x1, y1))


def test_the_strip_names_scale_and_piece(sound):
    plan = plan_sheet(side_by_side(sound, 3, 14.0), CATALOGUE)
    plate = pictures.plate(plan, (), "A4")
    plot = RecordPlotter()
    plates.draw_round(plot, plate, 1, (0.0, 0.0, 1485.0, 1050.0), "Barn", "B", "Piece 2 of 4, page 3")
    said = plot.words()
    assert "Scale 1 : 50" in said and "Piece 2 of 4, page 3" in said and "Barn" in said
    assert "goes on in piece 1" in said and "goes on in piece 3" in said


def test_all_flags_stand_on_the_whole_drawing(faulty_report, faulty_survey):
    plate: Plate = blocks(faulty_report, Plate)[0]
    assert {f.flag.number for f in plate.picture.labels.flags} == {f.number for f in faulty_survey.findings}


def test_a_store_stands_with_all_its_letters(faulty_report, faulty):
    pair = section(faulty_report, "stores").blocks[1]
    picture: Picture = pair.left[0]
    letters = {w.lines[0] for w in picture.labels.words if w.kind == "letter"}
    assert letters == {t.letter for t in faulty.parts["store"].tappings}
    taps = data(faulty_report, "tappings").rows
    assert {(r[1], r[3]) for r in taps} == {(t.letter, t.height_m) for t in faulty.parts["store"].tappings}


def test_severity_is_told_without_colour():
    """Shape, number and word each tell the severity (WCAG 2.2, 1.4.1: never by colour alone)."""
    shapes = {}
    for severity in ("danger", "fault", "advice", "not assessed"):
        plot = RecordPlotter()
        draw_mark(plot, Mark(severity, "7"), (0.0, 0.0), 2.0)
        area = plot.named("area")[0]
        shapes[severity] = len(area[1])
        assert plot.words() == ["7"]
    assert len(set(shapes.values())) >= 3 and shapes["danger"] == 8
    for severity in Severity:
        assert severity.word in ("danger", "fault", "advice")


def test_the_rest_is_paler_than_what_is_lit(faulty_report):
    card = blocks(faulty_report, Card)[0]
    plot = RecordPlotter()
    drawn.draw_picture(plot, card.picture)
    tokens = {str(call[2]) for call in plot.named("line")}
    assert "flow" in tokens and any(t.startswith("#") for t in tokens)


# ---- tables


def test_tables_as_csv_and_json(faulty_report, faulty_survey):
    as_csv_ = reports.tables(faulty_report, "csv")
    as_json = reports.tables(faulty_report, "json")
    assert {n.removesuffix(".csv") for n in as_csv_} == {n.removesuffix(".json") for n in as_json}
    rows = list(csv.DictReader(io.StringIO(as_csv_["findings.csv"].decode(), newline="")))
    assert [r["message"] for r in rows] == [f.message for f in faulty_survey.findings]
    records = json.loads(as_json["findings.json"])
    assert [r["measured"] for r in records] == [f.measured for f in faulty_survey.findings]
    assert b"\r\n" in as_csv_["findings.csv"]  # RFC 4180
    assert len(json.loads(as_json["answers.json"])) == len(faulty_survey.answers)


def test_a_spreadsheet_runs_nothing():
    """Cells that begin like a formula are quoted (OWASP, CSV injection)."""
    table = Data("t", ("a", "b"), (("=1+1", -2.5), ("@x", None), ("plain", True)))
    rows = list(csv.reader(io.StringIO(as_csv(table).decode(), newline="")))
    assert rows == [["a", "b"], ["'=1+1", "-2.5"], ["'@x", ""], ["plain", "yes"]]


def test_rows_fit_their_columns(faulty_report):
    for table in blocks(faulty_report, Table):
        for row in table.rows:
            assert len(row) in (1, len(table.columns))
    for table in faulty_report.tables:
        assert all(len(row) == len(table.keys) for row in table.rows)


# ---- words and charts


@pytest.mark.parametrize(
    ("value", "places", "said"),
    [
        (0.0, None, "0"),
        (-2.0, 2, "−2.00"),
        (-0.001, 2, "0.00"),
        (1234567.0, None, "1234567"),
        (0.000123456, None, "0.0001235"),
        (1143.2, None, "1143"),
    ],
)
def test_numbers(value, places, said):
    assert words.figure(value, places) == said


@pytest.mark.parametrize(
    ("value", "unit", "said"), [(22.854, "kWh", "22.9 kWh"), (70.65, "°C", "70.7 °C"), (40, "deg", "40°")]
)
def test_rough_numbers(value, unit, said):
    assert words.rough(value, unit) == said


@pytest.mark.parametrize(("low", "high"), [(0, 1), (-7.3, 12.9), (20, 95), (0, 0), (1e-3, 2e-3), (0, 86400)])
def test_steps_of_an_axis(low, high):
    got = charts.steps(low, high)
    assert got[0] <= low and got[-1] >= high and 2 <= len(got) <= 13
    assert all(b > a for a, b in pairwise(got))


def test_a_chart_tells_its_lines_apart_without_colour():
    chart = Chart(
        title="T",
        across="hours",
        up="°C",
        lines=tuple(Line(n, ((0.0, k), (1.0, 5.0 + k))) for k, n in enumerate("abc")),
    )
    plot = RecordPlotter()
    charts.draw_chart(plot, chart, 180.0)
    drawn_lines = [c for c in plot.named("line") if c[3] == 0.35]
    assert len({c[4] for c in drawn_lines}) == 3
    assert {"a", "b", "c", "T, °C", "hours"} <= set(plot.words())


def test_a_run_is_printed():
    """The books of a run close: what is put in is what is taken, lost and held (first law)."""
    sheet = load(ROOT / "samples" / "sound" / "stove-by-gravity.loopwright", CATALOGUE)
    run = power_cut(sheet)
    report = reports.build(sheet, CATALOGUE, runs=(run,), today=DAY)
    found = section(report, "runs").blocks
    assert any(isinstance(b, Words) and b.text == run.verdict for b in found)
    charts_ = [b for b in found if isinstance(b, Chart)]
    assert [c.up for c in charts_] == ["°C", "kW"]
    names = {line.name for line in charts_[0].lines}
    assert {"Heat store, top", "Heat store, bottom", "Stove"} <= names
    heat = [b for b in found if isinstance(b, Table)][-1]
    assert sum(row[1] or 0 for row in heat.rows) == pytest.approx(sum(row[2] or 0 for row in heat.rows), abs=0.01)
    table = data(report, "run-1")
    assert len(table.rows) == len(run.times_s) and table.keys[0] == "time_s"
    assert run.verdict.split(".")[0] in reports.html(report)


def test_progress_may_stop_the_building(faulty):
    class Stop(Exception):
        pass

    def step(words: str) -> None:
        if words == "the drawing":
            raise Stop

    with pytest.raises(Stop):
        reports.build(faulty, CATALOGUE, progress=step)


def test_a_large_sheet_is_reported(sound):
    big = side_by_side(sound, 4, 300.0)  # more than a kilometre wide
    report = reports.build(big, CATALOGUE, survey(big, CATALOGUE), today=DAY)
    assert len(blocks(report, Plate)[0].tiles) > 10
