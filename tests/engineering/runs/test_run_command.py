"""`loopwright run`: what it prints, writes and refuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from loopwright.cli import cli
from loopwright.cli.run import clock, condition_of
from loopwright.errors import LoopwrightError

SOUND = Path(__file__).resolve().parents[3] / "samples" / "sound"


def answer(*words: object):
    return CliRunner().invoke(cli, ["run", *map(str, words)], standalone_mode=False)


def test_a_power_cut_is_told_in_words():
    done = answer(SOUND / "stove-by-gravity.loopwright", "--power-cut")
    assert done.return_value == 0
    assert (
        "peaks at" in done.output
        and "kWh    from Stove" in done.output
        and "Where it went" in done.output
        and "00:00  Power cut" in done.output
    )


def test_it_exits_one_where_water_boils_and_writes_a_table(tmp_path):
    out = tmp_path / "run.csv"
    done = answer(SOUND / "three-source.loopwright", "--power-cut", "--store-full", "--format", "csv", "-o", out)
    assert done.return_value == 1 and "boils" in done.output
    head, *rows = out.read_text(encoding="utf-8").splitlines()
    assert head.startswith("time_s,store layer 1 (C)") and len(rows) > 50


def test_json_beside_another_sheet():
    sheet = SOUND / "stove-by-gravity.loopwright"
    done = answer(sheet, "--power-cut", "--beside", sheet, "--format", "json")
    data = json.loads(done.output)
    assert data["changes"] == ["Both do the same"]
    assert data["first"]["kind"] == "power cut" and data["first"]["condition"] == "Power cut"
    assert len(data["first"]["times_s"]) == len(data["first"]["parts_c"]["stove"])


def test_what_differs_between_two_sheets_is_told_with_what_it_changes(tmp_path):
    """The stove's return moved up by 0.3 m on the drawing: words name the tapping as the sheet does, and how far."""
    import msgspec

    from loopwright.catalogue import standard_catalogue
    from loopwright.files import load, save
    from loopwright.reports.two_runs import differing

    old = load(SOUND / "stove-by-gravity.loopwright", standard_catalogue())
    part = next(p for p in old.parts.values() if p.tappings)
    tapping = next(t for t in part.tappings if t.purpose == "source_return")
    higher = msgspec.structs.replace(tapping, height_m=tapping.height_m + 0.3)
    moved = tuple(higher if t is tapping else t for t in part.tappings)
    new = msgspec.structs.replace(old, parts={**old.parts, part.id: msgspec.structs.replace(part, tappings=moved)})
    name = (tapping.name or tapping.letter).capitalize()
    assert differing(old, new, standard_catalogue())[0].lower() == f"{name} 300 mm higher".lower()
    assert differing(old, old, standard_catalogue()) == ()
    other = tmp_path / "other.loopwright"
    save(new, other)
    done = answer(SOUND / "stove-by-gravity.loopwright", "--power-cut", "--beside", other)
    assert "300 mm higher: " in done.output and "peak of Stove" in done.output


@pytest.mark.parametrize(
    "words",
    [
        ("--power-cut", "--day", "winter"),
        (),
        ("--day", "doomsday"),
        ("--power-cut", "--condition", "shut"),
        ("--power-cut", "--condition", "shut:nothing"),
        ("--power-cut", "--beside", "none.loopwright"),
    ],
)
def test_what_cannot_be_meant_is_refused(words):
    done = answer(SOUND / "stove-by-gravity.loopwright", *words)
    assert isinstance(done.exception, LoopwrightError)


def test_conditions_from_words():
    found = condition_of(("pump-stopped:P1", "shut:V1", "shut:V2"), power_off=False)
    assert found.power and found.stopped == {"P1"} and found.shut == {"V1", "V2"}
    assert not condition_of(("power-cut",), power_off=False).power
    assert clock(3661.0) == "01:01"
