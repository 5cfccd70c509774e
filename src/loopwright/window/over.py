"""What opens over the sheet: writing in place, quick search, key of lines, map, and floors on the ruler.

Owns joining these to the document. Refuses to know panels; it is part of the stage.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from math import dist
from typing import TYPE_CHECKING

import msgspec
from PySide6.QtCore import QObject, QPoint, QPointF
from PySide6.QtWidgets import QMenu

from loopwright.canvas.pinned import Legend, Overview
from loopwright.canvas.tools.base import Line, Overlay
from loopwright.canvas.tools.note import NoteTool
from loopwright.canvas.writing_box import WritingBox
from loopwright.catalogue import Kind
from loopwright.drawing.look import to_units
from loopwright.drawing.plan import plan_link
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.link_words import FORMS, condition_of, with_condition
from loopwright.sheet.links import sentence
from loopwright.sheet.values import Level, Point, Sheet
from loopwright.window.document import Edit
from loopwright.window.popup import Found, Popup
from loopwright.window.quick import QuickAdd
from loopwright.window.subjects import renamed_floor, without_floor
from loopwright.window.tools import TOOLS

if TYPE_CHECKING:
    from loopwright.window.stage import Stage

MOST_FOUND = 40
NEAR_ZOOM = 0.6
"""A part found on the sheet is brought at least so near."""


class OverSheet(QObject):
    """The things that open over one stage."""

    def __init__(self, stage: Stage) -> None:
        super().__init__(stage)
        self._stage = stage
        view = stage.view
        self.legend, self.overview = Legend(view), Overview(view)
        self.writing = WritingBox(view.viewport())
        self.popup = Popup(stage)
        self.popup.picked.connect(self._picked)
        self.popup.shut.connect(stage.take_focus)
        self._take: Callable[[str], None] = lambda _ident: None
        view.zoom_changed.connect(self._zoomed)
        view.heights.floor_moved.connect(self._floor_moved)
        view.heights.floor_dropped.connect(self._floor_dropped)
        view.heights.menu_wanted.connect(self._floor_menu)

    def refresh(self) -> None:
        """The sheet or what its pipes carry has changed."""
        if self.legend.wanted:
            self.legend.refresh()
        if self.overview.wanted:
            self.overview.refresh()

    def show_legend(self, shown: bool) -> None:
        """Show or put away the key of lines."""
        self.legend.set_shown(shown)
        self.refresh()

    def show_overview(self, shown: bool) -> None:
        """Show or put away the map."""
        self.overview.set_shown(shown)
        self.refresh()

    # ---- writing in place

    def write_note(self, ident: str) -> bool:
        """Write in a note on the sheet itself. False when there is no such note."""
        note = next((n for n in self._stage.document.sheet.notes if n.id == ident), None)
        if note is None:
            return False

        def done(text: str) -> None:
            def edit(sheet: Sheet) -> Sheet:
                now = next((n for n in sheet.notes if n.id == ident), note)
                return edits.put_note(sheet, msgspec.structs.replace(now, text=text))

            if text:
                self._apply("Write a note", edit)
            else:
                self._apply("Take a note away", lambda s: edits.delete(s, [ident], self._stage.catalogue))

        def left() -> None:
            doc = self._stage.document
            if note.text == NoteTool.words and doc.undo_label == "Write a note":
                doc.undo()  # it was only just put there, and says nothing
            self._stage.said.emit(TOOLS[self._stage.tool])

        self._stage.said.emit("Type the note. Enter keeps it, Shift Enter begins another line, Esc leaves it.")
        spot = self._stage.view.mapFromScene(QPointF(*to_units((note.x_m, note.height_m))))
        self.writing.open("Note", note.text, QPoint(spot.x(), spot.y() - 14), done, left=left)
        return True

    def write_condition(self, ident: str) -> bool:
        """Write the condition of a control link beside its line. False when there is no such link."""
        stage = self._stage
        link = stage.document.sheet.links.get(ident)
        plan = plan_link(stage.document.sheet, link, stage.catalogue) if link is not None else None
        if link is None or plan is None:
            return False
        system = stage.units.system

        def done(text: str) -> None:
            self._apply("Change a condition", lambda s: edits.put_link(s, with_condition(s.links[ident], text, system)))
            now = stage.document.sheet.links.get(ident)
            if now is not None and now != link:
                stage.said.emit(stage.units.restated(sentence(stage.document.sheet, now, stage.catalogue)))

        stage.said.emit(f"Say when it runs, such as {FORMS}. Enter keeps it, Esc leaves it.")
        a, b = max(pairwise(plan.points), key=lambda run: dist(*run))
        spot = stage.view.mapFromScene(QPointF((a[0] + b[0]) / 2, (a[1] + b[1]) / 2))
        self.writing.open(
            "Condition", condition_of(link, system), QPoint(spot.x() + 6, spot.y() - 14), done, lines=False
        )
        return True

    def _apply(self, label: str, edit: Edit) -> None:
        try:
            self._stage.document.apply(label, edit)
        except LoopwrightError as bad:
            self._stage.said.emit(bad.sentence)

    def _zoomed(self, _zoom: float) -> None:
        self.writing.keep()  # it would not grow with the sheet

    # ---- searches

    def quick_add(self, at: Point, lets: Callable[[Kind], bool]) -> None:
        """Search the kinds that may be placed; what is picked stands at that place of the sheet, or lies in the pipe
        there."""
        stage = self._stage
        spot = stage.view.mapFromScene(QPointF(*to_units(at)))
        where = stage.view.viewport().mapTo(stage, spot)
        add = QuickAdd(stage, at, lets)
        self._take = add.take
        self.popup.open("Place a part", "Radiator 2 kW, or a row: stop, check", add.search, where + QPoint(8, 8))
        stage.said.emit(f"Type a name, with figures if you like; several with commas go in a row. Enter {add.where}.")

    def find(self) -> None:
        """Search the parts of the sheet by name; the one picked is chosen and brought into view."""
        stage = self._stage

        from loopwright.waterways.naming import kind_words

        def search(words: str) -> Sequence[Found]:
            wanted = words.lower().split()
            found = []
            for part in stage.document.sheet.parts.values():
                kind = stage.catalogue[part.kind]
                text = f"{part.name} {part.id} {kind.name}".lower()
                if all(word in text for word in wanted):
                    own, sort = part.name or part.id, kind_words(kind.name)
                    said = own if sort.lower() == own.lower() else f"{own}, {sort}"
                    found.append(
                        (
                            not own.lower().startswith(words.lower()),
                            own.lower(),
                            Found(part.id, f"{said}, {stage.units.height(part.height_m)}"),
                        )
                    )
            return [one for _, _, one in sorted(found, key=lambda f: f[:2])[:MOST_FOUND]]

        def take(ident: str) -> None:
            part = stage.document.sheet.parts.get(ident)
            if part is not None:
                stage.document.choose([ident])
                if stage.view.zoom < NEAR_ZOOM:
                    stage.view.set_zoom(1.0)
                stage.view.centre_on((part.x_m, part.height_m + 0.3))
            stage.take_focus()

        self._take = take
        self.popup.open(
            "Find on the sheet", "Name of a part on the sheet", search, QPoint(stage.width() // 2 - 130, 40)
        )

    def _picked(self, ident: str) -> None:
        self._take(ident)

    # ---- floors

    def _floor_moved(self, name: str, height_m: float) -> None:
        """Show a floor where it is being dragged."""
        stage = self._stage
        lines = (Line(((-900.0, height_m), (900.0, height_m)), "accent", False, 0.25),)
        at = stage.view.metres(QPointF(6.0, 0.0))[0]
        overlay = Overlay(lines, words=f"{name} {height_m:.2f} m", words_at=(at, height_m))
        stage.host.show(overlay, moved_floor(stage.document.sheet, name, height_m))

    def _floor_dropped(self, name: str, height_m: float) -> None:
        stage = self._stage
        stage.host.show(Overlay())
        self._apply(f"Move {name.lower()}", lambda s: moved_floor(s, name, height_m))
        stage.scene.show(stage.document.sheet)

    def _floor_menu(self, name: str, height_m: float, at: QPoint) -> None:
        """Add a floor at the pointer; rename or remove the one there."""
        stage = self._stage
        menu = QMenu(stage)
        menu.setObjectName("floor-menu")
        menu.addAction(f"Add a floor at {stage.units.height(height_m)}", lambda: self._add_floor(height_m))
        if name:
            menu.addAction(f"Rename {name.lower()}…", lambda: self._rename_floor(name))
            gone = menu.addAction(f"Remove {name.lower()}", lambda: self._apply(f"Remove {name}", without_floor(name)))
            gone.setEnabled(len(stage.document.sheet.levels) > 1)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(at)

    def _add_floor(self, height_m: float) -> None:
        names = {level.name for level in self._stage.document.sheet.levels}
        wanted = ("First floor", "Second floor", "Loft", *(f"Floor {n}" for n in range(3, 100)))
        name = next(w for w in wanted if w not in names)
        self._apply("Add a floor", lambda s: edits.set_levels(s, [*s.levels, Level(name, height_m)]))
        self._rename_floor(name)

    def _rename_floor(self, name: str) -> None:
        level = next((one for one in self._stage.document.sheet.levels if one.name == name), None)
        if level is not None:
            y = self._stage.view.mapFromScene(QPointF(*to_units((0.0, level.height_m)))).y()

            def done(text: str) -> None:
                self._apply("Rename a floor", renamed_floor(name, text))

            self.writing.open("Name of the floor", name, QPoint(6, y), done, lines=False)


def moved_floor(sheet: Sheet, name: str, height_m: float) -> Sheet:
    """The sheet with one floor at another height. Raises SheetError for a height that another floor has."""
    return edits.set_levels(sheet, [Level(name, height_m) if one.name == name else one for one in sheet.levels])
