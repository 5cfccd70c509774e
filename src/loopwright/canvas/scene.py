"""The sheet as a scene: an item a part, pipe and store, kept in step with a sheet by difference.

Owns the items, what is chosen, lit and flagged, and what lies at a point. Refuses to edit anything.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import cast

from PySide6.QtCore import QRectF, QTimer
from PySide6.QtWidgets import QGraphicsScene

from loopwright.canvas.carry import carried_labels, carried_services
from loopwright.canvas.hits import Hits
from loopwright.canvas.items import HopItem, LinkItem, MeasureItem, PartItem, PipeItem, PlanItem, StoreItem
from loopwright.canvas.layers import FlagLayer, HaloLayer, LabelLayer, OverlayLayer
from loopwright.canvas.marks import (
    box_round,
    boxes_of_plan,
    hull,
    line_of_plan,
    marks_of,
    note_box,
    word_boxes,
    words_box,
)
from loopwright.canvas.page_layer import PageLayer
from loopwright.canvas.shown import sheet_plan, thin_lines
from loopwright.canvas.tools.base import Hit, HitKind, Overlay
from loopwright.catalogue import Catalogue
from loopwright.drawing.labels import Labels, letters_of, place_labels
from loopwright.drawing.look import Look, Palette, Point, to_units
from loopwright.drawing.measured import floors_in, plan_in
from loopwright.drawing.measures import plan_dimension
from loopwright.drawing.plan import (
    DOTS,
    DimensionPlan,
    Flag,
    FloorPlan,
    LinkPlan,
    NotePlan,
    PartPlan,
    PipePlan,
    SheetPlan,
    StorePlan,
    is_store,
    plan_floors,
    plan_link,
    plan_notes,
    plan_part,
    plan_pipe,
    plan_store,
)
from loopwright.sheet.crossings import Hop, all_hops, hops_of
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Part, Pipe, Sheet
from loopwright.units import System, restated

__all__ = ["Flag", "SheetScene"]

AnyPlan = PartPlan | PipePlan | StorePlan | LinkPlan | DimensionPlan
REST_MS = 120
"""A zoom is at rest this long after its last step."""
EXTENT = QRectF(-100_000.0, -100_000.0, 200_000.0, 200_000.0)


class SheetScene(QGraphicsScene):
    """Shows a sheet. `show` may be called with any sheet at any time; only what differs is made anew."""

    def __init__(self, catalogue: Catalogue, palette: Palette = "light") -> None:
        super().__init__()
        self.catalogue = catalogue
        self.look = Look(palette=palette)
        self.sheet = Sheet()
        self.services: dict[str, str] = {}
        self.flags: tuple[Flag, ...] = ()
        self.chosen: frozenset[str] = frozenset()
        self.system: System = "metric"
        """The units of heights and contents; `use_system` changes them."""
        self.floors: tuple[FloorPlan, ...] = plan_floors(self.sheet)
        self.notes: dict[str, NotePlan] = {}
        self._lines: dict[str, tuple[Point, ...]] = {}
        """Vertices of each pipe in metres, as drawn now."""
        self.items_by_id: dict[str, PlanItem] = {}
        self._hop_items: dict[str, HopItem] = {}
        self._hops: dict[str, tuple[Hop, ...]] = {}
        self._stale: set[str] = set()
        """Pipes whose hops were left out while a drag was under way."""
        self._turned: Mapping[str, int] = {}
        self._idle: frozenset[str] = frozenset()
        self._moving_halo = True
        self._lit: tuple[frozenset[str], str] = (frozenset(), "")
        self._layers_c: dict[str, Sequence[float]] = {}
        self._hits: Hits | None = None
        self.setSceneRect(EXTENT)
        self.halo_layer, self.label_layer = HaloLayer(), LabelLayer()
        self.flag_layer, self.overlay_layer = FlagLayer(), OverlayLayer()
        self.page_layer = PageLayer()
        for layer in (self.page_layer, self.halo_layer, self.label_layer, self.flag_layer, self.overlay_layer):
            self.addItem(layer)
        self.labels = Labels()
        self._relabel = QTimer(self)
        self._relabel.setSingleShot(True)
        self._relabel.timeout.connect(self.place_labels)

    # ---- showing

    def show(self, sheet: Sheet, services: Mapping[str, str] | None = None, settled: bool = True) -> None:
        """Show a sheet; only records that differ from those shown are drawn anew.

        `services` by pipe id; None keeps what is known, and new pipes take the service of a neighbour.
        `settled` False (a drag under way) leaves hops and labels of what did not move as they are.
        """
        if not settled:
            self.hits()  # made before anything changes
        old, known = self.sheet, self.services
        if sheet is not old:
            self.overlay_layer.show_hover(None)  # what the pointer was on may have moved
        self.services = dict(services) if services is not None else carried_services(sheet, known, self.catalogue)
        changed_parts = {k for k, p in sheet.parts.items() if old.parts.get(k) is not p}
        there = {*sheet.parts, *sheet.pipes, *sheet.links, *(d.id for d in sheet.dimensions)}
        gone = [k for k in self.items_by_id if k not in there]
        touched = self._touched_pipes(old, sheet, changed_parts)
        recoloured = {k for k in sheet.pipes if self.services.get(k) != known.get(k)}
        self.sheet = sheet
        for key in gone:
            self._drop(key)
        for key in touched:
            pipe = sheet.pipes[key]
            self._lines[key] = self._line(pipe)
        redrawn = self._rehop(touched, gone, settled) | touched | recoloured
        for key in redrawn:
            self._show_pipe(key)
        self._show_parts(changed_parts, old, touched | recoloured | set(gone))
        self._show_links(old, changed_parts)
        self._show_measures()
        if old.levels != sheet.levels or not self.floors:
            self.floors = floors_in(plan_floors(sheet), self.system)
            self.invalidate(layers=QGraphicsScene.SceneLayer.BackgroundLayer)
        self.notes = plan_notes(sheet)
        if settled:
            self._hits = None
            self._relabel.start(0)
        else:
            self._carry_labels(old, changed_parts, touched, set(gone))
        self._mark()

    def _touched_pipes(self, old: Sheet, sheet: Sheet, changed_parts: set[str]) -> set[str]:
        touched = {k for k, p in sheet.pipes.items() if old.pipes.get(k) is not p or k not in self._lines}
        for key in changed_parts:
            touched.update(p.id for p in sheet.pipes_of(key))
        return touched

    def _line(self, pipe: Pipe) -> tuple[Point, ...]:
        ports = [ports_of(self.sheet.parts[end.part], self.catalogue)[end.port].at for end in (pipe.a, pipe.b)]
        return (ports[0], *pipe.points, ports[1])

    def _drop(self, key: str) -> None:
        self.removeItem(self.items_by_id.pop(key))
        self._lines.pop(key, None)
        if key in self._hop_items:
            self.removeItem(self._hop_items.pop(key))

    def _rehop(self, touched: set[str], gone: Sequence[str], settled: bool) -> set[str]:
        """Work hops out anew where pipes changed; gives the pipes whose hops differ."""
        before = self._hops
        if not settled:
            self._stale |= {*touched, *gone}
            self._hops = {
                k: tuple(h for h in v if h.over not in touched)
                for k, v in before.items()
                if k not in touched and k in self._lines
            }
        else:
            fresh = {*touched, *gone, *self._stale}
            self._stale = set()
            many = len(fresh) > len(self._lines) // 2
            self._hops = all_hops(self._lines) if many else hops_of(fresh, self._lines, before)
        return {k for k in self._lines if self._hops.get(k, ()) != before.get(k, ())}

    def _show_pipe(self, key: str) -> None:
        plan = plan_pipe(
            self.sheet.pipes[key],
            self._lines[key],
            self.services.get(key, "unknown"),
            self._hops.get(key, ()),
            self._turned.get(key, 1) < 0,
        )
        self._put(key, plan, PipeItem)
        hop = self._hop_items.get(key)
        if plan.hops:
            if hop is None:
                hop = self._hop_items[key] = HopItem(plan)
                self.addItem(hop)
            else:
                hop.show_plan(plan)
            hop.show_state(self._state(key))
        elif hop is not None:
            self.removeItem(self._hop_items.pop(key))

    def _show_parts(self, changed: set[str], old: Sheet, pipes: set[str]) -> None:
        again = set(changed)
        for key in pipes:  # joints and stubs take the colour of their pipes
            for sheet in (self.sheet, old):
                pipe = sheet.pipes.get(key)
                if pipe is not None:
                    again.update(e.part for e in (pipe.a, pipe.b) if e.part in self.sheet.parts)
        for key in again:
            part = self.sheet.parts[key]
            plan = self.plan_of(part)
            self._put(key, plan, StoreItem if isinstance(plan, StorePlan) else PartItem)

    def plan_of(self, part: Part, sheet: Sheet | None = None) -> PartPlan | StorePlan:
        """The plan of a part, on the sheet shown or not."""
        kind, where = self.catalogue[part.kind], sheet or self.sheet
        if is_store(kind):
            layers_c = self._layers_c.get(part.id, ())
            store = plan_store(where, part, kind, self.catalogue, self.services, layers_c)
            return cast(StorePlan, plan_in(store, self.system))
        return cast(PartPlan, plan_in(plan_part(where, part, kind, self.catalogue, self.services), self.system))

    def _show_links(self, old: Sheet, changed: set[str]) -> None:
        for key, link in self.sheet.links.items():
            ends = {name.partition("/")[0] for name in (link.sensor, link.target)}
            if old.links.get(key) is not link or ends & changed or key not in self.items_by_id:
                plan = plan_link(self.sheet, link, self.catalogue)
                if plan is not None:
                    self._put(key, plan, LinkItem)
                elif key in self.items_by_id:
                    self._drop(key)

    def _show_measures(self) -> None:
        for one in self.sheet.dimensions:
            plan = plan_dimension(self.sheet, one, self.catalogue)
            if plan is not None:
                self._put(one.id, plan_in(plan, self.system), MeasureItem)
            elif one.id in self.items_by_id:
                self._drop(one.id)

    def _put(self, key: str, plan: AnyPlan, sort: type[PlanItem]) -> None:
        item = self.items_by_id.get(key)
        if item is not None and type(item) is not sort:
            self._drop(key)
            item = None
        if item is None:
            item = self.items_by_id[key] = sort(plan)
            self.addItem(item)
        elif item.plan != plan:
            item.show_plan(plan)
        item.show_state(self._state(key))

    def set_look(self, look: Look, resting: bool = True) -> None:
        """Another zoom or palette. Items compile themselves anew when they are next painted.

        While a zoom goes on (`resting` False) words keep their places until it rests.
        """
        if look != self.look:
            self.look = look
            self.invalidate()
            self._mark()
            self._relabel.start(0 if resting else REST_MS)

    def show_frame(self, shown: bool) -> None:
        """Show the page with its frame, or the title block alone."""
        self.page_layer.framed = shown
        self.place_labels()

    def use_system(self, system: System) -> None:
        """Write heights and contents in metric or imperial units."""
        if system != self.system:
            self.system = system
            self.floors = floors_in(plan_floors(self.sheet), system)
            self._show_measures()
            self._show_parts(set(self.sheet.parts), self.sheet, set())
            self.invalidate()
            self._mark()
            self._relabel.start(0)

    def set_palette(self, palette: Palette) -> None:
        """Light or dark."""
        self.set_look(Look(self.look.px_a_unit, palette))

    def plan(self) -> SheetPlan:
        """Everything shown, as one plan."""
        plans = (item.plan for item in self.items_by_id.values())
        return sheet_plan(self.sheet, plans, self.notes, self.floors)

    # ---- labels

    def words_bounds(self) -> tuple[float, float, float, float] | None:
        """The box round all words, flags and the page at this look, in drawing units; None where nothing is written."""
        self.place_labels()
        boxes = [box for box in (words_box(self.labels, self.look), self.page_layer.box) if box is not None]
        return hull(boxes)

    def bounds_of(self, ids: Collection[str]) -> tuple[float, float, float, float] | None:
        """The box round some things in drawing units; None when none of them is there."""
        plans = [self.items_by_id[i].plan for i in ids if i in self.items_by_id]
        return box_round([*plans, *(self.notes[i] for i in ids if i in self.notes)])

    def place_labels(self) -> None:
        """Place all words and flags now (this happens by itself once a change has been shown)."""
        self._relabel.stop()
        plan = self.plan()
        self.labels = place_labels(plan, self.look, self.flags, chosen=self.chosen)
        self.page_layer.show_page(plan, self.labels)
        self.label_layer.show_labels(self.labels, self._idle)
        self.flag_layer.show_flags(self.labels.flags)

    def _carry_labels(self, old: Sheet, parts: set[str], pipes: set[str], gone: set[str]) -> None:
        """While a drag is under way: words of a moved part go with it, those of a stretched pipe are left
        out."""
        words = carried_labels(self.labels.words, old, self.sheet, parts, pipes | gone)
        for key in parts:  # a stub that moves makes its neighbours' letters give way
            before, plan = old.parts.get(key), self.items_by_id[key].plan
            if isinstance(plan, StorePlan) and before is not None and before.tappings != self.sheet.parts[key].tappings:
                words = tuple(w for w in words if w.owner.partition("/")[0] != key or w.kind != "letter")
                words += tuple(letters_of(plan, self.look, self.chosen))
        self.labels = Labels(words, self.labels.flags)
        self.label_layer.show_labels(self.labels, self._idle)

    # ---- what is marked

    def show_findings(self, flags: Iterable[Flag]) -> None:
        """Flags of the findings; they find their own places."""
        self.flags = tuple(flags)
        self._relabel.start(0)

    def choose(self, ids: Collection[str]) -> None:
        """Mark the selection."""
        self.chosen = frozenset(ids)
        self._mark()

    def light(self, ids: Collection[str], token: str = "accent") -> None:
        """A halo round these parts and pipes in a token's colour (the loop of a finding); the rest stands
        back."""
        self._lit = (frozenset(ids), token)
        for key, item in (*self.items_by_id.items(), *self._hop_items.items()):
            item.setOpacity(0.6 if ids and key not in self._lit[0] else 1.0)
        self._mark()

    def show_condition(self, moving: Mapping[str, int] | None, idle: Collection[str] = (), halo: bool = True) -> None:
        """What moves and what stands in a condition.

        `moving`: pipe id to +1 (from end a to end b) or -1; None or empty together with no idle: nothing in
        particular. Without `halo` only the arrows turn the way the water goes: normal running.
        """
        before = self._turned
        self._moving_halo = halo
        self._turned = dict(moving or {})
        self._idle = frozenset(idle)
        for key, item in self.items_by_id.items():
            if key in self.sheet.pipes and self._turned.get(key, 1) != before.get(key, 1):
                self._show_pipe(key)
            else:
                item.show_state(self._state(key))
                if key in self._hop_items:
                    self._hop_items[key].show_state(self._state(key))
        self.label_layer.show_labels(self.labels, self._idle)
        self._mark()

    def show_layers(self, layers_c: Mapping[str, Sequence[float]]) -> None:
        """Temperatures of the layers of stores, lowest first, degrees C; a store left out shows its plain
        tints."""
        changed = {k for k in {*layers_c, *self._layers_c} if k in self.sheet.parts}
        self._layers_c = dict(layers_c)
        self._show_parts(changed, self.sheet, set())

    def _state(self, key: str) -> str:
        part = self.sheet.parts.get(key)
        if part is not None and part.kind in DOTS and self._idle and key not in self._idle:
            pipes = self.sheet.pipes_of(key)
            return "idle" if pipes and all(p.id in self._idle for p in pipes) else ""
        return "moving" if key in self._turned else "idle" if key in self._idle else ""

    def _mark(self) -> None:
        """Halos and selection marks from what is chosen, lit and moving."""
        moving = self._turned if self._moving_halo else ()
        marked = {*self.chosen, *self._lit[0], *moving}
        plans = {key: self.items_by_id[key].plan for key in marked if key in self.items_by_id}
        made = marks_of(plans, self.chosen, self._lit, moving, self.look)
        made.boxes.extend(self._note_box(key) for key in self.chosen & set(self.notes))
        self.halo_layer.show_halos(made.lines, made.halos)
        self.overlay_layer.show_chosen(made.boxes, made.handles)

    def _note_box(self, key: str) -> tuple[float, float, float, float]:
        return note_box(self.notes[key], self.labels, self.look)

    def hover(self, hit: Hit | None) -> None:
        """Mark what the pointer is on."""
        item = self.items_by_id.get(hit.id) if hit else None
        if hit is not None and hit.kind == "title":
            self.overlay_layer.show_hover(self.page_layer.title_box)
        elif item is None or hit is None or hit.kind == "port":
            self.overlay_layer.show_hover(None)
        else:
            line = line_of_plan(item.plan)
            self.overlay_layer.show_hover(None if line else item.plan.box, line)

    def show_overlay(self, overlay: Overlay) -> None:
        """What the tool in hand shows."""
        ghosts: list[PartPlan | StorePlan | PipePlan] = [self.plan_of(part) for part in overlay.ghosts]
        if self.system != "metric" and overlay.words:
            overlay = replace(overlay, words=restated(overlay.words, self.system))
        self.overlay_layer.show_overlay(overlay, ghosts)

    # ---- what is where

    @property
    def lines(self) -> Mapping[str, tuple[Point, ...]]:
        """Vertices of each pipe in metres on the sheet last settled, whatever preview is shown."""
        return self.hits().lines

    def hits(self) -> Hits:
        """What can be hit: the sheet last settled, so that a preview never gets in its own way."""
        if self._hits is None:
            self._hits = Hits(self.sheet, self._lines, self.catalogue, thin_lines(self.plan()))
        return self._hits

    def hit(self, at: Point, px_m: float, ignore: Collection[str] = (), flags: bool = True) -> Hit | None:
        """What lies at a place in metres; `px_m` metres a pixel. Without `flags` those of findings are looked
        through."""
        words: dict[str, tuple[HitKind, tuple[float, float, float, float]]] = {
            key: ("note", self._note_box(key)) for key in self.notes
        }
        for label in self.labels.words:
            if label.kind == "dimension":
                w, h = (side / 2 * self.look.px for side in label.size)
                x, y = label.at
                words[label.owner] = ("dimension", (x - w, y - h, x + w, y + h))
        found = self.hits().at(at, px_m, self.look, self.labels.flags if flags else (), words, ignore)
        if found is None and self.page_layer.title_at(to_units(at)):
            return Hit("title", "", at=at)
        return found

    def count_in(self, left: float, top: float, right: float, foot: float) -> int:
        """How many things and words meet a box in drawing units."""
        boxes = [box for p in self.items_by_id.values() for box in boxes_of_plan(p.plan)]
        boxes += word_boxes(self.labels, self.look)
        return sum(x0 < right and left < x1 and y0 < foot and top < y1 for x0, y0, x1, y1 in boxes)

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids inside a frame given by two corners in metres, or `touched` by it."""
        return self.hits().within(a, b, touched)
