"""The properties panel: what is chosen, its fields, and for a vessel its tappings and coils.

Owns making fields from rows and bringing a refused edit back to its field. Refuses to know what a property means.
"""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet.values import Sheet
from loopwright.window.as_typed import as_typed
from loopwright.window.document import Document, Edit
from loopwright.window.fields import ChoiceField, Field, FlagField, TextField
from loopwright.window.panel import Panel, clear, divider, scrolled
from loopwright.window.quantities import Units
from loopwright.window.subjects import Row, Subject, add_floor, subject, without_floor
from loopwright.window.tappings import TappingsEditor
from loopwright.window.theme import Theme

NOT_STATED, SEVERAL = "not stated", "several values"


def make_field(row: Row, units: Units, parent: QWidget | None = None) -> Field:
    """The field for a row."""
    if row.sort == "flag":
        return FlagField(row.key, row.label, help_text=row.help, parent=parent)
    if row.sort == "choice":
        return ChoiceField(row.key, row.label, row.choices, help_text=row.help, parent=parent)
    if row.sort == "number":

        def read(text: str) -> object:
            return units.read(text, row.unit, blank=row.blank)

        def show(value: object) -> str:
            return units.show(value, row.unit)

        feet = row.unit == "m" and units.system == "imperial"
        sign = units.sign(row.unit)
        return TextField(row.key, row.label, read, show, unit=sign, help_text=row.help, feet=feet, parent=parent)
    return TextField(row.key, row.label, _plain, str, help_text=row.help, wide=True, parent=parent)


def _plain(text: str) -> object:
    return text.strip() or None


class PropertiesPanel(Panel):
    """Fields for what is chosen in a document."""

    said = Signal(str)
    built = Signal()
    """Other fields stand here now."""

    def __init__(self, document: Document, catalogue: Catalogue, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Sheet", parent, margin=0)
        self._document, self._catalogue, self._look = document, catalogue, look
        self._services: dict[str, str] = {}
        self._units = Units()
        self._subject: Subject | None = None
        self._fields: dict[str, Field] = {}
        self._edits: dict[str, Callable[[object], Edit]] = {}
        self._labels: dict[str, str] = {}
        self._kept: dict[tuple[str, str], str] = {}
        self._tappings: TappingsEditor | None = None
        self._words: QLabel | None = None
        self._content = QWidget(self)
        self._content.setObjectName("panel-body")
        self._column = QVBoxLayout(self._content)
        self._column.setContentsMargins(14, 0, 12, 8)
        self._column.setSpacing(1)
        self.area = scrolled(self._content, self)
        self.body.addWidget(self.area, 1)
        document.changed.connect(self._sheet_changed)
        document.selection_changed.connect(self._selection_changed)
        self.refresh()

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = look
        if self._tappings is not None:
            self._tappings.set_look(look)

    def set_units(self, units: Units) -> None:
        """Show numbers in other units, from now on."""
        if units != self._units:
            self._units = units
            self._kept.clear()
            self._subject = None
            self.refresh()

    def show_services(self, services: dict[str, str]) -> None:
        """What each pipe carries, as the survey found it."""
        self._services = dict(services)
        if self._subject is not None and self._subject.key.startswith("pipe"):
            self.refresh()

    def fields(self) -> dict[str, Field]:
        """The fields on show, by property."""
        return dict(self._fields)

    @property
    def tappings(self) -> TappingsEditor | None:
        """The tapping table of the chosen vessel."""
        return self._tappings

    def focus_first(self) -> None:
        """Put the focus in the first field."""
        for field in self._fields.values():
            for child in field.findChildren(QWidget):
                if child.focusPolicy() and child.isEnabled():
                    child.setFocus()
                    return

    def focus_field(self, prop: str) -> bool:
        """Put the focus in the field of one property, else in the first. False when there is no such field."""
        field = self._fields.get(prop)
        for child in field.findChildren(QWidget) if field is not None else ():
            if child.focusPolicy() and child.isEnabled():
                child.setFocus()
                return True
        self.focus_first()
        return False

    def focus_name(self) -> bool:
        """Put the focus in the name, all of it chosen. False when what is chosen has none."""
        field = self._fields.get("name") or self._fields.get("title")
        if isinstance(field, TextField):
            field.entry.setFocus()
            field.entry.selectAll()
            return True
        return False

    def _sheet_changed(self, _before: Sheet, _after: Sheet) -> None:
        self.refresh()

    def _selection_changed(self, _chosen: object) -> None:
        self.refresh()

    def refresh(self) -> None:
        """Show the subject as it is now. Fields are kept when the subject is the same, with what is half typed."""
        found = subject(self._document.sheet, self._document.chosen, self._catalogue, self._services)
        shape = (found.key, tuple((r.key, r.sort, r.label, r.choices) for r in self._rows(found)), found.vessel)
        before = self._subject
        same = before is not None and shape == (
            before.key,
            tuple((r.key, r.sort, r.label, r.choices) for r in self._rows(before)),
            before.vessel,
        )
        self._subject = found
        self.title.setText(found.title)
        self.aside.setText(found.aside)
        if not same:
            if before is not None:
                self._keep(before)
            self._build(found)
        elif self._words is not None:
            self._words.setText(found.words)
        for row in self._rows(found):
            field = self._fields[row.key]
            self._edits[row.key] = row.edit
            self._show(field, row)
        if self._tappings is not None and found.vessel:
            self._tappings.show_part(self._document.sheet, found.vessel)

    @staticmethod
    def _rows(found: Subject) -> list[Row]:
        return [*found.rows, *(row for _, rows in found.groups for row in rows)]

    def _keep(self, old: Subject) -> None:
        for key, field in self._fields.items():
            text = field.pending()
            if text is None:
                self._kept.pop((old.key, key), None)
            else:
                self._kept[old.key, key] = text

    def _show(self, field: Field, row: Row) -> None:
        field.show_value(row.value)
        if isinstance(field, ChoiceField):
            field.box.setPlaceholderText(SEVERAL if row.mixed else "")
        if isinstance(field, TextField):
            field.entry.setPlaceholderText(SEVERAL if row.mixed and row.sort == "text" else "")
        if not isinstance(field, FlagField):
            field.set_hint(*self._wordings(row))
        elif row.mixed:
            field.set_hint(SEVERAL)
        elif row.assumed:
            field.set_hint(("yes" if row.value else "no") + ", assumed")

    def _wordings(self, row: Row) -> list[str]:
        """What stands beside a field, the longest first."""
        word = ""
        if row.assumed:
            word = "assumed"
        elif row.mixed:
            word = SEVERAL
        elif row.value is None and row.sort == "number":
            word = NOT_STATED
        if row.usual is None:
            return [", ".join(words for words in (word, row.hint) if words)]
        low, high = (self._units.about(end, row.unit) for end in row.usual)
        ranges = [f"usual {low} to {high}", f"{low} to {high}", f"{low}–{high}"]
        return [f"{word}, {words}" for words in ranges] + [word] if word else ranges

    def _build(self, found: Subject) -> None:
        clear(self._column)
        self.area.verticalScrollBar().setValue(0)  # another thing is read from its name on
        self._fields.clear()
        self._edits.clear()
        self._labels.clear()
        self._tappings, self._words = None, None
        for row in found.rows:
            self._add(row, found)
        for title, rows in found.groups:
            if title == "Floors":
                self._heading(title, "Add floor", self._add_floor)
                for row in rows:
                    field = self._add(row, found)
                    if len(rows) > 1:
                        self._removable(field, row)
        if found.words:
            self._words = QLabel(found.words, self._content)
            self._words.setObjectName("hint")
            self._words.setWordWrap(True)
            self._column.addSpacing(6)
            self._column.addWidget(self._words)
        if found.vessel:
            self._column.addSpacing(6)
            self._column.addWidget(divider(self._content))
            self._tappings = TappingsEditor(
                self._document, self._catalogue, self._look, self._content, units=self._units
            )
            self._column.addWidget(self._tappings)
        for title, rows in found.groups:
            if title != "Floors":
                if found.vessel or found.key == "sheet" or title == "Parts":
                    self._heading(title)
                for row in rows:
                    self._add(row, found)
        self._column.addStretch(1)
        for child in self._content.findChildren(QWidget, options=Qt.FindChildOption.FindDirectChildrenOnly):
            if self._column.indexOf(child) >= 0:
                child.show()  # at once: the Tab key passes over what waits to be laid out
        for (subject_key, key), text in list(self._kept.items()):
            kept = self._fields.get(key)
            if subject_key == found.key and isinstance(kept, TextField):
                kept.show_value(next(r.value for r in self._rows(found) if r.key == key))
                kept.restore(text)
        self.built.emit()

    def _add(self, row: Row, found: Subject) -> Field:
        field = make_field(row, self._units, self._content)
        field.entered.connect(self._entered)
        self._fields[row.key] = field
        self._edits[row.key] = row.edit
        self._labels[row.key] = (
            f"Set {row.label[:1].lower()}{row.label[1:]} of {found.title[:1].lower()}{found.title[1:]}"
        )
        self._column.addWidget(field)
        return field

    def _heading(self, title: str, action: str = "", slot: Callable[[], None] | None = None) -> None:
        row = QWidget(self._content)
        line = QHBoxLayout(row)
        line.setContentsMargins(0, 8, 0, 2)
        label = QLabel(title, row)
        as_typed(label)
        label.setObjectName("panel-heading")
        line.addWidget(label, 1)
        if slot is not None:
            button = QPushButton(f"+ {action}", row)
            button.setProperty("link", True)
            button.clicked.connect(slot)
            line.addWidget(button)
        self._column.addWidget(row)

    def _removable(self, field: Field, row: Row) -> None:
        button = QPushButton("Remove", field)
        button.setProperty("link", True)
        button.setAccessibleName(f"Remove {row.label}")
        button.setProperty("floor", row.key.removeprefix("level/"))
        button.clicked.connect(self._remove_floor)
        field.add_action(button)

    def _add_floor(self) -> None:
        self._try("Add a floor", add_floor)

    def _remove_floor(self) -> None:
        name = str(self.sender().property("floor"))
        self._try(f"Remove {name}", without_floor(name))

    def _try(self, label: str, edit: Edit) -> None:
        try:
            self._document.apply(label, edit)
        except LoopwrightError as bad:
            self.said.emit(bad.sentence)

    def _entered(self, value: object) -> None:
        field = self.sender()
        if not isinstance(field, Field):
            return
        key = field.name
        try:
            self._document.apply(self._labels[key], self._edits[key](value))
        except LoopwrightError as bad:
            field.refuse(bad.sentence)
            if not isinstance(field, TextField):
                row = next((r for r in self._rows(self._subject) if r.key == key), None) if self._subject else None
                if row is not None:
                    field.show_value(row.value)
