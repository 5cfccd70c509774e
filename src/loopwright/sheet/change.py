"""The smallest steps every edit is made of: records put in or taken out, ids checked, values checked.

Owns what an id and a property may be. Knows nothing of geometry. A new sheet shares every record with the old
one; only the map that changed is copied.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any

import msgspec

from loopwright.catalogue import Kind, PropSpec
from loopwright.errors import SheetError
from loopwright.sheet.values import ControlLink, Dimension, Foot, Note, Part, Pipe, PropValue, Sheet, TitleBlock

LONGEST_ID = 60
LONGEST_NAME = 200
LONGEST_TEXT = 10_000
GREATEST = 1e12
"""Beyond this no number of a sheet can be meant."""
_SHORT_WORD = re.compile(r"^(.*?)(\d*)$", re.DOTALL)


def with_records(sheet: Sheet, **maps: Mapping[str, Any]) -> Sheet:
    """The sheet with whole maps exchanged: parts, pipes, links, facts or limits."""
    return msgspec.structs.replace(sheet, **{name: MappingProxyType(dict(new)) for name, new in maps.items()})


def with_part(sheet: Sheet, part: Part) -> Sheet:
    """The sheet with a part put in or exchanged; a part that was there keeps its place in the order."""
    return with_records(sheet, parts={**sheet.parts, part.id: part})


def with_pipe(sheet: Sheet, pipe: Pipe) -> Sheet:
    """The sheet with a pipe put in or exchanged."""
    return with_records(sheet, pipes={**sheet.pipes, pipe.id: pipe})


def changed(record: Any, **changes: Any) -> Any:
    """A record with fields exchanged. Raises SheetError naming a field that it does not have."""
    for name in changes:
        if name not in record.__struct_fields__ or name == "id":
            allowed = ", ".join(n for n in record.__struct_fields__ if n != "id")
            raise SheetError(f"A {type(record).__name__.lower()} has no “{name}” to set", do=f"It has {allowed}")
    try:
        # replace() does not look at types, and a frozen value with a wrong type would show up far from here
        plain = msgspec.to_builtins(msgspec.structs.replace(record, **changes), enc_hook=_plain)
        return msgspec.convert(plain, type(record), strict=True)
    except (msgspec.ValidationError, TypeError) as bad:
        raise SheetError(
            f"{getattr(record, 'id', 'A record')} cannot take that value: {bad}",
            do="Give a value of the right sort",
        ) from None


def _plain(value: Any) -> Any:
    if isinstance(value, MappingProxyType):
        return dict(value)
    raise TypeError(f"{type(value).__name__} is no value of a sheet")


# ids


def ids_in_use(sheet: Sheet) -> set[str]:
    """Ids of parts, pipes, links, notes and dimensions; no two of them may share one."""
    return {
        *sheet.parts,
        *sheet.pipes,
        *sheet.links,
        *(n.id for n in sheet.notes),
        *(d.id for d in sheet.dimensions),
    }


def check_id(new_id: str, used: Iterable[str] = ()) -> str:
    """The id itself if it can be one and is not used. Raises SheetError."""
    if not isinstance(new_id, str) or not new_id or new_id != new_id.strip():
        raise SheetError(f"“{new_id}” cannot be an id", do="Give a short word without blanks round it")
    if len(new_id) > LONGEST_ID or "/" in new_id or not new_id.isprintable():
        raise SheetError(
            f"“{new_id[:LONGEST_ID]}” cannot be an id",
            do=f"Use at most {LONGEST_ID} letters and digits, and no slash",
        )
    if new_id in used:
        raise SheetError(f"There is already a “{new_id}” on the sheet", do="Choose another id")
    return new_id


def numbered(prefix: str, used: set[str]) -> str:
    """The first free id made from a prefix: P1, P2 for a capital letter; stove, stove2 for a word."""
    plain = len(prefix) > 1 and not prefix.isupper()
    if plain and prefix not in used:
        return prefix
    number = 2 if plain else 1
    while f"{prefix}{number}" in used:
        number += 1
    return f"{prefix}{number}"


def new_id(sheet: Sheet, kind: Kind) -> str:
    """A free id for a new part of a kind."""
    return numbered(kind.letter or kind.id, ids_in_use(sheet))


def new_pipe_id(sheet: Sheet) -> str:
    """A free id for a new pipe."""
    used, number = ids_in_use(sheet), len(sheet.pipes) + 1
    while f"pipe{number}" in used:
        number += 1
    return f"pipe{number}"


def id_like(old: str, used: set[str]) -> str:
    """A free id for a copy of `old`: P1 gives P2, stove gives stove2."""
    found = _SHORT_WORD.match(old)
    prefix = (found.group(1) if found else old) or old
    number = 2
    while f"{prefix}{number}" in used:
        number += 1
    return f"{prefix}{number}"


# things on the sheet


def part_named(sheet: Sheet, part_id: str) -> Part:
    """A part. Raises SheetError if it is not on the sheet."""
    part = sheet.parts.get(part_id)
    if part is None:
        raise SheetError(f"There is no part “{part_id}” on the sheet", do=f"There are: {_some(sheet.parts)}")
    return part


def free_part(sheet: Sheet, part_id: str) -> Part:
    """A part that may be changed. Raises SheetError for one that a lesson locks."""
    part = part_named(sheet, part_id)
    if part.locked:
        raise SheetError(f"“{part_id}” is locked on this sheet", do="Work with the other parts, or unlock it first")
    return part


def pipe_named(sheet: Sheet, pipe_id: str) -> Pipe:
    """A pipe. Raises SheetError if it is not on the sheet."""
    pipe = sheet.pipes.get(pipe_id)
    if pipe is None:
        raise SheetError(f"There is no pipe “{pipe_id}” on the sheet", do=f"There are: {_some(sheet.pipes)}")
    return pipe


def _some(names: Iterable[str]) -> str:
    listed = list(names)
    return ", ".join(listed[:8]) + (" and more" if len(listed) > 8 else "") if listed else "none yet"


# values


def check_property(kind: Kind, name: str, value: PropValue) -> PropSpec:
    """What the property means, if the kind has it and the value may be typed. Raises SheetError with the
    limits."""
    spec = kind.prop(name)
    if spec is None:
        listed = ", ".join(p.name for p in kind.props) or "none"
        raise SheetError(f"A {kind.name.lower()} has no property “{name}”", do=f"It has: {listed}")
    if value is None:
        return spec
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    right = {"number": is_number, "flag": isinstance(value, bool)}.get(spec.kind, isinstance(value, str))
    if not right:
        wanted = {"number": "a number", "flag": "yes or no (true or false)"}.get(spec.kind, "text")
        raise SheetError(f"{spec.label} of a {kind.name.lower()} cannot be “{value}”", do=f"Give {wanted}")
    if spec.kind == "choice" and value not in spec.choices:
        raise SheetError(f"{spec.label} cannot be “{value}”", do=f"Choose one of: {', '.join(spec.choices)}")
    if isinstance(value, str) and len(value) > 1000:
        raise SheetError(f"{spec.label} is longer than 1000 letters", do="Shorten it, or write a note")
    if is_number:
        # a whole number may be too large for a float to hold
        _check_limits(spec, math.inf if isinstance(value, int) and abs(value) > 10**300 else float(value))
    return spec


def _check_limits(spec: PropSpec, value: float) -> None:
    unit = f" {spec.unit}" if spec.unit else ""
    if not math.isfinite(value) or abs(value) > 1e9:
        raise SheetError(f"{spec.label} cannot be {value:g}{unit}", do="Give a number that can be built")
    if spec.least is not None and value < spec.least:
        raise SheetError(f"{spec.label} cannot be {value:g}{unit}", do=f"Give at least {spec.least:g}{unit}")
    if spec.most is not None and value > spec.most:
        raise SheetError(f"{spec.label} cannot be {value:g}{unit}", do=f"Give at most {spec.most:g}{unit}")


def check_link(sheet: Sheet, link: ControlLink) -> None:
    """Raises SheetError unless everything a link names is on the sheet and its numbers are numbers."""
    for place in (link.sensor, link.target, *([link.second] if link.second else [])):
        owner, slash, letter = place.partition("/")
        part = part_named(sheet, owner)
        if slash and part.tapping(letter) is None:
            raise SheetError(
                f"“{owner}” has no tapping or pocket “{letter}”",
                where=f"Control link {link.id}",
                do=f"It has {_some(t.letter for t in part.tappings)}",
            )
    for name in ("setting_c", "off_c", "hysteresis_k"):
        number = getattr(link, name)
        if number is not None and not (math.isfinite(number) and abs(number) <= 1000):
            raise SheetError(f"Control link {link.id} has {name} = {number}", do="Give a temperature")


def check_note(note: Note) -> None:
    """Raises SheetError for a note that is nowhere, or is a book."""
    if not all(math.isfinite(c) and abs(c) <= 1000 for c in (note.x_m, note.height_m)):
        raise SheetError(f"Note {note.id} lies off the sheet", do="Give a place within 1000 m")
    if len(note.text) > 10_000:
        raise SheetError(f"Note {note.id} is longer than 10 000 letters", do="Shorten it")


def check_dimension(sheet: Sheet, dimension: Dimension) -> None:
    """Raises SheetError unless both feet stand on something, and not on the same thing."""
    if not all(math.isfinite(c) and abs(c) <= 1000 for c in (dimension.x_m, dimension.level_m or 0.0)):
        raise SheetError(f"Dimension {dimension.id} lies off the sheet", do="Give a place within 1000 m")
    for foot in (dimension.a, dimension.b):
        _check_foot(sheet, dimension.id, foot)
    if dimension.a == dimension.b:
        raise SheetError(f"Dimension {dimension.id} begins and ends at one place", do="End it somewhere else")


def _check_foot(sheet: Sheet, ident: str, foot: Foot) -> None:
    if not all(math.isfinite(c) and abs(c) <= 1000 for c in (foot.x_m, foot.height_m)):
        raise SheetError(f"Dimension {ident} lies off the sheet", do="Give a place within 1000 m")
    if foot.part and foot.part not in sheet.parts:
        raise SheetError(f"Dimension {ident} stands on “{foot.part}”, which is no part", do="Measure something else")
    if foot.pipe and foot.part:
        raise SheetError(f"Dimension {ident} stands on a part and on a pipe at once", do="Name one of them")
    if foot.port and not foot.part:
        raise SheetError(f"Dimension {ident} names a port of no part", do="Name the part with it")


def check_block(block: TitleBlock) -> None:
    """Raises SheetError for words too long for a title block, or a scale no drawing has."""
    for name in ("drawing", "sheet", "revision", "drawn_by", "date"):
        if len(getattr(block, name)) > 200:
            raise SheetError(f"The title block's {name.replace('_', ' ')} is too long", do="Shorten it to 200 letters")
    if block.scale and not (math.isfinite(block.scale) and 1 <= block.scale <= 1000):
        raise SheetError(f"A drawing cannot be at 1 : {block.scale:g}", do="Give a scale from 1 : 1 to 1 : 1000")
