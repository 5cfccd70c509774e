"""The sheet as a scene: an item a part, pipe and store, kept in step with a sheet by difference.

Owns the items, what is chosen, lit and flagged, and what lies at a point. Refuses to edit anything.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence

from PySide6.QtCore import QRectF, QTimer
from PySide6.QtWidgets import QGraphicsScene

from loopwright.canvas.carry import carried_labels, carried_services
from loopwright.canvas.hits import Hits
from loopwright.canvas.items import HopItem, LinkItem, PartItem, PipeItem, PlanItem, StoreItem
from loopwright.canvas.layers import FlagLayer, HaloLayer, LabelLayer, OverlayLayer
from loopwright.canvas.tools.base import Hit, Overlay
from loopwright.catalogue import Catalogue
from loopwright.drawing.labels import Labels, place_labels
from loopwright.drawing.look import Look, Palette, Point
from loopwright.drawing.plan import (
    DOTS,
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

__all__ = ["Flag", "SheetScene"]

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
        for layer in (self.halo_layer, self.label_layer, self.flag_layer, self.overlay_layer):
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
        gone = [k for k in self.items_by_id if k not in sheet.parts and k not in sheet.pipes and k not in sheet.links]
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
        if old.levels != sheet.levels or not self.floors:
            self.floors = plan_floors(sheet)
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
            return plan_store(where, part, kind, self.catalogue, self.services, self._layers_c.get(part.id, ()))
        return plan_part(where, part, kind, self.catalogue, self.services)

    def _show_links(self, old: Sheet, changed: set[str]) -> None:
        for key, link in self.sheet.links.items():
            ends = {name.partition("/")[0] for name in (link.sensor, link.target)}
            if old.links.get(key) is not link or ends & changed or key not in self.items_by_id:
                plan = plan_link(self.sheet, link, self.catalogue)
                if plan is not None:
                    self._put(key, plan, LinkItem)
                elif key in self.items_by_id:
                    self._drop(key)

    def _put(self, key: str, plan: PartPlan | PipePlan | StorePlan | LinkPlan, sort: type[PlanItem]) -> None:
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

    def set_palette(self, palette: Palette) -> None:
        """Light or dark."""
        self.set_look(Look(self.look.px_a_unit, palette))

    def plan(self) -> SheetPlan:
        """Everything shown, as one plan."""
        pipes: dict[str, PipePlan] = {}
        parts: dict[str, PartPlan] = {}
        stores: dict[str, StorePlan] = {}
        links: dict[str, LinkPlan] = {}
        for key, item in self.items_by_id.items():
            plan = item.plan
            if isinstance(plan, PipePlan):
                pipes[key] = plan
            elif isinstance(plan, StorePlan):
                stores[key] = plan
            elif isinstance(plan, PartPlan):
                parts[key] = plan
            else:
                links[key] = plan
        return SheetPlan(self.sheet.title, pipes, parts, stores, links, self.notes, self.floors)

    # ---- labels

    def words_bounds(self) -> tuple[float, float, float, float] | None:
        """The box round all words and flags at this look, in drawing units; None where nothing is written."""
        self.place_labels()
        px = self.look.px
        boxes = [(*w.at, w.size[0] / 2 * px, w.size[1] / 2 * px) for w in self.labels.words]
        boxes += [(*f.at, 18.0 * px, 18.0 * px) for f in self.labels.flags]
        if not boxes:
            return None
        return (
            min(x - w for x, _, w, _ in boxes),
            min(y - h for _, y, _, h in boxes),
            max(x + w for x, _, w, _ in boxes),
            max(y + h for _, y, _, h in boxes),
        )

    def place_labels(self) -> None:
        """Place all words and flags now (this happens by itself once a change has been shown)."""
        self._relabel.stop()
        self.labels = place_labels(self.plan(), self.look, self.flags, chosen=self.chosen)
        self.label_layer.show_labels(self.labels, self._idle)
        self.flag_layer.show_flags(self.labels.flags)

    def _carry_labels(self, old: Sheet, parts: set[str], pipes: set[str], gone: set[str]) -> None:
        """While a drag is under way: words of a moved part go with it, those of a stretched pipe are left
        out."""
        words = carried_labels(self.labels.words, old, self.sheet, parts, pipes | gone)
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
        lines: list[tuple[Sequence[Point], str, float]] = []
        halo_boxes: list[tuple[tuple[float, float, float, float], str]] = []
        boxes: list[tuple[float, float, float, float]] = []
        handles: list[Point] = []
        lit, token = self._lit
        for key in self._turned if self._moving_halo else ():
            item = self.items_by_id.get(key)
            if item is not None and key not in lit:
                lines.append((item.plan.points, "accent", 0.10))
        for key in lit | self.chosen:
            item = self.items_by_id.get(key)
            if item is None:
                continue
            colour = token if key in lit else "accent"
            if isinstance(item.plan, PipePlan | LinkPlan):
                lines.append((item.plan.points, colour, 0.16 if key not in lit else 0.24))
                if key in self.chosen:
                    handles += item.plan.points
            else:
                if key in lit:
                    halo_boxes.append((item.plan.box, colour))
                if key in self.chosen:
                    boxes.append(self._frame(item.plan))
        for key in self.chosen & set(self.notes):
            boxes.append(self._note_box(key))
        self.halo_layer.show_halos(lines, halo_boxes)
        self.overlay_layer.show_chosen(boxes, handles)

    def _frame(self, plan: PartPlan | StorePlan) -> tuple[float, float, float, float]:
        """The box that a selection is drawn round: outside the letters of a store."""
        x0, y0, x1, y1 = plan.box
        room = 17.0 * self.look.px if isinstance(plan, StorePlan) else 0.0
        return x0 - room, y0 - room, x1 + room, y1 + room

    def _note_box(self, key: str) -> tuple[float, float, float, float]:
        label = next((w for w in self.labels.words if w.owner == key), None)
        x, y = label.at if label else self.notes[key].at
        w, h = label.size if label else (40.0, 14.0)
        px = self.look.px
        return x - w / 2 * px, y - h / 2 * px, x + w / 2 * px, y + h / 2 * px

    def hover(self, hit: Hit | None) -> None:
        """Mark what the pointer is on."""
        item = self.items_by_id.get(hit.id) if hit else None
        if item is None or hit is None or hit.kind == "port":
            self.overlay_layer.show_hover(None)
        elif isinstance(item.plan, PipePlan):
            self.overlay_layer.show_hover(None, item.plan.points)
        else:
            self.overlay_layer.show_hover(item.plan.box)

    def show_overlay(self, overlay: Overlay) -> None:
        """What the tool in hand shows."""
        ghosts: list[PartPlan | StorePlan | PipePlan] = [self.plan_of(part) for part in overlay.ghosts]
        self.overlay_layer.show_overlay(overlay, ghosts)

    # ---- what is where

    @property
    def lines(self) -> Mapping[str, tuple[Point, ...]]:
        """Vertices of each pipe in metres on the sheet last settled, whatever preview is shown."""
        return self.hits().lines

    def hits(self) -> Hits:
        """What can be hit: the sheet last settled, so that a preview never gets in its own way."""
        if self._hits is None:
            self._hits = Hits(self.sheet, self._lines, self.catalogue)
        return self._hits

    def hit(self, at: Point, px_m: float, ignore: Collection[str] = ()) -> Hit | None:
        """What lies at a place in metres; `px_m` metres a pixel."""
        notes = {key: self._note_box(key) for key in self.notes}
        return self.hits().at(at, px_m, self.look, self.labels.flags, notes, ignore)

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids inside a frame given by two corners in metres, or `touched` by it."""
        return self.hits().within(a, b, touched)
