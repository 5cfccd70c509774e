"""The middle of the Run view: nothing yet, charts of one run or of two side by side, the sheet, or a day being edited.

Owns which of them is in front. The charts and the sheet are made when they are first wanted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from loopwright.catalogue import Catalogue
from loopwright.window.run.reading import Reading
from loopwright.window.theme import Theme

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loopwright.window.run.charts import Charts
    from loopwright.window.run.on_sheet import SheetPlay

EMPTY = (
    "Let the power fail while the fire burns well, or play a whole day: where the heat goes, how hot it gets, "
    "and what an open valve or a shut one costs."
)

WORDS_PX = 440


class Centre(QStackedWidget):
    """The middle."""

    wanted = Signal(float)
    said = Signal(str)
    run_wanted = Signal()

    def __init__(self, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._catalogue, self._look = catalogue, look
        self._readings: list[tuple[str, Reading]] = []
        self._services: Mapping[str, str] | None = None
        self._shown = "charts"
        self._time_s = 0.0
        self._stores: list[str] = []
        self.charts: list[Charts] = []
        self.sheet: SheetPlay | None = None
        self._empty = QWidget(self)
        self._empty.setObjectName("run-empty")
        self._empty.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        middle = QVBoxLayout(self._empty)
        middle.setContentsMargins(40, 0, 40, 0)
        middle.setSpacing(12)
        middle.addStretch(2)
        self.title = QLabel("Nothing has run yet", self._empty)
        self.title.setObjectName("page-heading")
        self.words = QLabel(EMPTY, self._empty)
        self.words.setWordWrap(True)
        self.words.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.words.setFixedWidth(WORDS_PX)
        self.begin = QPushButton("Run", self._empty)
        self.begin.setProperty("primary", True)
        self.begin.clicked.connect(self.run_wanted)
        for widget in (self.title, self.words, self.begin):
            middle.addWidget(widget, 0, Qt.AlignmentFlag.AlignHCenter)
        middle.addStretch(3)
        self._set_words(EMPTY)
        self.addWidget(self._empty)
        self._host = QWidget(self)
        self._row = QHBoxLayout(self._host)
        self._row.setContentsMargins(0, 0, 0, 0)
        self._row.setSpacing(0)
        self.addWidget(self._host)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        for chart in self.charts:
            chart.set_look(look)
        if self.sheet is not None:
            self.sheet.set_look(look)

    def _set_words(self, words: str) -> None:
        self.words.setText(words)
        self.words.setMinimumHeight(self.words.heightForWidth(WORDS_PX))

    # ---- what is in front

    def say(self, title: str, words: str = EMPTY, button: str = "Run") -> None:
        """Words in the middle in place of a run."""
        self._readings = []
        self.title.setText(title)
        self._set_words(words)
        self.begin.setText(button)
        self.begin.setVisible(bool(button))
        self.setCurrentWidget(self._empty)

    def show_readings(
        self, readings: list[tuple[str, Reading]], store: str, services: Mapping[str, str] | None
    ) -> None:
        """One run or two; `services` of the sheet of the last."""
        self._readings, self._services = readings, services
        self._stores = [store if store in r.stores else next(iter(r.stores), "") for _, r in readings]
        self._fill()

    def grow(self, reading: Reading, store: str, end_s: float, services: Mapping[str, str] | None) -> None:
        """What there is so far of a run that goes to about `end_s`."""
        first = not (self._readings and self._readings[-1][1].under_way)
        self._readings, self._services, self._stores = [("", reading)], services, [store]
        if first or self._shown == "sheet":
            if self.currentWidget() in (self._empty, self._host, self.sheet):
                self._fill(end_s)
        elif self.currentWidget() is self._host:
            self.charts[0].grow(reading, store, end_s)

    def show_store(self, store: str) -> None:
        """Another store in the charts."""
        self._stores = [store if store in r.stores else s for s, (_, r) in zip(self._stores, self._readings)]
        self._fill()

    def show_what(self, shown: str) -> None:
        """`charts` or `sheet`."""
        self._shown = shown
        if self._readings:
            self._fill()

    def bring(self, widget: QWidget) -> None:
        """Another page in front, such as the editor of a day."""
        if self.indexOf(widget) < 0:
            self.addWidget(widget)
        self.setCurrentWidget(widget)

    def back(self) -> None:
        """What was there before such a page."""
        if self._readings:
            self._fill()
        else:
            self.setCurrentWidget(self._empty)

    def _fill(self, end_s: float = 0.0) -> None:
        if not self._readings:
            return
        if self._shown == "sheet":
            self._fill_sheet()
        else:
            self._fill_charts(end_s)
        self.show_time(self._time_s)

    def _fill_charts(self, end_s: float = 0.0) -> None:
        from loopwright.window.run.charts import Charts

        self.setCurrentWidget(self._host)
        while len(self.charts) < len(self._readings):
            chart = Charts(self._look, self._host)
            chart.wanted.connect(self.wanted)
            chart.said.connect(self.said)
            self.charts.append(chart)
            self._row.addWidget(chart, 1)
        for k, chart in enumerate(self.charts):
            chart.setVisible(k < len(self._readings))
        self._row.activate()
        ends = max(r.end_s for _, r in self._readings)
        if self._readings[-1][1].under_way:
            self.charts[0].grow(self._readings[-1][1], self._stores[-1], max(ends, end_s, self.charts[0].end_s))
            return
        for chart, (words, reading), store in zip(self.charts, self._readings, self._stores):
            chart.show_reading(reading, store, words, ends)
        if len(self._readings) > 1:
            both = [chart.spans() for chart, _ in zip(self.charts, self._readings)]
            shared = [(min(lows), max(highs)) for lows, highs in (zip(*pair) for pair in zip(*both))]
            for chart, _ in zip(self.charts, self._readings):
                chart.set_spans(shared)

    def _fill_sheet(self) -> None:
        from loopwright.window.run.on_sheet import SheetPlay

        if self.sheet is None:
            self.sheet = SheetPlay(self._catalogue, self._look, self)
            self.addWidget(self.sheet)
        self.sheet.show_reading(self._readings[-1][1], self._services)
        self.setCurrentWidget(self.sheet)

    @property
    def shows_sheet(self) -> bool:
        """Whether the sheet is in front."""
        return self.sheet is not None and self.currentWidget() is self.sheet

    # ---- time

    def show_time(self, time_s: float) -> None:
        """Show a time in what is in front."""
        self._time_s = time_s
        if self.currentWidget() is self._host:
            for chart, _ in zip(self.charts, self._readings):
                chart.show_time(time_s)
        elif self.sheet is not None and self.shows_sheet:
            self.sheet.show_time(time_s)

    def creep(self) -> None:
        """One frame on while it plays."""
        if self.sheet is not None and self.shows_sheet:
            self.sheet.creep()

    def close_down(self) -> None:
        """Let scenes go."""
        if self.sheet is not None:
            self.sheet.close_down()
