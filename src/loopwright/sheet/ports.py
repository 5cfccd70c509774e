"""Where the ports of a part are on the sheet, and the box the part fills.

Joins a part to its kind. Knows nothing of pipes or water.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import cast

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.catalogue.kinds import Side
from loopwright.errors import SheetError
from loopwright.sheet.plane import STEPS, Box
from loopwright.sheet.values import Part, Point, PropValue, Sheet

BOSS_M = 0.03
"""How far a tapping stands out of the insulation."""
_SIDES = {step: side for side, step in STEPS.items()}


class Port(msgspec.Struct, frozen=True):
    """A port of a placed part: where it is, which way a pipe leaves it, and what it is for."""

    part: str
    name: str
    at: Point
    side: Side
    role: str
    label: str
    optional: bool
    size: str = ""


def value(part: Part, kind: Kind, name: str) -> PropValue:
    """A property as typed, else its default, else None."""
    if name in part.props:
        return part.props[name]
    spec = kind.prop(name)
    return spec.default if spec else None


def number(part: Part, kind: Kind, name: str, fallback: float | None = None) -> float | None:
    """A numeric property as float, or `fallback` when it is not known."""
    found = value(part, kind, name)
    return float(found) if isinstance(found, int | float) and not isinstance(found, bool) else fallback


def size_of(part: Part, kind: Kind) -> tuple[float, float]:
    """Width and height in metres of a part before turning. A vessel's width is its body without insulation."""
    width = number(part, kind, "body_diameter_m") or number(part, kind, "width_m") or kind.width_m
    height = number(part, kind, "body_height_m") or kind.height_m
    return width, height


def lagging_m(part: Part, kind: Kind) -> float:
    """Insulation thickness of a vessel, in metres."""
    return (number(part, kind, "insulation_mm", 0.0) or 0.0) / 1000 if kind.body in ("store", "cylinder") else 0.0


def _turned(part: Part, dx: float, dz: float) -> tuple[float, float]:
    if part.mirror:
        dx = -dx
    for _ in range(part.turn):  # quarter turns clockwise, as seen on the sheet
        dx, dz = dz, -dx
    return dx, dz


def place(part: Part, dx: float, dz: float) -> Point:
    """A point of the part's own frame, on the sheet."""
    dx, dz = _turned(part, dx, dz)
    return (round(part.x_m + dx, 6), round(part.height_m + dz, 6))


def _side(part: Part, side: Side) -> Side:
    dx, dz = _turned(part, *STEPS[side])
    return cast(Side, _SIDES[(round(dx), round(dz))])


_KNOWN: dict[int, tuple[Part, Catalogue, Mapping[str, Port]]] = {}
_MOST_KNOWN = 20_000
"""Parts are frozen and an edit replaces only what it touches: a survey after an edit finds nearly all ports known."""


def ports_of(part: Part, catalogue: Catalogue) -> Mapping[str, Port]:
    """Every port of a placed part by name; tappings come after the kind's own ports, pockets not at all."""
    known = _KNOWN.get(id(part))
    if known is not None and known[0] is part and known[1] is catalogue:
        return known[2]
    if len(_KNOWN) >= _MOST_KNOWN:
        _KNOWN.clear()
    ports = MappingProxyType(_ports_of(part, catalogue))
    _KNOWN[id(part)] = (part, catalogue, ports)
    return ports


def _ports_of(part: Part, catalogue: Catalogue) -> dict[str, Port]:
    kind = catalogue[part.kind]
    width, height = size_of(part, kind)
    moved = kind.layouts.get(str(value(part, kind, "layout") or ""), {})
    out: dict[str, Port] = {}
    for spec in kind.ports:
        at, side = spec.at, spec.side
        if spec.name in moved:
            at, side = moved[spec.name].at, moved[spec.name].side
        dx, dz = (at[0] * width / 2, at[1] * height) if kind.large else at
        out[spec.name] = Port(
            part.id,
            spec.name,
            place(part, dx, dz),
            _side(part, side),
            spec.role,
            spec.label or spec.name,
            spec.optional,
            f"{spec.bore_mm:g}" if spec.bore_mm else "",
        )
    reach = width / 2 + lagging_m(part, kind) + BOSS_M
    for tap in part.tappings:
        if tap.purpose == "sensor":
            continue
        if tap.side in ("left", "right"):
            at = place(part, -reach if tap.side == "left" else reach, tap.height_m)
            side = _side(part, cast(Side, tap.side))
        else:
            edge = height + lagging_m(part, kind) + BOSS_M if tap.side == "top" else -BOSS_M
            at = (place(part, 0.0, 0.0)[0], round(part.height_m + edge, 6))
            side = "up" if tap.side == "top" else "down"
        out[tap.letter] = Port(
            part.id, tap.letter, at, side, tap.purpose, tap.name or tap.letter, tap.purpose == "immersion", tap.size
        )
    return out


def port_of(sheet: Sheet, part_id: str, port: str, catalogue: Catalogue) -> Port:
    """One port. Raises SheetError naming the ports there are."""
    part = sheet.parts.get(part_id)
    if part is None:
        raise SheetError(f"There is no part “{part_id}” on the sheet", do="Place it first")
    ports = ports_of(part, catalogue)
    if port not in ports:
        raise SheetError(f"“{part_id}” has no port “{port}”", do=f"It has {', '.join(ports) or 'no ports'}")
    return ports[port]


_BOXES: dict[int, tuple[Part, Catalogue, Box]] = {}


def box_of(part: Part, catalogue: Catalogue) -> Box:
    """The part's box on the sheet (x0, z0, x1, z1), insulation included."""
    known = _BOXES.get(id(part))
    if known is not None and known[0] is part and known[1] is catalogue:
        return known[2]
    if len(_BOXES) >= _MOST_KNOWN:
        _BOXES.clear()
    box = _box_of(part, catalogue)
    _BOXES[id(part)] = (part, catalogue, box)
    return box


def _box_of(part: Part, catalogue: Catalogue) -> Box:
    kind = catalogue[part.kind]
    width, height = size_of(part, kind)
    lag = lagging_m(part, kind)
    if kind.large:
        corners = [place(part, -width / 2 - lag, 0.0), place(part, width / 2 + lag, height + lag)]
    else:
        corners = [place(part, -width / 2, -height / 2), place(part, width / 2, height / 2)]
    xs, zs = zip(*corners)
    return (min(xs), min(zs), max(xs), max(zs))


def inner_place(part: Part, kind: Kind, name: str) -> Point:
    """Where an inner place of a part is on the sheet."""
    dx, dz = kind.inner[name]
    if kind.large:
        width, height = size_of(part, kind)
        dx, dz = dx * width / 2, dz * height
    return place(part, dx, dz)
