"""The sheet as a scene: an item a part, pipe and store, kept in step with a sheet by difference.

Owns the items, what is chosen, lit and flagged, and what lies at a point. Refuses to edit anything.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from PySide6.QtCore import QRectF, Qt, QTimer, Signal
from PySide6.QtWidgets import QGraphicsScene

from loopwright.canvas.carry import drift_of
from loopwright.canvas.hits import Hits
from loopwright.canvas.items import PlanItem
from loopwright.canvas.layers import HaloLayer, OverlayLayer
from loopwright.canvas.marks import (
    UnitBox,
    box_round,
    boxes_of_plan,
    hit_words,
    hull,
    line_of_plan,
    marks_of,
    note_box,
    word_boxes,
    words_box,
)
from loopwright.canvas.page_layer import PageLayer
from loopwright.canvas.shown import sheet_plan, thin_lines
from loopwright.canvas.standing import NOTHING, Standing
from loopwright.canvas.tools.base import Hit, HitKind, Overlay
from loopwright.canvas.words import Adrift, FlagLayer, LabelLayer
from loopwright.catalogue import Catalogue
from loopwright.drawing.in_units import floors_in
from loopwright.drawing.labels import Label, Labels, Layout, letters_of
from loopwright.drawing.look import Look, Palette, Point, to_units
from loopwright.drawing.plan import (
    Flag,
    FloorPlan,
    NotePlan,
    PartPlan,
    PipePlan,
    SheetPlan,
    StorePlan,
    plan_floors,
    plan_notes,
)
from loopwright.sheet.values import Note, Part, Sheet
from loopwright.units import System, restated

__all__ = ["Flag", "SheetScene"]

REST_MS = 120
"""A zoom is at rest this long after its last step."""
AT_ONCE = 500
"""Where no more things than this have changed, words are placed before the next frame; of more only where they have
been placed like this before, else after it, since they may take longer than one."""
EXTENT = QRectF(-100_000.0, -100_000.0, 200_000.0, 200_000.0)


class SheetScene(QGraphicsScene):
    """Shows a sheet. `show` may be called with any sheet at any time; only what differs is made anew."""

    _words_due = Signal()

    def __init__(self, catalogue: Catalogue, palette: Palette = "light") -> None:
        super().__init__()
        self.catalogue = catalogue
        self.look = Look(palette=palette)
        self.sheet = Sheet()
        self.flags: tuple[Flag, ...] = ()
        self.chosen: frozenset[str] = frozenset()
        self.system: System = "metric"
        """The units of heights and contents; `use_system` changes them."""
        self.floors: tuple[FloorPlan, ...] = plan_floors(self.sheet)
        self.notes: dict[str, NotePlan] = {}
        self._noted: tuple[Note, ...] = ()
        self.standing = Standing(self, catalogue)
        self.exposed: list[QRectF] = []
        """What a view is painting just now, in drawing units; empty where all of its rectangle is."""
        self._moving_halo = True
        self._marks_reshaped = False
        self._lit: tuple[frozenset[str], str] = (frozenset(), "")
        self._hits: Hits | None = None
        self._layout: Layout | None = None
        self._labels = Labels()
        self._carried: Labels | None = None
        self._placed_at: Mapping[str, Point] = {}
        """How far what words belong to had been dragged when they were placed."""
        self._words: Mapping[str, tuple[HitKind, UnitBox]] = {}
        """Notes and figures of dimensions that can be hit, with their boxes."""
        self.setSceneRect(EXTENT)
        self.halo_layer, self.label_layer = HaloLayer(), LabelLayer()
        self.flag_layer, self.overlay_layer = FlagLayer(), OverlayLayer()
        self.page_layer = PageLayer()
        for layer in (self.page_layer, self.halo_layer, self.label_layer, self.flag_layer, self.overlay_layer):
            self.addItem(layer)
        self._relabel = QTimer(self)
        self._relabel.setSingleShot(True)
        self._relabel.timeout.connect(self.place_labels)
        self._few = False
        # queued first, it comes before the frame that the change asks for; a timer comes after it
        self._words_due.connect(self._place_due_labels, Qt.ConnectionType.QueuedConnection)

    # ---- showing

    def show(self, sheet: Sheet, services: Mapping[str, str] | None = None, settled: bool = True) -> None:
        """Show a sheet; only records that differ from those shown are drawn anew.

        `services` by pipe id; None keeps what is known, and new pipes take the service of a neighbour.
        `settled` False (a drag under way) leaves hops and labels of what did not move as they are.
        """
        old = self.sheet
        if sheet is not old:
            self.overlay_layer.show_hover(None)  # what the pointer was on may have moved
        if settled:
            self._words_due.emit()  # before anything asks for a frame
            self._settle(sheet, services)
        else:
            self.hits()  # made before anything changes
            self._preview(sheet)
        self.sheet = sheet
        if sheet.levels is not old.levels or not self.floors:
            self._show_floors()

    def _settle(self, sheet: Sheet, services: Mapping[str, str] | None) -> None:
        adrift, old = self.standing.preview is not NOTHING, self.standing.sheet
        changed = self.standing.settle(sheet, services)
        if sheet.notes is not self._noted or not self.notes:
            self.notes, self._noted = plan_notes(sheet), sheet.notes
        if sheet is not old or adrift:
            self._hits = None
        if changed or adrift or sheet is not old:
            self._relabel.start(0)
            self._few = len(changed) <= AT_ONCE
        if adrift:
            for layer in (self.halo_layer, self.overlay_layer):
                layer.show_drift({})
        if adrift or changed & self._marked() or self.chosen & self.notes.keys():
            self._mark()

    def _preview(self, sheet: Sheet) -> None:
        preview = self.standing.show_preview(sheet)
        self._carried = None
        self.label_layer.show_preview(self._words_adrift(sheet))
        marked = self._marked()
        if preview.reshaped & marked or self._marks_reshaped:
            self._mark()
        self._marks_reshaped = bool(preview.reshaped & marked)
        for layer in (self.halo_layer, self.overlay_layer):
            layer.show_drift(preview.drift)

    def _words_adrift(self, sheet: Sheet) -> Adrift:
        """While a drag is under way: words of what is moved go with it, those of a stretched pipe are left out."""
        rest, reshaped = self.standing.sheet, self.standing.preview.reshaped
        drift, placed_at = self._drift_of_words(sheet), self._placed_at
        if placed_at:  # placed while the drag was under way already
            home = (0.0, 0.0)
            both = {key: (drift.get(key, home), placed_at.get(key, home)) for key in drift.keys() | placed_at.keys()}
            drift = {key: (now[0] - then[0], now[1] - then[1]) for key, (now, then) in both.items()}
        lost, more = {key for key in reshaped if key not in sheet.parts}, list[Label]()
        for key in reshaped & rest.parts.keys() & sheet.parts.keys():
            old, new, plan = rest.parts[key], sheet.parts[key], self.standing.items[key].plan
            if isinstance(plan, StorePlan) and old.tappings != new.tappings:
                lost.update(f"{key}/{tap.letter}" for tap in (*old.tappings, *new.tappings))
                more += letters_of(plan, self.look, self.chosen)
        return Adrift(drift, frozenset(lost), tuple(more))

    def _drift_of_words(self, sheet: Sheet) -> dict[str, Point]:
        """How far the owners of words have been dragged, drawing units."""
        rest, preview = self.standing.sheet, self.standing.preview
        drift = dict(preview.drift)
        for key in preview.reshaped & rest.parts.keys() & sheet.parts.keys():
            drift[key] = drift_of(rest.parts[key], sheet.parts[key])
        if sheet.notes is not rest.notes:
            before = {note.id: note for note in rest.notes}
            for note in sheet.notes:
                was = before.get(note.id)
                if was is not None and was is not note:
                    drift[note.id] = (note.x_m - was.x_m) * 100.0, -(note.height_m - was.height_m) * 100.0
        return drift

    def _show_floors(self) -> None:
        self.floors = floors_in(plan_floors(self.sheet), self.system)
        self.invalidate(layers=QGraphicsScene.SceneLayer.BackgroundLayer)

    @property
    def items_by_id(self) -> Mapping[str, PlanItem]:
        """The item of each part, pipe, control link and dimension shown."""
        return self.standing.items

    @property
    def services(self) -> Mapping[str, str]:
        """What each pipe carries, by id."""
        return self.standing.services

    def plan_of(self, part: Part, sheet: Sheet | None = None) -> PartPlan | StorePlan:
        """The plan of a part, on the sheet shown or not."""
        return self.standing.plan_of(part, sheet)

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
            self.system = self.standing.system = system
            self._show_floors()
            self.standing.replan(self.standing.sheet.parts)
            self.invalidate()
            self._mark()
            self._relabel.start(0)

    def set_palette(self, palette: Palette) -> None:
        """Light or dark."""
        self.set_look(Look(self.look.px_a_unit, palette))

    def plan(self) -> SheetPlan:
        """Everything shown, as one plan."""
        standing = self.standing
        if standing.preview is NOTHING:
            return sheet_plan(standing.sheet, standing.plans, self.notes, self.floors)
        return sheet_plan(self.sheet, standing.shown_plans(), plan_notes(self.sheet), self.floors)

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

    @property
    def labels(self) -> Labels:
        """All words and flags as they are shown now."""
        if self._carried is None:
            words = self.label_layer.adrift.carried(self._labels.words)
            self._carried = Labels(words, self._labels.flags)
        return self._carried

    def _place_due_labels(self) -> None:
        if not self._relabel.isActive() or self._relabel.interval():
            return
        if self._few or (self._layout is not None and self._layout.recalls(self.plan())):
            self.place_labels()

    def place_labels(self) -> None:
        """Place all words and flags now (this happens by itself once a change has been shown).

        Only those near what has changed look for a place again; the outcome is that of placing all of them.
        """
        self._relabel.stop()
        if self._layout is None or self._layout.look != self.look:
            self._layout = Layout(self.look)
        plan = self.plan()
        self._labels, self._carried = self._layout.place(plan, self.flags, chosen=self.chosen), None
        self._placed_at = self._drift_of_words(self.sheet)
        self._words = hit_words(self._labels, self.notes, self.look)
        self.page_layer.show_page(plan, self._labels)
        self.label_layer.show_labels(self._labels, self.standing.idle)
        self.flag_layer.show_flags(self._labels.flags)

    # ---- what is marked

    def show_findings(self, flags: Iterable[Flag]) -> None:
        """Flags of the findings; they find their own places."""
        before, self.flags = self.flags, tuple(flags)
        if self.flags != before:
            self._relabel.start(0)

    def choose(self, ids: Collection[str]) -> None:
        """Mark the selection."""
        self.chosen = frozenset(ids)
        self._mark()

    def light(self, ids: Collection[str], token: str = "accent") -> None:
        """A halo round these parts and pipes in a token's colour (the loop of a finding); the rest stands
        back."""
        before, self._lit = self._lit, (frozenset(ids), token)
        if before[0] != self._lit[0]:
            for key, item in self.standing.every_item():
                item.setOpacity(0.6 if ids and key not in self._lit[0] else 1.0)
        self._mark()

    def show_condition(self, moving: Mapping[str, int] | None, idle: Collection[str] = (), halo: bool = True) -> None:
        """What moves and what stands in a condition.

        `moving`: pipe id to +1 (from end a to end b) or -1; None or empty together with no idle: nothing in
        particular. Without `halo` only the arrows turn the way the water goes: normal running.
        """
        self._moving_halo = halo
        self.standing.show_condition(moving or {}, idle)
        self.label_layer.show_labels(self._labels, self.standing.idle)
        self._mark()

    def show_layers(self, layers_c: Mapping[str, Sequence[float]]) -> None:
        """Temperatures of the layers of stores, lowest first, degrees C; a store left out shows its plain
        tints."""
        standing = self.standing
        changed = {k for k in {*layers_c, *standing.layers_c} if k in standing.sheet.parts}
        standing.layers_c = dict(layers_c)
        standing.replan(changed)

    @property
    def _turned(self) -> Mapping[str, int]:
        return self.standing.turned

    @property
    def against(self) -> frozenset[str]:
        """Pipes whose arrows point from end b to end a."""
        return frozenset(pipe for pipe, way in self._turned.items() if way < 0)

    def _marked(self) -> set[str]:
        """Ids of what is chosen, lit or moving."""
        return {*self.chosen, *self._lit[0], *(self._turned if self._moving_halo else ())}

    def _mark(self) -> None:
        """Halos and selection marks from what is chosen, lit and moving."""
        items = self.items_by_id
        drift = self.standing.preview.drift
        plans = {k: items[k].rest if k in drift else items[k].plan for k in self._marked() if k in items}
        made = marks_of(plans, self.chosen, self._lit, self._turned if self._moving_halo else (), self.look)
        for key in self.chosen & self.notes.keys():
            made.boxes[key] = note_box(self.notes[key], self._labels, self.look)
        self.halo_layer.show_halos(made.halos)
        self.overlay_layer.show_chosen(made.boxes, made.handles)

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
            standing = self.standing
            thin = thin_lines(standing.plans.values())
            self._hits = Hits(standing.sheet, standing.lines, self.catalogue, thin)
        return self._hits

    def hit(self, at: Point, px_m: float, ignore: Collection[str] = (), flags: bool = True) -> Hit | None:
        """What lies at a place in metres; `px_m` metres a pixel. Without `flags` those of findings are looked
        through."""
        found = self.hits().at(at, px_m, self.look, self._labels.flags if flags else (), self._words, ignore)
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
