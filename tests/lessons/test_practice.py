"""Practice: every hidden fault is one finding of its own, found by its parts, and the sheet does not tell where.

Which mistake breaks which rule is the trade's own knowledge, told with its sources by the pages of the rules; what is
held here is that the survey, which those pages explain, names each hidden fault once and nothing else.
"""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest
from click.testing import CliRunner

from loopwright.catalogue import standard_catalogue
from loopwright.cli import cli
from loopwright.errors import LessonError, LoopwrightError, SheetError
from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps
from loopwright.lessons.order import tick
from loopwright.lessons.practice import PracticeError, grade, mistakes, practice
from loopwright.lessons.practice_disguise import disguised
from loopwright.lessons.practice_places import SORTS, Ground, places
from loopwright.rules.findings import Severity
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.survey import survey

CATALOGUE = standard_catalogue()
ROOT = Path(__file__).resolve().parents[2]
SOUND = {p.stem: load(p, CATALOGUE) for p in sorted((ROOT / "samples" / "sound").glob("*.loopwright"))}
BARN = SOUND["three-source"]


def bad(sheet: Sheet) -> list[tuple[str, str, frozenset[str]]]:
    """Dangers and faults of a sheet, by the survey."""
    found = survey(sheet, CATALOGUE).findings
    return sorted((f.rule, f.subject, frozenset(f.culprits)) for f in found if f.severity > Severity.ADVICE)


def test_every_sort_of_mistake_has_its_words_and_a_maker() -> None:
    places(Ground(BARN, CATALOGUE), "plastic")
    assert set(SORTS) == set(mistakes()), "each has a table in practice.toml and a function under @sort"
    for mistake in mistakes().values():
        assert 1 <= mistake.level <= 6 and mistake.words and not mistake.words.endswith(".")


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ('[plastic]\nlevel = 1\nwords = "Pipe"\n', "plastic.*rules"),
        ('[plastic]\nlevel = 1\nrules = ["circuit/opened"]\nwords = "Pipe"\n', "circuit/opened, which is no rule"),
        ('[plastic]\nlevel = 1\nrules = []\nword = "Pipe"\n', "plastic.*word"),
        ("[plastic\n", "not TOML"),
    ],
)
def test_a_broken_table_says_where(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, table: str, words: str) -> None:
    (tmp_path / "practice.toml").write_text(table, encoding="utf-8")
    monkeypatch.setattr("loopwright.lessons.practice.resource_root", lambda: tmp_path)
    with pytest.raises(LessonError, match=words):
        mistakes.__wrapped__()


def test_a_mistake_that_nothing_makes_says_so() -> None:
    with pytest.raises(LessonError, match=r"strange-mistake.*@sort"):
        places(Ground(BARN, CATALOGUE), "strange-mistake")


@pytest.mark.parametrize(
    "name, seed", [*((name, seed) for name in SOUND for seed in range(2)), ("stove-by-gravity", 7)]
)
def test_the_survey_finds_just_what_is_hidden(name: str, seed: int) -> None:
    exercise = practice(SOUND[name], CATALOGUE, seed, faults=3)  # at 7 equal outlets are told apart by their ids alone
    assert bad(exercise.sheet) == sorted((h.rule, h.subject, frozenset(h.culprits)) for h in exercise.hidden)
    assert len(exercise.hidden) == 3
    ids = {*exercise.sheet.parts, *exercise.sheet.pipes}
    for hidden in exercise.hidden:
        assert hidden.rule in mistakes()[hidden.sort].rules
        assert set(hidden.at) <= ids and set(hidden.culprits) <= set(hidden.at)
        assert hidden.reason and hidden.repair and hidden.edit
    shared = Counter(i for h in exercise.hidden for i in h.at)
    assert max(shared.values()) == 1
    assert loads(dumps(exercise.sheet), CATALOGUE) == exercise.sheet  # it can be given out as a file


def test_a_seed_always_gives_the_same_exercise_and_others_give_others() -> None:
    small = SOUND["oil-by-coil"]
    one = [practice(small, CATALOGUE, 5), practice(load(ROOT / "samples/sound/oil-by-coil.loopwright"), CATALOGUE, 5)]
    assert dumps(one[0].sheet) == dumps(one[1].sheet) and one[0].hidden == one[1].hidden
    assert len({tuple(h.sort for h in practice(small, CATALOGUE, seed).hidden) for seed in (1, 2)}) > 1


def test_each_fault_stands_alone_on_the_sound_sheet() -> None:
    # every sort of mistake that the barn allows, made by itself: one danger or fault, of a rule it is meant for
    ground, seen = Ground(BARN, CATALOGUE), set()
    for key, mistake in mistakes().items():
        for place in places(ground, key)[:1]:
            try:
                sheet, touched = place.edit(BARN)
            except SheetError:
                continue
            found = bad(sheet)
            if len(found) == 1 and found[0][0] in mistake.rules:
                seen.add(key)
                assert touched and set(touched) <= {*sheet.parts, *sheet.pipes}
    assert len(seen) >= 25


@pytest.mark.parametrize("faults", [1, 5])
def test_as_many_as_are_asked_for(faults: int) -> None:
    exercise = practice(BARN, CATALOGUE, 11, faults)
    assert len(exercise.hidden) == exercise.asked == faults
    assert exercise.difficulty >= faults + len(BARN.parts) // 20 - 1


def test_a_small_sheet_has_fewer_and_says_so() -> None:
    exercise = practice(SOUND["log-boiler"], CATALOGUE, 1, 10)
    assert 3 <= len(exercise.hidden) < exercise.asked == 10


def test_neither_ids_nor_names_nor_the_order_of_the_file_tell_the_place() -> None:
    for seed in (0, 3, 5):
        sheet = practice(BARN, CATALOGUE, seed).sheet
        small = [p for p in sheet.parts.values() if not CATALOGUE[p.kind].large]
        assert [(p.x_m, p.height_m) for p in small] == sorted((p.x_m, p.height_m) for p in small)
        by_kind: dict[str, set[bool]] = {}
        for part in small:
            by_kind.setdefault(part.kind, set()).add(bool(part.name))
        assert all(len(named) == 1 for named in by_kind.values())
        assert all(key.startswith("pipe") for key in sheet.pipes)
        assert not any(p.kind == "cap" for p in small)  # nothing is left behind with a cap on it


def test_a_disguise_changes_names_alone() -> None:
    sheet, new = disguised(tick(BARN, "leak@stove"), CATALOGUE)
    assert (len(sheet.parts), len(sheet.pipes), len(sheet.links)) == (len(BARN.parts), len(BARN.pipes), len(BARN.links))
    assert all(sheet.parts[new[p.id]].kind == p.kind for p in BARN.parts.values())
    assert all(sheet.pipes[new[p.id]].a.part == new[p.a.part] for p in BARN.pipes.values())
    assert bad(sheet) == [] and not sheet.facts
    assert new["store"] == "store" and sheet.title == BARN.title


def test_marks_are_judged() -> None:
    exercise = practice(BARN, CATALOGUE, 2)
    first, second, third = exercise.hidden
    sound = next(p for p in exercise.sheet.pipes if all(p not in h.at for h in exercise.hidden))
    result = grade(exercise, [first.at[0], first.at[-1], sound, sound])
    assert result.found == (first,) and result.missed == (second, third) and result.wrong == (sound,)
    whole = grade(exercise, [h.culprits[0] for h in exercise.hidden])
    assert whole.missed == whole.wrong == () and len(whole.found) == 3
    assert grade(exercise, []).missed == exercise.hidden


def test_what_is_no_ground_for_practice_is_refused() -> None:
    faulty = edits.set_property(BARN, "leak", "output_w", 300.0, CATALOGUE)
    with pytest.raises(PracticeError, match="of its own"):
        practice(faulty, CATALOGUE, 1)
    with pytest.raises(PracticeError, match="No mistake"):
        practice(Sheet(), CATALOGUE, 1)
    with pytest.raises(PracticeError, match="cannot hide"):
        practice(BARN, CATALOGUE, 1, 0)


def test_the_command_writes_keeps_the_answers_and_judges(tmp_path: Path) -> None:
    file, out = str(ROOT / "samples" / "sound" / "stove-by-gravity.loopwright"), tmp_path / "find.loopwright"

    def run(*words: str) -> tuple[int, str]:
        result = CliRunner().invoke(cli, ["practice", file, *words], standalone_mode=False, catch_exceptions=False)
        return int(result.return_value), result.output

    code, said = run("--seed", "4", "--faults", "2", "-o", str(out))
    assert code == 0 and "2 faults are hidden in it. Seed 4" in said
    exercise = practice(load(file), CATALOGUE, 4, 2)
    assert load(out) == exercise.sheet
    assert not any(h.reason in said or h.rule in out.read_text(encoding="utf-8") for h in exercise.hidden)
    _, answers = run("--seed", "4", "--faults", "2", "--answers")
    assert all(h.reason in answers and h.edit in answers for h in exercise.hidden)
    told = json.loads(run("--seed", "4", "--faults", "2", "--answers", "--format", "json")[1])
    assert [a["rule"] for a in told["answers"]] == [h.rule for h in exercise.hidden]
    first, second = exercise.hidden
    code, said = run("--seed", "4", "--faults", "2", "--marked", first.at[0])
    assert code == 1 and "Found 1 of 2" in said and second.reason not in said
    code, _ = run("--seed", "4", "--faults", "2", "--marked", f"{first.at[0]}, {second.at[0]}")
    assert code == 0
    for wrong in (["--seed", "4"], ["--answers"], ["--seed", "4", "-o", str(out)], ["--seed", "4", "--marked", "tea"]):
        with pytest.raises(LoopwrightError):
            run(*wrong)
