"""The canvas's host in this window: what a pointer tool may ask, answered from the document and the scene.

Owns joining the two. Refuses to know what a tool does and what panels there are.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
from PySide6.QtCore import QObject, Signal

from loopwright.canvas.scene import SheetScene
from loopwright.canvas.tools.base import Edit, Hit, Overlay
from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet.pipework import boxes_of, lettered_boxes_of, off_letters, other_runs
from loopwright.sheet.routing import route
from loopwright.sheet.values import Point, Sheet
from loopwright.window.document import Document

SNAP_M = 0.05
REACH_PX = 8.0


class CanvasHost(QObject):
    """The real `Host` of the pointer tools."""

    said = Signal(str)
    open_wanted = Signal(str)
    """A part or pipe was double-clicked."""
    flag_wanted = Signal(int)
    """The number of a finding whose flag was clicked."""
    previewed = Signal(object)
    """The sheet that a drag shows in place of the real one; None once it is over."""
    tool_done = Signal()
    panned = Signal(float, float)

    def __init__(
        self,
        document: Document,
        scene: SheetScene,
        catalogue: Catalogue,
        metres_a_pixel: Callable[[], float],
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document, self._scene, self._catalogue = document, scene, catalogue
        self._metres_a_pixel = metres_a_pixel
        self._obstacles: tuple[Sheet, np.ndarray, np.ndarray, np.ndarray] | None = None
        self._previewing = False

    @property
    def sheet(self) -> Sheet:
        """The document's sheet."""
        return self._document.sheet

    @property
    def catalogue(self) -> Catalogue:
        """Kinds of part."""
        return self._catalogue

    @property
    def chosen(self) -> frozenset[str]:
        """The selection."""
        return self._document.chosen

    @property
    def reach_m(self) -> float:
        """As far as a handle can be taken hold of."""
        return REACH_PX * self._metres_a_pixel()

    def hit(self, at: Point, ignore: frozenset[str] = frozenset()) -> Hit | None:
        """What lies at a place, within reach of a pointer."""
        return self._scene.hit(at, self._metres_a_pixel(), ignore, flags=False)

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids in a frame."""
        return self._scene.within(a, b, touched)

    def snap(self, at: Point, free: bool = False) -> Point:
        """The place on the 0.05 m snap; floor lines draw a height that is near to them."""
        if free:
            return (round(at[0], 4), round(at[1], 4))
        x = round(round(at[0] / SNAP_M) * SNAP_M, 4)
        height = round(round(at[1] / SNAP_M) * SNAP_M, 4)
        for level in self.sheet.levels:
            if abs(level.height_m - at[1]) < SNAP_M / 2:
                height = level.height_m
        return (x, height)

    def snap_on(self, hit: Hit) -> Point:
        """The place on a pipe that a hit means, on the snap along its run and never beyond the run's ends."""
        line = self._scene.lines.get(hit.id, ())
        if not 0 <= hit.run < len(line) - 1:
            return hit.at
        (x0, z0), (x1, z1) = line[hit.run], line[hit.run + 1]
        x, z = self.snap(hit.at)
        if abs(z1 - z0) < 1e-6:
            return (min(max(x, min(x0, x1)), max(x0, x1)), z0)
        if abs(x1 - x0) < 1e-6:
            return (x0, min(max(z, min(z0, z1)), max(z0, z1)))
        return hit.at

    def route(
        self, start: Point, start_dir: str | None, end: Point, end_dir: str | None, quick: bool = True
    ) -> tuple[Point, ...]:
        """Corners of a right-angled way between two places, round parts and beside other pipes."""
        sheet = self.sheet
        if self._obstacles is None or self._obstacles[0] is not sheet:
            boxes = np.asarray(boxes_of(sheet, self._catalogue), dtype=np.float64).reshape(-1, 4)
            wide = np.asarray(lettered_boxes_of(sheet, self._catalogue), dtype=np.float64).reshape(-1, 4)
            runs = np.asarray(other_runs(sheet, self._catalogue), dtype=np.float64).reshape(-1, 2, 2)
            self._obstacles = (sheet, boxes, wide, runs)
        _, boxes, wide, runs = self._obstacles
        boxes = off_letters(boxes, wide, ((start, start_dir), (end, end_dir)))
        more = {"effort": 45, "windows": (1.0,)} if quick else {}
        return route(start, start_dir, end, end_dir, boxes, runs, **more).corners  # type: ignore[arg-type]

    def show(self, overlay: Overlay, sheet: Sheet | None = None) -> None:
        """Show a tool's preview, and a sheet in place of the real one while it lasts."""
        self._scene.show_overlay(overlay)
        if sheet is not None:
            self._previewing = True
            self._scene.show(sheet, settled=False)
            self.previewed.emit(sheet)
        elif self._previewing:
            self._end_preview()
            self._scene.show(self.sheet)

    def _end_preview(self) -> None:
        if self._previewing:
            self._previewing = False
            self.previewed.emit(None)

    def commit(self, label: str, edit: Edit, choose: Iterable[str] | None = None) -> bool:
        """One undo step. A refused edit leaves the sheet as it was and its reason in the status line."""
        self._end_preview()
        try:
            self._document.apply(label, edit, choose)
        except LoopwrightError as bad:
            self._scene.show(self.sheet)
            self.said.emit(bad.sentence)
            return False
        self._scene.show(self.sheet)
        return True

    def choose(self, ids: Iterable[str]) -> None:
        """Make the selection."""
        self._document.choose(ids)

    def hover(self, hit: Hit | None) -> None:
        """Mark what the pointer is on."""
        self._scene.hover(hit)

    def say(self, words: str) -> None:
        """A sentence in the status line."""
        self.said.emit(words)

    def opened(self, ident: str) -> None:
        """A thing was double-clicked."""
        if ident.isdigit() and ident not in self.sheet.parts and ident not in self.sheet.pipes:
            self.flag_wanted.emit(int(ident))
        else:
            self.open_wanted.emit(ident)

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Scroll the view."""
        self.panned.emit(dx_px, dy_px)

    def finished(self) -> None:
        """The tool is done."""
        self.tool_done.emit()
