"""The left side of the Run view: which store, its picture, and the figures of this instant.

Owns these widgets. Refuses to know how time moves on.
"""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from loopwright.window.as_typed import as_typed
from loopwright.window.panel import divider
from loopwright.window.run import story
from loopwright.window.run.reading import Reading
from loopwright.window.run.store_now import StorePicture
from loopwright.window.theme import Theme

ROWS = 4
UNITS = {"kg/h": 0, "kWh": 1, "°C": 0}


class StorePanel(QWidget):
    """The left side."""

    store_chosen = Signal(str)

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._readings: list[tuple[str, Reading]] = []
        self._at: list[tuple[Reading, str]] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 12, 14, 12)
        column.setSpacing(6)
        row = QHBoxLayout()
        self.heading = QLabel("Store", self)
        self.heading.setObjectName("panel-heading")
        as_typed(self.heading)
        self.aside = QLabel("", self)
        self.aside.setObjectName("hint")
        row.addWidget(self.heading)
        row.addStretch(1)
        row.addWidget(self.aside)
        column.addLayout(row)
        self.which = QComboBox(self)
        self.which.setAccessibleName("Which store")
        self.which.currentIndexChanged.connect(self._chosen)
        column.addWidget(self.which)
        self.picture = StorePicture(look, self)
        column.addWidget(self.picture, 1)
        column.addWidget(divider(self))
        grid = QGridLayout()
        grid.setVerticalSpacing(4)
        grid.setColumnStretch(0, 1)
        self._names = [QLabel("", self) for _ in range(ROWS)]
        self._values = [QLabel("", self) for _ in range(ROWS)]
        for k, (name, value) in enumerate(zip(self._names, self._values)):
            value.setObjectName("run-value")
            grid.addWidget(name, k, 0)
            grid.addWidget(value, k, 1)
        column.addLayout(grid)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self.picture.set_look(look)

    def show_readings(self, readings: list[tuple[str, Reading]]) -> None:
        """The runs with a word for each where there are several; the first store of the first is shown."""
        self._at = [(reading, store) for _, reading in readings for store in reading.stores]
        self.which.blockSignals(True)
        self.which.clear()
        for words, reading in readings:
            for store in reading.stores:
                self.which.addItem(f"{reading.name(store)}, {words}" if words else reading.name(store))
        self.which.blockSignals(False)
        self.which.setVisible(len(self._at) > 1)
        self._readings = readings
        self.picture.setVisible(bool(self._at))

    def choose(self, number: int) -> None:
        """Choose a store by its place in the list."""
        self.which.setCurrentIndex(number)

    @property
    def store(self) -> str:
        """The store that is shown, or an empty string."""
        return self._at[max(0, self.which.currentIndex())][1] if self._at else ""

    def show_time(self, time_s: float) -> None:
        """Show how things are at a time."""
        if not self._readings:
            return
        reading, store = self._at[max(0, self.which.currentIndex())] if self._at else (self._readings[0][1], "")
        said = story.when(reading.clock, time_s)
        self.heading.setText(f"Store {said}" if reading.run.kind == "day" else _capital(said))
        if store:
            now = reading.store_now(store, time_s)
            self.aside.setText(f"{now.litres:.0f} l, {len(now.layers_c)} layers" if now.litres else "")
            self.picture.show_now(now)
        figures = reading.figures_at(store, time_s)
        for k in range(ROWS):
            shown = k < len(figures)
            self._names[k].setVisible(shown)
            self._values[k].setVisible(shown)
            if shown:
                words, value, unit = figures[k]
                self._names[k].setText(words)
                self._values[k].setText(f"{value:.{UNITS[unit]}f} {unit}")

    def _chosen(self, _number: int) -> None:
        self.store_chosen.emit(self.store)


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]
