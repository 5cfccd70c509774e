"""Conditions: normal running, a power cut, and what a person wants to try: pumps stopped, valves shut, sources out.

Owns the condition that is shown. Refuses to work out what water does in it.
"""

from __future__ import annotations

import msgspec
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QResizeEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QLabel, QMenu, QPushButton, QVBoxLayout, QWidget

from loopwright.catalogue import Behaviour, Catalogue
from loopwright.sheet.values import Part, Sheet
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.as_typed import as_typed, tip
from loopwright.window.panel import Panel, clear, scrolled
from loopwright.window.switch import Switch

FOLDED_HEIGHT, ANY_HEIGHT = 84, 16_777_215
SEGMENTS = ("Normal", "Power cut", "Custom")
CAUTION = "From the drawing alone. Never try it on a lit stove."


def called(part: Part, catalogue: Catalogue) -> str:
    """What to call a part in a list: its name, else its id with its kind."""
    if part.name:
        return part.name
    kind = catalogue[part.kind].name if part.kind in catalogue else part.kind
    if part.id == part.kind or part.id.lower() in kind.lower().split():  # "stove" says nothing more of a boiler stove
        return kind
    return f"{part.id}, {kind[:1].lower()}{kind[1:]}"


def with_way(sheet: Sheet, catalogue: Catalogue, does: Behaviour) -> list[Part]:
    """Parts that hold a way of that behaviour, in the order of the sheet."""
    return [
        p for p in sheet.parts.values() if p.kind in catalogue and any(w.does is does for w in catalogue[p.kind].ways)
    ]


def sources(sheet: Sheet, catalogue: Catalogue) -> list[Part]:
    """Parts that make heat."""
    return [p for p in sheet.parts.values() if p.kind in catalogue and catalogue[p.kind].source is not None]


def on_sheet(condition: Condition, sheet: Sheet) -> Condition:
    """The condition without parts that are gone."""
    kept = {
        name: frozenset(i for i in getattr(condition, name) if i in sheet.parts) for name in ("stopped", "shut", "out")
    }
    return Condition(condition.power, **kept)


class ConditionsPanel(Panel):
    """Three segments and a switch for each thing that can stand still."""

    changed = Signal(object)
    """The condition to show."""
    built = Signal()
    """Other switches stand here now."""
    folded = Signal(bool)
    """The switches went away (True) or came, in a low window."""

    def __init__(self, catalogue: Catalogue, parent: QWidget | None = None) -> None:
        super().__init__("Conditions", parent)
        self._catalogue = catalogue
        self._sheet = Sheet()
        self._condition = NORMAL
        self._custom = NORMAL
        self._compact = False
        self._listed: tuple[object, ...] | None = None
        self.aside.setText("F6")
        row = QHBoxLayout()
        row.setSpacing(0)
        self.segments = QButtonGroup(self)
        for i, words in enumerate(SEGMENTS):
            button = QPushButton(words, self)
            button.setCheckable(True)
            button.setProperty("part", ("first", "middle", "last")[i])
            self.segments.addButton(button, i)
            row.addWidget(button, 1)
        self.segments.button(0).setChecked(True)
        self.segments.idClicked.connect(self._segment)
        self.body.addLayout(row)
        self._rows_host = QWidget(self)
        self._rows = QVBoxLayout(self._rows_host)
        self._rows.setContentsMargins(0, 4, 6, 0)
        self._rows.setSpacing(0)
        self._area = scrolled(self._rows_host, self)
        self.body.addWidget(self._area, 1)
        self.shut_a_valve = QPushButton("Shut a valve…", self)
        self._menu = QMenu(self.shut_a_valve)
        self._menu.aboutToShow.connect(self._list_valves)
        self._menu.triggered.connect(self._shut)
        self.shut_a_valve.setMenu(self._menu)
        self.body.addWidget(self.shut_a_valve)
        self.caution = QLabel(CAUTION, self)
        self.caution.setObjectName("hint")
        self.caution.setWordWrap(True)
        self.body.addWidget(self.caution)
        self.body.addSpacing(4)
        self._fill()

    @property
    def condition(self) -> Condition:
        """The condition that is shown."""
        return self._condition

    def set_compact(self, compact: bool) -> None:
        """In a low window only the three segments show, and the switches when Custom is chosen."""
        if compact != self._compact:
            self._compact = compact
            self._fold()

    def show_sheet(self, sheet: Sheet) -> None:
        """List what can stand still on this sheet; a condition on parts that are gone loses them."""
        self._sheet = sheet
        self._custom = on_sheet(self._custom, sheet)
        kept = on_sheet(self._condition, sheet)
        self._fill()
        if kept != self._condition:
            self._show(kept)

    def set_condition(self, condition: Condition) -> None:
        """Show a condition."""
        condition = on_sheet(condition, self._sheet)
        if condition not in (NORMAL, POWER_CUT):
            self._custom = condition
        self._show(condition)

    def normal(self) -> None:
        """Back to normal running."""
        self.set_condition(NORMAL)

    def toggle_power_cut(self) -> None:
        """A power cut, or back from one."""
        self.set_condition(NORMAL if self._condition == POWER_CUT else POWER_CUT)

    def _show(self, condition: Condition, segment: int | None = None) -> None:
        if segment is None:
            segment = 0 if condition == NORMAL else 1 if condition == POWER_CUT else 2
        self.segments.button(segment).setChecked(True)
        moved, self._condition = condition != self._condition, condition
        self._fill()
        self._fold()
        if moved:
            self.changed.emit(condition)

    def _segment(self, number: int) -> None:
        self._show((NORMAL, POWER_CUT, self._custom)[number], number)

    def _fold(self) -> None:
        open_ = not self._compact or self.segments.checkedId() == 2
        if open_ == self._area.isHidden():
            self._area.setVisible(open_)
            self.shut_a_valve.setVisible(open_)
            self.caution.setVisible(open_)
            # folded, it takes no more than it fills: the parts above get the rest
            self.setMaximumHeight(ANY_HEIGHT if open_ else FOLDED_HEIGHT)
            if self._compact:
                self.folded.emit(not open_)

    @property
    def is_folded(self) -> bool:
        """True while only the three segments show."""
        return self._area.isHidden()

    def _fill(self) -> None:
        pumps = with_way(self._sheet, self._catalogue, Behaviour.PUMP)
        heats = sources(self._sheet, self._catalogue)
        now = self._condition
        listed = (now, tuple((p.id, p.name) for p in pumps), tuple((p.id, p.name) for p in heats))
        if listed == self._listed:
            return
        self._listed = listed
        focus = self._focus_key()
        clear(self._rows)
        self._row("power", "Electricity", "on" if now.power else "off", now.power)
        for part in pumps:
            runs = now.power and part.id not in now.stopped
            self._row(
                f"stopped/{part.id}", called(part, self._catalogue), "runs" if runs else "stopped", runs, now.power
            )
        for part in heats:
            lit = part.id not in now.out
            fire = self._catalogue[part.kind].source
            stops = fire.stops if fire else ""
            off = not now.power and stops in ("switched", "residual")
            words = "off" if off else {"fire": "lit", "sun": "sun"}.get(stops, "on") if lit else "out"
            self._row(f"out/{part.id}", called(part, self._catalogue), words, lit and not off, not off)
        for valve in sorted(now.shut):
            if valve in self._sheet.parts:
                self._row(f"shut/{valve}", called(self._sheet.parts[valve], self._catalogue), "shut", False)
        self._rows.addStretch(1)
        self.shut_a_valve.setEnabled(bool(with_way(self._sheet, self._catalogue, Behaviour.HAND)))
        if focus:
            for switch in self._rows_host.findChildren(Switch):
                if switch.property("key") == focus and not switch.isHidden():
                    switch.setFocus()
        self.built.emit()

    def _focus_key(self) -> str:
        focus = self.window().focusWidget() if self.window() else None
        return str(focus.property("key") or "") if isinstance(focus, Switch) and self.isAncestorOf(focus) else ""

    def _row(self, key: str, name: str, state: str, on: bool, enabled: bool = True) -> None:
        host = QWidget(self._rows_host)
        row = QHBoxLayout(host)
        row.setContentsMargins(0, 0, 0, 0)
        label = _Short(name, host)
        label.setToolTip(tip(name))
        said = QLabel(state, host)
        as_typed(said)
        said.setObjectName("hint")
        switch = Switch(name, host)
        switch.setAccessibleDescription(state)
        switch.setChecked(on)
        switch.setEnabled(enabled)
        switch.setProperty("key", key)
        switch.clicked.connect(self._switched)
        row.addWidget(label, 1)
        row.addWidget(said)
        row.addWidget(switch)
        self._rows.addWidget(host)

    def _switched(self, on: bool) -> None:
        key = str(self.sender().property("key"))
        what, _, part = key.partition("/")
        now = self._condition
        if what == "power":
            self.set_condition(msgspec.structs.replace(now, power=on))
            return
        ids = getattr(now, what)
        ids = ids - {part} if on else ids | {part}
        self.set_condition(msgspec.structs.replace(now, **{what: frozenset(ids)}))

    def _list_valves(self) -> None:
        self._menu.clear()
        for part in with_way(self._sheet, self._catalogue, Behaviour.HAND):
            action = self._menu.addAction(called(part, self._catalogue))
            action.setData(part.id)
            action.setCheckable(True)
            action.setChecked(part.id in self._condition.shut)

    def _shut(self, action: QAction) -> None:
        part = str(action.data())
        ids = self._condition.shut ^ {part}
        self.set_condition(msgspec.structs.replace(self._condition, shut=frozenset(ids)))


class _Short(QLabel):
    """A label that shortens its text with an ellipsis when there is no room."""

    def __init__(self, text: str, parent: QWidget) -> None:
        super().__init__(text, parent)
        as_typed(self)
        self._whole = text
        self.setMinimumWidth(30)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self.setText(self.fontMetrics().elidedText(self._whole, Qt.TextElideMode.ElideRight, self.width()))
