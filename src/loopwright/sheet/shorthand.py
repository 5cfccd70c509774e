"""Shorthand of scripts turned into records: tables of tappings and coils, and places that a pipe goes
through.

Owns what may be left out and what is put in its place. Knows nothing of drawings in the making.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, TypeAlias

import msgspec

from loopwright.catalogue import Kind
from loopwright.errors import SheetError
from loopwright.sheet.change import changed
from loopwright.sheet.plane import same
from loopwright.sheet.ports import Port
from loopwright.sheet.values import Coil, Part, Point, Tapping
from loopwright.sheet.vessels import next_letter

Tappings: TypeAlias = Mapping[str, float | Mapping[str, Any]]
"""Name -> height in metres above the base, or a table of Tapping's fields with at least `height_m`."""
Coils: TypeAlias = Iterable[Coil | Mapping[str, Any]]
"""Tables of Coil's fields. `lower` and `upper` name tappings; left out, they are made on `side` (right)."""


def through(a: Port, b: Port, via: Sequence[Point]) -> tuple[list[Point], tuple[int, ...]]:
    """All corners of a pipe through the given places, and the numbers of the runs that touch one of these."""
    given = [a.at, *((float(x), float(z)) for x, z in via), b.at]
    corners: list[Point] = []
    fixed: list[bool] = [False]
    last = len(given) - 2
    for k, (p, q) in enumerate(pairwise(given)):
        if not same(p[0], q[0]) and not same(p[1], q[1]):
            leg = corner(p, q, a if k == 0 else None, b if k == last else None)
            corners += leg
            fixed += [False] * len(leg)
        if k < last:
            corners.append(q)
            fixed.append(True)
    fixed.append(False)
    return corners, tuple(k for k in range(len(fixed) - 1) if fixed[k] or fixed[k + 1])


def corner(p: Point, q: Point, begin: Port | None, end: Port | None) -> list[Point]:
    """Corners of the leg from p to q: level then upright, but straight out of a port at either end of it."""
    level_first, level_last = (q[0], p[1]), (p[0], q[1])
    begins = begin.side in ("left", "right") if begin else None
    ends = end.side in ("left", "right") if end else None
    if begins is None:
        return [level_last] if ends else [level_first]
    if ends is None or begins != ends:
        return [level_first] if begins else [level_last]
    if begins:  # level at both ends: a riser half way
        middle = round((p[0] + q[0]) / 2, 3)
        return [(middle, p[1]), (middle, q[1])]
    middle = round((p[1] + q[1]) / 2, 3)
    return [(p[0], middle), (q[0], middle)]


def body_for(kind: Kind, volume_l: float) -> dict[str, float]:
    """Diameter and height of a vessel of that content, shaped as the kind is, to the centimetre; {} if it has
    none."""
    spec = {name: kind.prop(name) for name in ("volume_l", "body_diameter_m", "body_height_m")}
    usual = {name: p.default for name, p in spec.items() if p is not None}
    sizes = [v for v in usual.values() if isinstance(v, int | float) and not isinstance(v, bool) and v > 0]
    if len(sizes) < 3 or not volume_l > 0:
        return {}
    scale = (volume_l / sizes[0]) ** (1 / 3)
    return {"body_diameter_m": round(sizes[1] * scale, 2), "body_height_m": round(sizes[2] * scale, 2)}


def stubs(tappings: Tappings, coils: Coils) -> tuple[tuple[Tapping, ...], tuple[Coil, ...]]:
    """Tappings lettered in the order given, and coils with the tappings they need made after these."""
    made: list[Tapping] = []
    blank = Part(id="vessel", kind="", x_m=0.0, height_m=0.0)

    def stub(fields: Mapping[str, Any]) -> str:
        given = dict(fields)
        letter = given.pop("letter", None) or next_letter(blank, [t.letter for t in made])
        if "height_m" not in given:
            raise SheetError(f"Tapping “{given.get('name', letter)}” has no height", do="Give height_m above the base")
        made.append(changed(Tapping(letter=letter, height_m=0.0), **given))
        return letter

    for name, entry in tappings.items():
        stub({"name": name, **entry} if isinstance(entry, Mapping) else {"name": name, "height_m": entry})
    wound: list[Coil] = []
    for coil in coils:
        if isinstance(coil, Coil):
            wound.append(coil)
            continue
        fields = dict(coil)
        missing = [key for key in ("name", "bottom_m", "top_m") if key not in fields]
        if missing:
            raise SheetError(f"A coil has no {missing[0]}", do="Give each coil name, bottom_m and top_m")
        side, size = fields.pop("side", "right"), fields.pop("size", "22")
        for key, height, word in (("lower", "bottom_m", "bottom"), ("upper", "top_m", "top")):
            letter = (
                _letter(made, fields[key])
                if key in fields
                else stub({"name": f"{fields['name']} {word}", "height_m": fields[height], "side": side, "size": size})
            )
            made[:] = [msgspec.structs.replace(t, purpose="coil") if t.letter == letter else t for t in made]
            fields[key] = letter
        wound.append(changed(Coil(name="", bottom_m=0.0, top_m=0.0, lower="", upper=""), **fields))
    return tuple(made), tuple(wound)


def _letter(made: Sequence[Tapping], name: str) -> str:
    """The letter of a tapping by its letter or name."""
    found = next((t.letter for t in made if name in (t.letter, t.name)), None)
    if found is None:
        raise SheetError(f"There is no tapping “{name}” for a coil to end at", do="Add it to tappings")
    return found
