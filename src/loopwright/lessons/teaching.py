"""Makes a lesson from any sheet: the goal proposed from one answer, drafts until right and wrong answers behave.

Owns writing a lesson's files and judging whether they may be given out. Knows nothing of windows.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import LessonError
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.lessons import goals
from loopwright.lessons.attempt import start
from loopwright.lessons.goals import Condition
from loopwright.lessons.lesson import Allowed, Lesson
from loopwright.lessons.looking import Look
from loopwright.lessons.playing import why_of
from loopwright.lessons.reader import read_lesson
from loopwright.rules.findings import Outcome
from loopwright.rules.registry import page
from loopwright.sheet.values import Sheet
from loopwright.waterways.loops import loops
from loopwright.waterways.views import Ask

NEEDED = 2
"""Right answers, and wrong ones, that a lesson holds before it may be given out."""


def proposed_goal(start_sheet: Sheet, answer: Sheet, catalogue: Catalogue | None = None) -> tuple[Condition, ...]:
    """What an answer put right: rules whose answers went from finding to pass, and open loops that appeared."""
    kinds = catalogue or standard_catalogue()
    before, after = Look(start_sheet, kinds), Look(answer, kinds)
    found = {f.rule for f in before.survey.findings}
    still = {f.rule for f in after.survey.findings}
    passed = {a.rule for a in after.survey.answers if a.outcome is Outcome.PASS}
    out: list[Condition] = [
        goals.Clear(rule=slug, or_absent=slug not in passed)
        for slug in dict.fromkeys(f.rule for f in before.survey.findings)
        if slug in found and slug not in still
    ]
    was = _open_loops(before)
    out += [goals.FixedLoop(source=a, sink=b) for a, b in _open_loops(after) if (a, b) not in was]
    return tuple(out)


def _open_loops(look: Look) -> list[tuple[str, str]]:
    return [(s.part, w.sink.part) for s in look.ways.fires for w in loops(look.ways, s, Ask.FIXED)]


def proposed_edits(start_sheet: Sheet, answer: Sheet) -> Allowed:
    """What an answer changed, as what the lesson allows."""
    place = {p.kind for p in answer.parts.values() if p.id not in start_sheet.parts}
    move, change, taps = [], {}, []
    for part in start_sheet.parts.values():
        new = answer.parts.get(part.id)
        if new is None:
            continue
        if (part.x_m, part.height_m) != (new.x_m, new.height_m):
            move.append(part.id)
        names = [n for n in {*part.props, *new.props} if part.props.get(n) != new.props.get(n)]
        if names:
            change[part.id] = tuple(sorted(names))
        if (part.tappings, part.coils) != (new.tappings, new.coils):
            taps.append(part.id)
    laid = [
        p.id
        for p in start_sheet.pipes.values()
        if p.id in answer.pipes
        and any(
            getattr(p, f) != getattr(answer.pipes[p.id], f)
            for f in ("size", "material", "extra_length_m", "extra_bends", "insulation_mm")
        )
    ]
    return Allowed(
        place=tuple(sorted(place)),
        remove=tuple(p for p in start_sheet.parts if p not in answer.parts),
        move=tuple(move),
        change=change,
        tappings=tuple(taps),
        pipes=tuple(laid),
        links=dict(start_sheet.links) != dict(answer.links),
    )


def make_lesson(
    sheet: Sheet,
    folder: str | Path,
    *,
    id: str,
    title: str,
    task: str,
    answer: Sheet | None = None,
    goal: Sequence[Condition] | None = None,
    allowed: Allowed | None = None,
    hints: Sequence[str] = (),
    reason: str = "",
    right: Sequence[Sheet] = (),
    wrong: Sequence[Sheet] = (),
    course: str = "own",
    number: int = 1,
    minutes: int = 15,
    catalogue: Catalogue | None = None,
    **more: Any,
) -> Lesson:
    """A lesson written into a folder from any sheet: `<id>.toml`, its starting sheet, and answers for its proof.

    Without `goal` it is proposed from `answer`. The lesson is a draft until it holds two right and two wrong answers
    that behave (`complaints`). `more` are further keys of a lesson file. Raises LessonError.
    """
    kinds = catalogue or standard_catalogue()
    if not id.replace("-", "").replace("_", "").isalnum():
        raise LessonError(f"“{id}” can be no name of a lesson", do="Use letters, digits and dashes")
    asked = tuple(goal) if goal is not None else proposed_goal(sheet, answer, kinds) if answer is not None else ()
    if not asked:
        raise LessonError(
            "The lesson has no goal", where=id, do="Draw an answer that puts something right, or state the goal"
        )
    edits = (
        allowed
        if allowed is not None
        else proposed_edits(sheet, answer)
        if answer is not None
        else Allowed(anything=True)
    )
    root = Path(folder)
    root.mkdir(parents=True, exist_ok=True)
    path = root / f"{id}.toml"
    if path.exists():
        raise LessonError(f"{path.name} is there already", where=str(root), do="Choose another id")
    rules = [c.rule for c in asked if isinstance(c, goals.Clear)]
    plain: dict[str, Any] = {
        "id": id, "course": course, "number": number, "title": title, "minutes": minutes,
        "able_to": more.pop("able_to", title), "task": task,
        "hints": list(hints) or [page(r).title + "?" for r in rules[:1]] or ["Follow the water with your finger."],
        "reason": reason or (why_of(rules[0]) if rules else task),
        "next": [f"rule:{r}" for r in rules],
        **more,
        "allowed": msgspec.to_builtins(edits),
        "goal": [_lean(msgspec.to_builtins(c)) for c in asked],
    }  # fmt: skip
    save(sheet, root / f"{id}.loopwright")
    answers = [(True, s) for s in ([answer] if answer is not None else []) + list(right)] + [(False, s) for s in wrong]
    for n, (good, drawn) in enumerate(answers, 1):
        save(drawn, root / f"{id}.{'right' if good else 'wrong'}-{n}.loopwright")
    path.write_text(_toml(plain), encoding="utf-8")
    lesson = read_lesson(path)
    found = complaints(lesson, kinds)
    if found:
        plain["draft"] = found[0]
        path.write_text(_toml(plain), encoding="utf-8")
        lesson = read_lesson(path)
    return lesson


def complaints(lesson: Lesson, catalogue: Catalogue | None = None) -> list[str]:
    """What keeps a lesson a draft: answers that are missing or do not behave. Empty when it may be given out."""
    kinds = catalogue or standard_catalogue()
    out = []
    if start(lesson, kinds).look(lesson.sheet).passed:
        out.append("The starting sheet passes already")
    for sort, wanted in (("right", True), ("wrong", False)):
        files = sorted(lesson.path.parent.glob(f"{lesson.id}.{sort}-*.loopwright"))
        if len(files) < NEEDED:
            out.append(f"It holds {len(files)} {sort} answers; it needs {NEEDED}")
        for path in files:
            verdict = start(lesson, kinds).look(load(path, kinds))
            if verdict.passed and not wanted:
                out.append(f"Wrong answer {path.name} passes all conditions")
            elif wanted and not verdict.passed:
                out.append(f"Right answer {path.name} is not passed: {verdict.say}")
    return out


def _lean(condition: Mapping[str, Any]) -> dict[str, Any]:
    """A condition without what is empty, those inside it too."""

    def lean(value: Any) -> Any:
        if isinstance(value, Mapping):
            return _lean(value)
        return [lean(v) for v in value] if isinstance(value, list | tuple) else value

    return {k: lean(v) for k, v in condition.items() if v is not None and v is not False and v not in ("", [], {}, ())}


def _toml(plain: Mapping[str, Any]) -> str:
    """A lesson file: plain keys first, then tables, then arrays of tables."""
    tops = {k: v for k, v in plain.items() if not isinstance(v, dict) and not _tables(v)}
    lines = [f"{k} = {_value(v)}" for k, v in tops.items()]
    for key, value in plain.items():
        if isinstance(value, dict):
            lines += ["", f"[{key}]", *(f"{k} = {_value(v)}" for k, v in value.items() if v not in ("", None))]
        elif _tables(value):
            for table in value:
                lines += ["", f"[[{key}]]", *(f"{k} = {_value(v)}" for k, v in table.items())]
    return "\n".join(lines) + "\n"


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(v, dict) for v in value)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_value(v) for v in value) + "]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {_value(v)}" for k, v in value.items()) + "}"
    return json.dumps(str(value), ensure_ascii=False)
