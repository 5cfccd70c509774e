"""Commands of drawing by id: copy and paste, align and distribute, pipes, views of the sheet.

Owns the small functions behind these menus and keys. Refuses to know how they are called, and what an edit does.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, ClassVar
from weakref import ref

from PySide6.QtCore import QMimeData, QTimer

from loopwright.errors import LoopwrightError
from loopwright.sheet import bends
from loopwright.sheet.aligning import Edge, align, distribute, level_ports, stack
from loopwright.sheet.circuit import circuit_of
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.pieces import cut_out, middle_of, put_in
from loopwright.sheet.piping_up import piped_up
from loopwright.sheet.removal import remove
from loopwright.sheet.repeating import again
from loopwright.sheet.values import Point, Sheet
from loopwright.window import clipboard
from loopwright.window.host import SNAP_M

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow

ON_CHOSEN = ("cut", "copy", "zoom_chosen")
"""Commands that need something chosen."""
ON_PARTS = {
    "align_left": 2,
    "align_centre": 2,
    "align_right": 2,
    "align_top": 2,
    "align_middle": 2,
    "align_bottom": 2,
    "level_ports": 2,
    "spread_across": 3,
    "spread_up": 3,
    "stack": 2,
    "same_again": 1,
    "pipe_up": 1,
}
"""Commands that need so many parts chosen."""
ON_PIPES = ("without_corner",)
"""Commands that need a pipe chosen."""
ON_PIPES_AT = ("lead_anew", "choose_circuit")
"""For the chosen pipes, or those at the chosen parts."""


class DrawingCommands:
    """Commands of one window that bear on what is drawn."""

    copied_from: ClassVar[Callable[[], DrawingCommands | None]] = staticmethod(lambda: None)
    """Whose sheet the piece on the clipboard was last copied from, in any window of this program."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self.spot: Point | None = None
        """Where the menu of the sheet was opened: what its commands take for the pointer."""

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        names = (
            "paste",
            "copy_picture",
            "find_on_sheet",
            "lead_all_anew",
            "space_risers",
            *ON_CHOSEN,
            *ON_PARTS,
            *ON_PIPES,
            *ON_PIPES_AT,
        )
        return {name: getattr(self, name) for name in names}

    def at(self) -> Point:
        """The place a command bears on: where the menu was opened, else under the pointer."""
        spot, self.spot = self.spot, None
        return spot or self._window.stage.pointer()

    def menu_hides(self) -> None:
        """The menu goes: once what was chosen in it is done, the pointer counts again."""
        QTimer.singleShot(0, self._forget_spot)

    def _forget_spot(self) -> None:
        self.spot = None

    def refresh(self) -> None:
        """Which commands can be used now."""
        doc, actions = self._window.document, self._window.actions_
        parts = sum(i in doc.sheet.parts for i in doc.chosen)
        pipes = sum(i in doc.sheet.pipes for i in doc.chosen)
        for name in ON_CHOSEN:
            actions[name].setEnabled(bool(doc.chosen))
        for name, least in ON_PARTS.items():
            actions[name].setEnabled(parts >= least)
        for name in ON_PIPES:
            actions[name].setEnabled(pipes > 0)
        for name in ON_PIPES_AT:
            actions[name].setEnabled(bool(self._pipes()))

    # ---- the clipboard

    def copy(self) -> None:
        """Put what is chosen on the clipboard."""
        piece = self._piece()
        if piece is not None and self._put(piece):
            self._window.status.say(f"{_count(piece)} copied.")

    def _put(self, piece: Sheet) -> bool:
        """Put a piece on the clipboard. False, once it was said, when the clipboard did not take it."""
        try:
            clipboard.copy(piece, self._picture_of(piece))
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)
            return False
        DrawingCommands.copied_from = ref(self)
        return True

    def cut(self) -> None:
        """Copy what is chosen and take it off the sheet, one undo step."""
        piece = self._piece()
        if piece is None or not self._put(piece):  # what was not copied is not taken away
            return
        window = self._window
        ids, catalogue = window.document.chosen, window.catalogue
        if window.commands.apply(f"Cut {_count(piece)}", lambda s: remove(s, ids, catalogue), ()):
            window.status.say(f"{_count(piece)} cut. Paste puts it at the pointer.")

    def paste(self) -> None:
        """Put the clipboard's piece on the sheet with its middle at the pointer, and choose it.

        What is piped and comes from another sheet keeps its heights: a stove stays on its floor.
        """
        window = self._window
        try:
            piece = clipboard.piece(window.catalogue)
            dx, dz = self._shift(piece)
            kept = bool(piece.pipes) and DrawingCommands.copied_from() is not self
            dz = 0.0 if kept else dz
            new = put_in(window.document.sheet, piece, dx, dz)[1]
        except LoopwrightError as bad:
            window.status.say(bad.sentence)
            return
        if window.commands.apply(f"Paste {_count(piece)}", lambda s: put_in(s, piece, dx, dz)[0], new):
            where = " at their heights" if kept else ""
            window.status.say(f"{_count(piece)} pasted{where}. Drag or use the arrow keys to move it.")
            window.stage.take_focus()

    def same_again(self) -> None:
        """The chosen parts once more, piped alike: each pipe of the copy ends in a tee of its twin."""
        window, catalogue = self._window, self._window.catalogue
        ids = frozenset(i for i in window.document.chosen if i in window.document.sheet.parts)
        try:
            new = again(window.document.sheet, ids, catalogue)[1]
        except LoopwrightError as bad:
            window.status.say(bad.sentence)
            return
        if window.commands.apply("Same again", lambda s: again(s, ids, catalogue)[0], new):
            window.status.say(
                "Piped alike. Drag it where it belongs; its pipes follow. Ctrl Shift P routes them again."
            )

    def copy_picture(self) -> None:
        """Put a picture of what is chosen, else of the whole sheet, on the clipboard, for a letter or a report."""
        doc = self._window.document
        piece = self._piece() if doc.chosen else doc.sheet
        if piece is not None:
            window = self._window
            try:
                clipboard.copy_picture(self._picture_of(piece))
            except LoopwrightError as bad:
                window.status.say(bad.sentence)
            else:
                window.status.say(f"Picture of {_count(piece)} copied.")

    def _picture_of(self, piece: Sheet) -> QMimeData:
        window, scene = self._window, self._window.stage.scene
        system = window.preferred.now.system
        return clipboard.picture_of(piece, window.catalogue, scene.services, system, scene.against)

    def _piece(self) -> Sheet | None:
        doc = self._window.document
        try:
            return cut_out(doc.sheet, doc.chosen)
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)
            return None

    def _shift(self, piece: Sheet) -> Point:
        """From the piece's middle to the pointer, in steps of the snap, so that what stood on it stays on it."""
        at, middle = self.at(), middle_of(piece, self._window.catalogue)
        return tuple(round(round((a - m) / SNAP_M) * SNAP_M, 4) for a, m in zip(at, middle))  # type: ignore[return-value]

    # ---- in line

    def align_left(self) -> None:
        """Left edges in line."""
        self._align("left", "Align left edges")

    def align_centre(self) -> None:
        """Middles above each other."""
        self._align("centre", "Align centres")

    def align_right(self) -> None:
        """Right edges in line."""
        self._align("right", "Align right edges")

    def align_top(self) -> None:
        """Tops at one height."""
        self._align("top", "Align tops")

    def align_middle(self) -> None:
        """Middles at one height."""
        self._align("middle", "Align middles")

    def align_bottom(self) -> None:
        """Bases at one height."""
        self._align("bottom", "Align bases")

    def _align(self, edge: Edge, label: str) -> None:
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self._window.commands.apply(label, lambda s: align(s, ids, edge, catalogue))

    def level_ports(self) -> None:
        """Ports at one height, so that the pipes between them run level."""
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self._window.commands.apply("Level the ports", lambda s: level_ports(s, ids, catalogue))

    def spread_across(self) -> None:
        """Equal gaps from left to right."""
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self._window.commands.apply("Space evenly across", lambda s: distribute(s, ids, True, catalogue))

    def spread_up(self) -> None:
        """Equal gaps from bottom to top."""
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self._window.commands.apply("Space evenly upwards", lambda s: distribute(s, ids, False, catalogue))

    def stack(self) -> None:
        """One upon another, on the lowest."""
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self._window.commands.apply("Stack", lambda s: stack(s, ids, catalogue))

    # ---- pipes

    def lead_anew(self) -> None:
        """Find a way anew for the chosen pipes; where only parts are chosen, for theirs."""
        self._lead(self._pipes())

    def lead_all_anew(self) -> None:
        """Find a way anew for every pipe."""
        self._lead(list(self._window.document.sheet.pipes))

    def _lead(self, ids: list[str]) -> None:
        window, before = self._window, self._window.document.sheet
        label = "Route a pipe again" if len(ids) == 1 else f"Route {len(ids)} pipes again"
        if window.commands.apply(label, lambda s: bends.lead_anew(s, ids, window.catalogue)):
            now = window.document.sheet.pipes
            changed = sum(now[i].points != before.pipes[i].points for i in ids)
            runs = "run" if changed > 1 else "runs"
            window.status.say(f"{changed} of {len(ids)} pipes {runs} another way. Heights may differ: look them over.")
        else:
            window.status.say("Every pipe already runs as it would be routed.")

    def pipe_up(self) -> None:
        """Pipe the free flows and returns of what is chosen to the vessel beside it."""
        window, catalogue = self._window, self._window.catalogue
        ids, before = window.document.chosen, len(window.document.sheet.pipes)
        if window.commands.apply("Pipe to the store", lambda s: piped_up(s, ids, catalogue)):
            new = len(window.document.sheet.pipes) - before
            window.status.say(f"{new} pipes drawn. Drag a run or a stub to where it belongs.")

    def space_risers(self) -> None:
        """Set free risers that run close together apart; heights stay."""
        window = self._window
        ids = frozenset(i for i in window.document.chosen if i in window.document.sheet.pipes) or None
        if not window.commands.apply("Set risers apart", lambda s: bends.space_risers(s, ids, window.catalogue)):
            window.status.say("No risers run so close together that they could be set apart.")

    def without_corner(self) -> None:
        """Take the jog nearest to the pointer out of the chosen pipe."""
        window, at = self._window, self.at()
        sheet = window.document.sheet
        pipe = min(
            (i for i in window.document.chosen if i in sheet.pipes),
            key=lambda i: nearest_on(polyline(sheet, sheet.pipes[i], window.catalogue), at)[2],
        )
        window.commands.apply("Take out a corner", lambda s: bends.without_corner(s, pipe, at, window.catalogue))

    def choose_circuit(self) -> None:
        """Choose everything the water of the chosen pipes runs through, up to the vessels."""
        window = self._window
        sheet = window.document.sheet
        window.document.choose(set[str]().union(*(circuit_of(sheet, i, window.catalogue) for i in self._pipes())))

    def _pipes(self) -> list[str]:
        """The chosen pipes; where only parts are chosen, the pipes at them."""
        sheet, chosen = self._window.document.sheet, self._window.document.chosen
        own = [i for i in chosen if i in sheet.pipes]
        return own or sorted({p.id for i in chosen if i in sheet.parts for p in sheet.pipes_of(i)})

    # ---- view

    def find_on_sheet(self) -> None:
        """Search the parts of the sheet by name."""
        self._window.stage.over.find()

    def quick_add(self) -> None:
        """Search the kinds at the pointer."""
        self._window.stage.over.quick_add(self.at(), self._window.parts.lets)

    def zoom_chosen(self) -> None:
        """Bring what is chosen as near as it goes."""
        self._window.stage.zoom_to(self._window.document.chosen)


def _count(piece: Sheet) -> str:
    number = len(piece.parts) or len(piece.notes)
    noun = "part" if piece.parts else "note"
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
