"""The things of a sheet as they stand in a scene: an item a record, kept in step with the sheet by difference.

Owns the items, the lines of pipes and their hops, and what is shown in place of them while a drag is under way. Refuses
to know words, flags and what is marked.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, NamedTuple, cast

from PySide6.QtWidgets import QGraphicsScene

from loopwright.canvas.carry import carried_services, whole_drifts
from loopwright.canvas.items import STILL, HopItem, LinkItem, MeasureItem, PartItem, PipeItem, PlanItem, StoreItem
from loopwright.canvas.remembered import Remembered, Same
from loopwright.catalogue import Catalogue
from loopwright.drawing.dimensions import plan_dimension
from loopwright.drawing.in_units import plan_in
from loopwright.drawing.look import Point
from loopwright.drawing.plan import (
    DOTS,
    DimensionPlan,
    LinkPlan,
    PartPlan,
    PipePlan,
    StorePlan,
    is_store,
    plan_link,
    plan_part,
    plan_pipe,
    plan_store,
)
from loopwright.sheet.crossings import Crossings, Hop
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import ControlLink, Dimension, Part, Pipe, Sheet
from loopwright.units import System

AnyPlan = PartPlan | PipePlan | StorePlan | LinkPlan | DimensionPlan
ITEMS: Mapping[type, type[PlanItem]] = {
    PartPlan: PartItem,
    PipePlan: PipeItem,
    StorePlan: StoreItem,
    LinkPlan: LinkItem,
    DimensionPlan: MeasureItem,
}


class Preview(NamedTuple):
    """How a preview differs from the sheet: what is moved whole and how far, in drawing units, and what is new, gone or
    of another shape."""

    drift: dict[str, Point]
    reshaped: frozenset[str]


NOTHING = Preview({}, frozenset())


class Standing:
    """Shows the things of a sheet. `settle` takes any sheet at any time; only what differs is made anew."""

    def __init__(self, scene: QGraphicsScene, catalogue: Catalogue) -> None:
        self._scene, self._catalogue = scene, catalogue
        self.sheet = Sheet()
        """The sheet last settled."""
        self.system: System = "metric"
        self.services: dict[str, str] = {}
        self.items: dict[str, PlanItem] = {}
        self.hop_items: dict[str, HopItem] = {}
        self.plans: dict[str, AnyPlan] = {}
        """Plans of the sheet last settled, whatever preview is shown."""
        self.turned: Mapping[str, int] = {}
        self.idle: frozenset[str] = frozenset()
        self.layers_c: dict[str, Sequence[float]] = {}
        self.preview = NOTHING
        self._remembered = Remembered[AnyPlan]()
        self._crossings = Crossings()
        self._changed: set[str] = set()

    @property
    def lines(self) -> Mapping[str, tuple[Point, ...]]:
        """Vertices of each pipe in metres on the sheet last settled, in the order of the sheet."""
        return {key: self._crossings.lines[key] for key in self.sheet.pipes}

    # ---- the sheet itself

    def settle(self, sheet: Sheet, services: Mapping[str, str] | None = None) -> set[str]:
        """Show a sheet, with the services of its pipes by id; None keeps what is known. Gives the ids of what is drawn
        otherwise than before."""
        old, known, stray = self.sheet, self.services, self._end_preview()
        self._changed = set(stray)
        self.services = dict(services) if services is not None else carried_services(sheet, known, self._catalogue)
        parts = _differing(old.parts, sheet.parts)
        pipes = _differing(old.pipes, sheet.pipes)
        touched = self._touched(sheet, parts, pipes)
        recoloured = {key for key in sheet.pipes if self.services.get(key) != known.get(key)}
        ends = self._ends_changed(old, sheet, pipes, recoloured)
        self.sheet = sheet
        self._drop_gone(sheet)
        lines = {key: self._line(sheet, sheet.pipes[key]) for key in touched}
        crossed = self._crossings.update(
            {key: line for key, line in lines.items() if self._crossings.lines.get(key) != line},
            [key for key in old.pipes if key not in sheet.pipes],
        )
        for key in _ordered(sheet.pipes, touched | crossed | recoloured | stray):
            self._settle_pipe(key)
        for key in _ordered(sheet.parts, parts | ends | stray):
            self._put(key, self.plan_of(sheet.parts[key]))
        for key, link in sheet.links.items():
            if key in stray or key not in self.items or old.links.get(key) is not link or _link_ends(link) & parts:
                self._put_or_drop(key, plan_link(sheet, link, self._catalogue))
        for one in sheet.dimensions:
            if sheet.dimensions is not old.dimensions or one.id in stray or _feet(one) & (parts | touched):
                self._put_or_drop(one.id, self._measure(sheet, one))
        return self._changed

    @staticmethod
    def _touched(sheet: Sheet, parts: set[str], pipes: set[str]) -> set[str]:
        """Pipes that are new or changed, or end on a part that is."""
        if not parts:
            return pipes
        return pipes | {key for key, pipe in sheet.pipes.items() if pipe.a.part in parts or pipe.b.part in parts}

    def _end_preview(self) -> set[str]:
        """What a preview has left out of its place, which is then to be shown again."""
        stray = {*self.preview.drift, *self.preview.reshaped}
        self.preview = NOTHING
        return stray

    def _drop_gone(self, sheet: Sheet) -> None:
        there = {*sheet.parts, *sheet.pipes, *sheet.links, *(d.id for d in sheet.dimensions)}
        gone = [key for key in self.items if key not in there]
        for key in gone:
            self._drop(key)
        for key in self.plans.keys() - there:
            del self.plans[key]
            self._remembered.forget(key)
            self._changed.add(key)

    def _ends_changed(self, old: Sheet, new: Sheet, pipes: Iterable[str], recoloured: Iterable[str]) -> set[str]:
        """Parts whose joints and stubs take another colour, as a pipe there is new, gone, or has another water."""
        changed = {key for key in pipes if not _same_ends(old.pipes.get(key), new.pipes[key])}
        changed.update(recoloured)
        changed.update(key for key in old.pipes if key not in new.pipes)
        both = (sheet.pipes[key] for sheet in (old, new) for key in changed if key in sheet.pipes)
        return {end.part for pipe in both for end in (pipe.a, pipe.b)}

    def _line(self, sheet: Sheet, pipe: Pipe) -> tuple[Point, ...]:
        a, b = (ports_of(sheet.parts[end.part], self._catalogue)[end.port].at for end in (pipe.a, pipe.b))
        return (a, *pipe.points, b)

    def _settle_pipe(self, key: str) -> None:
        line, hops = self._crossings.lines[key], self._crossings.hops.get(key, ())
        self._put(key, self._plan_pipe(self.sheet.pipes[key], line, self.services, hops))

    def _plan_pipe(
        self, pipe: Pipe, line: Sequence[Point], services: Mapping[str, str], hops: tuple[Hop, ...]
    ) -> PipePlan:
        service, turned = services.get(pipe.id, "unknown"), self.turned.get(pipe.id, 1) < 0
        made_of = (pipe.size, pipe.material, pipe.joint, line, service, hops, turned)
        return cast(
            PipePlan, self._remembered.plan(pipe.id, made_of, lambda: plan_pipe(pipe, line, service, hops, turned))
        )

    def plan_of(
        self, part: Part, sheet: Sheet | None = None, services: Mapping[str, str] | None = None
    ) -> PartPlan | StorePlan:
        """The plan of a part, on the sheet last settled or on another."""
        kind, where = self._catalogue[part.kind], sheet or self.sheet
        carried = self.services if services is None else services
        if is_store(kind):
            store = plan_store(where, part, kind, self._catalogue, carried, self.layers_c.get(part.id, ()))
            return cast(StorePlan, plan_in(store, self.system))

        def make() -> AnyPlan:
            return cast(PartPlan, plan_in(plan_part(where, part, kind, self._catalogue, carried), self.system))

        if kind.id in DOTS:  # it takes the colours of its pipes
            return cast(PartPlan, make())
        return cast(PartPlan, self._remembered.plan(part.id, (Same(part), self.system), make))

    def _measure(self, sheet: Sheet, one: Dimension) -> DimensionPlan | None:
        plan = plan_dimension(sheet, one, self._catalogue)
        return None if plan is None else cast(DimensionPlan, plan_in(plan, self.system))

    def _put(self, key: str, plan: AnyPlan) -> None:
        before = self.plans.get(key)
        if before is None or before != plan:
            self.plans[key] = plan
            self._changed.add(key)
        self._pose(key, self.plans[key])

    def _put_or_drop(self, key: str, plan: AnyPlan | None) -> None:
        if plan is not None:
            self._put(key, plan)
        else:
            self.plans.pop(key, None)
            self._changed.add(key)
            self._drop(key)

    def replan(self, parts: Collection[str]) -> None:
        """Make the plans of some parts, and of all dimensions, anew: what they say may have changed."""
        for key in parts:
            self._put(key, self.plan_of(self.sheet.parts[key]))
        for one in self.sheet.dimensions:
            self._put_or_drop(one.id, self._measure(self.sheet, one))

    # ---- a preview

    def show_preview(self, sheet: Sheet) -> Preview:
        """Show a sheet in place of the one last settled, until another is shown.

        What is moved whole keeps its plan. Hops over what has moved, and those of pipes that are stretched, are left
        out; dimensions follow.
        """
        rest, services = self.sheet, carried_services(sheet, self.services, self._catalogue)
        parts, pipes = _differing(rest.parts, sheet.parts), _differing(rest.pipes, sheet.pipes)
        touched = self._touched(sheet, parts, pipes)
        lost = {key for key in rest.pipes if key not in sheet.pipes}
        drift = whole_drifts(rest, sheet, parts, touched)
        reshaped = (parts | touched).difference(drift) | self._ends_changed(rest, sheet, pipes, ())
        for key in reshaped & drift.keys():
            del drift[key]
        stray = {*self.preview.drift, *self.preview.reshaped}
        gone = self._drop_preview(sheet)
        less_hops = {other for key in touched | lost for other in self._crossings.over(key)} - touched - lost
        for key in _ordered(sheet.pipes, reshaped):
            line = self._line(sheet, sheet.pipes[key])
            self._pose(key, self._plan_pipe(sheet.pipes[key], line, services, ()))
        for key in _ordered(sheet.parts, reshaped):
            self._pose(key, self.plan_of(sheet.parts[key], sheet, services))
        thin = self._preview_thin(sheet, parts, touched, stray, drift)
        for key, way in drift.items():
            plan, item = self.plans[key], self.items.get(key)
            if isinstance(plan, PipePlan) and plan.hops:
                plan = self._hopping(key, tuple(h for h in plan.hops if drift.get(h.over) == way))
            if item is None or item.rest is not plan:
                self._pose(key, plan, way)
                continue
            item.move_to(way)
            if key in self.hop_items:
                self.hop_items[key].move_to(way)
        for key in less_hops:
            hops = cast(PipePlan, self.plans[key]).hops
            self._pose(key, self._hopping(key, tuple(h for h in hops if h.over not in touched and h.over not in lost)))
        odd = frozenset({*reshaped, *less_hops, *thin, *gone})
        for key in stray - drift.keys() - odd:
            if key in self.plans:
                self._pose(key, self.plans[key])
        self.preview = Preview(drift, odd)
        return self.preview

    def _drop_preview(self, sheet: Sheet) -> list[str]:
        """Take away what the sheet of a preview has not; it is made again when it comes back."""
        there = {*sheet.parts, *sheet.pipes, *sheet.links, *(d.id for d in sheet.dimensions)}
        gone = [key for key in self.items if key not in there]
        for key in gone:
            self._drop(key)
        return [*gone, *(key for key in self.preview.reshaped if key not in there)]

    def _preview_thin(
        self, sheet: Sheet, parts: set[str], touched: set[str], stray: set[str], drift: dict[str, Point]
    ) -> set[str]:
        """Control links and dimensions that end on something moved; links that go along whole join those adrift."""
        out: set[str] = set()
        for key, link in sheet.links.items():
            ends = _link_ends(link)
            if self.sheet.links.get(key) is link and not ends & parts:
                continue
            ways = {drift.get(end) for end in ends}
            (way,) = ways if len(ways) == 1 else (None,)
            if way is not None and key in self.plans and self.sheet.links.get(key) is link:
                drift[key] = way
                continue
            out.add(key)
            self._pose_or_drop(key, plan_link(sheet, link, self._catalogue))
        for one in sheet.dimensions:
            if sheet.dimensions is not self.sheet.dimensions or one.id in stray or _feet(one) & (parts | touched):
                out.add(one.id)
                self._pose_or_drop(one.id, self._measure(sheet, one))
        return out

    def _hopping(self, key: str, hops: tuple[Hop, ...]) -> PipePlan:
        """The plan of a pipe where it rests, with some of its hops, in drawing units."""
        plan = cast(PipePlan, self.plans[key])
        if hops == plan.hops:
            return plan
        item = self.items.get(key)
        if item is not None and item.rest.hops == hops and item.rest.points == plan.points:
            return cast(PipePlan, item.rest)
        kept = {hop.over for hop in hops}
        own = tuple(hop for hop in self._crossings.hops.get(key, ()) if hop.over in kept)
        return self._plan_pipe(self.sheet.pipes[key], self._crossings.lines[key], self.services, own)

    # ---- items

    def _pose(self, key: str, plan: AnyPlan, drift: Point = STILL) -> None:
        """Show a plan, moved by `drift`."""
        item = self.items.get(key)
        if item is not None and type(item) is not ITEMS[type(plan)]:
            self._drop(key)
            item = None
        if item is None:
            item = self.items[key] = ITEMS[type(plan)](plan)
            self._scene.addItem(item)
        item.show_plan(plan, drift)
        item.show_state(self.state(key))
        if isinstance(plan, PipePlan):
            self._pose_hops(key, plan, drift)

    def _pose_hops(self, key: str, plan: PipePlan, drift: Point) -> None:
        hop = self.hop_items.get(key)
        if plan.hops:
            if hop is None:
                hop = self.hop_items[key] = HopItem(plan)
                hop.setOpacity(self.items[key].opacity())
                self._scene.addItem(hop)
            hop.show_plan(plan, drift)
            hop.show_state(self.state(key))
        elif hop is not None:
            self._scene.removeItem(self.hop_items.pop(key))

    def _pose_or_drop(self, key: str, plan: AnyPlan | None) -> None:
        if plan is not None:
            self._pose(key, plan)
        else:
            self._drop(key)

    def _drop(self, key: str) -> None:
        for items in (self.items, self.hop_items):
            if key in items:
                self._scene.removeItem(items.pop(key))

    def shown_plans(self) -> dict[str, AnyPlan]:
        """The plan of everything as it is shown now."""
        return {key: item.plan for key, item in self.items.items()}

    def every_item(self) -> list[tuple[str, PlanItem]]:
        """All items with the ids of what they show."""
        return [*self.items.items(), *self.hop_items.items()]

    # ---- states

    def show_condition(self, turned: Mapping[str, int], idle: Collection[str]) -> None:
        """Arrows turned the way the water goes (-1: from end b to end a), and what stands idle faded."""
        before = self.turned
        self.turned, self.idle = dict(turned), frozenset(idle)
        for key in self.sheet.pipes:
            if self.turned.get(key, 1) != before.get(key, 1):
                self._settle_pipe(key)
        for key, item in self.every_item():
            item.show_state(self.state(key))

    def state(self, key: str) -> str:
        """How a thing stands in the condition shown: idle, moving, or nothing in particular."""
        if not self.idle and not self.turned:
            return ""
        part = self.sheet.parts.get(key)
        if part is not None and part.kind in DOTS and self.idle and key not in self.idle:
            pipes = self.sheet.pipes_of(key)
            return "idle" if pipes and all(p.id in self.idle for p in pipes) else ""
        return "moving" if key in self.turned else "idle" if key in self.idle else ""


def _differing(old: Mapping[str, Any], new: Mapping[str, Any]) -> set[str]:
    """Ids whose records are new or not the same."""
    return set() if new is old else {key for key, record in new.items() if old.get(key) is not record}


def _same_ends(old: Pipe | None, new: Pipe) -> bool:
    return old is not None and old.a == new.a and old.b == new.b


def _link_ends(link: ControlLink) -> set[str]:
    return {name.partition("/")[0] for name in (link.sensor, link.target)}


def _feet(dimension: Dimension) -> set[str]:
    """Parts and pipes that a dimension stands on."""
    return {name for foot in (dimension.a, dimension.b) for name in (foot.part, foot.pipe) if name}


def _ordered(records: Mapping[str, Any], some: Collection[str]) -> list[str]:
    """Some ids in the order of the sheet, so that a scene paints alike however it came to be."""
    return [key for key in records if key in some] if some else []
