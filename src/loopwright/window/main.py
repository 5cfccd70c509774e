"""The main window: one document with its sheet, panels and commands joined together.

Owns who hears whom. Refuses to hold a truth of its own: the document, the catalogue and the survey have them.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QCloseEvent, QKeyEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QApplication, QMainWindow, QSplitter, QStackedWidget, QVBoxLayout, QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey
from loopwright.waterways.views import NORMAL
from loopwright.window import questions
from loopwright.window.actions import Actions
from loopwright.window.answers import Answers
from loopwright.window.bars import ConditionBar, RefusedPage, ToolRow
from loopwright.window.checks import Checks
from loopwright.window.commands import Commands
from loopwright.window.conditions import ConditionsPanel
from loopwright.window.crash import Failures, Recovery
from loopwright.window.desk import Desk, Places, Where
from loopwright.window.document import Document
from loopwright.window.dragging import WhileDragging
from loopwright.window.filing import Filing
from loopwright.window.findings import FindingsPanel
from loopwright.window.frame import LOW, ROOMY, LowerRight, MenuRow, Side, StatusLine, Zones, order_tab
from loopwright.window.mender import Mender
from loopwright.window.parts import PartsPanel
from loopwright.window.preferred import PreferredUnits
from loopwright.window.properties import PropertiesPanel
from loopwright.window.recent import Memory, RecentMenu
from loopwright.window.stage import Stage
from loopwright.window.start import StartCard
from loopwright.window.theme import Mode, Theme, dress, theme, wanted_mode
from loopwright.window.tools import TOOLS
from loopwright.window.why import WhyPage
from loopwright.window.worker import REST_MS


class MainWindow(QMainWindow):
    """The window round one document."""

    closed = Signal(object)
    """This window, once its drawing may go."""

    def __init__(
        self,
        catalogue: Catalogue,
        memory: Memory,
        *,
        rest_ms: int = REST_MS,
        inline: bool = False,
        staged: bool | None = None,
        recovery_folder: Path | None = None,
    ) -> None:
        """`inline` and `staged` as in `Checks`."""
        super().__init__()
        self.catalogue, self.memory = catalogue, memory
        self.survey: Survey | None = None
        self.preferred = PreferredUnits(self)
        self._down = False
        self._low: bool | None = None
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.look = dress(app, self._mode(app))
        self.document = Document(parent=self)
        self.filing = Filing(self.document, catalogue, memory, self)
        self.checks = Checks(catalogue, rest_ms=rest_ms, inline=inline, staged=staged, parent=self)
        self.surveyor = self.checks.graph
        self.mender = Mender(self.document, catalogue, inline=inline, parent=self)
        self.recovery = Recovery(self.document, catalogue, recovery_folder, parent=self)
        self.failed = Failures(self, self.recovery)
        self.answers = Answers(self)
        self.commands = Commands(self)
        self.desk = Desk(self, inline=inline)
        self.actions_ = Actions(self, self.commands.handlers())
        self._build()
        self._join()
        self.dragging = WhileDragging(self, inline=inline)
        self._set_mode(self.look.mode)
        self.preferred.follow()
        self._tool_changed(self.stage.tool)
        self.status.say(TOOLS[self.stage.tool])
        self.stage.take_focus()
        self.setMinimumSize(1000, 640)
        self.resize(1440, 900)
        self.zones.restore(self.memory)
        self.commands.viewing.restore()
        self._fold()
        self.start.show_recent(self.memory.recent())
        self._document_changed(self.document.sheet, self.document.sheet)
        self._clock = QTimer(self)
        self._clock.setInterval(20_000)
        self._clock.timeout.connect(self._show_state)
        self._clock.start()

    # ---- building

    def _build(self) -> None:
        self.menu_row = MenuRow(self.look, self)
        self.menus = self.actions_.fill(self.menu_row.bar)
        self._recent_menu = RecentMenu(self.memory, self)
        self._recent_menu.wanted.connect(self.filing.open)
        self.menus["File"].insertMenu(self.actions_["save"], self._recent_menu)
        self.setMenuWidget(self.menu_row)
        centre = QWidget(self)
        centre.setObjectName("centre")
        column = QVBoxLayout(centre)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.tool_row = ToolRow(self.actions_, centre)
        column.addWidget(self.tool_row)
        # every piece is made inside the one that holds it: to move a widget is to dress all that is in it anew
        self.whole = QStackedWidget(centre)  # the sheet with its sides, or a view that takes their place
        self.split = QSplitter(Qt.Orientation.Horizontal, self.whole)
        self.split.setHandleWidth(1)
        self.split.setChildrenCollapsible(False)
        self.whole.addWidget(self.split)
        column.addWidget(self.whole, 1)
        self._build_left()
        self._build_middle()
        self._build_right()
        self.split.setStretchFactor(1, 1)
        self.zones = Zones(self, self.split, self.left, self._panels)
        self.places = Places(self.desk, self)
        self.setCentralWidget(centre)
        self.status = StatusLine(self)
        self.setStatusBar(self.status)
        self.actions_.bind_to_sheet(self.stage)

    def _build_left(self) -> None:
        self.left_stack = QStackedWidget(self.split)
        self.left_stack.setObjectName("left-stack")
        self.left = Side("left-side", self.left_stack)
        self.left_stack.addWidget(self.left)
        self.parts = PartsPanel(self.catalogue, self.look, self.left)
        self.conditions = ConditionsPanel(self.catalogue, self.left)
        self.left.setStretchFactor(0, 1)

    def _build_middle(self) -> None:
        self.views = QStackedWidget(self.split)
        draw = QWidget(self.views)
        self.views.addWidget(draw)
        middle = QVBoxLayout(draw)
        middle.setContentsMargins(0, 0, 0, 0)
        middle.setSpacing(0)
        self.condition_bar = ConditionBar(self.look, draw)
        self.stage = Stage(self.document, self.catalogue, self.look, draw)
        middle.addWidget(self.condition_bar)
        middle.addWidget(self.stage, 1)
        self.start = StartCard(self.look, self.stage)
        self.refused = RefusedPage(self.views)
        self.views.addWidget(self.refused)

    def _build_right(self) -> None:
        self.right = QStackedWidget(self.split)
        self.right.setObjectName("right-side")
        self._panels = Side("right-panels", self.right)
        self.right.addWidget(self._panels)
        self.properties = PropertiesPanel(self.document, self.catalogue, self.look, self._panels)
        self.beneath = LowerRight(self._panels)
        self.findings = FindingsPanel(self.look, self.beneath)
        self.beneath.add("Findings", self.findings)
        self.why = WhyPage(self.catalogue, self.look, self.right)
        self.right.addWidget(self.why)

    def put_view(self, view: QWidget | None) -> None:
        """Bring a view in place of the sheet and its sides, or them again."""
        if view is not None and self.whole.indexOf(view) < 0:
            self.whole.addWidget(view)
        self.whole.setCurrentWidget(view or self.split)
        self.status.say("" if view is not None else TOOLS.get(self.stage.tool, ""))

    def put_side(self, side: Where, widget: QWidget | None) -> None:
        """Bring a panel in place of those of one side, or them again."""
        stack, usual = (self.right, self._panels) if side == "right" else (self.left_stack, self.left)
        if widget is not None and stack.indexOf(widget) < 0:
            stack.addWidget(widget)
        stack.setCurrentWidget(widget or usual)
        if side == "left":
            self.show_start()

    def _join(self) -> None:
        self.document.changed.connect(self._document_changed)
        self.document.opened.connect(self._opened)
        self.document.selection_changed.connect(self._selection_changed)
        self.document.history_changed.connect(self._show_state)
        self.checks.started.connect(self.findings.checking)
        self.checks.answered.connect(self.answers.answered)
        self.checks.refused.connect(self.findings.say)
        self.checks.broke.connect(self.answers.broke)
        self.parts.picked.connect(self._place)
        self.parts.left.connect(self.stage.take_focus)
        self.conditions.changed.connect(self.answers.condition_changed)
        self.conditions.changed.connect(self.desk.condition_changed)
        self.conditions.folded.connect(self.zones.fold)
        self.condition_bar.toggled.connect(self.answers.toggle_condition)
        self.findings.chosen.connect(self.answers.finding_chosen)
        self.findings.why.connect(self.answers.show_why)
        self.findings.repair.connect(self._repair)
        self.mender.offered.connect(self.findings.offer)
        self.why.closed.connect(self.answers.close_why)
        self.why.show_wanted.connect(self.answers.show_condition_of)
        self.why.help_wanted.connect(self.desk.help)
        self.properties.said.connect(self.status.say)
        self.properties.built.connect(self._order_tab)
        self.conditions.built.connect(self._order_tab)
        self.stage.said.connect(self.status.say)
        self.stage.pointed.connect(self.status.point)
        self.stage.left.connect(self.status.leave)
        self.stage.zoomed.connect(self._zoomed)
        self.stage.tool_changed.connect(self._tool_changed)
        self.stage.open_wanted.connect(self._open_thing)
        self.stage.page_wanted.connect(self.commands.paper.page_setup)
        self.stage.flag_wanted.connect(self.answers.choose_finding)
        self.stage.escaped.connect(self.escape)
        self.stage.menu_wanted.connect(self.commands.sheet_menu)
        self.filing.refused.connect(self._file_refused)
        self.filing.failed.connect(self._save_failed)
        self.filing.filed.connect(self._filed)
        self.recovery.failed.connect(self.status.say)
        self.refused.closed.connect(self.show_sheet)
        self.refused.another.connect(self.filing.ask_open)
        self.start.store.connect(self._place_store)
        self.start.open.connect(self.filing.ask_open)
        self.start.recent.connect(self.filing.open)
        self.start.system.connect(self.filing.start_from)

    # ---- the look

    def _mode(self, app: QApplication) -> Mode:
        return "dark" if self.memory.mode == "dark" else "light" if self.memory.mode else wanted_mode(app)

    def use_mode(self, mode: str) -> None:
        """Light, dark, or as the desktop (an empty string), from now on."""
        self.memory.mode = mode
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        self.look = dress(app, self._mode(app))
        self._set_mode(self.look.mode)

    def adopt(self, look: Theme) -> None:
        """Follow a theme that was chosen in another window."""
        if look.mode != self.look.mode:
            self._set_mode(look.mode)

    def showEvent(self, event: QShowEvent) -> None:
        self.preferred.follow(always=False)
        super().showEvent(event)
        if self.checks.staged and not self.places.widget("figures"):
            QTimer.singleShot(150, self, self._prepare)

    def _prepare(self) -> None:
        """Once the window shows: the panels that always stand there."""
        if not self._down:
            self.places.prepare("figures")

    def _set_mode(self, mode: Mode) -> None:
        self.look = theme(mode)
        for piece in (
            self.actions_,
            self.menu_row,
            self.parts,
            self.properties,
            self.findings,
            self.why,
            self.stage,
            self.condition_bar,
            self.start,
            self.places,
        ):
            piece.set_look(self.look)
        self.desk.looked.emit(self.look)
        kept = self.memory.mode
        self.actions_[kept if kept else "as_desktop"].setChecked(True)

    # ---- the document

    def _document_changed(self, _before: Sheet, sheet: Sheet) -> None:
        self.status.say(TOOLS.get(self.stage.tool, "") if self.places.view == "draw" else "")  # what was said is past
        self.stage.show_sheet(sheet)
        self.conditions.show_sheet(sheet)
        self.show_start()
        if self.conditions.condition != NORMAL:
            self.answers.condition_changed(self.conditions.condition)
        self.checks.ask(sheet)
        self.desk.sheet_changed.emit(sheet)
        self._show_state()

    def _opened(self) -> None:
        self.conditions.normal()
        self.findings.let_go()
        self.answers.close_why()
        self.show_sheet()
        self.stage.fit()
        self.answers.opened()
        self.start.show_recent(self.memory.recent())

    def _selection_changed(self, chosen: frozenset[str]) -> None:
        self.stage.choose(chosen)
        self.desk.selection_changed.emit(chosen)
        self.commands.refresh()

    def _show_state(self) -> None:
        doc = self.document
        self.menu_row.name.setText(doc.name)
        self.menu_row.state.setText(self.filing.state_words())
        self.setWindowTitle(f"{doc.name}[*] - loopwright")
        self.setWindowModified(not doc.clean)
        self.commands.refresh()

    # ---- small things

    def show_start(self) -> None:
        """The card of an empty sheet, unless something is being placed or another panel leads."""
        empty = not self.document.sheet.parts and self.stage.tool != "place"
        self.start.setVisible(empty and not self.places.front("left"))

    def show_sheet(self) -> None:
        """Bring the sheet to the front."""
        self.places.open("draw")
        self.views.setCurrentIndex(0)

    def _file_refused(self, name: str, bad: LoopwrightError) -> None:
        self.refused.show_refusal(name, bad)
        self.places.open("draw")
        self.views.setCurrentWidget(self.refused)

    def _filed(self, words: str) -> None:
        self.status.say_for_now(words, TOOLS.get(self.stage.tool, "") if self.places.view == "draw" else "")

    def _save_failed(self, sentence: str) -> None:
        self.status.say(sentence)
        questions.tell(self, "Not saved", "The drawing was not saved.", sentence)

    def _zoomed(self, percent: int) -> None:
        self.tool_row.percent.setText(f"{percent} %")

    def _tool_changed(self, tool: str) -> None:
        if tool in self.actions_:
            self.actions_[tool].setChecked(True)
        if tool != "place":
            self.parts.let_go()
        self.show_start()
        self.commands.refresh()

    def _order_tab(self) -> None:
        order_tab((self.tool_row, self.left_stack, self.whole, self.properties, self.beneath, self.why))

    def _place(self, kind: str) -> None:
        self.stage.place(kind)
        self.stage.take_focus()

    def _place_store(self) -> None:
        self._place("heat_store")

    def _open_thing(self, ident: str) -> None:
        self.document.choose([ident])
        self.answers.close_why()
        self.properties.focus_first()

    # ---- the window itself

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            focus = self.focusWidget()
            if focus is not None and self.properties.isAncestorOf(focus):
                self.stage.take_focus()  # the way out of a field leads to the sheet, with the part still chosen
            else:
                self.escape()
        else:
            super().keyPressEvent(event)

    def _repair(self, one: Any) -> None:
        if self.commands.apply(one.label, one.edit):
            self.status.say(f"Done: {one.label[:1].lower()}{one.label[1:]}. Ctrl Z takes it back.")

    def escape(self) -> None:
        """One step back: the page of a refused file, the condition, the finding, the selection."""
        if self.views.currentWidget() is self.refused:
            self.show_sheet()
        elif self.places.escape():
            self.stage.take_focus()
        elif self.right.currentWidget() is self.why:
            self.answers.close_why()
        elif self.conditions.condition != NORMAL:
            self.answers.toggle_condition()
        elif self.findings.current is not None:
            self.findings.let_go()
        else:
            self.document.choose(())

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.zones.follow(event.size().width())
        self._fold()

    def _fold(self) -> None:
        low = self.height() < LOW
        if self._low is not None and low != self._low:
            self.zones.fold(low)
        self._low = low
        self.conditions.set_compact(low)
        self.beneath.set_tabbed(self.height() < ROOMY)

    def lay_out(self) -> None:
        """Usual sizes of the zones for the window's size."""
        self.zones.lay_out(self.width(), self.height())
        self._fold()

    def set_sides(self, shown: bool) -> None:
        """Show or hide both sides."""
        self.left_stack.setVisible(shown)
        self.right.setVisible(shown)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._down and not self.filing.guard():
            event.ignore()
            return
        self.places.put_away()
        self.zones.keep(self.memory)
        self.shut_down()
        event.accept()
        self.closed.emit(self)

    @property
    def down(self) -> bool:
        """True once the window has stopped what it ran: its drawing may go."""
        return self._down

    def shut_down(self) -> None:
        """Stop what runs; safe to call twice."""
        if self._down:
            return
        self._down = True
        self._clock.stop()
        self.desk.closing.emit()
        self.desk.jobs.close()
        self.recovery.close()
        self.checks.close()
        self.dragging.close()
        self.mender.close()
        self.stage.close_down()
        self.failed.remove()
