"""What is drawn where: a sheet turned into pipes, parts, stores, links, notes and floors in drawing units.

Owns the plans, which carry no pens and no pixels, and their making from a sheet, one record at a time, so
that a screen can renew only what changed. Refuses to know back ends and labels.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from math import hypot
from typing import Literal

from loopwright.catalogue import Catalogue, Kind
from loopwright.drawing.coils import plan_coils
from loopwright.drawing.dimensions import plan_dimensions
from loopwright.drawing.look import Point, box_to_units, to_units
from loopwright.drawing.plans import (
    DOTS,
    Arrow,
    CoilPlan,
    DimensionPlan,
    Flag,
    FloorPlan,
    LinkPlan,
    NotePlan,
    PartPlan,
    PipePlan,
    SheetPlan,
    StorePlan,
    TappingPlan,
)
from loopwright.sheet.crossings import Hop, all_hops
from loopwright.sheet.ports import box_of, lagging_m, number, place, ports_of, size_of
from loopwright.sheet.values import ControlLink, End, Part, Pipe, Sheet

__all__ = [
    "DOTS",
    "Arrow",
    "CoilPlan",
    "DimensionPlan",
    "Flag",
    "FloorPlan",
    "LinkPlan",
    "NotePlan",
    "PartPlan",
    "PipePlan",
    "SheetPlan",
    "StorePlan",
    "TappingPlan",
    "is_store",
    "plan_floors",
    "plan_link",
    "plan_notes",
    "plan_part",
    "plan_pipe",
    "plan_sheet",
    "plan_store",
    "polylines_m",
]

ARROW_FROM = 60.0
"""Least length of a run that gets an arrow, drawing units."""
HOP_GAP = 14.0


def polylines_m(sheet: Sheet, catalogue: Catalogue) -> dict[str, tuple[Point, ...]]:
    """Vertices of every pipe in metres by id."""
    ports = {key: ports_of(part, catalogue) for key, part in sheet.parts.items()}
    return {
        key: (ports[p.a.part][p.a.port].at, *p.points, ports[p.b.part][p.b.port].at) for key, p in sheet.pipes.items()
    }


def plan_pipe(
    pipe: Pipe, points_m: Sequence[Point], service: str, hops: tuple[Hop, ...] = (), turned: bool = False
) -> PipePlan:
    """A pipe's plan. `turned`: water runs from end b to end a."""
    points = tuple(to_units(p) for p in points_m)
    moved = tuple(Hop(h.run, to_units(h.point), h.upright, h.over) for h in hops)
    words = pipe.size if pipe.material == "copper" else f"{pipe.size} {pipe.material}"
    extra = {"vent": " vent", "feed": " feed", "solar_flow": " solar", "discharge": ""}.get(service, "")
    if service == "unknown" or not service:
        words += " ?"
    return PipePlan(
        pipe.id,
        points,
        service or "unknown",
        words + extra,
        moved,
        _arrows(points, moved, turned),
        (points[0], points[-1]),
        pipe.joint,
    )


def _arrows(points: Sequence[Point], hops: Sequence[Hop], turned: bool) -> tuple[Arrow, ...]:
    """One a straight run long enough, at its middle or beside it where a hop is in the way."""
    out = []
    for k, (a, b) in enumerate(pairwise(points)):
        length = hypot(b[0] - a[0], b[1] - a[1])
        if length < ARROW_FROM:
            continue
        step = (b[0] - a[0]) / length, (b[1] - a[1]) / length
        busy = [hypot(h.point[0] - a[0], h.point[1] - a[1]) for h in hops if h.run == k]
        for share in (0.5, 0.4, 0.6, 0.3, 0.7, 0.22, 0.78):
            if all(abs(share * length - at) > HOP_GAP for at in busy):
                spot = (a[0] + step[0] * share * length, a[1] + step[1] * share * length)
                out.append(Arrow(spot, (-step[0], -step[1]) if turned else step))
                break
    return tuple(out)


def plan_part(sheet: Sheet, part: Part, kind: Kind, catalogue: Catalogue, services: Mapping[str, str]) -> PartPlan:
    """The plan of a part that is not a store."""
    width, height = size_of(part, kind)
    ports = ports_of(part, catalogue)
    arms = []
    if kind.id in DOTS:
        for name, port in ports.items():
            pipe = sheet.taken.get(End(part.id, name))
            if pipe:
                arms.append((to_units(port.at), services.get(pipe, "unknown")))
    return PartPlan(
        part.id,
        part.kind,
        kind.symbol or kind.id,
        to_units((part.x_m, part.height_m)),
        part.turn,
        part.mirror,
        kind.large,
        (width * 100.0, height * 100.0),
        box_to_units(box_of(part, catalogue)),
        _name(part, kind),
        _detail(part, kind),
        tuple(to_units(p.at) for p in ports.values()),
        tuple(arms),
        part.existing,
    )


def is_store(kind: Kind) -> bool:
    """Whether parts of this kind are drawn as a vessel with stubs, coils and insulation."""
    return kind.body in ("store", "cylinder")


def plan_store(
    sheet: Sheet,
    part: Part,
    kind: Kind,
    catalogue: Catalogue,
    services: Mapping[str, str],
    layers_c: Sequence[float] = (),
) -> StorePlan:
    """A store's plan. Stubs and coils take the service of the pipe that ends on them."""
    width, height = size_of(part, kind)
    radius, lag = width * 50.0, lagging_m(part, kind) * 100.0
    base = to_units((part.x_m, part.height_m))
    ports = ports_of(part, catalogue)

    def service(letter: str) -> str:
        pipe = sheet.taken.get(End(part.id, letter))
        return services.get(pipe, "unknown") if pipe else ""

    tappings = []
    for tap in part.tappings:
        left = (tap.side == "left") != part.mirror
        if tap.side in ("left", "right"):
            sign = -1 if left else 1
            shell = (base[0] + sign * radius, base[1] - tap.height_m * 100.0)
        else:
            shell = (base[0], base[1] - (height * 100.0 if tap.side == "top" else 0.0))
        side = ("left" if left else "right") if tap.side in ("left", "right") else tap.side
        if tap.purpose == "sensor":
            ends = (shell[0] + (1 if side == "left" else -1) * radius * 0.45, shell[1])
            if tap.side in ("top", "bottom"):
                ends = (shell[0], shell[1] + (1 if tap.side == "top" else -1) * 18.0)
            state: Literal["pipe", "pocket", "capped", "open"] = "pocket"
        else:
            ends = to_units(ports[tap.letter].at)
            state = "pipe" if service(tap.letter) else "capped" if tap.purpose == "capped" else "open"
        level = f"{tap.height_m:.2f}" if side in ("left", "right") else ""
        tappings.append(
            TappingPlan(tap.letter, side, shell, ends, service(tap.letter), state, tap.name, tap.height_m, level)
        )
    by_letter = {t.letter: t for t in tappings}
    coils = plan_coils(part, by_letter, base, radius)
    return StorePlan(
        part.id,
        part.kind,
        base,
        radius,
        height * 100.0,
        lag,
        tuple(tappings),
        coils,
        box_to_units(box_of(part, catalogue)),
        _name(part, kind),
        _detail(part, kind),
        tuple(layers_c),
    )


def plan_link(sheet: Sheet, link: ControlLink, catalogue: Catalogue) -> LinkPlan | None:
    """A control link's plan: up, across and down between the middles; None where an end is gone."""
    a, b = (_middle(sheet, name, catalogue) for name in (link.sensor, link.target))
    if a is None or b is None:
        return None
    corners = [] if abs(a[0] - b[0]) < 1 or abs(a[1] - b[1]) < 1 else [(b[0], a[1])]
    return LinkPlan(link.id, (a, *corners, b))


def _middle(sheet: Sheet, name: str, catalogue: Catalogue) -> Point | None:
    key, _, letter = name.partition("/")
    part = sheet.parts.get(key)
    if part is None:
        return None
    tap = part.tapping(letter) if letter else None
    if tap is not None:
        width = size_of(part, catalogue[part.kind])[0] / 2 + lagging_m(part, catalogue[part.kind])
        return to_units(place(part, -width if tap.side == "left" else width, tap.height_m))
    x0, y0, x1, y1 = box_to_units(box_of(part, catalogue))
    return (x0 + x1) / 2, (y0 + y1) / 2


def plan_sheet(
    sheet: Sheet,
    catalogue: Catalogue,
    services: Mapping[str, str] | None = None,
    layers_c: Mapping[str, Sequence[float]] | None = None,
    against: Collection[str] = (),
) -> SheetPlan:
    """All plans of a sheet. `services` by pipe id; `layers_c` temperatures of a store's layers, lowest
    first; `against` are the pipes whose water runs from their end b to their end a."""
    known, layers = services or {}, layers_c or {}
    lines = polylines_m(sheet, catalogue)
    hops = all_hops(lines)
    pipes = {
        k: plan_pipe(p, lines[k], known.get(k, "unknown"), hops.get(k, ()), k in against)
        for k, p in sheet.pipes.items()
    }
    parts: dict[str, PartPlan] = {}
    stores: dict[str, StorePlan] = {}
    for key, part in sheet.parts.items():
        kind = catalogue[part.kind]
        if is_store(kind):
            stores[key] = plan_store(sheet, part, kind, catalogue, known, layers.get(key, ()))
        else:
            parts[key] = plan_part(sheet, part, kind, catalogue, known)
    links = {k: plan for k, link in sheet.links.items() if (plan := plan_link(sheet, link, catalogue)) is not None}
    return SheetPlan(
        sheet.title,
        pipes,
        parts,
        stores,
        links,
        plan_notes(sheet),
        plan_floors(sheet),
        plan_dimensions(sheet, catalogue),
        sheet.block,
    )


def plan_notes(sheet: Sheet) -> dict[str, NotePlan]:
    """Notes by id."""
    return {n.id: NotePlan(n.id, to_units((n.x_m, n.height_m)), n.text) for n in sheet.notes}


def plan_floors(sheet: Sheet) -> tuple[FloorPlan, ...]:
    """Floors from the lowest up."""
    return tuple(
        FloorPlan(
            -level.height_m * 100.0,
            f"{level.name} {level.height_m:+.2f}".replace("+0.00", "0.00"),
            level.name,
        )
        for level in sorted(sheet.levels, key=lambda v: v.height_m)
    )


def _name(part: Part, kind: Kind) -> str:
    """What is written beside a part: its name, else the kind of a large part, else the id of a pump."""
    if part.name:
        return part.name
    if kind.large:
        return kind.name
    return part.id if kind.letter == "P" else ""


def _detail(part: Part, kind: Kind) -> str:
    """The one figure that says how large a part is, as typed or by default."""
    for name, unit, factor in (
        ("volume_l", "l", 1.0),
        ("power_kw", "kW", 1.0),
        ("output_w", "kW", 0.001),
        ("absorber_m2", "m²", 1.0),
        ("content_l", "l", 1.0),
    ):
        found = number(part, kind, name) if kind.large or name == "volume_l" else None
        if found is not None:
            figure = float(format(found * factor, ".3g"))
            return f"{figure:g} {unit}"  # three figures, and never as a power of ten
    return ""
