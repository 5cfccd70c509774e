"""The sheets that ship: they are what the script draws, sound ones are clear, each faulty one shows its one mistake.

Which mistake breaks which rule is common practice of the trade, as the rules' own pages explain with their sources.
"""

from __future__ import annotations

import json
import sys
from itertools import pairwise
from pathlib import Path

import pytest
from click.testing import CliRunner

from loopwright.catalogue import standard_catalogue
from loopwright.cli import cli
from loopwright.files.reader import load
from loopwright.rules.findings import Outcome, Severity
from loopwright.rules.registry import all_rules
from loopwright.sheet.geometry import polyline
from loopwright.sheet.ports import box_of
from loopwright.survey import survey

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "samples"))
import writing  # noqa: E402

CATALOGUE = standard_catalogue()
SOUND = [p for folder in ("samples/sound", "resources/starters") for p in sorted((ROOT / folder).glob("*.loopwright"))]
FAULTY = sorted((ROOT / "samples/faulty").glob("*.loopwright"))


def bad(sheet):
    """Every danger and fault of a sheet, as the files beside the faulty samples list them."""
    return [
        {"rule": f.rule, "severity": f.severity.word, "subject": f.subject, "culprits": list(f.culprits)}
        for f in survey(sheet, CATALOGUE).findings
        if f.severity > Severity.ADVICE
    ]


def test_the_files_are_what_the_script_writes():
    made = writing.files()
    there = {p.relative_to(ROOT).as_posix() for p in [*SOUND, *FAULTY, *(ROOT / "samples").rglob("*.json")]}
    assert there == set(made)
    for name, data in made.items():
        assert (ROOT / name).read_bytes() == data, f"{name}: run `python samples/systems.py`"


@pytest.mark.parametrize("path", SOUND, ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_sound_samples_have_no_danger_and_no_fault(path):
    sheet = load(path, CATALOGUE)
    assert bad(sheet) == []
    if len(sheet.parts) > 10:
        passed = {a.rule for a in survey(sheet, CATALOGUE).answers if a.outcome is Outcome.PASS}
        assert len(passed) > 20, "a sheet is sound because rules looked at it, not because none did"


@pytest.mark.parametrize("path", FAULTY, ids=lambda p: p.stem)
def test_faulty_samples_show_their_one_mistake(path):
    wanted = json.loads(path.with_suffix(".expected.json").read_text(encoding="utf-8"))
    missing = {w["rule"] for w in wanted} - set(all_rules())
    if missing:
        pytest.skip(f"rule not written yet: {', '.join(sorted(missing))}")
    assert bad(load(path, CATALOGUE)) == wanted


@pytest.mark.parametrize("path", [*SOUND, *FAULTY], ids=lambda p: f"{p.parent.name}/{p.stem}")
def test_no_pipe_runs_through_a_part(path):
    """Every run of every pipe keeps out of the boxes of all parts, but for its own two."""
    sheet = load(path, CATALOGUE)
    boxes = {part.id: box_of(part, CATALOGUE) for part in sheet.parts.values()}
    for pipe in sheet.pipes.values():
        line = polyline(sheet, pipe, CATALOGUE)
        for (x0, z0), (x1, z1) in pairwise(line):
            for part, (left, low, right, high) in boxes.items():
                if part in (pipe.a.part, pipe.b.part):
                    continue
                apart = (
                    max(x0, x1) <= left + 0.01
                    or min(x0, x1) >= right - 0.01
                    or max(z0, z1) <= low + 0.01
                    or min(z0, z1) >= high - 0.01
                )
                assert apart, f"{pipe.id} runs through {part}"


@pytest.mark.parametrize(("name", "code"), [("sound/three-source", 0), ("faulty/valve-on-heat-leak", 1)])
def test_the_command_line_says_by_its_exit_code_whether_anything_was_found(name, code):
    path = ROOT / "samples" / f"{name}.loopwright"
    result = CliRunner().invoke(cli, ["check", str(path)], standalone_mode=False)
    assert result.return_value == code
    assert ("gravity-loop/isolating-valve" in result.output) == bool(code)
