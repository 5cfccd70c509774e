"""What a file may not say although its form is right: names of nothing, one port used twice, sizes nobody
builds.

Owns the second pass over a record. Raises `MisfitError` with the path of the value; `reader` turns that into
a line.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from math import dist, isfinite

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError, SheetError
from loopwright.files.records import SheetRecord, sheet_of
from loopwright.sheet import edits
from loopwright.sheet.change import (
    GREATEST,
    LONGEST_NAME,
    LONGEST_TEXT,
    check_block,
    check_dimension,
    check_id,
    check_link,
    check_note,
    check_property,
)
from loopwright.sheet.pipework import end_port
from loopwright.sheet.plane import TINY_M
from loopwright.sheet.values import End, Part, Pipe, Sheet

MOST_WORDS = 10_000
JOINT_APART_M = 2 * TINY_M


class MisfitError(Exception):
    """Something wrong at a path of the file. `what` and `do` are sentences for people."""

    def __init__(self, path: str, what: str, do: str) -> None:
        super().__init__(what)
        self.path, self.what, self.do = path, what, do


@contextmanager
def at(path: str) -> Iterator[None]:
    """Gives errors of a sheet or a kind the path at which they arose."""
    try:
        yield
    except LoopwrightError as bad:
        raise MisfitError(path, bad.what, bad.do) from None


def check(record: SheetRecord, catalogue: Catalogue) -> Sheet:
    """The sheet of the record, if everything it names exists and can be built. Raises MisfitError."""
    with at("$.title"):
        edits.set_title(Sheet(), record.title)
    with at("$.levels"):
        edits.set_levels(Sheet(), record.levels)
    _check_ids(record)
    for k, part in enumerate(record.parts):
        _check_part(part, f"$.parts[{k}]", catalogue)
    sheet = sheet_of(record)
    _check_ends(record, sheet, catalogue)
    for k, pipe in enumerate(record.pipes):
        with at(f"$.pipes[{k}]"):
            edits.check_pipe(pipe)
    for k, link in enumerate(record.links):
        with at(f"$.links[{k}]"):
            check_link(sheet, link)
    for k, note in enumerate(record.notes):
        with at(f"$.notes[{k}]"):
            check_note(note)
    for k, dimension in enumerate(record.dimensions):
        with at(f"$.dimensions[{k}]"):
            check_dimension(sheet, dimension)
    with at("$.block"):
        check_block(record.block)
    _check_words(record)
    return sheet


def _check_ids(record: SheetRecord) -> None:
    used: dict[str, str] = {}
    for field in ("parts", "pipes", "links", "notes", "dimensions"):
        for k, entry in enumerate(getattr(record, field)):
            path = f"$.{field}[{k}].id"
            with at(path):
                check_id(entry.id)
            if entry.id in used:
                raise MisfitError(
                    path,
                    f"The id “{entry.id}” is there twice, first at {used[entry.id]}",
                    "Give one of the two another id, and change the pipe ends that mean it",
                )
            used[entry.id] = path


def _check_part(part: Part, path: str, catalogue: Catalogue) -> None:
    with at(f"{path}.kind"):
        if part.kind not in catalogue:
            try:
                hint = catalogue[part.kind].id
            except LoopwrightError as bad:
                hint = bad.do
            raise SheetError(
                f"Part “{part.id}” is of the unknown kind “{part.kind}”",
                do=f"{hint}. A kind of your own needs its file in the folder of kinds",
            )
    kind = catalogue[part.kind]
    if len(part.name) > LONGEST_NAME:
        raise MisfitError(f"{path}.name", f"The name of “{part.id}” is too long", "Shorten it to 200 letters")
    for name, value in part.props.items():
        with at(f"{path}.props.{name}"):
            check_property(kind, name, value)
    with at(f"{path}.tappings" if part.tappings else f"{path}.coils"):
        edits.check_vessel(part, kind)


def _check_ends(record: SheetRecord, sheet: Sheet, catalogue: Catalogue) -> None:
    taken: dict[End, Pipe] = {}
    for k, pipe in enumerate(record.pipes):
        places = []
        for name, end in (("a", pipe.a), ("b", pipe.b)):
            path = f"$.pipes[{k}].{name}"
            if end.part not in sheet.parts:
                raise MisfitError(
                    path,
                    f"Pipe {pipe.id} ends on “{end.part}”, which is no part of the sheet",
                    "Name a part that is there, or remove the pipe",
                )
            with at(path):
                places.append(end_port(sheet, end, catalogue).at)
            if end in taken:
                raise MisfitError(
                    path,
                    f"“{end.port}” of “{end.part}” holds two pipes, {taken[end].id} and {pipe.id}",
                    "Let one of them end on another port, or on a tee",
                )
            taken[end] = pipe
        if pipe.joint and dist(*places) > JOINT_APART_M:
            raise MisfitError(
                f"$.pipes[{k}]",
                f"Joint {pipe.id} joins two ports that do not meet",
                "Move the parts together, or make it a pipe",
            )


def _check_words(record: SheetRecord) -> None:
    for field in ("limits", "facts"):
        if len(getattr(record, field)) > MOST_WORDS:
            what = f"The sheet has more than {MOST_WORDS} {field}"
            raise MisfitError(f"$.{field}", what, "Take out what is not needed")
    for name, number in record.limits.items():
        if not isfinite(number) or abs(number) > GREATEST:
            raise MisfitError(f"$.limits.{name}", f"The limit {name} cannot be {number:g}", "Give a number that can be")
    for name, fact in record.facts.items():
        unreal = isinstance(fact, int | float) and not abs(fact) <= GREATEST
        if unreal or (isinstance(fact, str) and len(fact) > LONGEST_TEXT):
            raise MisfitError(f"$.facts.{name}", f"The fact {name} is beyond all bounds", "Mend it or take it out")
    for k, disposition in enumerate(record.dispositions):
        if any(isinstance(text, str) and len(text) > LONGEST_TEXT for text in msgspec.structs.astuple(disposition)):
            raise MisfitError(f"$.dispositions[{k}]", "A disposition is longer than 10 000 letters", "Shorten it")
        if disposition.measured is not None and not isfinite(disposition.measured):
            raise MisfitError(f"$.dispositions[{k}].measured", "A measured value is no number", "Take it out")
    for k, signature in enumerate(record.signatures):
        if any(len(text) > LONGEST_TEXT for text in msgspec.structs.astuple(signature)):
            raise MisfitError(f"$.signatures[{k}]", "A signature is longer than 10 000 letters", "Shorten it")
