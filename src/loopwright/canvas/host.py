"""The host that tools work in: joins a document, a scene and a view.

Owns snapping, routing of previews and the carrying out of edits. Refuses to know panels and files: a document
is anything with a sheet, a selection and `apply`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from itertools import pairwise
from typing import Protocol, cast

from PySide6.QtCore import QObject, Signal

from loopwright.canvas.scene import SheetScene
from loopwright.canvas.tools.base import Edit, Hit, Overlay, Tool
from loopwright.canvas.tools.note import NoteTool
from loopwright.canvas.tools.pan import PanTool
from loopwright.canvas.tools.pipe import PipeTool
from loopwright.canvas.tools.place import PlaceTool
from loopwright.canvas.tools.select import SelectTool
from loopwright.canvas.view import SheetView
from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet import routing
from loopwright.sheet.pipework import boxes_of
from loopwright.sheet.plane import Dir, same
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Point, Sheet

SNAP_M = 0.05
NEAR_M = 0.03
"""A height of a port or floor this near wins over the snap."""


class DocumentLike(Protocol):
    """What the host needs of a document."""

    @property
    def sheet(self) -> Sheet: ...

    @property
    def chosen(self) -> frozenset[str]: ...

    def apply(
        self, label: str, edit: Callable[[Sheet], Sheet], choose: Iterable[str] | None = None
    ) -> bool: ...

    def choose(self, ids: Iterable[str]) -> None: ...


class CanvasHost(QObject):
    """Gives tools their sheet, and the sheet their edits. `tool` is the tool in hand; `take` changes it."""

    said = Signal(str)
    """A sentence for the status line."""
    refused = Signal(str)
    """An edit was refused, and why."""
    open_wanted = Signal(str)
    """A thing (id, or "flag 3") was opened."""
    tool_changed = Signal(str)

    def __init__(
        self, document: DocumentLike, scene: SheetScene, view: SheetView, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.document, self.scene, self.view = document, scene, view
        self.previewing = False
        self.tools: dict[str, Tool] = {
            "select": SelectTool(self),
            "pipe": PipeTool(self),
            "place": PlaceTool(self),
            "pan": PanTool(self),
            "note": NoteTool(self),
        }
        self.tool: Tool = self.tools["select"]
        view.set_tool(self.tool)

    # ---- tools

    def take(self, name: str) -> Tool:
        """Take a tool in hand: select, pipe, place, pan, note."""
        tool = self.tools[name]
        if tool is not self.tool:
            self.tool.abandon()
            self.tool = tool
            self.view.set_tool(tool)
            self.tool_changed.emit(name)
        return tool

    def take_part(self, kind: str) -> PlaceTool:
        """Hang a part of a kind on the pointer."""
        tool = cast(PlaceTool, self.take("place"))
        tool.take(kind)
        return tool

    # ---- what tools ask

    @property
    def sheet(self) -> Sheet:
        """The sheet as it is, never a preview."""
        return self.document.sheet

    @property
    def catalogue(self) -> Catalogue:
        """All kinds."""
        return self.scene.catalogue

    @property
    def chosen(self) -> frozenset[str]:
        """The selection."""
        return self.document.chosen

    def hit(self, at: Point, ignore: frozenset[str] = frozenset()) -> Hit | None:
        """What lies at a place."""
        return self.view.hit(at, ignore)

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids in a frame."""
        return self.scene.within(a, b, touched)

    def snap(self, at: Point, free: bool = False) -> Point:
        """Onto the 0.05 m snap; the height onto that of a floor or a port close by."""
        if free:
            return round(at[0], 3), round(at[1], 3)
        x = round(at[0] / SNAP_M) * SNAP_M
        z = round(at[1] / SNAP_M) * SNAP_M
        heights = [level.height_m for level in self.sheet.levels]
        for part in self.sheet.parts.values():
            if abs(part.x_m - at[0]) < 3.0 and part.id not in self.chosen:
                heights += [p.at[1] for p in ports_of(part, self.catalogue).values()]
        best = min(heights, key=lambda h: abs(h - at[1]), default=None)
        if best is not None and abs(best - at[1]) < min(NEAR_M, 6 * self.view.metres_a_px):
            z = best
        return round(x, 3), round(z, 3)

    def snap_on(self, hit: Hit) -> Point:
        """Onto the snap along a pipe's run."""
        line = self.scene.lines.get(hit.id)
        if line is None or not 0 <= hit.run < len(line) - 1:
            return hit.at
        a, b = line[hit.run], line[hit.run + 1]
        if same(a[1], b[1]):
            low, high = sorted((a[0], b[0]))
            return round(min(max(round(hit.at[0] / SNAP_M) * SNAP_M, low), high), 3), a[1]
        if same(a[0], b[0]):
            low, high = sorted((a[1], b[1]))
            return a[0], round(min(max(round(hit.at[1] / SNAP_M) * SNAP_M, low), high), 3)
        return hit.at

    def route(
        self, start: Point, start_dir: str | None, end: Point, end_dir: str | None, quick: bool = True
    ) -> tuple[Point, ...]:
        """Corners between two places round the parts; `quick` looks only near the two ends."""
        lines = self.scene.lines.values()
        runs = [(a, b) for line in lines for a, b in pairwise(line)]
        found = routing.route(
            start,
            cast("Dir | None", start_dir),
            end,
            cast("Dir | None", end_dir),
            boxes_of(self.sheet, self.catalogue),
            runs,
            45 if quick else 60,
            windows=(1.0,) if quick else routing.WINDOWS_M,
        )
        return found.corners

    def show(self, overlay: Overlay, sheet: Sheet | None = None) -> None:
        """A preview over, or in place of, the sheet."""
        if sheet is not None:
            self.scene.show(sheet, settled=False)
            self.previewing = True
        elif self.previewing:
            self.previewing = False
            self.scene.show(self.document.sheet)
        self.scene.show_overlay(overlay)

    def commit(self, label: str, edit: Edit, choose: Iterable[str] | None = None) -> bool:
        """Make an edit. A refused one is told and changes nothing."""
        self.previewing = False
        try:
            done = self.document.apply(label, edit, choose)
        except LoopwrightError as bad:
            self.scene.show(self.document.sheet)
            self.said.emit(bad.sentence)
            self.refused.emit(bad.sentence)
            return False
        self.scene.show(self.document.sheet)
        return done

    def choose(self, ids: Iterable[str]) -> None:
        """Make these the selection."""
        self.document.choose(ids)
        self.scene.choose(self.document.chosen)

    def hover(self, hit: Hit | None) -> None:
        """Mark what the pointer is on."""
        self.scene.hover(hit)

    def say(self, words: str) -> None:
        """A sentence in the status line."""
        self.said.emit(words)

    def opened(self, ident: str) -> None:
        """Open a thing."""
        self.open_wanted.emit(ident)

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Scroll the view."""
        self.view.pan(dx_px, dy_px)

    def finished(self) -> None:
        """Back to the select tool."""
        self.take("select")
