"""Every edit of a sheet: pure functions from sheet to sheet that raise SheetError and never touch what they
were given.

Owns edits of parts and of the sheet's own words; those of pipes and of tappings are in `joining` and
`vessels` and are offered here too, so that callers need one module. Knows nothing of water, findings, files
or windows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from math import isfinite
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet.change import (
    GREATEST,
    LONGEST_NAME,
    LONGEST_TEXT,
    changed,
    check_block,
    check_id,
    check_link,
    check_note,
    check_property,
    free_part,
    ids_in_use,
    new_id,
    new_pipe_id,
    part_named,
    with_part,
    with_records,
)  # fmt: skip
from loopwright.sheet.dimensions import freed_feet, moved_dimensions, put_dimension, with_feet, without_dimensions
from loopwright.sheet.joining import (
    branch_from,
    check_pipe,
    connect,
    faced,
    insert_in_pipe,
    set_pipe,
    tee_into,
    without_part,
    without_pipes,
)  # fmt: skip
from loopwright.sheet.meanwhile import Hand
from loopwright.sheet.pieces import cut_out, put_in
from loopwright.sheet.pipework import joined_to, refit
from loopwright.sheet.values import ControlLink, End, Level, Note, Part, PropValue, Sheet
from loopwright.sheet.vessels import (
    add_coil,
    add_tapping,
    check_vessel,
    next_letter,
    remove_coil,
    remove_tapping,
    set_coil,
    set_tapping,
)  # fmt: skip

__all__ = [
    "add_coil", "add_tapping", "branch_from", "check_pipe", "check_vessel", "connect", "delete", "duplicate",
    "faced", "insert_in_pipe", "mirror", "move", "new_id", "new_pipe_id", "next_letter", "place", "put_dimension",
    "put_link", "put_note", "remove_coil", "remove_tapping", "rename", "set_block", "set_coil", "set_fact",
    "set_levels", "set_limit", "set_part", "set_pipe", "set_property", "set_tapping", "set_title", "tee_into", "turn",
]  # fmt: skip

_OF_PART = ("name", "existing", "locked")


def place(sheet: Sheet, part: Part) -> Sheet:
    """The sheet with a new part. Raises SheetError if its id is taken or can be none."""
    check_id(part.id, ids_in_use(sheet))
    return with_part(sheet, part)


def move(
    sheet: Sheet, ids: Collection[str], dx_m: float, dz_m: float, catalogue: Catalogue, hand: Hand | None = None
) -> Sheet:
    """Parts, notes and dimensions moved. Parts screwed to them come along; pipes wholly inside move whole, others
    stretch. With a `hand`, which belongs to one drag, the sheet is good for being looked at only.

    Pipes among the ids are not moved by themselves. Raises SheetError for an unknown id or a locked part.
    """
    named = _known(sheet, ids)
    inside = joined_to(sheet, named & set(sheet.parts))
    new: dict[str, Part] = {}
    for part_id in sorted(inside):
        part = free_part(sheet, part_id)
        new[part_id] = msgspec.structs.replace(
            part, x_m=round(part.x_m + dx_m, 6), height_m=round(part.height_m + dz_m, 6)
        )
    notes = tuple(
        msgspec.structs.replace(n, x_m=round(n.x_m + dx_m, 6), height_m=round(n.height_m + dz_m, 6))
        if n.id in named
        else n
        for n in sheet.notes
    )
    if not dx_m and not dz_m:
        return sheet
    moved = refit(sheet, new, catalogue, shift=(dx_m, dz_m), inside=inside, hand=hand) if new else sheet
    if notes != sheet.notes:
        moved = msgspec.structs.replace(moved, notes=notes)
    return moved_dimensions(moved, named, inside, dx_m, dz_m)


def turn(sheet: Sheet, ids: Collection[str], catalogue: Catalogue, quarters: int = 1) -> Sheet:
    """Fittings turned clockwise about their own centres by quarters. A large part stands upright and is
    refused."""
    new: dict[str, Part] = {}
    for part_id in sorted(_known(sheet, ids) & set(sheet.parts)):
        part = free_part(sheet, part_id)
        kind = catalogue[part.kind]
        if kind.large:
            raise SheetError(
                f"“{part_id}” stands upright: a {kind.name.lower()} is drawn as it stands in the house",
                do="Mirror it instead, so that its ports face the other way",
            )
        new[part_id] = msgspec.structs.replace(part, turn=(part.turn + quarters) % 4)
    return refit(sheet, new, catalogue)


def mirror(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """Parts mirrored left to right, each about its own middle, as they are seen on the sheet."""
    new: dict[str, Part] = {}
    for part_id in sorted(_known(sheet, ids) & set(sheet.parts)):
        part = free_part(sheet, part_id)
        # the part is mirrored before it is turned, so a quarter turn has to go the other way round
        new[part_id] = msgspec.structs.replace(part, mirror=not part.mirror, turn=-part.turn % 4)
    return refit(sheet, new, catalogue)


def set_property(sheet: Sheet, part_id: str, name: str, value: PropValue, catalogue: Catalogue) -> Sheet:
    """A property typed, or left to its default when `value` is None. Pipes follow ports that it moves.

    Raises SheetError for a wrong type, a value beyond the hard limits, or tappings that would stand off the
    body.
    """
    part = free_part(sheet, part_id)
    kind = catalogue[part.kind]
    check_property(kind, name, value)
    props = {**part.props, name: value}
    if value is None:
        del props[name]
    new = msgspec.structs.replace(part, props=props)
    check_vessel(new, kind)
    return refit(sheet, {part_id: new}, catalogue)


def set_part(sheet: Sheet, part_id: str, **changes: Any) -> Sheet:
    """The part's name, or the marks `existing` and `locked`. A locked part can only be unlocked."""
    part = part_named(sheet, part_id) if set(changes) == {"locked"} else free_part(sheet, part_id)
    for field in changes:
        if field not in _OF_PART:
            raise SheetError(f"“{field}” of “{part_id}” is not set this way", do=f"Set one of: {', '.join(_OF_PART)}")
    new = changed(part, **changes)
    if len(new.name) > LONGEST_NAME:
        raise SheetError(f"The name of “{part_id}” is longer than {LONGEST_NAME} letters", do="Shorten it")
    return with_part(sheet, new)


def rename(sheet: Sheet, part_id: str, new_part_id: str) -> Sheet:
    """The part under another id; pipe ends, control links, facts about the part and what reviewers said of it
    follow."""
    part = free_part(sheet, part_id)
    if new_part_id == part_id:
        return sheet
    check_id(new_part_id, ids_in_use(sheet))

    def end(old: End) -> End:
        return End(new_part_id, old.port) if old.part == part_id else old

    def place_name(old: str) -> str:
        owner, slash, letter = old.partition("/")
        return f"{new_part_id}{slash}{letter}" if owner == part_id else old

    renamed = msgspec.structs.replace(part, id=new_part_id)
    parts = {p.id: p for p in (renamed if key == part_id else p for key, p in sheet.parts.items())}
    moved = {p.id: msgspec.structs.replace(p, a=end(p.a), b=end(p.b)) for p in sheet.pipes_of(part_id)}
    pipes = {**sheet.pipes, **moved}
    links = {
        key: msgspec.structs.replace(
            link,
            sensor=place_name(link.sensor),
            target=place_name(link.target),
            second=place_name(link.second),
        )
        for key, link in sheet.links.items()
    }
    facts = {
        (f"{name.rpartition('@')[0]}@{new_part_id}" if _is_about(name, part_id) else name): value
        for name, value in sheet.facts.items()
    }
    dispositions = tuple(
        msgspec.structs.replace(d, subject=place_name(d.subject)) if place_name(d.subject) != d.subject else d
        for d in sheet.dispositions
    )

    def ids(old: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(new_part_id if name == part_id else name for name in old)

    tried = tuple(
        msgspec.structs.replace(t, stopped=ids(t.stopped), shut=ids(t.shut), out=ids(t.out)) for t in sheet.tried
    )
    made = with_records(sheet, parts=parts, pipes=pipes, links=links, facts=facts)
    made = msgspec.structs.replace(made, dispositions=dispositions, tried=tried)
    return with_feet(made, lambda old: new_part_id if old == part_id else old)


def _is_about(fact: str, part_id: str) -> bool:
    """Whether a fact is one about a part: its name ends in @ and the part's id."""
    return fact.rpartition("@")[1:] == ("@", part_id)


def delete(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The sheet without these parts, pipes, links, notes and dimensions, and without what ends on a part that goes.

    A fitting that lay in line, between two pipes of one size and material, leaves one pipe in their place.
    """
    named = _known(sheet, ids)
    parts = [free_part(sheet, part_id) for part_id in sheet.parts if part_id in named]
    before = sheet
    sheet = without_pipes(sheet, named & set(sheet.pipes))
    for part in parts:
        sheet = without_part(sheet, part.id, catalogue)
    links = {key: link for key, link in sheet.links.items() if key not in named}
    notes = tuple(n for n in sheet.notes if n.id not in named)
    facts = {name: v for name, v in sheet.facts.items() if not any(_is_about(name, part.id) for part in parts)}
    left = msgspec.structs.replace(with_records(sheet, links=links, facts=facts), notes=notes)
    return freed_feet(before, without_dimensions(left, named, [part.id for part in parts]), catalogue)


def duplicate(sheet: Sheet, ids: Collection[str], dx_m: float, dz_m: float) -> Sheet:
    """Copies of parts and notes beside them, with what lies wholly among them, under new ids (see `pieces`)."""
    return put_in(sheet, cut_out(sheet, _known(sheet, ids)), dx_m, dz_m)[0]


def _known(sheet: Sheet, ids: Iterable[str]) -> set[str]:
    """The ids as a set. Raises SheetError naming one that is not on the sheet."""
    named = {ids} if isinstance(ids, str) else set(ids)
    strange = sorted(named - ids_in_use(sheet))
    if strange:
        raise SheetError(f"There is no “{strange[0]}” on the sheet", do="Choose something that is there")
    return named


# the sheet's own words


def set_title(sheet: Sheet, title: str) -> Sheet:
    """The sheet under another title."""
    title = title.strip()
    if not title or len(title) > LONGEST_NAME:
        raise SheetError("A title needs 1 to 200 letters", do="Give a short title")
    return msgspec.structs.replace(sheet, title=title)


def set_levels(sheet: Sheet, levels: Iterable[Level] | Mapping[str, float]) -> Sheet:
    """The sheet with these floors, lowest first. Raises SheetError for none, equal names or equal heights."""
    given = [Level(n, float(h)) for n, h in levels.items()] if isinstance(levels, Mapping) else list(levels)
    if not given:
        raise SheetError("A house has at least one floor", do="Give a name and a height")
    for level in given:
        if not level.name.strip() or len(level.name) > LONGEST_NAME:
            raise SheetError("A floor has no usable name", do="Give a short name")
        if not isfinite(level.height_m) or abs(level.height_m) > 1000:
            raise SheetError(f"Floor “{level.name}” is at {level.height_m} m", do="Give a height in metres")
    if len({level.name for level in given}) < len(given) or len({level.height_m for level in given}) < len(given):
        raise SheetError("Two floors share a name or a height", do="Give each its own")
    return msgspec.structs.replace(sheet, levels=tuple(sorted(given, key=lambda level: level.height_m)))


def put_link(sheet: Sheet, link: ControlLink) -> Sheet:
    """A control link put in, or exchanged for the one of that id."""
    if link.id not in sheet.links:
        check_id(link.id, ids_in_use(sheet))
    check_link(sheet, link)
    return with_records(sheet, links={**sheet.links, link.id: link})


def put_note(sheet: Sheet, note: Note) -> Sheet:
    """A note put in, or exchanged for the one of that id."""
    check_note(note)
    if any(n.id == note.id for n in sheet.notes):
        notes = tuple(note if n.id == note.id else n for n in sheet.notes)
    else:
        check_id(note.id, ids_in_use(sheet))
        notes = (*sheet.notes, note)
    return msgspec.structs.replace(sheet, notes=notes)


def set_fact(sheet: Sheet, name: str, value: PropValue) -> Sheet:
    """A fact about the house (its heat load, which links run together); None forgets it.

    A fact whose name ends in @ and a part's id is one about that part: it follows the part's id, and goes with it.
    """
    if isinstance(value, int | float) and not abs(value) <= GREATEST:
        raise SheetError(f"Fact {name} is beyond all bounds", do="Give a number that can be")
    if isinstance(value, str) and len(value) > LONGEST_TEXT:
        raise SheetError(f"Fact {name} is longer than {LONGEST_TEXT} letters", do="Shorten it")
    facts = {**sheet.facts, name: value}
    if value is None:
        del facts[name]
    return with_records(sheet, facts=facts)


def set_limit(sheet: Sheet, name: str, value: float | None) -> Sheet:
    """A limit of this sheet's own in place of the general one; None goes back to the general one."""
    if value is not None and not abs(value) <= GREATEST:
        raise SheetError(f"Limit {name} is beyond all bounds", do="Give a number that can be")
    limits = {key: number for key, number in sheet.limits.items() if key != name}
    return with_records(sheet, limits=limits if value is None else {**limits, name: value})


def set_block(sheet: Sheet, **changes: Any) -> Sheet:
    """The sheet with words of its title block, its page or its scale changed. Raises SheetError."""
    block = changed(sheet.block, **changes)
    check_block(block)
    return msgspec.structs.replace(sheet, block=block)
