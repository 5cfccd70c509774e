"""Edits of a vessel's tappings and coils. Heights are above the vessel's base.

Owns where a stub may sit. Knows nothing of water or layers.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations
from math import isfinite
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import SheetError
from loopwright.sheet.change import changed, free_part
from loopwright.sheet.pipework import refit
from loopwright.sheet.ports import size_of
from loopwright.sheet.values import LETTERS, PURPOSES, Coil, End, Part, Sheet, Tapping, TappingSide

APART_M = 0.04
"""Least distance between two stubs on one side: the spanners need it (common practice, no source)."""
MOST_TAPPINGS = 200
COIL_PURPOSES = ("any", "source", "solar", "domestic", "load", "tank")
"""What a coil serves; `tank` is a vessel within the vessel."""


def next_letter(part: Part, taken: Iterable[str] = ()) -> str:
    """The letter of the next tapping: the one after the last in use, so that a letter is not soon used
    again."""
    names = [f"{letter}{n or ''}" for n in (0, *range(2, 10)) for letter in LETTERS]
    used = {t.letter for t in part.tappings} | set(taken)
    last = max((names.index(letter) for letter in used if letter in names), default=-1)
    free = [*names[last + 1 :], *names[: last + 1]]
    return next(name for name in free if name not in used)


def _vessel(sheet: Sheet, part_id: str, catalogue: Catalogue) -> tuple[Part, Kind]:
    part = free_part(sheet, part_id)
    return part, catalogue[part.kind]


def add_tapping(
    sheet: Sheet,
    part_id: str,
    height_m: float,
    catalogue: Catalogue,
    *,
    side: TappingSide = "left",
    name: str = "",
    purpose: str = "any",
    size: str = "28",
    layering: bool = False,
    letter: str | None = None,
) -> Sheet:
    """The vessel with one more tapping; its letter is `next_letter(part)` unless given. Raises SheetError."""
    part, kind = _vessel(sheet, part_id, catalogue)
    tapping = changed(
        Tapping(letter=letter or next_letter(part), height_m=0.0),
        height_m=height_m,
        side=side,
        name=name,
        purpose=purpose,
        size=size,
        layering=layering,
    )
    return _exchanged(sheet, part, kind, catalogue, tappings=(*part.tappings, tapping))


def set_tapping(sheet: Sheet, part_id: str, letter: str, catalogue: Catalogue, /, **changes: Any) -> Sheet:
    """The vessel with a tapping changed; pipes follow a stub that moves. Its letter cannot change."""
    part, kind = _vessel(sheet, part_id, catalogue)
    old = _tapping(part, letter)
    if "letter" in changes:
        raise SheetError(f"The letter of tapping {letter} is its own for good", do="Change its name instead")
    new = changed(old, **changes)
    return _exchanged(sheet, part, kind, catalogue, tappings=tuple(new if t is old else t for t in part.tappings))


def remove_tapping(sheet: Sheet, part_id: str, letter: str, catalogue: Catalogue) -> Sheet:
    """The vessel without a tapping. Refused while a pipe, a coil or a control link needs it."""
    part, kind = _vessel(sheet, part_id, catalogue)
    old = _tapping(part, letter)
    _untaken(sheet, part, letter, "take the tapping away")
    for coil in part.coils:
        if letter in (coil.lower, coil.upper):
            raise SheetError(
                f"Tapping {letter} of “{part.id}” is an end of coil “{coil.name}”",
                do="Remove the coil, or give it another tapping",
            )
    for link in sheet.links.values():
        if f"{part.id}/{letter}" in (link.sensor, link.second, link.target):
            raise SheetError(
                f"Control link {link.id} has its sensor in {letter} of “{part.id}”",
                do="Move the sensor first",
            )
    return _exchanged(sheet, part, kind, catalogue, tappings=tuple(t for t in part.tappings if t is not old))


def add_coil(
    sheet: Sheet,
    part_id: str,
    catalogue: Catalogue,
    *,
    name: str,
    bottom_m: float,
    top_m: float,
    lower: str | None = None,
    upper: str | None = None,
    side: TappingSide = "right",
    size: str = "22",
    purpose: str = "any",
    area_m2: float | None = None,
    content_l: float | None = None,
) -> Sheet:
    """The vessel with one more coil. Tappings not named are made, at the coil's two ends on `side`."""
    part, kind = _vessel(sheet, part_id, catalogue)
    tappings = list(part.tappings)
    ends: list[str] = []
    for letter, height_m, word in ((lower, bottom_m, "bottom"), (upper, top_m, "top")):
        if letter is None:
            letter = next_letter(part, [t.letter for t in tappings])
            tappings.append(
                changed(
                    Tapping(letter=letter, height_m=0.0),
                    height_m=height_m,
                    side=side,
                    size=size,
                    name=f"{name} {word}",
                    purpose="coil",
                )
            )
        else:
            _coil_end(sheet, part, letter, "make it a coil's end")
            tappings = [msgspec.structs.replace(t, purpose="coil") if t.letter == letter else t for t in tappings]
        ends.append(letter)
    coil = changed(
        Coil(name=name, bottom_m=0.0, top_m=0.0, lower=ends[0], upper=ends[1]),
        bottom_m=bottom_m,
        top_m=top_m,
        purpose=purpose,
        area_m2=area_m2,
        content_l=content_l,
    )
    return _exchanged(sheet, part, kind, catalogue, tappings=tuple(tappings), coils=(*part.coils, coil))


def set_coil(sheet: Sheet, part_id: str, name: str, catalogue: Catalogue, /, **changes: Any) -> Sheet:
    """The vessel with a coil changed. An end can go to another tapping only while neither holds a pipe."""
    part, kind = _vessel(sheet, part_id, catalogue)
    old = _coil(part, name)
    new = changed(old, **changes)
    fresh = {new.lower, new.upper} - {old.lower, old.upper}
    left = {old.lower, old.upper} - {new.lower, new.upper}
    for letter in sorted(fresh | left):
        _coil_end(sheet, part, letter, "change what it serves")
    purposes = {**dict.fromkeys(fresh, "coil"), **dict.fromkeys(left, "any")}
    tappings = tuple(msgspec.structs.replace(t, purpose=purposes.get(t.letter, t.purpose)) for t in part.tappings)
    coils = tuple(new if c is old else c for c in part.coils)
    return _exchanged(sheet, part, kind, catalogue, tappings=tappings, coils=coils)


def remove_coil(sheet: Sheet, part_id: str, name: str, catalogue: Catalogue) -> Sheet:
    """The vessel without a coil and without its two stubs. Refused while a pipe ends on one of them."""
    part, kind = _vessel(sheet, part_id, catalogue)
    old = _coil(part, name)
    for letter in (old.lower, old.upper):
        _untaken(sheet, part, letter, "remove the coil")
    return _exchanged(
        sheet,
        part,
        kind,
        catalogue,
        coils=tuple(c for c in part.coils if c is not old),
        tappings=tuple(t for t in part.tappings if t.letter not in (old.lower, old.upper)),
    )


def _tapping(part: Part, letter: str) -> Tapping:
    found = part.tapping(letter)
    if found is None:
        listed = ", ".join(t.letter for t in part.tappings) or "none yet"
        raise SheetError(f"“{part.id}” has no tapping {letter}", do=f"It has: {listed}")
    return found


def _coil(part: Part, name: str) -> Coil:
    found = next((c for c in part.coils if c.name == name), None)
    if found is None:
        raise SheetError(
            f"“{part.id}” has no coil “{name}”",
            do=f"It has: {', '.join(c.name for c in part.coils) or 'none yet'}",
        )
    return found


def _coil_end(sheet: Sheet, part: Part, letter: str, purpose: str) -> None:
    if _tapping(part, letter).purpose == "sensor":
        raise SheetError(
            f"{letter} of “{part.id}” is a sensor pocket, no tapping that takes a pipe", do="Name another tapping"
        )
    _untaken(sheet, part, letter, purpose)


def _untaken(sheet: Sheet, part: Part, letter: str, purpose: str) -> None:
    pipe = sheet.taken.get(End(part.id, letter))
    if pipe is not None:
        raise SheetError(
            f"{pipe} ends on tapping {letter} of “{part.id}”", do=f"Take that pipe off before you {purpose}"
        )


def _exchanged(sheet: Sheet, part: Part, kind: Kind, catalogue: Catalogue, **changes: Any) -> Sheet:
    new = msgspec.structs.replace(part, **changes)
    check_vessel(new, kind)
    return refit(sheet, {part.id: new}, catalogue)


# what a vessel may be


def check_vessel(part: Part, kind: Kind) -> None:
    """Raises SheetError for tappings or coils that the vessel cannot have. A part without any always
    passes."""
    if not part.tappings and not part.coils:
        return
    if not kind.large or not kind.body:
        raise SheetError(
            f"“{part.id}” is a {kind.name.lower()} and has no tappings or coils of its own",
            do="Use its ports, or choose a vessel",
        )
    if len(part.tappings) > MOST_TAPPINGS:
        raise SheetError(f"“{part.id}” has {len(part.tappings)} tappings", do=f"Keep to {MOST_TAPPINGS}")
    tall = size_of(part, kind)[1]
    letters = [t.letter for t in part.tappings]
    own = {p.name for p in kind.ports}
    for tapping in part.tappings:
        _check_tapping(part, tapping, letters, own, tall)
    for one, two in combinations(part.tappings, 2):
        same_end = one.side in ("top", "bottom")  # these sit on the axis of the vessel
        gap = 0.0 if same_end else abs(one.height_m - two.height_m)
        if one.side == two.side and gap < APART_M - 1e-9:
            how = f"only one stub sits on the {one.side}" if same_end else f"they are {gap * 1000:.0f} mm apart"
            raise SheetError(
                f"Tappings {one.letter} and {two.letter} of “{part.id}” are too close: {how}",
                do=f"Keep stubs on one side {APART_M * 1000:.0f} mm apart, or use another side",
            )
    used: list[str] = []
    for coil in part.coils:
        _check_coil(part, coil, tall, used)
        used += [coil.lower, coil.upper]


def _check_tapping(part: Part, tapping: Tapping, letters: list[str], own: set[str], tall: float) -> None:
    where = f"Tapping {tapping.letter} of “{part.id}”"
    if not tapping.letter or not tapping.letter.isalnum() or len(tapping.letter) > 8:
        raise SheetError(f"“{tapping.letter}” is no letter for a tapping", where=where, do="Use A, B, C ...")
    if letters.count(tapping.letter) > 1 or tapping.letter in own:
        raise SheetError(f"“{part.id}” has two tappings or ports called {tapping.letter}", do="Give one another letter")
    if not isfinite(tapping.height_m) or not 0 <= tapping.height_m <= tall + 1e-9:
        raise SheetError(
            f"{where} stands at {tapping.height_m:g} m and the body is {tall:g} m tall",
            do=f"Give a height above the base between 0 and {tall:g} m",
        )
    if tapping.purpose not in PURPOSES:
        raise SheetError(f"{where} cannot serve “{tapping.purpose}”", do=f"Choose one of: {', '.join(PURPOSES)}")
    if len(tapping.name) > 100 or len(tapping.size) > 12 or not tapping.size:
        raise SheetError(f"{where} has no usable name or size", do="Shorten them")


def _check_coil(part: Part, coil: Coil, tall: float, used: list[str]) -> None:
    where = f"Coil “{coil.name}” of “{part.id}”"
    if not coil.name or len(coil.name) > 100 or [c.name for c in part.coils].count(coil.name) > 1:
        raise SheetError(f"{where} needs a name of its own", do="Give each coil another name")
    if not (isfinite(coil.bottom_m) and isfinite(coil.top_m) and 0 <= coil.bottom_m < coil.top_m <= tall + 1e-9):
        raise SheetError(
            f"{where} reaches from {coil.bottom_m:g} to {coil.top_m:g} m in a body {tall:g} m tall",
            do="Give a bottom below its top, both within the body",
        )
    if coil.lower == coil.upper or {coil.lower, coil.upper} & set(used):
        raise SheetError(f"{where} shares a tapping with another coil end", do="Give each end a tapping of its own")
    for letter in (coil.lower, coil.upper):
        tapping = part.tapping(letter)
        if tapping is None or tapping.purpose == "sensor":
            raise SheetError(
                f"{where} ends at {letter}, which is no tapping that takes a pipe",
                do="Add the tapping, or name another",
            )
    if coil.purpose not in COIL_PURPOSES:
        raise SheetError(f"{where} cannot serve “{coil.purpose}”", do=f"Choose one of: {', '.join(COIL_PURPOSES)}")
    for label, number in (("area", coil.area_m2), ("content", coil.content_l)):
        if number is not None and not 0 < number <= 1000:
            raise SheetError(f"{where} has {label} {number:g}", do="Give a figure above nil")
