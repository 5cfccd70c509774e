"""`loopwright figures` as a person uses it: conditions, units, pages, and how bad input reads."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.cli.figures import figures as command
from loopwright.engineering import pipes, water
from loopwright.engineering.figures import Gap, figures
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Segment
from loopwright.errors import FigureError, LoopwrightError
from loopwright.files import load, save
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL

CATALOGUE = standard_catalogue()
PAIR = Path(__file__).resolve().parents[2] / "samples" / "sound" / "stove-by-gravity.loopwright"


def run(*words: object):
    return CliRunner().invoke(command, [str(w) for w in words], standalone_mode=False)


@pytest.fixture
def pumped(tmp_path):
    """A boiler, a pump, an isolating valve and a radiator, sealed."""
    s = draw.sheet("Pumped")
    boiler = s.add("boiler_oil", "boiler", x_m=0.0, height_m=0.0)
    pump = s.add("pump", "P1", x_m=1.0, height_m=0.7225)
    valve = s.add("isolating_valve", "V1", x_m=2.0, height_m=0.7225)
    rad = s.add("radiator", "R1", x_m=4.0, height_m=0.2)
    s.pipe(boiler["flow"], pump["a"], "22", id="a")
    s.pipe(pump["b"], valve["a"], "22", id="b")
    s.pipe(valve["b"], rad["flow"], "22", id="c")
    s.pipe(rad["return"], boiler["return"], "22", id="d")
    path = tmp_path / "pumped.loopwright"
    save(s.done(), path)
    return path


def flows(path, *words):
    found = json.loads(run(path, "--format", "json", *words).output)
    return {f["name"]: f.get("value") for f in found if f["topic"] == "pipes"}, found


def test_conditions_change_the_flow(pumped):
    normal, _ = flows(pumped)
    assert normal["a: flow"] > 100.0 and normal == flows(pumped, "--condition", "normal")[0]
    for words in (["power-cut"], ["pump-stopped:P1"], ["shut:V1"], ["pump-stopped:P1", "shut:V1"]):
        moved, found = flows(pumped, *[x for w in words for x in ("--condition", w)])
        assert not moved.get("a: flow") or moved["a: flow"] < 0.5 * normal["a: flow"]
        assert not any(f["topic"] == "pumps" for f in found)


def test_a_condition_that_is_none_reads_well(pumped):
    for words, said in (("shut:nothing", "no part “nothing”"), ("sideways", "“sideways” is no condition")):
        bad = run(pumped, "--condition", words)
        assert isinstance(bad.exception, LoopwrightError) and said in bad.exception.sentence


def test_units_are_those_asked_for():
    """2.54 cm an inch, 1.8 degF a kelvin, 4.54609 litres an imperial gallon: by definition."""
    metric, imperial = (run(PAIR, "--units", u).output for u in ("metric", "imperial"))

    def number(text, name, unit):
        row = next(line for line in text.splitlines() if line.strip().startswith(name))
        return float(row.split(name)[1].split(unit)[0])

    litres, gallons = number(metric, "Water content", " l"), number(imperial, "Water content", " gal")
    assert gallons == pytest.approx(litres / 4.54609, rel=1e-3)
    celsius, fahrenheit = number(metric, "Flow temperature", " °C"), number(imperial, "Flow temperature", " °F")
    assert fahrenheit == pytest.approx(1.8 * celsius + 32, rel=1e-3)


def test_csv_has_every_figure_and_gap(pumped):
    rows = list(csv.DictReader(io.StringIO(run(pumped, "--format", "csv").output)))
    found = json.loads(run(pumped, "--format", "json").output)
    assert len(rows) == len(found)
    assert all(row["source"] and row["valid"] for row in rows if row["value"])


def test_a_page_is_shown_and_all_are_named():
    assert "EN 12828" in run("--explain", "vessel").output
    assert "vessel" in run("--explain", "list").output
    assert json.loads(run("--explain", "water", "--format", "json").output)["validity"]
    bad = run("--explain", "alchemy")
    assert isinstance(bad.exception, LoopwrightError) and "no computation" in bad.exception.what


# bad input reads well


def net_of(**segment):
    pipe = Segment(**{"bore_m": 0.02, "length_m": 1.0, **segment})
    return Net((Branch("loop", End("a"), End("a"), (Cell(),), (pipe,)),), (Node("a", 0.0),))


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: net_of(bore_m=0.0), "needs a bore"),
        (lambda: net_of(length_m=-1.0), "length"),
        (lambda: net_of(k=-1.0), "loss"),
        (lambda: pipes.pressure_loss_Pa(0.1, 0.0, 1.0), "needs a bore"),
        (lambda: pipes.pressure_loss_Pa(0.1, 0.02, -1.0), "length"),
        (lambda: water.density_kg_m3(130.0), "130.0 °C was asked for"),
        (lambda: pipes.velocity_m_s(0.1, 0.02, 130.0), "130.0 °C was asked for"),
        (lambda: pipes.tube("23"), "not listed in size 23"),
        (lambda: pipes.tube("22", "glass"), "no pipe material “glass”"),
    ],
)
def test_numbers_that_cannot_be_are_named(ask, says):
    with pytest.raises(FigureError, match=says) as bad:
        ask()
    assert bad.value.sentence[0].isupper() and bad.value.sentence.rstrip().endswith(".")


@pytest.mark.parametrize(
    ("part", "prop", "topic"),
    [
        ("stove", "power_kw", "fires"),
        ("store", "volume_l", "stores"),
        ("store", "design_temp_c", "stores"),
        ("stove", "content_l", "waters"),
        ("cistern", "water_line_m", "waters"),
    ],
)
def test_a_missing_property_is_a_gap_that_names_it(part, prop, topic):
    sheet = load(PAIR, CATALOGUE)
    old = sheet.parts[part]
    bare = msgspec.structs.replace(old, props={**old.props, prop: None})
    found = figures(Waterways(msgspec.structs.replace(sheet, parts={**sheet.parts, part: bare}), CATALOGUE), NORMAL)
    gaps = [f for f in found if isinstance(f, Gap) and part in f.about and f.prop == prop]
    assert any(g.topic == topic for g in gaps), [f for f in found if isinstance(f, Gap)]


def test_a_size_in_no_table_names_its_pipe():
    sheet = load(PAIR, CATALOGUE)
    name = next(p.id for p in sheet.pipes.values() if "stove" in (p.a.part, p.b.part))
    odd = msgspec.structs.replace(sheet.pipes[name], size="23")
    found = figures(Waterways(msgspec.structs.replace(sheet, pipes={**sheet.pipes, name: odd}), CATALOGUE), NORMAL)
    assert any(isinstance(f, Gap) and name in f.about and f.prop == "size" for f in found)
