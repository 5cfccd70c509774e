"""What is drawn where, as values: the plan of a pipe, a part, a store, a floor, and of a whole sheet.

Owns the shapes of plans, which carry no pens and no pixels. Refuses to know sheets and back ends; `plan.py`
makes these.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

import msgspec

from loopwright.drawing.look import Point
from loopwright.sheet.crossings import Hop
from loopwright.sheet.values import TitleBlock

DOTS = frozenset({"tee", "cross"})


class Flag(msgspec.Struct, frozen=True):
    """A finding on the sheet: its number in the list, how grave it is, the spot in metres, and what it is
    about."""

    number: int
    severity: str
    at: Point
    ids: tuple[str, ...] = ()


class Arrow(msgspec.Struct, frozen=True):
    """An arrow head on a run: its middle, and the unit step it points along from end a to end b."""

    at: Point
    step: Point


class PipePlan(msgspec.Struct, frozen=True):
    """A pipe: all vertices from end a to end b, hops by run, arrows, service and what its size label says."""

    id: str
    points: tuple[Point, ...]
    service: str
    words: str
    hops: tuple[Hop, ...] = ()
    arrows: tuple[Arrow, ...] = ()
    ports: tuple[Point, Point] = ((0.0, 0.0), (0.0, 0.0))
    joint: bool = False


class PartPlan(msgspec.Struct, frozen=True):
    """A part drawn by its symbol. `at` is the middle of a fitting, or of a large part's base; `size` that before
    turning; `box` what it fills on the sheet, all in drawing units."""

    id: str
    kind: str
    symbol: str
    at: Point
    turn: int
    mirror: bool
    large: bool
    size: Point
    box: tuple[float, float, float, float]
    name: str
    detail: str
    ports: tuple[Point, ...]
    arms: tuple[tuple[Point, str], ...] = ()
    """Of a joint drawn as a dot: the ports that hold a pipe, each with the service of that pipe."""
    existing: bool = False

    @property
    def dot(self) -> bool:
        """A joint, drawn as a dot where its pipes meet."""
        return self.kind in DOTS


class TappingPlan(msgspec.Struct, frozen=True):
    """A stub of a store: its letter, the points where it leaves the shell and where it ends, its side and its
    pipe's service.

    `kind` is pipe, pocket, capped or open; of a pocket, `ends` lies inside the shell.
    """

    letter: str
    side: str
    shell: Point
    ends: Point
    service: str
    kind: Literal["pipe", "pocket", "capped", "open"]
    name: str = ""
    height_m: float = 0.0
    level: str = ""
    """Its height above the base in words; empty at the top and the bottom."""


class CoilPlan(msgspec.Struct, frozen=True):
    """A coil inside a store: one polyline from the tapping at its lower end to that at its upper end.

    `vessel` is the outline of a tank within the store, which takes the place of windings; the polyline is
    then its tails.
    """

    name: str
    points: tuple[Point, ...]
    service: str
    vessel: tuple[Point, ...] = ()


class StorePlan(msgspec.Struct, frozen=True):
    """A store or cylinder: middle of its base, radius, height, insulation; stubs, coils, layer temperatures
    (lowest first)."""

    id: str
    kind: str
    base: Point
    radius: float
    height: float
    lagging: float
    tappings: tuple[TappingPlan, ...]
    coils: tuple[CoilPlan, ...]
    box: tuple[float, float, float, float]
    name: str
    detail: str
    layers_c: tuple[float, ...] = ()

    @property
    def top(self) -> float:
        """y of the top of the shell."""
        return self.base[1] - self.height


class FloorPlan(msgspec.Struct, frozen=True):
    """A floor: y of its top, its name and height as written, and its name alone."""

    y: float
    words: str
    name: str


class LinkPlan(msgspec.Struct, frozen=True):
    """A control link from its sensor to what it drives."""

    id: str
    points: tuple[Point, ...]


class NotePlan(msgspec.Struct, frozen=True):
    """Words at a place."""

    id: str
    at: Point
    words: str


class DimensionPlan(msgspec.Struct, frozen=True):
    """A height between two feet: an upright line at x, and its figure; with `y` a width, and a level line there."""

    id: str
    a: Point
    b: Point
    x: float
    words: str
    y: float | None = None

    @property
    def line(self) -> tuple[Point, Point]:
        """The line that is measured along, from beside foot a to beside foot b."""
        if self.y is not None:
            return (self.a[0], self.y), (self.b[0], self.y)
        return (self.x, self.a[1]), (self.x, self.b[1])

    @property
    def box(self) -> tuple[float, float, float, float]:
        """The box round its lines (left, top, right, bottom)."""
        xs, ys = zip(self.a, self.b, *self.line)
        return min(xs), min(ys), max(xs), max(ys)


class SheetPlan(msgspec.Struct, frozen=True):
    """Everything that is drawn of one sheet."""

    title: str
    pipes: Mapping[str, PipePlan]
    parts: Mapping[str, PartPlan]
    stores: Mapping[str, StorePlan]
    links: Mapping[str, LinkPlan]
    notes: Mapping[str, NotePlan]
    floors: tuple[FloorPlan, ...]
    dimensions: Mapping[str, DimensionPlan] = {}
    block: TitleBlock = TitleBlock()

    def bounds(self) -> tuple[float, float, float, float]:
        """(left, top, right, bottom) of all that has a size; four metres by three where there is nothing."""
        boxes = [p.box for p in self.parts.values()] + [p.box for p in self.stores.values()]
        boxes += [d.box for d in self.dimensions.values()]
        points = [q for p in self.pipes.values() for q in p.points] + [n.at for n in self.notes.values()]
        xs = [v for b in boxes for v in (b[0], b[2])] + [p[0] for p in points]
        ys = [v for b in boxes for v in (b[1], b[3])] + [p[1] for p in points]
        if not xs:
            return (0.0, -300.0, 400.0, 0.0)
        return min(xs), min(ys), max(xs), max(ys)


def moved(plan: PipePlan | PartPlan | StorePlan | LinkPlan, dx: float, dy: float) -> Any:
    """A plan moved as a whole, by drawing units."""

    def at(point: Point) -> Point:
        return point[0] + dx, point[1] + dy

    def line(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple(at(point) for point in points)

    changed = msgspec.structs.replace
    if isinstance(plan, PipePlan):
        hops = tuple(Hop(h.run, at(h.point), h.upright, h.over) for h in plan.hops)
        arrows = tuple(Arrow(at(a.at), a.step) for a in plan.arrows)
        return changed(plan, points=line(plan.points), hops=hops, arrows=arrows, ports=line(plan.ports))
    if isinstance(plan, LinkPlan):
        return changed(plan, points=line(plan.points))
    box = (plan.box[0] + dx, plan.box[1] + dy, plan.box[2] + dx, plan.box[3] + dy)
    if isinstance(plan, StorePlan):
        taps = tuple(changed(t, shell=at(t.shell), ends=at(t.ends)) for t in plan.tappings)
        coils = tuple(changed(c, points=line(c.points), vessel=line(c.vessel)) for c in plan.coils)
        return changed(plan, base=at(plan.base), box=box, tappings=taps, coils=coils)
    arms = tuple((at(end), service) for end, service in plan.arms)
    return changed(plan, at=at(plan.at), box=box, ports=line(plan.ports), arms=arms)
