"""The editor of a day: a strip and a field in words for each thing that the clock, the weather and the people do.

Owns the day that is being edited. Refuses to run it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import msgspec
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from loopwright.engineering.runs.day import Day, Drawn, Lit, days, seconds
from loopwright.errors import LoopwrightError, ValueRefused
from loopwright.window import questions
from loopwright.window.panel import scrolled
from loopwright.window.quantities import read_number
from loopwright.window.run import day_text
from loopwright.window.run.strips import Hours, Mark, Strip

if TYPE_CHECKING:
    from loopwright.window.desk import Desk
    from loopwright.window.theme import Theme

SUFFIX = ".toml"
NUMBERS = (
    ("store_top_c", "Store top at midnight", "degC", 5.0, 95.0),
    ("store_bottom_c", "Store bottom at midnight", "degC", 5.0, 95.0),
    ("cold_c", "Mains water", "degC", 0.0, 30.0),
    ("design_outdoor_c", "Coldest day the house is made for", "degC", -40.0, 20.0),
)
TITLES = {
    "fires": ("Fires lit", "17:00, 19:00 × 0.6 (share of a whole charge)"),
    "boiler": ("Boiler may run", "05:00–22:30"),
    "programmer": ("Programmer on", "05:00–22:30"),
    "immersion": ("Immersion heater on", "01:00–04:00"),
    "draws": ("Hot water drawn", "07:00 45 l in 6 min shower; 20:30 90 l in 8 min bath"),
    "sun_w_m2": ("Sun on the collector, W/m²", "24 figures, one for every hour from midnight"),
    "outdoor_c": ("Outdoors, °C", "24 figures, one for every hour from midnight"),
}


class DayEditor(QWidget):
    """The editor."""

    closed = Signal()
    done = Signal(object)
    """The day to run."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.setObjectName("run-empty")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName("A day of your own")
        self.day: Day = next(iter(days().values()))
        self.strips: dict[str, Strip] = {}
        self.fields: dict[str, QLineEdit] = {}
        self.refusals: dict[str, QLabel] = {}
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(0)
        page.addLayout(self._head())
        self._ruler = Hours(desk.look, self)
        page.addWidget(self._ruler)
        host = QWidget(self)
        column = QVBoxLayout(host)
        column.setContentsMargins(18, 4, 14, 14)
        column.setSpacing(2)
        self._rows(column, host)
        self._figures(column, host)
        column.addStretch(1)
        page.addWidget(scrolled(host, self), 1)
        self.show_day(self.day)

    # ---- building

    def _head(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setContentsMargins(18, 10, 14, 6)
        row.setSpacing(6)
        title = QLabel("A day of your own", self)
        title.setObjectName("page-heading")
        row.addWidget(title)
        row.addStretch(1)
        row.addWidget(QLabel("Start from", self))
        self.start = QComboBox(self)
        self.start.setAccessibleName("Day to start from")
        self.start.addItem("as it is", "")
        for name, day in days().items():
            self.start.addItem(day.title, name)
        self.start.activated.connect(self._start_from)
        row.addWidget(self.start)
        for words, slot in (("Load…", self.load), ("Save…", self.save), ("Close", self.closed)):
            button = QPushButton(words, self)
            button.clicked.connect(slot)
            row.addWidget(button)
        self.use = QPushButton("Run this day", self)
        self.use.setProperty("primary", True)
        self.use.clicked.connect(self.finish)
        row.addWidget(self.use)
        return row

    def _rows(self, column: QVBoxLayout, host: QWidget) -> None:
        sorts: dict[str, tuple[Any, str]] = {
            "fires": ("marks", "flow"),
            "boiler": ("hours", "hot"),
            "programmer": ("hours", "accent"),
            "immersion": ("hours", "vent"),
            "draws": ("marks", "disch"),
            "sun_w_m2": ("curve", "cold"),
            "outdoor_c": ("curve", "ret"),
        }
        for key, (sort, token) in sorts.items():
            title, hint = TITLES[key]
            label = QLabel(title, host)
            label.setObjectName("group-heading")
            column.addSpacing(4)
            column.addWidget(label)
            strip = self.strips[key] = Strip(sort, token, title, self._desk.look, host)
            column.addWidget(strip)
            self._field(column, host, key, title, hint)
            strip.hours_changed.connect(self._hours)
            strip.mark_moved.connect(self._move)
            strip.mark_added.connect(self._add)
            strip.mark_removed.connect(self._remove)
            strip.values_changed.connect(self._values)

    def _key(self) -> str:
        """Of which strip or field the signal under way is."""
        sender = self.sender()
        return next(k for k, w in (*self.strips.items(), *self.fields.items()) if w is sender)

    def _field(self, column: Any, host: QWidget, key: str, title: str, hint: str) -> None:
        field = self.fields[key] = QLineEdit(host)
        field.setAccessibleName(title)
        field.setPlaceholderText(hint)
        field.setToolTip(hint)
        field.editingFinished.connect(self._left)
        refusal = self.refusals[key] = QLabel("", host)
        refusal.setObjectName("refusal")
        refusal.setWordWrap(True)
        refusal.hide()
        column.addWidget(field)
        column.addWidget(refusal)

    def _figures(self, column: QVBoxLayout, host: QWidget) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(14)
        grid.setVerticalSpacing(2)
        for k, (key, title, _, low, high) in enumerate(NUMBERS):
            label = QLabel(f"{title}, °C", host)
            label.setObjectName("group-heading")
            cell = QVBoxLayout()
            cell.setSpacing(2)
            cell.addWidget(label)
            self._field(cell, host, key, title, f"{low:g} to {high:g} °C")
            grid.addLayout(cell, k // 2, k % 2)
        column.addSpacing(6)
        column.addLayout(grid)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._ruler.set_look(look)
        for strip in self.strips.values():
            strip.set_look(look)

    # ---- the day

    def show_day(self, day: Day) -> None:
        """Edit a day."""
        self.day = day
        self.start.setCurrentIndex(0)
        texts: dict[str, str] = {
            "fires": day_text.fires_text(day.fires),
            "draws": day_text.draws_text(day.draws),
            **{key: day_text.spans_text(getattr(day, key)) for key in ("boiler", "programmer", "immersion")},
            **{key: day_text.hours_text(getattr(day, key)) for key in ("sun_w_m2", "outdoor_c")},
            **{key: f"{getattr(day, key):g}" for key, *_ in NUMBERS},
        }
        for key, text in texts.items():
            self.fields[key].setText(text)
            self.fields[key].setCursorPosition(0)
            self._refuse(key, "")
        for key in ("boiler", "programmer", "immersion"):
            self.strips[key].show_hours([(seconds(a), seconds(b)) for a, b in getattr(day, key)])
        self.strips["fires"].show_marks(
            [Mark(seconds(f.at), f.charge, f"{f.at}{f' × {f.charge:g}' if f.charge != 1.0 else ''}") for f in day.fires]
        )
        self.strips["draws"].show_marks(
            [Mark(seconds(d.at), d.litres, f"{d.litres:g} l{f' {d.tap}' if d.tap else ''}") for d in day.draws]
        )
        self.strips["sun_w_m2"].show_values(list(day.sun_w_m2), 0.0, min(1400.0, max(700.0, 1.3 * max(day.sun_w_m2))))
        low, high = min(day.outdoor_c), max(day.outdoor_c)
        self.strips["outdoor_c"].show_values(list(day.outdoor_c), low - 6.0, high + 6.0)

    def _set(self, **changes: Any) -> None:
        """Change the day, and show it."""
        own = {"name": "own", "title": self.day.title if self.day.name == "own" else f"{self.day.title}, changed"}
        self.show_day(msgspec.structs.replace(self.day, **own, **changes))

    def _hours(self, hours: list[tuple[float, float]]) -> None:
        self._set(**{self._key(): tuple((day_text.clock_of(a), day_text.clock_of(b)) for a, b in hours)})

    def _values(self, values: list[float]) -> None:
        self._set(**{self._key(): tuple(values)})

    def _move(self, number: int, time_s: float) -> None:
        key = self._key()
        rows = list(getattr(self.day, key))
        rows[number] = msgspec.structs.replace(rows[number], at=day_text.clock_of(time_s))
        self._set(**{key: tuple(sorted(rows, key=lambda r: r.at))})

    def _add(self, time_s: float) -> None:
        key = self._key()
        at = day_text.clock_of(time_s)
        more = Lit(at) if key == "fires" else Drawn(at, 20.0, 4.0)
        self._set(**{key: tuple(sorted((*getattr(self.day, key), more), key=lambda r: r.at))})

    def _remove(self, number: int) -> None:
        key = self._key()
        self._set(**{key: tuple(r for k, r in enumerate(getattr(self.day, key)) if k != number)})

    # ---- typing

    def _read(self, key: str) -> Any:
        text = self.fields[key].text()
        readers: dict[str, Callable[[str], Any]] = {
            "fires": day_text.read_fires,
            "draws": day_text.read_draws,
            "boiler": day_text.read_spans,
            "programmer": day_text.read_spans,
            "immersion": day_text.read_spans,
            "sun_w_m2": lambda t: day_text.read_hours(t, 0.0, 1400.0, "W/m²"),
            "outdoor_c": lambda t: day_text.read_hours(t, -50.0, 50.0, "°C"),
        }
        if key in readers:
            return readers[key](text)
        _, title, unit, low, high = next(n for n in NUMBERS if n[0] == key)
        value = read_number(text, unit, blank=False)
        assert value is not None
        if not low <= value <= high:
            raise ValueRefused(f"{title} at {value:g} °C cannot be", do=f"Give {low:g} to {high:g} °C")
        return float(value)

    def _left(self) -> None:
        self._typed(self._key())

    def _typed(self, key: str) -> None:
        try:
            value = self._read(key)
            if value != getattr(self.day, key):
                self._set(**{key: value})
            self._refuse(key, "")
        except LoopwrightError as bad:
            self._refuse(key, bad.sentence)

    def _refuse(self, key: str, words: str) -> None:
        field, label = self.fields[key], self.refusals[key]
        label.setText(words)
        label.setVisible(bool(words))
        if bool(field.property("refused")) != bool(words):
            field.setProperty("refused", bool(words))
            field.style().unpolish(field)
            field.style().polish(field)

    @property
    def refused(self) -> list[str]:
        """Keys of fields whose text is not in the day."""
        return [key for key, label in self.refusals.items() if not label.isHidden()]

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            if self.refused:
                self.show_day(self.day)  # the last good values
            else:
                self.closed.emit()
        elif event.key() not in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Space, Qt.Key.Key_Home, Qt.Key.Key_End):
            super().keyPressEvent(event)

    # ---- files, and done

    def _start_from(self, number: int) -> None:
        name = str(self.start.itemData(number))
        if name:
            self.show_day(days()[name])

    def finish(self) -> None:
        """Run the day, unless a field holds what cannot be."""
        for key in self.fields:
            self._typed(key)
        if self.refused:
            self.fields[self.refused[0]].setFocus()
            self._desk.say("The day is not run: a field holds what cannot be.")
            return
        self.done.emit(self.day)

    def load(self) -> None:
        """Ask for a file, and edit the day in it."""
        path = questions.ask_open_path(self._desk.window, self._desk.memory.folder(), "Load a day", f"Days (*{SUFFIX})")
        if path is None:
            return
        try:
            self.show_day(day_text.read_day(path))
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} loaded.")

    def save(self) -> None:
        """Ask for a file, and write the day to it."""
        from loopwright.files.writer import write_bytes

        for key in self.fields:
            self._typed(key)
        if self.refused:
            self.fields[self.refused[0]].setFocus()
            return
        start = self._desk.memory.offered(None, self._desk.document.name, f" day{SUFFIX}")
        path = questions.ask_save_path(self._desk.window, start, "Save the day", SUFFIX)
        if path is None:
            return
        try:
            write_bytes(path, day_text.as_toml(self.day).encode("utf-8"))
        except LoopwrightError as bad:
            self._desk.say(bad.sentence)
            return
        self._desk.say(f"{path.name} saved.")
