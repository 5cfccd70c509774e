"""What a view or panel may know of the window and ask of it, and where each of them stands.

A view is one module: a widget class made with a `Desk`, and one line in `PLACES`. It is made when it is first opened,
so that it costs nothing at the start. Four places are open to it:

- `view`: in place of the sheet and both sides, with a button at the right of the tool row (Run, Report, Compare);
- `right`: in place of the right-hand panels, beside the sheet (a review, the page of a rule);
- `left`: in place of the left-hand panels, beside the sheet (a lesson);
- `lower`: under the properties, beside the findings (figures).

A widget may have `enter()` and `leave()`, called as it comes to the front and goes, and `set_look(look)`. One with
`stays` set is not put away by Esc. What it wants to hear it connects from the desk's signals; what it wants done it
asks the desk.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QSplitter, QWidget

from loopwright.errors import LoopwrightError
from loopwright.window.jobs import Jobs, Task
from loopwright.window.kept_runs import KeptRuns

if TYPE_CHECKING:
    from loopwright.catalogue import Catalogue
    from loopwright.drawing.plans import Flag
    from loopwright.rules.findings import Finding
    from loopwright.sheet.values import Point, Sheet
    from loopwright.survey import Survey
    from loopwright.waterways import Waterways
    from loopwright.waterways.views import Condition
    from loopwright.window.document import Document, Edit
    from loopwright.window.lesson.commands import LessonCommands
    from loopwright.window.main import MainWindow
    from loopwright.window.quantities import Units
    from loopwright.window.recent import Memory
    from loopwright.window.theme import Theme
    from loopwright.window.worker import Surveyor

Where = Literal["view", "right", "left", "lower"]
Sieve = Callable[["Survey"], "tuple[Sequence[Finding], str]"]
"""From a survey to the findings to show, and the sentence under them."""


@dataclass(frozen=True)
class Place:
    """A view or panel: its name (also the id of the command that opens it), its label, where it stands, its class."""

    name: str
    label: str
    where: Where
    made_by: str
    """`module:Class`; the class takes the desk and a parent widget."""
    button: bool = True
    """Whether a view of the document has a button in the tool row."""


PLACES: tuple[Place, ...] = (
    Place("run", "Run", "view", "loopwright.window.run.view:RunView"),
    Place("report", "Report", "view", "loopwright.window.report_view:ReportView"),
    Place("compare", "Compare", "view", "loopwright.window.compare_view:CompareView"),
    Place("figures", "Figures", "lower", "loopwright.window.figures:FiguresPanel"),
    Place("review", "Review", "right", "loopwright.window.review:Review"),
    Place("what_if", "What if", "right", "loopwright.window.whatif:WhatIf"),
    Place("figure", "Figure", "right", "loopwright.window.figure_page:FigurePage"),
    Place("courses", "Courses", "view", "loopwright.window.lesson.courses:CoursesView", button=False),
    Place("lesson", "Lesson", "left", "loopwright.window.lesson.panel:LessonPanel"),
    Place("exercise", "Exercise", "left", "loopwright.window.lesson.exercise:ExercisePanel"),
    Place("order", "Order of work", "right", "loopwright.window.lesson.order:OrderPanel"),
)
"""In the order they are offered. A place with a command in `actions.COMMANDS` of the same id is opened by it."""


class Desk(QObject):
    """The window, as its views and panels see it."""

    sheet_changed = Signal(object)
    """The sheet as it is now."""
    surveyed = Signal(object)
    """The survey of the sheet as it is now."""
    selection_changed = Signal(object)
    condition_changed = Signal(object)
    looked = Signal(object)
    """Another theme."""
    units_changed = Signal(object)
    """Other units."""
    closing = Signal()

    def __init__(self, window: MainWindow, *, inline: bool = False) -> None:
        super().__init__(window)
        self._window = window
        self.sieve: Sieve | None = None
        """What a lesson leaves of the findings in their list and on the sheet; None: all. `sift` changes it."""
        self.jobs = Jobs(inline=inline, parent=self)
        self.runs = KeptRuns(self)
        """The runs that the report prints."""

    # ---- what there is

    @property
    def document(self) -> Document:
        """The open drawing; edits go through `apply`."""
        return self._window.document

    @property
    def sheet(self) -> Sheet:
        """The sheet as it is now."""
        return self._window.document.sheet

    @property
    def catalogue(self) -> Catalogue:
        """The kinds of part."""
        return self._window.catalogue

    @property
    def memory(self) -> Memory:
        """What is kept between two runs of the program."""
        return self._window.memory

    @property
    def look(self) -> Theme:
        """Colours and mode."""
        return self._window.look

    @property
    def units(self) -> Units:
        """The units in which numbers are shown."""
        return self._window.preferred.now

    @property
    def survey(self) -> Survey | None:
        """The last survey; of the sheet as it is now unless a check is under way."""
        return self._window.survey

    @property
    def pending(self) -> int:
        """How many rules have still to answer in the last survey."""
        return self._window.answers.pending

    @property
    def checking(self) -> bool:
        """Whether the survey of the sheet as it is now is still to come; `surveyed` tells."""
        return self._window.surveyor.busy

    @property
    def condition(self) -> Condition:
        """The condition the sheet is shown in."""
        return self._window.conditions.condition

    @property
    def window(self) -> QWidget:
        """The parent for dialogs."""
        return self._window

    # ---- what can be asked

    def take_focus(self) -> None:
        """Give the keys to the sheet."""
        self._window.stage.take_focus()

    def say(self, words: str) -> None:
        """A sentence in the status line."""
        self._window.status.say(words)

    def apply(self, label: str, edit: Edit, choose: Iterable[str] | None = None) -> bool:
        """One undo step; a refusal is said in the status line."""
        return self._window.commands.apply(label, edit, choose)

    def choose(self, ids: Iterable[str]) -> None:
        """Make these the selection."""
        self._window.document.choose(ids)

    def light(self, ids: Iterable[str], token: str = "accent") -> None:
        """A halo round parts and pipes of the sheet; none for no ids."""
        self._window.stage.light([i.partition("/")[0] for i in ids], token)

    def show_spot(self, spot: Point | None) -> None:
        """Scroll the sheet by the least that shows a place."""
        self._window.stage.show_spot(spot)

    def fit(self) -> None:
        """Show the whole sheet, once the sides have their widths."""
        QTimer.singleShot(0, self._window.stage, self._window.stage.fit)

    def show_condition(self, condition: Condition) -> None:
        """Show the sheet in a condition, as if it had been chosen in the Conditions panel."""
        self._window.conditions.set_condition(condition)

    def show_finding(self, number: int) -> None:
        """Choose a finding by its number."""
        self._window.answers.choose_finding(number)

    def sift(self, sieve: Sieve | None) -> None:
        """Show only what a sieve leaves of the findings, from now on."""
        self.sieve = sieve
        self._window.answers.show_survey()

    def show_marks(self, marks: Iterable[Flag]) -> None:
        """A learner's own flags on the sheet."""
        self._window.stage.show_marks(marks)

    def show_layers(self, layers_c: Mapping[str, Sequence[float]]) -> None:
        """Temperatures of the layers of stores on the sheet, lowest first; none for plain tints."""
        self._window.stage.scene.show_layers(layers_c)

    @property
    def lessons(self) -> LessonCommands:
        """What the Lessons menu does."""
        return self._window.commands.lessons

    def refresh(self) -> None:
        """Bring the commands up to date."""
        self._window.commands.refresh()

    def open_sheet(self, sheet: Sheet, *, here: bool = False) -> Desk | None:
        """Put a sheet without a file in a tab of its own: that tab's desk. None when there is no place for it.

        `here`: in place of this sheet if nothing of it would be lost.
        """
        place = self._window.filing.begin_with(sheet, here=here)
        window = place.parent() if place is not None else None
        return window.desk if window is not None else None  # type: ignore[attr-defined]

    def open_file(self, path: Path) -> bool:
        """Open a sheet's file in a tab of its own."""
        return self._window.filing.open(path)

    def hold(self, held: bool) -> None:
        """Keep this tab for what it holds, though its sheet may be empty."""
        self._window.filing.held = held

    def lend_parts(self, splitter: QSplitter, kinds: frozenset[str] | None) -> None:
        """Put the tree of parts into a splitter, with some kinds alone or all."""
        self._window.parts.allow(kinds)
        splitter.addWidget(self._window.parts)
        self._window.parts.show()

    def take_parts_back(self) -> None:
        """Put the tree of parts where it usually stands, with every kind."""
        self._window.parts.allow(None)
        self._window.left.insertWidget(0, self._window.parts)
        self._window.parts.show()

    def left_width(self, width: int) -> int:
        """Give the left side a width, taken from the sheet; the width it had."""
        sizes = self._window.split.sizes()
        self._window.split.setSizes([width, max(200, sizes[1] + sizes[0] - width), sizes[2]])
        return sizes[0]

    def jump(self, part: str, prop: str = "") -> None:
        """Choose a part and put the cursor in the field of one of its properties."""
        self.open("draw")
        self._window.document.choose([part])
        self._window.properties.focus_field(prop)

    def open(self, name: str) -> QWidget | None:
        """Bring a place to the front; `draw` is the sheet."""
        return self._window.places.open(name)

    def front(self, where: Where) -> QWidget | None:
        """The place in front on one side, or None while the usual panels or the sheet are."""
        return self._window.places.widget(self._window.places.front(where))

    def help(self, page: str) -> None:
        """Show a page of the Help."""
        self._window.commands.show_help(page)

    def report(self, bad: Exception) -> None:
        """A defect of the program came to light beside the window."""
        if not self._window.failed.report(bad):
            raise bad

    def lend_row(self, view: str, row: QWidget) -> None:
        """Show a view's own choices in the tool row while it is in front."""
        self._window.tool_row.lend(view, row)

    def close(self, name: str) -> None:
        """Put a place away and bring back what stood there."""
        self._window.places.close(name)

    def waterways(self, sheet: Sheet) -> Waterways:
        """The waterways of a sheet, shared by all that solves its flow; to be asked for by a `flow_worker` alone."""
        return self._window.checks.kept.of(sheet)

    def flow_worker(self, work: Callable[[Any], object], parent: QObject) -> Surveyor:
        """A worker beside the window for what solves the flow of the open sheet.

        `ask` it whenever something has changed: it answers the last thing asked, and `overtaken` tells the work when to
        give up. Close it on `closing`.
        """
        return self._window.checks.worker(work, parent)

    def work(
        self,
        work: Callable[[Task], Any],
        done: Callable[[Any], object],
        failed: Callable[[LoopwrightError], object] | None = None,
    ) -> Task:
        """Do long work beside the window.

        `work` is given a task to report progress to. `done` gets its answer and `failed` an error that the person can
        mend; without `failed` that is said in the status line. Any other error is a defect and is reported as one.
        """

        def bad(error: Exception) -> None:
            if isinstance(error, LoopwrightError):
                (failed or (lambda e: self.say(e.sentence)))(error)
            else:
                self.report(error)

        return self.jobs.start(work, done, bad)


class Places:
    """Makes views and panels when they are first wanted and swaps them in and out."""

    def __init__(self, desk: Desk, window: MainWindow, places: tuple[Place, ...] | None = None) -> None:
        self._desk, self._window = desk, window
        self._places = {p.name: p for p in (PLACES if places is None else places)}
        self._made: dict[str, QWidget] = {}
        self._front: dict[Where, str] = {}
        window.tool_row.add_view("draw", "Draw")
        for place in self._places.values():
            if place.where == "view" and place.button:
                window.tool_row.add_view(place.name, place.label)
        window.tool_row.view_chosen.connect(self.open)

    def __iter__(self) -> Iterator[str]:
        return iter(self._places)

    def __contains__(self, name: object) -> bool:
        return name in self._places

    @property
    def view(self) -> str:
        """The view in front: `draw`, or the name of a place."""
        return self._front.get("view", "draw")

    def front(self, where: Where) -> str:
        """The place in front on one side, or an empty string."""
        return self._front.get(where, "")

    def widget(self, name: str) -> QWidget | None:
        """A place, if it has been made."""
        return self._made.get(name)

    def made(self) -> list[QWidget]:
        """The places made so far."""
        return list(self._made.values())

    def open(self, name: str) -> QWidget | None:
        """Bring a place to the front, making it first where need be."""
        if name == "draw":
            self._put_view("draw")
            return None
        place = self._places[name]
        widget = self._make(place)
        if place.where == "view":
            self._put_view(name)
        elif place.where == "lower":
            self._put_view("draw")
            self.close(self._front.get("right", name))
            self._window.answers.close_why()
            if self._window.right.isHidden():
                self._window.set_sides(True)
            self._window.beneath.reveal(widget)
            _call(widget, "enter")
        else:
            self._put_view("draw")
            if self._front.get(place.where, "") != name:
                self._leave(place.where)
                self._front[place.where] = name
                self._window.put_side(place.where, widget)
                _call(widget, "enter")
        return widget

    def prepare(self, name: str) -> None:
        """Make a place without bringing it to the front: a panel among others stands there from then on."""
        if name in self._places:
            self._make(self._places[name])

    def close(self, name: str) -> None:
        """Put a place away."""
        where = self._places[name].where
        if self._front.get(where, "") != name:
            return
        if where == "view":
            self._put_view("draw")
        elif where in ("left", "right"):
            self._leave(where)
            self._window.put_side(where, None)

    def escape(self) -> bool:
        """Put away the place in front that Esc would close. False when there is none."""
        for where in ("view", "right", "left"):
            name = self._front.get(where, "")
            if name and not getattr(self._made[name], "stays", False):
                self.close(name)
                return True
        return False

    def put_away(self) -> None:
        """Put away whatever stands in place of a side."""
        for name in [self._front[where] for where in ("right", "left") if where in self._front]:
            self.close(name)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        for widget in self._made.values():
            _call(widget, "set_look", look)

    def _put_view(self, name: str) -> None:
        if self.view != name:
            self._leave("view")
            if name != "draw":
                self._front["view"] = name
            self._window.put_view(self._made.get(name))
            self._window.tool_row.show_view(name)
            if name != "draw":
                _call(self._made[name], "enter")
        else:
            self._window.put_view(self._made.get(name))
            self._window.tool_row.show_view(name)

    def _leave(self, where: Where) -> None:
        name = self._front.pop(where, "")
        if name:
            _call(self._made[name], "leave")

    def _make(self, place: Place) -> QWidget:
        if place.name not in self._made:
            module, _, attribute = place.made_by.partition(":")
            made = getattr(importlib.import_module(module), attribute)(self._desk, self._window)
            assert isinstance(made, QWidget)
            self._made[place.name] = made
            if place.where == "lower":
                self._window.beneath.add(place.label, made)
        return self._made[place.name]


def _call(widget: QWidget, name: str, *arguments: object) -> None:
    method = getattr(widget, name, None)
    if method is not None:
        method(*arguments)
