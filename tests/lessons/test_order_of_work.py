"""The order of work: properties that hold on every sheet, and the precedences of the trade.

Where a precedence comes from stands beside each check. "warn.backboiler" and the like are keys of
resources/sources.toml, where the published page is named; what has none is common practice, no source.
"""

from __future__ import annotations

import json
import sys
from html import escape
from pathlib import Path

import msgspec
import networkx as nx
import pytest
from click.testing import CliRunner

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.cli import cli
from loopwright.errors import LessonError, LoopwrightError
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps
from loopwright.lessons import order_print
from loopwright.lessons.order import broken, order_of_sheet, order_of_work, ready, tick, ticked, untick_all
from loopwright.lessons.order_steps import checked, steps
from loopwright.lessons.precedence import ArrangementError
from loopwright.resources import resource_root
from loopwright.rules.registry import facts
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways
from loopwright.waterways.waters import water_of

CATALOGUE = standard_catalogue()
ROOT = Path(__file__).resolve().parents[2]
FILES = [*sorted(ROOT.glob("samples/*/*.loopwright")), *sorted((resource_root() / "starters").glob("*.loopwright"))]
SHEETS = {f"{p.parent.name}/{p.stem}": load(p, CATALOGUE) for p in FILES}
for folder in ("samples", "tests/systems", "tests/rules"):  # scripts that draw sheets
    sys.path.insert(0, str(ROOT / folder))
import small_others  # noqa: E402, F401  (registers more systems)
import small_systems  # noqa: E402

SHEETS |= {f"small/{name}": make().done() for name, make in small_systems.SYSTEMS.items()}
ORDERS = {name: order_of_sheet(sheet, CATALOGUE) for name, sheet in SHEETS.items()}
BARN = "sound/three-source"
AFTER_THE_FIRE = {"power-cut", "full-fire", "hot-look-fire", "set-mixers", "teach", "hand-over"}
"""What needs the heat of the fire, or everything finished."""

every_sheet = pytest.mark.parametrize("name", SHEETS)


def key_of(name: str, step: str, subject: str = "") -> str:
    """The key of the only task of a step, about a part if one is named."""
    found = [t.key for t in ORDERS[name].tasks if t.step == step and subject in ("", t.subject)]
    assert len(found) == 1, (step, found)
    return found[0]


def comes_before(name: str, first: str, last: str) -> bool:
    """Whether the partial order itself, not only the suggestion, puts one task before the other."""
    return nx.has_path(ORDERS[name].graph, first, last)


# -- on every sheet ------------------------------------------------------------------------------------------


@every_sheet
def test_it_is_a_partial_order_and_the_suggestion_keeps_it(name: str) -> None:
    order = ORDERS[name]
    assert nx.is_directed_acyclic_graph(order.graph)
    assert len({t.key for t in order.tasks}) == len(order.tasks)
    assert all(order.number[p.before] < order.number[p.after] for p in order.precedences)
    assert broken(order, [t.key for t in order.tasks]) == ()


@every_sheet
def test_the_first_fire_is_last_of_all_that_fills_tests_or_heats(name: str) -> None:
    # a fire under a dry or shut boiler is the worst accident of the trade: warn.backboiler
    order = ORDERS[name]
    fires = [n for n, t in enumerate(order.tasks) if t.step == "first-fire"]
    if fires:
        late = {t.step for t in order.tasks[min(fires) :]} - {"first-fire"}
        assert late <= AFTER_THE_FIRE, "let it come before first-fire, or add it to AFTER_THE_FIRE here"


@every_sheet
def test_no_source_is_heated_before_its_safety_path(name: str) -> None:
    # vents and feeds: sf.vent.valves, sf.feed.valves; leak: sf.leak.power; relief: sv.isolation; the rest common
    # practice, no source. What belongs to a source is asked of the waterways, not of the order.
    sheet, order = SHEETS[name], ORDERS[name]
    ways = Waterways(sheet, CATALOGUE)
    firsts = {"fire": "first-fire", "sun": "sun-on", "switched": "first-switched", "residual": "first-switched"}
    for source in ways.sources:
        heats = key_of(name, firsts[source.stops], source.part)
        done = {order.by_key[k].step + "@" + order.by_key[k].subject for k in nx.ancestors(order.graph, heats)}
        pipes = {p for k in nx.ancestors(order.graph, heats) for p in order.by_key[k].pipes}
        water = water_of(ways, source.hot)
        assert water is not None
        for relief in water.reliefs:
            assert f"lift-reliefs@{relief.part}" in done
            assert {p.id for p in sheet.pipes_of(relief.part)} <= pipes
        for vessel in water.vessels:
            assert f"set-vessels@{vessel}" in done
        for end in water.vent_ends:
            assert {e.pipe for e in ways.links[end.a if end.a[0] == "port" else end.b] if e.pipe} <= pipes
        for cistern in water.feeds:
            assert f"feed@{cistern[1]}" in done
        if source.stops == "fire":
            assert any(step.startswith(("fill-vented@", "fill-sealed@")) for step in done)
            assert all(f"leak@{source.part}" in done for t in order.tasks if t.key == f"leak@{source.part}")


@every_sheet
def test_every_part_and_pipe_is_in_a_job_or_said_to_need_none(name: str) -> None:
    sheet, order = SHEETS[name], ORDERS[name]
    named = {i for t in order.tasks for i in (*t.parts, *t.pipes)}
    assert named | set(order.needs_none) >= {*sheet.parts, *sheet.pipes}
    assert not named & set(order.needs_none)
    assert order.needs_none == ()  # no sample has anything that nobody fits


@every_sheet
def test_every_pipe_is_laid_once(name: str) -> None:
    laying = ("position", "first-fix")
    stage = {s.key: s.stage for s in steps().step}
    laid = [
        p
        for t in ORDERS[name].tasks
        if stage[t.step] in laying and t.step not in ("holes", "make-safe")
        for p in t.pipes
    ]
    assert sorted(laid) == sorted(SHEETS[name].pipes)


def renamed(sheet: Sheet) -> tuple[Sheet, dict[str, str]]:
    """The sheet under ids that sort the other way round, and the new id of each old part."""
    new = {old: f"n{len(sheet.parts) - k:03}" for k, old in enumerate(sheet.parts)}
    for old, now in new.items():
        sheet = edits.rename(sheet, old, now)
    return sheet, new


@pytest.mark.parametrize("name", [BARN, "sound/log-boiler", "sound/oil-by-coil", "sound/stove-by-gravity"])
def test_renaming_never_changes_the_order(name: str) -> None:
    sheet, new = renamed(SHEETS[name])
    order = order_of_sheet(sheet, CATALOGUE)
    assert [(t.step, t.subject) for t in order.tasks] == [(t.step, new.get(t.subject, "")) for t in ORDERS[name].tasks]


@pytest.mark.parametrize("name", [BARN, "sound/log-boiler", "sound/oil-by-coil", "sound/stove-by-gravity"])
def test_a_mirrored_house_is_built_in_the_same_order(name: str) -> None:
    data = json.loads(dumps(SHEETS[name]))
    for part in data["parts"]:
        part["x_m"] = -part["x_m"]
        part["mirror"] = not part.get("mirror", False)
        part["turn"] = -part.get("turn", 0) % 4
        for tapping in part.get("tappings", ()):
            tapping["side"] = {"left": "right", "right": "left"}.get(tapping.get("side", "left"), tapping.get("side"))
    for pipe in data["pipes"]:
        pipe["points"] = [[-x, z] for x, z in pipe.get("points", ())]
    mirrored = loads(json.dumps(data).encode(), CATALOGUE)
    assert [t.key for t in order_of_sheet(mirrored, CATALOGUE).tasks] == [t.key for t in ORDERS[name].tasks]


# -- each precedence of the trade ----------------------------------------------------------------------------

PRECEDENCES = [
    # the classic wrong orders: what each breaks, and where that is written
    ("water-line", "cistern", "first-fire", "stove"),  # warn.backboiler: never fire dry
    ("feed", "cistern", "fill-vented", "stove"),  # sf.feed.valves
    ("fill-vented", "stove", "first-fire", "stove"),  # warn.backboiler
    ("vent", "stove", "primaries", "stove"),  # common practice, no source
    ("leak", "stove", "rad-pipes", "store"),  # common practice, no source
    ("leak", "stove", "first-fire", "stove"),  # sf.leak.power
    ("test-floor", "floor", "screed", "floor"),  # EN 1264-4: tested before the screed
    ("test-heat", "stove", "close", ""),  # common practice, no source
    ("flush", "stove", "fill-vented", "stove"),  # common practice, no source
    ("flush-main", "main", "test-main", "main"),  # supplier's guidance: new pipes are flushed and tested before use
    ("fill-taps", "main", "live", ""),  # common practice, no source
    ("let-air", "stove", "live", ""),  # common practice, no source
    ("dead-test", "", "live", ""),  # BS 7671 part 6
    ("fill-solar", "collector", "sun-on", "collector"),  # trade page: covered while it is filled
    ("set-vessels", "EV1", "fill-sealed", "boiler"),  # ev.precharge: measured with no water
    ("relief", "SV1", "fill-sealed", "boiler"),  # sv.isolation
    ("discharge", "SV1", "fill-sealed", "boiler"),  # common practice, no source
    ("lift-reliefs", "SV1", "first-switched", "boiler"),  # textbook: both are lifted and watched at commissioning
    ("power-cut", "stove", "full-fire", "stove"),  # warn.nopower
    ("first-switched", "boiler", "first-fire", "stove"),  # common practice, no source
    ("co-alarm", "", "first-switched", "boiler"),  # law.co
    ("prove-stats", "", "first-switched", "boiler"),  # common practice, no source
    ("screed", "floor", "dry-screed", "floor"),  # EN 1264-4: it rests for its days
    ("set-mixers", "TM1", "teach", ""),  # common practice, no source
]


@pytest.mark.parametrize("case", PRECEDENCES, ids=lambda c: f"{c[0]}-before-{c[2]}")
def test_a_precedence_of_the_trade(case: tuple[str, str, str, str]) -> None:
    first, last = key_of(BARN, *case[:2]), key_of(BARN, *case[2:])
    assert comes_before(BARN, first, last) and not comes_before(BARN, last, first)


def test_every_reason_is_said_with_a_source_that_exists_or_as_practice() -> None:
    known = {s.key for s in steps().step}
    for step in steps().step:
        assert step.key in known and step.title and not step.title.endswith(".")
        assert set(step.facts) <= set(facts())
        for after in step.after:
            assert after.step in known and after.why and not after.why.endswith(".")
            assert set(after.facts) <= set(facts())
    for precedence in ORDERS[BARN].precedences:
        assert precedence.source
        assert (precedence.source == "common practice, no source") == (not precedence.sources)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('stage = "position"', 'stage = "positon"', "no stage “positon”.*step papers"),
        ('step = "papers"', 'step = "paper"', "no step “paper”.*step make-safe"),
        ('"law.sf.notify"', '"law.sf.tell"', "no source “law.sf.tell”.*step papers"),
        ('key = "make-safe"', 'key = "papers"', "Two steps are called “papers”"),
        ('title = "Agree', 'titel = "Agree', r"titel.*step\[0\]"),
    ],
)
def test_a_broken_table_says_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, old: str, new: str, words: str
) -> None:
    text = (resource_root() / "order" / "steps.toml").read_text(encoding="utf-8")
    (tmp_path / "order").mkdir()
    (tmp_path / "order" / "steps.toml").write_text(text.replace(old, new, 1), encoding="utf-8")
    monkeypatch.setattr("loopwright.lessons.order_steps.resource_root", lambda: tmp_path)
    with pytest.raises(LessonError, match=words):
        steps.__wrapped__()


def test_a_job_of_no_step_says_so() -> None:
    with pytest.raises(LessonError, match=r"“clean-nothing”.*steps\.toml"):
        checked("clean-nothing")


# -- steps follow the sheet ----------------------------------------------------------------------------------


def steps_of(name: str) -> set[str]:
    return {t.step for t in ORDERS[name].tasks}


def test_a_sheet_without_a_thing_has_no_steps_for_it() -> None:
    gravity, oil, log = "sound/stove-by-gravity", "sound/oil-by-coil", "sound/log-boiler"
    assert not {s for s in steps_of(gravity) if "solar" in s or s in ("sun-on", "set-panels", "fuel", "fill-sealed")}
    assert not steps_of(oil) & {"first-fire", "leak", "hearth", "primaries", "power-cut", "draught"}
    assert {"fill-sealed", "set-vessels", "relief", "fill-vented", "cistern-water", "fuel"} <= steps_of(oil)
    assert {"cooling", "cooling-proof", "fire-pump"} <= steps_of(log)
    assert not steps_of(log) & {"vent", "feed", "fill-vented", "stand-cistern", "water-line"}
    assert not {"wire", "power-cut"} & steps_of(gravity)  # nothing on it has a cable


def test_jobs_are_told_by_the_names_of_the_sheet() -> None:
    sheet = edits.set_part(SHEETS[BARN], "leak", name="Landing radiator")
    titles = [t.title for t in order_of_sheet(sheet, CATALOGUE).tasks]
    assert "Hang Landing radiator" in titles
    assert not any("Heat-leak" in t for t in titles)


def unvented() -> Sheet:
    """An unvented cylinder with an immersion heater, its relief valve and its mains inlet."""
    b = draw.sheet("Cylinder", levels={"Ground floor": 0.0})
    tank = b.store(
        "tank",
        kind="cylinder_direct",
        x_m=3.0,
        height_m=0.0,
        vented=False,
        volume_l=150.0,
        tappings={
            "cold": {"height_m": 0.1, "side": "left", "size": "22"},
            "hot": {"height_m": 0.9, "side": "right", "size": "22"},
            "boss": {"height_m": 0.4, "side": "right", "size": "22", "purpose": "immersion"},
            "relief": {"height_m": 0.8, "side": "left", "size": "15"},
        },
    )
    main = b.add("mains_supply", "main", x_m=0.5, height_m=0.1, pressure_bar=3.0)
    check = b.add("check_valve", "C1", x_m=1.2, height_m=0.1)
    heater = b.add("immersion_heater", "EL1", x_m=3.6, height_m=0.4)
    relief = b.add("tp_relief_valve", "SV1", x_m=2.2, height_m=1.2)
    end = b.add("discharge_point", "out", x_m=1.8, height_m=0.5)
    bath = b.add("bath", "bath", x_m=4.5, height_m=1.5)
    b.pipe(main, check["a"])
    b.pipe(check["b"], tank["cold"])
    b.pipe(tank["boss"], heater["boss"])
    b.pipe(tank["relief"], relief["inlet"], "15")
    b.pipe(relief["outlet"], end, "15")
    b.pipe(tank["hot"], bath["hot"])
    return b.done()


def test_an_unvented_cylinder_gets_its_discharge_before_water_and_water_before_current() -> None:
    # g3.devices, g3.tundish: safety devices and discharge belong to the cylinder before it is under pressure
    order = order_of_sheet(unvented(), CATALOGUE)
    graph, by = order.graph, {t.step: t.key for t in order.tasks}
    assert nx.has_path(graph, by["uv-safety"], by["discharge"])
    assert nx.has_path(graph, by["discharge"], by["fill-taps"])
    assert nx.has_path(graph, by["fill-taps"], by["live"])
    assert nx.has_path(graph, by["live"], by["first-immersion"])
    assert order.needs_none == ()


def test_what_a_store_heats_in_its_turn_is_filled_and_proved_before_the_fire() -> None:
    # an unvented cylinder as a load of the fire's store: g3.devices; common practice, no source
    name = "small/20-store-heats-an-unvented-cylinder"
    order = ORDERS[name]
    before = {order.by_key[k].step for k in nx.ancestors(order.graph, key_of(name, "first-fire"))}
    lifted = [t.key for t in order.tasks if t.step == "lift-reliefs"]
    assert {"fill-taps", "uv-safety", "discharge"} <= before and len(lifted) == 2
    assert all(comes_before(name, key, key_of(name, "first-fire")) for key in lifted)
    assert comes_before(name, key_of(name, "hot-look-fire"), key_of(name, "set-mixers"))


def test_what_is_there_already_is_made_safe_and_not_built_again() -> None:
    sheet = SHEETS[BARN]
    for part in ("boiler", "R1"):
        sheet = edits.set_part(sheet, part, existing=True)
    order = order_of_sheet(sheet, CATALOGUE)
    keys = {t.key for t in order.tasks}
    assert {"boiler", "R1"} <= set(order.by_key["make-safe"].parts)
    assert not keys & {"stand-boiler@boiler", "hang-rads@R1", "fuel@boiler"}
    assert "first-switched@boiler" in keys


@pytest.mark.parametrize("name", [BARN, "sound/log-boiler"])
def test_a_sheet_with_any_part_missing_or_there_already_still_has_an_order(name: str) -> None:
    for part in SHEETS[name].parts:
        for sheet in (
            edits.delete(SHEETS[name], [part], CATALOGUE),
            edits.set_part(SHEETS[name], part, existing=True),
        ):
            order = order_of_sheet(sheet, CATALOGUE)
            named = {i for t in order.tasks for i in (*t.parts, *t.pipes)}
            assert nx.is_directed_acyclic_graph(order.graph)
            assert named | set(order.needs_none) >= {*sheet.parts, *sheet.pipes}, part
            assert not set(order.needs_none) & set(sheet.pipes), part


def test_an_empty_sheet_has_no_work_and_a_lone_part_little() -> None:
    assert order_of_sheet(Sheet(), CATALOGUE).tasks == ()
    b = draw.sheet("One")
    b.add("radiator", "R1", x_m=1.0, height_m=0.2)
    order = order_of_sheet(b.done(), CATALOGUE)
    assert "hang-rads@R1" in order.by_key and "first-fire@R1" not in order.by_key


def test_the_shown_precedences_imply_all_others() -> None:
    order = ORDERS[BARN]
    shown = nx.DiGraph((p.before, p.after) for p in order.shown)
    assert len(order.shown) < len(order.precedences)
    assert all(nx.has_path(shown, p.before, p.after) for p in order.precedences)


# -- arranging and ticking -----------------------------------------------------------------------------------


def test_an_arrangement_that_breaks_a_precedence_hears_which_and_why() -> None:
    order = ORDERS[BARN]
    keys = [t.key for t in order.tasks]
    fire, line = key_of(BARN, "first-fire"), key_of(BARN, "water-line")
    keys.remove(fire)
    keys.insert(keys.index(line), fire)
    faults = broken(order, keys)
    assert all(f.after == fire for f in faults)
    found = next(f for f in faults if f.before == line)
    assert "kills" in found.why[0] and found.sources == ("warn.backboiler",)
    assert faults[0].before == line  # the earliest of them is named first


def test_what_follows_through_a_missing_job_is_still_asked_for() -> None:
    order = ORDERS[BARN]
    feed, fill, fire = key_of(BARN, "feed"), key_of(BARN, "fill-vented"), key_of(BARN, "first-fire")
    close, test = key_of(BARN, "close"), key_of(BARN, "test-heat", "stove")
    assert broken(order, [feed, fill, fire]) == ()
    (fault,) = broken(order, [fill, feed])
    assert (fault.before, fault.after, fault.chain) == (feed, fill, (feed, fill))
    look = key_of(BARN, "look")
    (fault,) = broken(order, [close, look])
    assert fault.chain[0] == look and fault.chain[-1] == close and len(fault.chain) > 2
    assert len(fault.why) == len(fault.chain) - 1
    assert broken(order, [look, test, close]) == ()


def test_a_wrong_arrangement_is_refused() -> None:
    order = ORDERS[BARN]
    with pytest.raises(ArrangementError, match="twice"):
        broken(order, ["papers", "papers"])
    with pytest.raises(ArrangementError, match="no job"):
        broken(order, ["tea"])


def test_ticks_are_saved_with_the_sheet_and_survive_edits() -> None:
    sheet = tick(tick(SHEETS[BARN], "papers"), "leak@stove")
    again = loads(dumps(sheet), CATALOGUE)
    assert ticked(again) == {"papers", "leak@stove"}
    again = edits.set_part(edits.move(again, ["R1"], 0.1, 0.0, CATALOGUE), "stove", name="Old stove")
    assert ticked(again) == {"papers", "leak@stove"}
    assert ticked(edits.rename(again, "stove", "fire")) == {"papers", "leak@fire"}
    assert "leak@fire" in order_of_sheet(edits.rename(again, "stove", "fire"), CATALOGUE).by_key
    assert ticked(edits.delete(again, ["stove"], CATALOGUE)) == {"papers"}
    assert ticked(tick(again, "papers", False)) == {"leak@stove"}
    assert untick_all(again).facts == SHEETS[BARN].facts


def test_a_job_is_ready_when_all_before_it_are_done() -> None:
    order = ORDERS[BARN]
    done: set[str] = set()
    for task in order.tasks:
        assert task.key in ready(order, frozenset(done))
        done.add(task.key)
    assert ready(order, frozenset(done)) == ()
    assert ready(order, frozenset()) == ("papers",)


# -- print ---------------------------------------------------------------------------------------------------


def test_the_page_is_complete_and_escapes_names() -> None:
    sheet = edits.set_part(SHEETS[BARN], "stove", name="<b>Stove & Sons</b>")
    order = order_of_sheet(edits.set_title(sheet, "A <script>"), CATALOGUE)
    page = order_print.html(order, frozenset({"papers"}))
    assert "<b>" not in page and "<script" not in page and "&lt;b&gt;Stove &amp; Sons&lt;/b&gt;" in page
    assert page.count("<tr>") == len(order.tasks)
    assert (page.count("&#9745;"), page.count("&#9744;")) == (1, len(order.tasks) - 1)
    assert all(escape(p.why) in page for p in order.shown)
    assert "http" not in page and " src=" not in page  # it needs nothing from elsewhere


def test_the_commands_answer(tmp_path: Path) -> None:
    file = tmp_path / "barn.loopwright"
    file.write_bytes(dumps(SHEETS[BARN]))
    run = CliRunner().invoke

    shown = run(cli, ["order", str(file)], standalone_mode=False)
    assert shown.return_value == 0
    assert "[ ]   1  Agree the drawing" in shown.output and max(map(len, shown.output.splitlines())) <= 100
    found = json.loads(run(cli, ["order", str(file), "--format", "json"]).output)
    assert [job["number"] for job in found["jobs"]] == list(range(1, len(ORDERS[BARN].tasks) + 1))
    assert run(cli, ["order", str(file), "--tick", "1", "--tick", "leak@stove"]).exit_code == 0
    assert ticked(load(file, CATALOGUE)) == {"papers", "leak@stove"}
    assert "[x]   1  Agree the drawing" in run(cli, ["order", str(file)]).output
    run(cli, ["order", str(file), "--untick", "papers"])
    assert ticked(load(file, CATALOGUE)) == {"leak@stove"}
    mine = tmp_path / "mine.txt"
    mine.write_text("# my own\n2\n1\n", encoding="utf-8")
    judged = run(cli, ["order", str(file), "--judge", str(mine)], standalone_mode=False)
    assert judged.return_value == 1 and "nobody cuts before it is agreed what stays" in judged.output
    page = tmp_path / "order.html"
    assert run(cli, ["order", str(file), "--format", "html", "-o", str(page)]).exit_code == 0
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    refused = run(cli, ["order", str(file), "--tick", "900"])
    assert isinstance(refused.exception, LoopwrightError)


def test_the_plain_values_hold_every_job_and_precedence() -> None:
    order = ORDERS[BARN]
    told = json.loads(msgspec.json.encode(order_print.plain(order, frozenset({"papers"}))))
    assert [j["key"] for j in told["jobs"]] == [t.key for t in order.tasks]
    assert [j["key"] for j in told["jobs"] if j["done"]] == ["papers"]
    assert len(told["precedences"]) == len(order.precedences)
    assert order_of_work(Waterways(SHEETS[BARN], CATALOGUE)).tasks == order.tasks
