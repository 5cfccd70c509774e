"""Every command of the window: its id, words, key and menu, in one table.

Owns the table and the actions made from it. Refuses to know what a command does: the window gives a function an id.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar, QWidget

from loopwright.window.icons import icon
from loopwright.window.theme import Theme


@dataclass(frozen=True)
class Command:
    """A command. The first of `keys` is shown; `sheet` keys work only while the sheet has the focus."""

    id: str
    label: str
    keys: tuple[str, ...] = ()
    menu: str = ""
    icon: str = ""
    group: str = ""
    """Commands of one group are choices: one of them is on."""
    checkable: bool = False
    sheet: bool = False
    help: str = ""
    gap: bool = False
    """A line stands before it in the menu."""


COMMANDS: tuple[Command, ...] = (
    Command("new", "New sheet", ("Ctrl+N",), "File"),
    Command("open", "Open…", ("Ctrl+O",), "File", "open"),
    Command("save", "Save", ("Ctrl+S",), "File", gap=True),
    Command("save_as", "Save as…", ("Ctrl+Shift+S",), "File"),
    Command("export_pdf", "Save the drawing as PDF…", (), "File", gap=True),
    Command("export_png", "Save the drawing as a picture…", (), "File"),
    Command("export_svg", "Save the drawing as SVG…", (), "File"),
    Command("export_chosen", "Save what is chosen…", (), "File", help="As SVG, or as the name ends: .png, .pdf"),
    Command("page_setup", "Title block and paper", (), "File", gap=True),
    Command("print", "Print…", ("Ctrl+P",), "File"),
    Command("report", "Report…", ("Ctrl+Shift+R",), "File", help="The report as it will be printed"),
    Command("compare", "Compare with an older sheet…", (), "File", help="What differs, and which findings are new"),
    Command("close", "Close sheet", ("Ctrl+W",), "File", gap=True),
    Command("quit", "Quit", ("Ctrl+Q",), "File"),
    Command("undo", "Undo", ("Ctrl+Z",), "Edit", "undo"),
    Command("redo", "Redo", ("Ctrl+Shift+Z", "Ctrl+Y"), "Edit", "redo"),
    Command(
        "delete",
        "Delete",
        ("Delete",),
        "Edit",
        gap=True,
        sheet=True,
        help="Take what is chosen off the sheet; a pipe heals across a fitting that goes",
    ),
    Command("cut", "Cut", ("Ctrl+X",), "Edit", sheet=True, gap=True),
    Command("copy", "Copy", ("Ctrl+C",), "Edit", sheet=True),
    Command(
        "paste",
        "Paste",
        ("Ctrl+V",),
        "Edit",
        sheet=True,
        help="Put what was copied at the pointer; pipework of another sheet keeps its heights",
    ),
    Command("duplicate", "Duplicate", ("Ctrl+D",), "Edit"),
    Command(
        "same_again",
        "Same again, piped alike",
        ("Ctrl+Shift+D",),
        "Edit",
        sheet=True,
        help="A copy of what is chosen, teed into the same pipes",
    ),
    Command("copy_picture", "Copy as a picture", ("Ctrl+Shift+C",), "Edit", sheet=True),
    Command("turn", "Turn", ("Ctrl+R",), "Edit", help="Turn what is chosen clockwise by a quarter"),
    Command("mirror", "Mirror", ("Ctrl+M",), "Edit", help="Mirror what is chosen left to right"),
    Command("choose_all", "Choose all", ("Ctrl+A",), "Edit", gap=True, sheet=True),
    Command("choose_none", "Choose nothing", (), "Edit"),
    Command("choose_circuit", "Choose the whole circuit", ("Ctrl+Shift+A",), "Edit", sheet=True),
    Command("rename", "Rename", ("F2",), "Edit", help="Name what is chosen"),
    Command("zoom_in", "Zoom in", ("Ctrl++", "Ctrl+="), "View", "plus"),
    Command("zoom_out", "Zoom out", ("Ctrl+-",), "View", "minus"),
    Command("zoom_fit", "Fit the sheet", ("Ctrl+0",), "View"),
    Command("zoom_full", "100 %", ("Ctrl+1",), "View"),
    Command("zoom_chosen", "Zoom to what is chosen", ("Ctrl+2",), "View"),
    Command("light", "Light", (), "View", group="mode", checkable=True, gap=True),
    Command("dark", "Dark", (), "View", group="mode", checkable=True),
    Command("as_desktop", "As the desktop", (), "View", group="mode", checkable=True),
    Command("metric", "Metric units", (), "View", group="units", checkable=True, gap=True),
    Command("imperial", "Imperial units", (), "View", group="units", checkable=True),
    Command("legend", "Key of lines", (), "View", checkable=True, gap=True),
    Command("overview", "Map of the sheet", (), "View", checkable=True),
    Command("page_frame", "Page frame", (), "View", checkable=True, help="The page as it will be printed"),
    Command("sides", "Side panels", ("F11",), "View", checkable=True, gap=True),
    Command("select", "Select", ("V",), "Sheet", "select", "tool", True, True, "Choose and move"),
    Command("pipe", "Pipe", ("P",), "Sheet", "pipe", "tool", True, True, "Click a port to start a pipe"),
    Command("place", "Place", ("A",), "Sheet", "place", "tool", True, True, "Put a part on the sheet"),
    Command("pan", "Pan", ("H",), "Sheet", "pan", "tool", True, True, "Move the sheet under the window"),
    Command("note", "Note", ("N",), "Sheet", "note", "tool", True, True, "Write on the sheet"),
    Command("dimension", "Dimension", ("D",), "Sheet", "dimension", "tool", True, True, "Measure a height or width"),
    Command("link", "Control link", ("L",), "Sheet", "", "tool", True, True, "Let a sensor drive a pump or valve"),
    Command("find_on_sheet", "Find on the sheet", ("Ctrl+F",), "Edit"),
    Command("find_part", "Find a part", ("/",), "Sheet", gap=True, sheet=True),
    Command("properties", "Properties", (), "Sheet"),
    Command("align_left", "Left edges in line", ("Ctrl+Shift+Left",), "Sheet/Line up", sheet=True, gap=True),
    Command("align_centre", "Centres above each other", (), "Sheet/Line up"),
    Command("align_right", "Right edges in line", ("Ctrl+Shift+Right",), "Sheet/Line up", sheet=True),
    Command("align_top", "Tops at one height", ("Ctrl+Shift+Up",), "Sheet/Line up", sheet=True, gap=True),
    Command("align_middle", "Middles at one height", (), "Sheet/Line up"),
    Command("align_bottom", "Bases at one height", ("Ctrl+Shift+Down",), "Sheet/Line up", sheet=True),
    Command("level_ports", "Ports at one height", ("Ctrl+L",), "Sheet/Line up", sheet=True, help="Pipes run level"),
    Command("spread_across", "Equal gaps across", (), "Sheet/Line up", gap=True),
    Command("spread_up", "Equal gaps upwards", (), "Sheet/Line up"),
    Command("stack", "One upon another", (), "Sheet/Line up", help="Each stands on the one below; the lowest stays"),
    Command("measure_vent", "Vent's rise", (), "Sheet/Measure", help="From the cistern's water to the top of the vent"),
    Command("measure_circulating", "Circulating height", (), "Sheet/Measure", help="From the fire to what it heats"),
    Command(
        "pipe_up",
        "Pipe to the store",
        ("J",),
        "Sheet/Pipes",
        sheet=True,
        help="Free flows and returns of what is chosen, to the stubs that serve them",
    ),
    Command(
        "lead_anew",
        "Route again",
        ("Ctrl+Shift+P",),
        "Sheet/Pipes",
        sheet=True,
        help="Find its way again",
    ),
    Command("lead_all_anew", "Route all pipes again", (), "Sheet/Pipes"),
    Command("without_corner", "Take out a corner", (), "Sheet/Pipes", gap=True),
    Command("space_risers", "Set risers apart", (), "Sheet/Pipes", help="Heights stay as they are"),
    Command("check", "Check again", ("F5",), "Check"),
    Command("next_finding", "Next finding", ("F7",), "Check", gap=True),
    Command("last_finding", "Previous finding", ("Shift+F7",), "Check"),
    Command("why", "Why this finding", ("F8",), "Check"),
    Command(
        "figures", "Figures", ("F9",), "Check", help="Every number that can be worked out, with what stands behind it"
    ),
    Command("limits", "Limits of this sheet…", (), "Check", help="Figures of a local code in place of the published"),
    Command("conditions", "Conditions", ("F6",), "Check", gap=True),
    Command("review", "Review…", ("Ctrl+F7",), "Check", help="Walk through every rule's answer, decide and sign"),
    Command("what_if", "What if…", ("Ctrl+F6",), "Check", help="Try a power cut, each pump stopped, each valve shut"),
    Command("power_cut", "Power cut", ("Shift+F6",), "Check", "bolt", checkable=True),
    Command("normal", "Back to normal running", (), "Check"),
    Command("run", "Runs", ("F4",), "Run", help="Power cuts and days, played in time"),
    Command("run_cut", "Power cut during a fire", ("Ctrl+F4",), "Run", gap=True, help="Let the power fail, and see"),
    Command("run_full", "Power cut with the store full", (), "Run"),
    Command("run_day", "Day…", ("Ctrl+Shift+F4",), "Run", help="A ready-made day, hour by hour"),
    Command("run_own", "Day of your own…", (), "Run", help="Edit when the fire is lit, the sun, the hot water"),
    Command("run_again", "Run again", ("Ctrl+F5",), "Run", gap=True),
    Command("run_stop", "Stop the run", (), "Run", help="What is done so far is kept"),
    Command("run_play", "Play", (), "Run", gap=True, help="Space does it too, while the run has the focus"),
    Command("courses", "Courses…", ("Ctrl+Shift+L",), "Lessons", help="Lessons, and how far you are"),
    Command("lesson", "The lesson of this sheet", (), "Lessons"),
    Command(
        "mark_fault", "Mark as a fault…", ("M",), "Lessons", sheet=True, help="What is chosen is at fault, and why"
    ),
    Command("order", "Order of work…", ("Ctrl+Shift+O",), "Lessons", gap=True, help="Which job before which, and why"),
    Command("practice", "Practice on this sheet…", (), "Lessons", help="Faults are hidden in it for you to find"),
    Command("make_lesson", "Make a lesson from this sheet…", (), "Lessons", gap=True),
    Command("check_answers", "Check answers…", (), "Lessons", help="A folder of answers to a lesson, a row each"),
    Command("help", "Help on this", ("F1",), "Help", help="The page for what has the focus"),
    Command("tour", "Five-minute tour", (), "Help"),
    Command("rule_pages", "Rules", (), "Help"),
    Command("computation_pages", "Computations", (), "Help"),
    Command("source_pages", "Sources", (), "Help"),
    Command("keys", "Keys", ("Shift+F1",), "Help", gap=True),
    Command("cautions", "Cautions", (), "Help"),
    Command("about", "About loopwright", (), "Help", gap=True),
)
GESTURES: tuple[tuple[str, str], ...] = (
    ("Choose; add to the choice", "click; Shift click"),
    ("Choose the whole circuit", "click a chosen pipe again, or Ctrl click"),
    ("Choose by a frame", "drag rightward: wholly inside; leftward: touched"),
    ("Move; without snap and guides; keep straight", "drag; Ctrl drag; Shift drag"),
    ("Move a copy", "Alt drag a part"),
    ("Move a run of a pipe; pull a piece of it out", "drag it; Alt drag it"),
    ("Move a corner", "choose the pipe, drag the corner"),
    ("Move by 0.05, 0.5 or 0.01 m", "arrows; Shift arrows; Ctrl arrows"),
    ("Walk along the water", "Alt arrows"),
    ("Length or height of a run while a pipe is drawn", "type 1.2 or =2.6, then Enter"),
    ("End a pipe on a vessel's shell with a new tapping", "click the shell"),
    ("Move, add or remove a floor", "drag its mark on the ruler; right click the ruler"),
    ("Pipe a source or a radiator to the store", "choose it, J"),
    ("Lay the level runs of a pipe to rise", "G while pipes are drawn; G again draws them level"),
    ("Put a part on a port or a vessel's shell; beside it", "click there with the part; Ctrl click"),
    ("Second sensor of a control link; a pocket for it", "Shift click it; click the vessel where it sits"),
    ("Add a part with its figure, several in a row, a coil", "A, then radiator 2 kW; stop, check; solar coil"),
    ("Move an end of a control link", "choose it, drag the end"),
    ("Say when a control link runs", "double click it and write, such as runs below 60 until 65"),
    ("Move a stub, pocket or coil end; to the other side", "choose the vessel, drag it; across"),
    ("Title block, paper and scale", "double click the title block"),
    ("Measure a width", "with the dimension tool, end above or below"),
)
"""What the pointer and plain keys do on the sheet, for the page of keys."""
MENUS = ("File", "Edit", "View", "Sheet", "Check", "Run", "Lessons", "Help")


class Actions(QObject):
    """The actions of a window, by command id."""

    def __init__(self, window: QWidget, handlers: Mapping[str, Callable[[], object]]) -> None:
        super().__init__(window)
        self._actions: dict[str, QAction] = {}
        self._groups: dict[str, QActionGroup] = {}
        self._handlers = handlers
        for command in COMMANDS:
            if command.id not in handlers:
                continue
            action = QAction(command.label, self)
            action.setShortcuts([QKeySequence(key) for key in command.keys])
            action.setCheckable(command.checkable)
            action.setStatusTip(command.help)
            keys = f"  {key_words(command.keys[0])}" if command.keys else ""
            action.setToolTip(f"{command.label}{keys}\n{command.help}".strip())
            if command.group:
                group = self._groups.setdefault(command.group, QActionGroup(self))
                group.addAction(action)
            action.setProperty("command", command.id)
            action.triggered.connect(self._triggered)
            self._actions[command.id] = action
            if not command.sheet:
                window.addAction(action)

    def _triggered(self, _checked: bool = False) -> None:
        # one bound method for all: a closure for each would keep the window alive for good
        self._handlers[str(self.sender().property("command"))]()

    def __getitem__(self, command: str) -> QAction:
        return self._actions[command]

    def __contains__(self, command: object) -> bool:
        return command in self._actions

    def bind_to_sheet(self, view: QWidget) -> None:
        """Make the keys that belong to the sheet work only while it has the focus."""
        for command in COMMANDS:
            if command.sheet and command.id in self._actions:
                action = self._actions[command.id]
                action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
                view.addAction(action)

    def fill(self, bar: QMenuBar) -> dict[str, QMenu]:
        """Put the menus into a bar. Gives them by name."""
        menus: dict[str, QMenu] = {}
        for name in MENUS:
            menu = bar.addMenu(f"&{name}")
            menu.setToolTipsVisible(True)
            for command in COMMANDS:
                place, _, group = command.menu.partition("/")
                if place != name or command.id not in self._actions:
                    continue
                if group and command.menu not in menus:
                    menus[command.menu] = menu.addMenu(group)
                into = menus[command.menu] if group else menu
                if command.gap and into.actions():
                    into.addSeparator()
                into.addAction(self._actions[command.id])
            menus[name] = menu
        return menus

    def set_look(self, look: Theme) -> None:
        """Colour the icons for a theme."""
        for command in COMMANDS:
            if command.icon and command.id in self._actions:
                self._actions[command.id].setIcon(
                    icon(command.icon, look["ink"], faint=look["ink3"], bright=look["on_accent"])
                )


def key_words(key: str) -> str:
    """A key as people read it: "Ctrl Shift S", "Ctrl +"."""
    return re.sub(r"\+(?=.)", " ", key)


def keys_html() -> str:
    """All commands that have a key, by menu, as a small table."""
    rows = []
    for menu in MENUS:
        rows.append(f"<tr><td colspan=2><br><b>{menu}</b></td></tr>")
        for command in COMMANDS:
            if command.menu.partition("/")[0] == menu and command.keys:
                keys = " or ".join(map(key_words, command.keys))
                rows.append(f"<tr><td>{command.label}&nbsp;&nbsp;&nbsp;&nbsp;</td><td>{keys}</td></tr>")
    rows.append("<tr><td colspan=2><br><b>On the sheet</b></td></tr>")
    rows += [f"<tr><td>{does}&nbsp;&nbsp;&nbsp;&nbsp;</td><td>{how}</td></tr>" for does, how in GESTURES]
    return f"<table cellspacing=2>{''.join(rows)}</table>"
