"""The tapping table of a vessel beside its section, the tapping that is chosen in it, and the coils.

Owns the table and what is half typed in it. Refuses to judge a height: the edit does, and its words stand below.
"""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, Qt
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.ports import size_of
from loopwright.sheet.values import PURPOSES, Coil, Part, Sheet
from loopwright.window.as_typed import as_typed
from loopwright.window.document import Document, Edit
from loopwright.window.fields import ChoiceField, Field, FlagField, TextField
from loopwright.window.panel import clear
from loopwright.window.quantities import Units
from loopwright.window.section import VesselSection
from loopwright.window.subjects import PURPOSE_WORDS
from loopwright.window.tapping_edits import SIDES_TRIED, coil_edit, free_place
from loopwright.window.tapping_table import HEIGHT, LETTER, NAME, SIZE, TappingsModel, TappingsTable
from loopwright.window.theme import Theme

SIDES = (("left", "left"), ("right", "right"), ("top", "top"), ("bottom", "bottom"))


class TappingsEditor(QWidget):
    """Section, table, the chosen tapping's own fields, and the coils."""

    def __init__(
        self,
        document: Document,
        catalogue: Catalogue,
        look: Theme,
        parent: QWidget | None = None,
        *,
        units: Units | None = None,
    ) -> None:
        super().__init__(parent)
        self._document, self._catalogue, self._look = document, catalogue, look
        self._units = units or Units()
        self._part: Part | None = None
        self._letter = ""
        self._coils_shown: tuple[str, ...] | None = None
        self._coil_fields: dict[tuple[str, str], TextField] = {}
        page = QVBoxLayout(self)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(4)
        page.addLayout(self._make_head())
        middle = QHBoxLayout()
        middle.setSpacing(6)
        self.section = VesselSection(catalogue, look, self)
        self.section.units = self._units
        self.section.setFixedWidth(92)
        self.section.picked.connect(self.choose)
        self.section.dropped.connect(self._dropped)
        self.section.dragging.connect(self._dragging)
        middle.addWidget(self.section)
        self.model = TappingsModel(look, self, units=self._units)
        self.model.offered.connect(self._offered)
        self.table = self._make_table()
        middle.addWidget(self.table, 1)
        page.addLayout(middle)
        self.refusal = QLabel("", self)
        self.refusal.setObjectName("refusal")
        self.refusal.setWordWrap(True)
        self.refusal.hide()
        page.addWidget(self.refusal)
        self._make_details(page)
        self._coils = QVBoxLayout()
        self._coils.setSpacing(1)
        page.addLayout(self._coils)

    def _make_head(self) -> QHBoxLayout:
        head = QHBoxLayout()
        title = QLabel("Tappings and coils", self)
        title.setObjectName("panel-heading")
        as_typed(title)
        head.addWidget(title, 1)
        self.add = QPushButton("+ Add", self)
        self.add.setProperty("link", True)
        self.add.setAccessibleName("Add a tapping, pocket or coil")
        menu = QMenu(self.add)
        for words, slot in (
            ("Tapping", self._add_tapping),
            ("Sensor pocket", self._add_pocket),
            ("Coil", self._add_coil),
        ):
            menu.addAction(words).triggered.connect(slot)
        self.add.setMenu(menu)
        head.addWidget(self.add)
        return head

    def _make_table(self) -> TappingsTable:
        table = TappingsTable(self)
        table.setAccessibleName("Tappings, from the top down")
        table.setModel(self.model)
        table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        table.setEditTriggers(
            QAbstractItemView.EditTrigger.DoubleClicked
            | QAbstractItemView.EditTrigger.EditKeyPressed
            | QAbstractItemView.EditTrigger.AnyKeyPressed
            | QAbstractItemView.EditTrigger.SelectedClicked
        )
        table.setTabKeyNavigation(False)  # Tab leaves the table, and goes down the column while a cell is edited
        table.setShowGrid(False)
        table.setWordWrap(False)
        table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        rows = table.verticalHeader()
        rows.hide()
        rows.setMinimumSectionSize(20)
        rows.setDefaultSectionSize(24)
        columns = table.horizontalHeader()
        columns.setHighlightSections(False)
        columns.setMinimumSectionSize(20)
        columns.setFixedHeight(22)
        columns.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        columns.setSectionResizeMode(NAME, QHeaderView.ResizeMode.Stretch)
        for column, width in ((LETTER, 22), (HEIGHT, 58 if self._units.system == "metric" else 82), (SIZE, 48)):
            columns.resizeSection(column, width)
        table.selectionModel().currentRowChanged.connect(self._row_changed)
        table.remove.connect(self._remove)
        table.give_up.connect(self._give_up)
        return table

    def _make_details(self, page: QVBoxLayout) -> None:
        self._details = QWidget(self)
        column = QVBoxLayout(self._details)
        column.setContentsMargins(0, 4, 0, 0)
        column.setSpacing(1)
        head = QHBoxLayout()
        self._detail_title = QLabel("", self._details)
        self._detail_title.setObjectName("group-heading")
        head.addWidget(self._detail_title, 1)
        self.remove_button = QPushButton("Remove", self._details)
        self.remove_button.setProperty("link", True)
        self.remove_button.clicked.connect(self._remove)
        head.addWidget(self.remove_button)
        column.addLayout(head)
        self.purpose = ChoiceField(
            "purpose",
            "Serves",
            [(p, PURPOSE_WORDS.get(p, p)) for p in PURPOSES],
            help_text="What the tapping is for; a sensor pocket takes no pipe",
            parent=self._details,
        )
        self.side = ChoiceField("side", "Side", SIDES, help_text="Which side of the vessel", parent=self._details)
        self.layering = FlagField(
            "layering",
            "Layering inlet",
            parent=self._details,
            help_text="A baffle or lance lets the water in at its own temperature's height",
        )
        for field in (self.purpose, self.side, self.layering):
            field.entered.connect(self._detail_entered)
            column.addWidget(field)
        self._details.hide()
        page.addWidget(self._details)

    def set_look(self, look: Theme) -> None:
        """Take another theme."""
        self._look = self.model.look = look
        self.section.set_look(look)

    # showing

    def show_part(self, sheet: Sheet, part_id: str) -> None:
        """Show a vessel as it is on the sheet now."""
        part = sheet.parts[part_id]
        if self._part is not None and self._part.id != part.id:
            self.model.pending.clear()
            self._letter = ""
        self._part = part
        letter = self._letter
        self.model.show(part)
        self.table.setFixedHeight(22 + 24 * max(1, len(self.model.taps)) + 2)
        self.section.setFixedHeight(max(150, min(320, self.table.height())))
        if letter:
            self.choose(letter)
        self.section.show_part(part, self._letter)
        self._show_details()
        self._show_coils(part)

    def choose(self, letter: str) -> None:
        """Choose the row of a letter."""
        for row, tap in enumerate(self.model.taps):
            if tap.letter == letter:
                at = self.table.currentIndex()
                if not at.isValid() or at.row() != row:
                    column = at.column() if at.isValid() else HEIGHT
                    self.table.setCurrentIndex(self.model.index(row, column))
                self._letter = letter
                return
        self._letter = ""

    def _row_changed(self, index: QModelIndex, _before: QModelIndex) -> None:
        self._letter = self.model.taps[index.row()].letter if index.isValid() else ""
        if self._part is not None:
            self.section.show_part(self._part, self._letter)
        self._show_details()

    def _show_details(self) -> None:
        tap = self._part.tapping(self._letter) if self._part is not None else None
        self._details.setVisible(tap is not None)
        if tap is not None:
            self._detail_title.setText(f"Tapping {tap.letter}")
            self.purpose.show_value(tap.purpose)
            self.side.show_value(tap.side)
            self.layering.show_value(tap.layering)

    def _show_coils(self, part: Part) -> None:
        names = tuple(c.name for c in part.coils)
        if names != self._coils_shown:
            self._coils_shown = names
            clear(self._coils)
            self._coil_fields.clear()
            for coil in part.coils:
                self._add_coil_rows(coil)
        for coil in part.coils:
            for what in ("bottom_m", "top_m", "area_m2"):
                self._coil_fields[coil.name, what].show_value(getattr(coil, what))

    def _add_coil_rows(self, coil: Coil) -> None:
        head = QWidget(self)
        line = QHBoxLayout(head)
        line.setContentsMargins(0, 8, 0, 0)
        title = QLabel(f"{coil.name[:1].upper()}{coil.name[1:]}, {coil.lower} to {coil.upper}", head)
        title.setObjectName("group-heading")
        title.setWordWrap(True)
        line.addWidget(title, 1)
        remove = QPushButton("Remove", head)
        remove.setProperty("link", True)
        remove.setAccessibleName(f"Remove coil {coil.name}")
        remove.setProperty("coil", coil.name)
        remove.clicked.connect(self._remove_coil)
        line.addWidget(remove)
        self._coils.addWidget(head)
        for what, label, unit, blank in (
            ("bottom_m", "Coil bottom", "m", False),
            ("top_m", "Coil top", "m", False),
            ("area_m2", "Surface", "m²", True),
        ):
            number = _Number(self._units, unit, blank)
            field = TextField(
                what,
                label,
                number.read,
                number.show,
                unit=self._units.sign(unit),
                parent=self,
                help_text="Above the base" if unit == "m" else "Outside surface of the tube",
            )
            field.setProperty("coil", coil.name)
            field.entered.connect(self._coil_entered)
            self._coil_fields[coil.name, what] = field
            self._coils.addWidget(field)

    # changing

    def _apply(self, label: str, edit: Edit) -> str:
        try:
            self._document.apply(label, edit)
        except LoopwrightError as bad:
            return bad.sentence
        return ""

    def _refuse(self, sentence: str) -> None:
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))

    def _set(self, letter: str, label: str, **changes: object) -> str:
        assert self._part is not None
        part, catalogue = self._part.id, self._catalogue
        return self._apply(label, lambda s: edits.set_tapping(s, part, letter, catalogue, **changes))

    def _offered(self, letter: str, column: int, text: str) -> None:
        try:
            if column == HEIGHT:
                changes: dict[str, object] = {"height_m": self._units.read(text, "m", blank=False)}
                label = f"Move tapping {letter}"
            elif column == NAME:
                changes, label = {"name": text.strip()}, f"Name tapping {letter}"
            else:
                changes, label = {"size": text.strip().removesuffix("mm").strip()}, f"Set size of tapping {letter}"
            sentence = self._set(letter, label, **changes)
        except LoopwrightError as bad:
            sentence = bad.sentence
        if sentence:
            self.model.pending[letter, column] = text
        else:
            self.model.pending.pop((letter, column), None)
        self._refuse(sentence)
        self.table.viewport().update()

    def _give_up(self) -> None:
        self.model.pending.clear()
        self._refuse("")
        self.table.viewport().update()

    def _dropped(self, letter: str, height_m: float) -> None:
        self._refuse(self._set(letter, f"Move tapping {letter}", height_m=height_m))

    def _dragging(self, words: str) -> None:
        self._detail_title.setText(words or f"Tapping {self._letter}")

    def _detail_entered(self, value: object) -> None:
        field = self.sender()
        if not isinstance(field, Field):
            return
        sentence = self._set(self._letter, f"Change tapping {self._letter}", **{field.name: value})
        self._refuse(sentence)
        if sentence:
            self._show_details()

    def _add_tapping(self) -> None:
        self._add("any", "Add a tapping")

    def _add_pocket(self) -> None:
        self._add("sensor", "Add a sensor pocket")

    def _add(self, purpose: str, label: str) -> None:
        if self._part is None:
            return
        part, catalogue = self._part, self._catalogue
        side, height = free_place(part, size_of(part, catalogue[part.kind])[1])
        letter = edits.next_letter(part)
        self._letter = letter
        self._refuse(
            self._apply(
                label,
                lambda s: edits.add_tapping(
                    s,
                    part.id,
                    height,
                    catalogue,
                    side=side,
                    purpose=purpose,
                    size="28" if purpose != "sensor" else "15",
                    letter=letter,
                ),
            )
        )
        self.table.setFocus()

    def _add_coil(self) -> None:
        if self._part is None:
            return
        part, catalogue = self._part, self._catalogue
        tall = size_of(part, catalogue[part.kind])[1]
        taken = {c.name for c in part.coils}
        name = next(n for n in ("coil", *(f"coil {i}" for i in range(2, 100))) if n not in taken)
        sentence = ""
        for bottom, top in ((0.08, 0.33), (0.1, 0.4), (0.5, 0.9), (0.15, 0.45), (0.12, 0.83)):
            for side in SIDES_TRIED:
                edit = coil_edit(part.id, name, (round(bottom * tall, 2), round(top * tall, 2)), side, catalogue)
                sentence = self._apply("Add a coil", edit)
                if not sentence:
                    self._refuse("")
                    return
        self._refuse(sentence)

    def _remove(self) -> None:
        if self._part is None or not self._letter:
            return
        part, letter, catalogue = self._part.id, self._letter, self._catalogue
        self._refuse(
            self._apply(f"Remove tapping {letter}", lambda s: edits.remove_tapping(s, part, letter, catalogue))
        )

    def _remove_coil(self) -> None:
        assert self._part is not None
        part, name, catalogue = self._part.id, str(self.sender().property("coil")), self._catalogue
        self._refuse(self._apply(f"Remove coil {name}", lambda s: edits.remove_coil(s, part, name, catalogue)))

    def _coil_entered(self, value: object) -> None:
        field = self.sender()
        if not isinstance(field, TextField) or self._part is None:
            return
        part, name, what, catalogue = self._part.id, str(field.property("coil")), field.name, self._catalogue
        field.refuse(
            self._apply(f"Change coil {name}", lambda s: edits.set_coil(s, part, name, catalogue, **{what: value}))
        )


class _Number:
    """Reads and shows a number in a unit; a small object so that no closure keeps the editor alive."""

    def __init__(self, units: Units, unit: str, blank: bool) -> None:
        self._units, self._unit, self._blank = units, unit, blank

    def read(self, text: str) -> object:
        """What was typed."""
        return self._units.read(text, self._unit, blank=self._blank)

    def show(self, value: object) -> str:
        """What stands in the field."""
        return self._units.show(value, self._unit)
