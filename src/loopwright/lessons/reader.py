"""Reads lesson files and refuses broken ones with file, key and what to do.

Owns the format: one TOML file a lesson, its starting sheet beside it, courses and misconceptions in files of their own.
Knows nothing of how a goal is judged.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, Literal

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import FileError, LessonError
from loopwright.files.reader import load
from loopwright.lessons import goals
from loopwright.lessons.choice import chosen, is_choice
from loopwright.lessons.glossary import lookup
from loopwright.lessons.goals import Condition, each
from loopwright.lessons.lesson import EVERYTHING, Allowed, Course, Decoy, Fault, Lesson, Misconception, Play, Question
from loopwright.lessons.measures import MEASURES
from loopwright.lessons.order_steps import rank_of_step
from loopwright.plain import read_toml
from loopwright.resources import resource_root
from loopwright.rules.registry import THEMES, all_rules, facts
from loopwright.sheet.values import Sheet

_AT = re.compile(r"^(?P<what>.*?)(?: - at `(?:key in )?\$(?P<path>.*)`)?$", re.DOTALL)
_NAME = re.compile(r"(?!\.)[^/\\:\x00-\x1f]{1,120}")
"""The name of a file in the same folder."""
OWN = Course(id="own", title="Own lessons", about="Lessons written here.")
"""Where a teacher's lessons stand."""
NEXT_SORTS = ("rule", "fact", "computation", "word", "step")


class _File(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A lesson file as it is written."""

    id: str
    course: str
    number: int
    title: str
    sort: Literal["lesson", "faults", "brief"] = "lesson"
    minutes: int
    able_to: str
    task: str
    hints: tuple[str, ...]
    reason: str
    misconceptions: tuple[str, ...] = ()
    next: tuple[str, ...] = ()
    sheet: str = ""
    draft: str = ""
    bet: Question | None = None
    why: Question | None = None
    allowed: Allowed = Allowed()
    goal: tuple[Condition, ...]
    play: Play = Play()
    fault: tuple[Fault, ...] = ()
    decoy: tuple[Decoy, ...] = ()


def lesson_root() -> Path:
    """The folder of the lessons that ship."""
    return resource_root() / "lessons"


class _Bad(Exception):
    """What is wrong with a lesson file: key, what, and what to do."""

    def __init__(self, key: str, what: str, do: str) -> None:
        self.key, self.what, self.do = key, what, do
        super().__init__(what)


def read_lesson(path: str | Path) -> Lesson:
    """The lesson in a file. Raises LessonError with the file, the key and its line, and what to do.

    The starting sheet is read when it is first asked for.
    """
    path = Path(path)
    text, plain = read_toml(path, LessonError, f"Lesson file {path.name}")
    try:
        file = msgspec.convert(plain, _File)
        _check(file, path)
    except msgspec.ValidationError as bad:
        at = _AT.match(str(bad))
        key = (at["path"] or "").lstrip(".") if at else ""
        what = at["what"] if at else str(bad)
        raise _refused(path, text, key, what, "See the other lessons for how it is written") from None
    except _Bad as bad:
        raise _refused(path, text, bad.key, bad.what, bad.do) from None
    fields = {f: getattr(file, f) for f in _File.__struct_fields__ if f not in ("sheet", "next", "fault", "decoy")}
    return Lesson(
        **fields,
        next=tuple(_next(n) for n in file.next),
        faults=file.fault,
        decoys=file.decoy,
        path=path,
        sheet_path=path.parent / (file.sheet or f"{path.stem}.loopwright"),
    )


def _refused(path: Path, text: str, key: str, what: str, do: str) -> LessonError:
    line = _line(text, key)
    where = ", ".join(w for w in (path.name, f"line {line}" if line else "", f"key {key}" if key else "") if w)
    return LessonError(f"The lesson cannot be used: {what[:1].lower()}{what[1:]}", where=where, do=do)


def _line(text: str, key: str) -> int:
    """Where a key stands in the text, as a line number from 1; 0 when it cannot be told."""
    lines = text.splitlines()
    at, found = 0, 0
    for name, number in re.findall(r"([A-Za-z_]+)|\[(\d+)\]", key):
        if name:
            pattern = re.compile(rf"^\s*(\[+(\w+\.)*{re.escape(name)}\]+|{re.escape(name)}\s*=)")
            hit = next((n for n in range(at, len(lines)) if pattern.match(lines[n])), None)
            if hit is None:
                break
            at = found = hit
            table = lines[hit].strip()
            at = hit if table.startswith("[[") else hit + 1
        elif lines and found < len(lines) and lines[found].strip().startswith("[["):
            heads = [n for n in range(len(lines)) if lines[n].strip() == lines[found].strip()]
            if int(number) < len(heads):
                found = heads[int(number)]
                at = found + 1
        elif lines and found < len(lines) and lines[found].rstrip().endswith("["):  # one inline table or text a line
            end = next((n for n in range(found, len(lines)) if lines[n].startswith("]")), len(lines))
            if found + 1 + int(number) < end:
                return found + 2 + int(number)
    return found + 1 if lines and (found or key) else 0


def _next(word: str) -> tuple[str, str]:
    sort, _, key = word.partition(":")
    return sort, key


def _check(file: _File, path: Path) -> None:
    """What a lesson file must hold beside the right types. Raises _Bad."""
    if file.id != path.stem:
        raise _Bad("id", f"its id is {file.id}, the file is called {path.stem}", "Give both one name")
    for name in ("title", "able_to", "task", "reason"):
        if not getattr(file, name).strip():
            raise _Bad(name, f"“{name}” is empty", "Write it")
    if file.sheet and (not _NAME.fullmatch(file.sheet) or (path.parent / file.sheet).is_symlink()):
        raise _Bad("sheet", "its sheet is not a file beside it", "Name a sheet of the same folder, no link and no path")
    if not file.goal:
        raise _Bad("goal", "it has no goal", "Write at least one [[goal]]")
    if not file.hints:
        raise _Bad("hints", "it has no hints", "Write one to three, the last the plainest")
    courses = {OWN.id, *(c.id for c in courses_alone(path.parent))}
    if file.course not in courses:
        raise _Bad("course", f"there is no course “{file.course}”", f"Courses are: {', '.join(sorted(courses))}")
    for name in ("bet", "why"):
        question = getattr(file, name)
        if question is not None and not 0 <= question.right < len(question.choices):
            raise _Bad(f"{name}.right", "it is not the number of a choice", "Count the choices from 0")
    if file.sort == "faults" and not file.fault:
        raise _Bad("fault", "a sheet of faults names no fault", "Write a [[fault]] for each hidden one")
    known = misconceptions(path.parent)
    for key in file.misconceptions:
        if known and key not in known:
            raise _Bad("misconceptions", f"there is no misconception “{key}”", "Take one of misconceptions.toml")
    for n, word in enumerate(file.next):
        _check_next(word, f"next[{n}]")
    for kind in file.allowed.place:
        _kind(kind, "allowed.place")
    for n, condition in enumerate(file.goal):
        for inner in each((condition,)):
            _check_condition(inner, f"goal[{n}]")
    for n, fault in enumerate(file.fault):
        _rule(fault.rule, f"fault[{n}].rule")
    for slug in file.play.by_rule:
        _rule(slug, f"play.by_rule.{slug}")


def _check_next(word: str, key: str) -> None:
    sort, name = _next(word)
    if sort not in NEXT_SORTS or not name:
        raise _Bad(key, f"“{word}” is nothing to read", f"Write one of {', '.join(NEXT_SORTS)}, a colon and its key")
    if sort == "rule":
        _rule(name, key)
    elif sort == "fact" and name not in facts():
        raise _Bad(key, f"there is no fact “{name}”", "Take a key of sources.toml")
    elif sort == "computation" and not (
        _NAME.fullmatch(name) and (resource_root() / "computations" / f"{name}.md").is_file()
    ):
        raise _Bad(key, f"there is no computation “{name}”", "Take the name of a page of resources/computations")
    elif sort == "word" and lookup(name) is None:
        raise _Bad(key, f"the glossary has no word “{name}”", "`loopwright glossary` lists them")
    elif sort == "step" and name not in rank_of_step():
        raise _Bad(key, f"there is no step of work “{name}”", "Take a key of resources/order/steps.toml")


def _rule(slug: str, key: str) -> None:
    if slug not in all_rules(computed=True):
        raise _Bad(key, f"there is no rule “{slug}”", "`loopwright rules` lists them")


def _kind(kind: str, key: str) -> None:
    if kind != EVERYTHING and kind not in standard_catalogue().kinds:
        raise _Bad(key, f"there is no kind of part “{kind}”", "`loopwright kinds` lists them")


def _check_condition(condition: Condition, key: str) -> None:
    if isinstance(condition, goals.Clear):
        _rule(condition.rule, f"{key}.rule")
    elif isinstance(condition, goals.Within):
        if condition.name not in MEASURES:
            raise _Bad(f"{key}.name", f"there is no figure “{condition.name}”", f"There are: {', '.join(MEASURES)}")
        if condition.least is None and condition.most is None:
            raise _Bad(key, "the figure has no bound", "Give least or most")
    elif isinstance(condition, goals.Quiet):
        for theme in condition.themes:
            if theme not in THEMES:
                raise _Bad(f"{key}.themes", f"there is no theme “{theme}”", f"Themes are: {', '.join(THEMES)}")
    elif isinstance(condition, goals.AnyOf) and not all(condition.ways):
        raise _Bad(f"{key}.ways", "one of the ways is empty", "Give each way at least one condition")
    for name in _names(condition):
        for word in name.split("|"):
            if word.startswith("kind:"):
                _kind(word.removeprefix("kind:"), key)


def _names(condition: Condition) -> Iterator[str]:
    """Parts that a condition names."""
    for field in ("source", "sink", "a", "b", "part", "store", "outlet", "of"):
        value = getattr(condition, field, "")
        if isinstance(value, str) and value:
            yield value.partition("/")[0]
    parts = getattr(condition, "parts", ())
    yield from (p.partition("/")[0] for p in parts)


# -- the sheet --------------------------------------------------------------------------------------------------------


def starting_sheet(lesson: Lesson) -> Sheet:
    """The starting sheet of a lesson, with everything on it that the lesson names. Raises FileError or LessonError."""
    catalogue = standard_catalogue()
    try:
        sheet = load(lesson.sheet_path, catalogue)
    except FileError as bad:
        raise LessonError(
            f"The starting sheet of lesson {lesson.id} cannot be used: {bad.what}",
            where=bad.where or lesson.sheet_path.name,
            do=bad.do,
        ) from None
    text = lesson.path.read_text(encoding="utf-8") if lesson.path.is_file() else ""
    for lost in _lost(lesson, sheet, catalogue):
        raise _refused(lesson.path, text, lost.key, lost.what, lost.do)
    return sheet


def _lost(lesson: Lesson, sheet: Sheet, catalogue: Catalogue) -> Iterator[_Bad]:
    do = "Name what is on the starting sheet, or draw it there"
    here = {*sheet.parts, *sheet.pipes}
    allowed = lesson.allowed
    for field in ("remove", "move", "tappings", "pipes"):
        for name in getattr(allowed, field):
            if name != EVERYTHING and name not in here and not _stub(sheet, name):
                yield _Bad(f"allowed.{field}", f"“{name}” is not on the starting sheet", do)
    for part, names in allowed.change.items():
        if part == EVERYTHING:
            continue
        if part not in sheet.parts:
            yield _Bad(f"allowed.change.{part}", f"“{part}” is not on the starting sheet", do)
            continue
        for name in names:
            if name != EVERYTHING and catalogue[sheet.parts[part].kind].prop(name) is None:
                yield _Bad(f"allowed.change.{part}", f"“{part}” has no property “{name}”", do)
    free = allowed.anything or EVERYTHING in allowed.place or bool(allowed.place)
    for n, condition in enumerate(lesson.goal):
        for inner in each((condition,)):
            for name in _names(inner):
                unknown = not is_choice(name) and not chosen(sheet, catalogue, name) and name not in sheet.pipes
                if unknown and not (free and isinstance(inner, goals.Present)) and not _circuit_words(inner):
                    yield _Bad(f"goal[{n}]", f"“{name}” is not on the starting sheet", do)
    hidden = [("fault", n, f.at) for n, f in enumerate(lesson.faults)]
    hidden += [("decoy", n, d.at) for n, d in enumerate(lesson.decoys)]
    for sort, n, at in hidden:
        for name in at:
            if name not in here:
                yield _Bad(f"{sort}[{n}].at", f"“{name}” is not on the starting sheet", do)


def _stub(sheet: Sheet, name: str) -> bool:
    """Whether a name is a tapping or a coil of a vessel: "store/flow"."""
    part, _, stub = name.partition("/")
    vessel = sheet.parts.get(part)
    if vessel is None or not stub:
        return False
    return stub in {n for t in vessel.tappings for n in (t.letter, t.name)} | {c.name for c in vessel.coils}


def _circuit_words(condition: Condition) -> bool:
    return isinstance(condition, goals.Above)


# -- courses ----------------------------------------------------------------------------------------------------------


class _Courses(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    course: tuple[Course, ...]


@cache
def courses_alone(folder: Path) -> tuple[Course, ...]:
    """Courses of a folder without their lessons; those that ship when the folder names none."""
    path = folder / "courses.toml"
    if not path.is_file():
        path = lesson_root() / "courses.toml"
    if not path.is_file():
        return ()
    try:
        return msgspec.convert(read_toml(path, LessonError, "The list of courses")[1], _Courses).course
    except msgspec.ValidationError as bad:
        raise LessonError("The list of courses cannot be read", where=f"{path.name}: {bad}", do="Mend it") from None


@cache
def misconceptions(folder: Path | None = None) -> dict[str, Misconception]:
    """What is often believed, by key."""
    path = (folder or lesson_root()) / "misconceptions.toml"
    if not path.is_file():
        path = lesson_root() / "misconceptions.toml"
    if not path.is_file():
        return {}
    _, plain = read_toml(path, LessonError, "The list of misconceptions")
    try:
        return {key: msgspec.convert({**_table(table), "key": key}, Misconception) for key, table in plain.items()}
    except msgspec.ValidationError as bad:
        raise LessonError(
            "The list of misconceptions cannot be read", where=f"{path.name}: {bad}", do="Mend it"
        ) from None


def _table(entry: Any) -> dict[str, Any]:
    if not isinstance(entry, dict):
        raise msgspec.ValidationError(f"{str(entry)[:40]} stands where a table must be")
    return entry


def load_lessons(folder: str | Path | None = None) -> tuple[Course, ...]:
    """Every course with its lessons in order. Raises LessonError for the first lesson file that is broken."""
    root = Path(folder) if folder is not None else lesson_root()
    skip = {"courses.toml", "misconceptions.toml"}
    lessons = [read_lesson(p) for p in sorted(root.glob("*.toml")) if p.name not in skip]
    seen: dict[tuple[str, int], str] = {}
    for lesson in lessons:
        other = seen.setdefault((lesson.course, lesson.number), lesson.id)
        if other != lesson.id:
            raise LessonError(
                f"Lessons {other} and {lesson.id} both have number {lesson.number}", where=lesson.path.name,
                do="Give one of them another number",
            )  # fmt: skip
    lessons.sort(key=lambda found: found.number)
    courses = (*courses_alone(root), OWN)
    filled = [msgspec.structs.replace(c, lessons=tuple(x for x in lessons if x.course == c.id)) for c in courses]
    return tuple(c for c in filled if c.lessons or (c.id != OWN.id and folder is None))


def lesson_named(name: str, folder: str | Path | None = None) -> Lesson:
    """A lesson by its id, upper or lower case, or by the path of its file. Raises LessonError."""
    if name.endswith(".toml"):
        return read_lesson(name)
    root = Path(folder) if folder is not None else lesson_root()
    path = next((p for p in sorted(root.glob("*.toml")) if p.stem.lower() == name.lower()), None)
    if path is None or path.name in ("courses.toml", "misconceptions.toml"):
        raise LessonError(f"There is no lesson “{name}”", do="`loopwright lessons` lists them")
    return read_lesson(path)
