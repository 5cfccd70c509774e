"""What each command of the window does, by its id.

Owns the small functions behind menus and keys. Refuses to know how they are called.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QPointF
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QMenu, QTextBrowser, QVBoxLayout

from loopwright import __version__
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use
from loopwright.sheet.removal import remove
from loopwright.window.actions import keys_html
from loopwright.window.cautions import CautionDialog
from loopwright.window.desk import PLACES
from loopwright.window.document import Edit
from loopwright.window.drawing import DrawingCommands
from loopwright.window.lesson.commands import LessonCommands
from loopwright.window.measuring import MeasuringCommands
from loopwright.window.paper import PaperCommands
from loopwright.window.run.commands import RunCommands
from loopwright.window.viewing import ViewCommands

if TYPE_CHECKING:
    from loopwright.window.help import HelpWindow
    from loopwright.window.main import MainWindow

APART_M = 0.3
ON_SHEET = ("delete", "duplicate", "turn", "mirror")


class Commands:
    """The commands of a window."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self._help: HelpWindow | None = None
        self.drawing = DrawingCommands(window)
        self.paper = PaperCommands(window)
        self.viewing = ViewCommands(window)
        self.measuring = MeasuringCommands(window)
        self.runs = RunCommands(window)
        self.lessons = LessonCommands(window)

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        own = {
            name: getattr(self, name)
            for name in (
                "new",
                "open",
                "save",
                "save_as",
                "close",
                "quit",
                "undo",
                "redo",
                "delete",
                "duplicate",
                "turn",
                "mirror",
                "choose_all",
                "choose_none",
                "rename",
                "zoom_in",
                "zoom_out",
                "zoom_fit",
                "zoom_full",
                "light",
                "dark",
                "as_desktop",
                "metric",
                "imperial",
                "sides",
                "find_part",
                "properties",
                "check",
                "next_finding",
                "last_finding",
                "why",
                "limits",
                "conditions",
                "power_cut",
                "normal",
                "help",
                "tour",
                "rule_pages",
                "computation_pages",
                "source_pages",
                "keys",
                "cautions",
                "about",
            )
        }
        from loopwright.window.tools import TOOLS

        places: dict[str, Callable[[], object]] = {p.name: _Open(self._window, p.name) for p in PLACES}
        own.update(self.drawing.handlers())
        own.update(self.paper.handlers())
        own.update(self.viewing.handlers())
        own.update(self.measuring.handlers())
        places.update(self.lessons.handlers())
        own.update(self.runs.handlers())
        return {**own, **places, **{tool: _Use(self, tool) for tool in TOOLS}}

    def apply(self, label: str, edit: Edit, choose: object = None) -> bool:
        """One undo step; a refusal is said in the status line."""
        try:
            return self._window.document.apply(label, edit, choose)  # type: ignore[arg-type]
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)
            return False

    def refresh(self) -> None:
        """Bring words and states of the commands up to date."""
        window = self._window
        doc, actions = window.document, window.actions_
        for name, label in (("undo", doc.undo_label), ("redo", doc.redo_label)):
            word = name.capitalize()
            actions[name].setText(f"{word} {label[:1].lower()}{label[1:]}" if label else word)
            actions[name].setEnabled(bool(label))
        for name in ON_SHEET:
            placing = name in ("turn", "mirror") and window.stage.tool == "place"
            actions[name].setEnabled(bool(doc.chosen) or placing)
        self.drawing.refresh()
        self.paper.refresh()
        self.lessons.refresh()
        actions["sides"].setChecked(not window.left_stack.isHidden())

    # ---- files

    def new(self) -> None:
        self._window.filing.new()

    def open(self) -> None:
        self._window.filing.ask_open()

    def save(self) -> None:
        self._window.filing.save()

    def save_as(self) -> None:
        self._window.filing.save_as()

    def close(self) -> None:
        self._window.close()

    def quit(self) -> None:
        self._window.window().close()

    # ---- editing

    def undo(self) -> None:
        label = self._window.document.undo()
        self._window.status.say(f"Taken back: {label}." if label else "Nothing to take back.")

    def redo(self) -> None:
        label = self._window.document.redo()
        self._window.status.say(f"Done again: {label}." if label else "Nothing to do again.")

    def delete(self) -> None:
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        if ids:
            self.apply(self._named("Delete"), lambda s: remove(s, ids, catalogue), ())

    def duplicate(self) -> None:
        doc = self._window.document
        before, ids = doc.sheet, doc.chosen
        if self.apply(self._named("Duplicate"), lambda s: edits.duplicate(s, ids, APART_M, -APART_M)):
            after = doc.sheet
            doc.choose(ids_in_use(after) - ids_in_use(before))

    def turn(self) -> None:
        if self._window.stage.feed_key("turn"):
            return
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self.apply(self._named("Turn"), lambda s: edits.turn(s, ids, catalogue))

    def mirror(self) -> None:
        if self._window.stage.feed_key("mirror"):
            return
        ids, catalogue = self._window.document.chosen, self._window.catalogue
        self.apply(self._named("Mirror"), lambda s: edits.mirror(s, ids, catalogue))

    def _named(self, verb: str) -> str:
        """The verb with what it bears on: a part's name, or how many things."""
        doc, catalogue = self._window.document, self._window.catalogue
        if len(doc.chosen) == 1:
            one = next(iter(doc.chosen))
            part = doc.sheet.parts.get(one)
            if part is not None:
                return f"{verb} {part.name or catalogue[part.kind].name.lower()}"
            dimension = any(d.id == one for d in doc.sheet.dimensions)
            what = "a pipe" if one in doc.sheet.pipes else "a control link" if one in doc.sheet.links else "a note"
            return f"{verb} a dimension" if dimension else f"{verb} {what}"
        return f"{verb} {len(doc.chosen)} things"

    def choose_all(self) -> None:
        sheet = self._window.document.sheet
        words = [*(n.id for n in sheet.notes), *(d.id for d in sheet.dimensions)]
        self._window.document.choose([*sheet.parts, *sheet.pipes, *sheet.links, *words])

    def choose_none(self) -> None:
        self._window.document.choose(())

    def rename(self) -> None:
        self._window.answers.close_why()
        if not self._window.properties.focus_name():
            self._window.status.say("What is chosen has no name of its own.")

    def properties(self) -> None:
        self._window.answers.close_why()
        self._window.properties.focus_first()

    # ---- view

    def zoom_in(self) -> None:
        self._window.stage.zoom_by(1)

    def zoom_out(self) -> None:
        self._window.stage.zoom_by(-1)

    def zoom_fit(self) -> None:
        self._window.stage.fit()

    def zoom_full(self) -> None:
        self._window.stage.zoom_full()

    def light(self) -> None:
        self._window.use_mode("light")

    def dark(self) -> None:
        self._window.use_mode("dark")

    def as_desktop(self) -> None:
        self._window.use_mode("")

    def metric(self) -> None:
        self._window.preferred.use("metric")

    def imperial(self) -> None:
        self._window.preferred.use("imperial")

    def sides(self) -> None:
        self._window.set_sides(self._window.left_stack.isHidden())
        self.refresh()

    # ---- sheet

    def use(self, tool: str) -> None:
        """Take a tool in hand; the place tool needs a kind first."""
        if tool == "place":
            self._window.actions_[self._window.stage.tool].setChecked(True)
            if self._window.stage.view.pointer is not None or self.drawing.spot is not None:
                self.drawing.quick_add()
                return
            self.find_part()
            self._window.status.say("Choose a part in the tree, then click where it goes.")
        else:
            self._window.stage.use(tool)
            self._window.stage.take_focus()

    def find_part(self) -> None:
        window = self._window
        if window.left_stack.isHidden():
            self.sides()
        window.parts.search.setFocus()
        window.parts.search.selectAll()

    # ---- check

    def check(self) -> None:
        self._window.checks.ask(self._window.document.sheet)

    def next_finding(self) -> None:
        self._window.findings.step(1)

    def last_finding(self) -> None:
        self._window.findings.step(-1)

    def why(self) -> None:
        if self._window.findings.current is None:
            self._window.findings.step(1)
        self._window.findings.ask_why()

    def limits(self) -> None:
        from loopwright.window.limits import LimitsDialog

        LimitsDialog(self._window.desk).open()

    def conditions(self) -> None:
        window = self._window
        if window.left_stack.isHidden():
            self.sides()
        window.conditions.segments.button(window.conditions.segments.checkedId()).setFocus()

    def power_cut(self) -> None:
        self._window.conditions.toggle_power_cut()

    def normal(self) -> None:
        self._window.conditions.normal()

    # ---- help

    def show_help(self, page: str) -> None:
        """Bring the Help to the front, at a page."""
        from loopwright.window.help import HelpWindow

        if self._help is None:
            self._help = HelpWindow(self._window.desk)
        self._help.show_page(page)
        self._help.show()
        self._help.raise_()
        self._help.activateWindow()

    def help(self) -> None:
        from loopwright.window.help_here import page_here

        self.show_help(page_here(self._window))

    def tour(self) -> None:
        self.show_help("tour")

    def rule_pages(self) -> None:
        self.show_help("rules")

    def computation_pages(self) -> None:
        self.show_help("computations")

    def source_pages(self) -> None:
        self.show_help("sources")

    def keys(self) -> None:
        page = Page(self._window, "Keys", keys_html())
        page.open()

    def cautions(self) -> None:
        CautionDialog(self._window).open()

    def about(self) -> None:
        Page(
            self._window,
            "About loopwright",
            (
                f"<p><b>loopwright {__version__}</b></p><p>Draws heat-store pipework as a section through the house "
                "and shows what is unsafe or will not work.</p><p>The symbols follow ISO 14617 and BS 1553. The "
                "typeface is under the SIL Open Font License 1.1.</p>"
            ),
        ).open()

    def sheet_menu(self, _hit: object, at: QPoint) -> None:
        """The menu of the sheet, at a place on the screen."""
        window = self._window
        hit_id = getattr(_hit, "id", "")
        doc = window.document
        if hit_id and hit_id not in doc.chosen and getattr(_hit, "kind", "") != "flag":
            doc.choose([hit_id])
        view = window.stage.view
        self.drawing.spot = view.metres(QPointF(view.viewport().mapFromGlobal(at)))
        menu = QMenu(window)
        here: tuple[str, ...] = () if hit_id else ("place", "")
        if hit_id in doc.sheet.pipes:
            here = ("choose_circuit", "lead_anew", "without_corner", "")
        elif hit_id in doc.sheet.parts:
            here = ("pipe_up", "lead_anew", "choose_circuit", "same_again", "")
        for name in (
            *(("mark_fault", "") if self.lessons.marking is not None else ()),
            *here,
            "properties",
            "rename",
            "",
            "turn",
            "mirror",
            "",
            "cut",
            "copy",
            "paste",
            "duplicate",
            "delete",
            "",
            "undo",
            "redo",
            "",
            "zoom_fit",
        ):
            if name:
                menu.addAction(window.actions_[name])
            else:
                menu.addSeparator()
        menu.aboutToHide.connect(menu.deleteLater)
        menu.aboutToHide.connect(self.drawing.menu_hides)
        menu.popup(at)


class _Use:
    """The function of a tool's command."""

    def __init__(self, commands: Commands, tool: str) -> None:
        self._commands, self._tool = commands, tool

    def __call__(self) -> None:
        self._commands.use(self._tool)


class _Open:
    """The function of the command that opens a place."""

    def __init__(self, window: MainWindow, name: str) -> None:
        self._window, self._name = window, name

    def __call__(self) -> None:
        self._window.places.open(self._name)


class Page(QDialog):
    """A page of text in a box that does not hold up the window."""

    def __init__(self, parent: MainWindow, title: str, html: str) -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(460, 520 if len(html) > 600 else 240)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 14, 14, 14)
        text = QTextBrowser(self)
        text.setAccessibleName(title)
        text.setHtml(html)
        column.addWidget(text, 1)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close, self)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        self.setModal(False)
