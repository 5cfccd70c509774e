"""The sheet in the window: scene, view, the host, and the tool in hand.

Owns which tool is in hand. Refuses to know the panels: it tells them what happened on the sheet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import Any, Literal

from PySide6.QtCore import QEvent, QMimeData, QObject, QPoint, QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QAccessible, QAccessibleAnnouncementEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from loopwright.canvas.scene import SheetScene
from loopwright.canvas.tools.base import Event
from loopwright.canvas.view import SheetView
from loopwright.catalogue import Catalogue
from loopwright.drawing.flags import flags_of
from loopwright.drawing.plans import Flag
from loopwright.rules.findings import Finding
from loopwright.sheet.values import Part, Point, Sheet
from loopwright.window.document import Document
from loopwright.window.host import CanvasHost
from loopwright.window.over import OverSheet
from loopwright.window.parts import MIME
from loopwright.window.presets import new_part
from loopwright.window.quantities import Units
from loopwright.window.spoken import described
from loopwright.window.theme import Theme
from loopwright.window.tools import TOOLS, make_tool

ZOOM_STEP = 1.25


class Stage(QWidget):
    """The view of a document's sheet with one tool in hand."""

    said = Signal(str)
    pointed = Signal(float, float)
    left = Signal()
    zoomed = Signal(int)
    tool_changed = Signal(str)
    open_wanted = Signal(str)
    page_wanted = Signal()
    """The title block was double-clicked."""
    flag_wanted = Signal(int)
    menu_wanted = Signal(object, QPoint)
    escaped = Signal()
    """Esc with nothing under way on the sheet: the window may take a step back."""

    def __init__(self, document: Document, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._document, self._catalogue = document, catalogue
        self.document, self.catalogue, self.look = document, catalogue, look
        self.scene = SheetScene(catalogue, look.mode)
        self.scene.setParent(self)
        self.view = SheetView(self.scene, self)
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.addWidget(self.view)
        self.setFocusProxy(self.view)
        self.host = CanvasHost(document, self.scene, catalogue, self._metres_a_pixel, self)
        self.host.said.connect(self.said)
        self.host.said.connect(self._announce)
        self.host.open_wanted.connect(self._opened)
        self.host.flag_wanted.connect(self.flag_wanted)
        self.host.tool_done.connect(self.put_down)
        self.host.panned.connect(self.view.pan)
        self.view.pointer_moved.connect(self.pointed)
        self.view.zoom_changed.connect(self._zoom_changed)
        self.view.menu_wanted.connect(self.menu_wanted)
        self.tool = ""  # before the filter below asks for it
        self.view.setAcceptDrops(True)
        self.view.viewport().setAcceptDrops(True)
        self.view.viewport().installEventFilter(self)
        self.view.installEventFilter(self)
        self.over = OverSheet(self)
        self._fitted = False
        self._fitted_as: tuple[float, int, int] | None = None
        self._units = Units()
        self._pinned: tuple[Flag, ...] = ()
        self._marks: tuple[Flag, ...] = ()
        self.use("select")

    def pointer(self) -> Point:
        """The place under the pointer, else the middle of the view, in metres."""
        return self.view.pointer or self.view.metres(QPointF(self.view.viewport().rect().center()))

    def _metres_a_pixel(self) -> float:
        return self.view.metres_a_px

    def _opened(self, ident: str) -> None:
        """A note is written in where it stands; anything else has its fields in the properties."""
        if not ident:
            self.page_wanted.emit()
        elif not self.over.write_note(ident) and not self.over.write_condition(ident):
            self.open_wanted.emit(ident)

    # ---- tools

    def use(self, tool: str, **how: Any) -> None:
        """Take a tool in hand by its name: select, pipe, place, pan, note, dimension."""
        self.view.set_tool(make_tool(tool, self.host, **how))
        self.tool = tool
        self.said.emit(TOOLS[tool])
        self.tool_changed.emit(tool)

    def place(self, kind: str) -> None:
        """Take the place tool in hand with a kind hanging on the pointer."""
        self.place_row((new_part(self._catalogue[kind]),))

    def place_row(self, parts: tuple[Part, ...]) -> None:
        """Take the place tool in hand with these hanging on the pointer, the first of them under it."""
        one, *more = parts
        how = {"props": one.props, "tappings": one.tappings, "coils": one.coils, "more": tuple(more)}
        self.use("place", kind=one.kind, **how)
        name = self._catalogue[one.kind].name
        self.said.emit(f"{name}: click where it goes. Shift keeps it in hand; Esc puts it back.")

    def put_down(self) -> None:
        """Back to choosing and moving."""
        if self.tool != "select":
            self.use("select")

    def feed_key(self, key: str) -> bool:
        """Give a command to the place tool as a key. False when it is not in hand."""
        if self.tool != "place" or self.view.tool is None:
            return False
        self.view.tool.feed(Event("key", key=key))
        return True

    def take_focus(self) -> None:
        """Give the sheet the keys."""
        self.view.setFocus()

    # ---- showing

    def show_sheet(self, sheet: Sheet) -> None:
        """Show a sheet; only what differs is drawn anew."""
        self.scene.show(sheet)
        self.over.refresh()

    def show_survey(self, survey: Any, findings: Iterable[Finding] | None = None) -> None:
        """Colour pipes by what they carry and pin the findings, or only those named."""
        self.scene.show(self._document.sheet, survey.services)
        self._pinned = flags_of(survey.findings if findings is None else findings)
        self.scene.show_findings((*self._pinned, *self._marks))
        self.over.refresh()

    def show_marks(self, marks: Iterable[Flag]) -> None:
        """A learner's own flags, beside those of the findings."""
        self._marks = tuple(marks)
        self.show_pinned()
        self.over.refresh()

    def show_pinned(self) -> None:
        """The flags of the drawing itself, after those of a preview."""
        self.scene.show_findings((*self._pinned, *self._marks))

    def choose(self, ids: Collection[str]) -> None:
        """Mark the selection, and say it to a screen reader."""
        self.scene.choose(ids)
        self.view.setAccessibleDescription(self.describe(ids))

    def describe(self, ids: Collection[str]) -> str:
        """What is chosen, in words."""
        if len(ids) != 1:
            return f"{len(ids)} things chosen" if ids else "Nothing chosen"
        marks = [(flag.severity, frozenset(flag.ids)) for flag in self._pinned]
        one, services = next(iter(ids)), self.scene.services
        return described(self._document.sheet, one, self._catalogue, services, marks, self._units.height)

    def _announce(self, words: str) -> None:
        """Say a sentence of the tool in hand to a screen reader, if one listens."""
        if words and QAccessible.isActive():
            QAccessible.updateAccessibility(QAccessibleAnnouncementEvent(self.view, words))

    def light(self, ids: Collection[str], token: str) -> None:
        """A halo in a token's colour round some parts and pipes."""
        sheet = self._document.sheet
        self.scene.light([i for i in ids if i in sheet.parts or i in sheet.pipes], token)

    def show_spot(self, spot: Point | None) -> None:
        """Scroll by the least that shows a place."""
        if spot is not None:
            self.view.reveal(spot)

    def show_condition(self, moving: Mapping[str, int], idle: Collection[str], abnormal: bool) -> None:
        """What moves and what stands; normal running shows directions only."""
        self.scene.show_condition(moving, idle if abnormal else (), halo=abnormal)

    def set_look(self, look: Theme) -> None:
        """Light or dark."""
        self.look = look
        self.view.set_palette(look.mode)
        self.over.refresh()

    @property
    def units(self) -> Units:
        """The units in which heights are shown."""
        return self._units

    def use_units(self, units: Units) -> None:
        """Write heights and contents on the sheet and its rulers in other units."""
        self._units = units
        self.scene.use_system(units.system)
        for ruler in (self.view.heights, self.view.lengths):
            ruler.update()

    # ---- zoom

    def fit(self) -> None:
        """Show the whole sheet."""
        self.view.fit()
        self._fitted_as = self._aspect()
        self.over.legend.seek_corner()

    def refit(self) -> None:
        """Show the whole sheet again, now that there is more to show or less room, if nobody has moved it since."""
        if self._fitted_as is not None and self._fitted_as == self._aspect():
            self.fit()

    def _aspect(self) -> tuple[float, int, int]:
        """Zoom and place of the view."""
        across, down = self.view.horizontalScrollBar(), self.view.verticalScrollBar()
        return (self.view.zoom, across.value(), down.value())

    def zoom_to(self, ids: Collection[str]) -> None:
        """Show some things as near as they go, at 200 % at most."""
        self.view.show_box(self.scene.bounds_of(ids))

    def zoom_by(self, steps: int) -> None:
        """Zoom in (1) or out (-1)."""
        self.view.set_zoom(self.view.zoom * ZOOM_STEP**steps)

    def zoom_full(self) -> None:
        """100 %."""
        self.view.set_zoom(1.0)

    def _zoom_changed(self, zoom: float) -> None:
        self.zoomed.emit(round(zoom * 100))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        QTimer.singleShot(0, self, self.refit)  # a sheet shown whole stays whole; the view has its size by then

    def showEvent(self, event: QShowEvent) -> None:
        super().showEvent(event)
        if not self._fitted:
            self._fitted = True
            self.fit()

    # ---- a part dragged in from the tree

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        sort = event.type()
        if watched is self.view:
            tool = self.view.tool
            idle = self.tool == "select" and (tool is None or not tool.busy)
            if idle and isinstance(event, QKeyEvent) and sort == QEvent.Type.KeyPress:
                if event.key() == Qt.Key.Key_Escape:
                    self.escaped.emit()
                return event.key() == Qt.Key.Key_Escape
            return False
        if sort in (QEvent.Type.DragEnter, QEvent.Type.DragMove):
            if _kind(event.mimeData()):  # type: ignore[attr-defined]
                if sort == QEvent.Type.DragEnter:
                    self.place(_kind(event.mimeData()))  # type: ignore[attr-defined]
                self._feed("move", event.position())  # type: ignore[attr-defined]
                event.acceptProposedAction()  # type: ignore[attr-defined]
                return True
        elif sort == QEvent.Type.DragLeave:
            self.put_down()
        elif sort == QEvent.Type.Drop and _kind(event.mimeData()):  # type: ignore[attr-defined]
            self._feed("press", event.position())  # type: ignore[attr-defined]
            self._feed("release", event.position())  # type: ignore[attr-defined]
            event.acceptProposedAction()  # type: ignore[attr-defined]
            return True
        elif sort == QEvent.Type.Leave:
            self.left.emit()
        return False

    def _feed(self, sort: Literal["press", "move", "release"], spot: QPointF) -> None:
        tool = self.view.tool
        if tool is not None:
            at = self.view.metres(spot)
            tool.feed(
                Event(
                    sort,
                    at,
                    (spot.x(), spot.y()),
                    self.view.hit(at),
                    frozenset(),
                    "left" if sort != "move" else "",
                )
            )

    def close_down(self) -> None:
        """Let the scene go while everything it names is still there."""
        self.view.set_tool(None)
        self.scene.blockSignals(True)


def _kind(data: QMimeData) -> str:
    return bytes(data.data(MIME).data()).decode() if data.hasFormat(MIME) else ""
