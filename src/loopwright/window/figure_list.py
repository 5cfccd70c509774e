"""Figures as a list in groups: what each cell says, how they sort and what the filter lets through, and as text.

Owns the order, the wording of cells and the text that is copied. Refuses to compute a figure.
"""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Literal

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QSortFilterProxyModel, Qt
from PySide6.QtGui import QBrush, QFont, QStandardItem, QStandardItemModel
from PySide6.QtWidgets import QWidget

from loopwright.engineering.figures.figure import Figure, Gap
from loopwright.window.as_typed import tip
from loopwright.window.quantities import Units
from loopwright.window.theme import Theme

Shown = Figure | Gap
Index = QModelIndex | QPersistentModelIndex
Grouping = Literal["subject", "quantity"]
NAME, VALUE, UNIT = range(3)
HEADS = ("Figure", "Value", "")
FIGURE = Qt.ItemDataRole.UserRole + 1
PLACE = Qt.ItemDataRole.UserRole + 2
"""Where a row stands as the figures come."""
WORDS = Qt.ItemDataRole.UserRole + 3
"""What the filter looks through, in small letters."""
FIGURES = 3
"""Figures of a number in the list that matter; the page of a figure shows more."""
NOT_ASSESSED, MISSING = "not assessed", "missing"


def number_words(value: float, unit: str, units: Units, figures: int = FIGURES) -> tuple[str, str]:
    """A number and its unit sign, each alone, in the units that are preferred."""
    return units.show_rounded(value, unit, figures), units.sign(unit)


def cell_words(figure: Shown, units: Units, figures: int = FIGURES) -> tuple[str, str]:
    """The value and unit of a figure, or that it is not assessed."""
    if isinstance(figure, Gap):
        return NOT_ASSESSED, ""
    return number_words(figure.value, figure.unit, units, figures)


def quantity_of(figure: Shown) -> str:
    """What a figure is a number of: figures of one quantity compare."""
    return (figure.quantity if isinstance(figure, Figure) else "") or figure.name


def _subject(figure: Shown) -> str:
    """Whose number it is, as far as the name says it: `riser` of “riser: friction”."""
    return figure.name.removesuffix(f": {quantity_of(figure).lower()}").removesuffix(f": {quantity_of(figure)}")


class FigureModel(QStandardItemModel):
    """Groups, each with its figures and gaps, in the order in which they come."""

    def __init__(self, look: Theme, parent: QWidget | None = None) -> None:
        super().__init__(0, len(HEADS), parent)
        self.look, self.units = look, Units()
        self.grouping: Grouping = "subject"
        self.figures: tuple[Shown, ...] = ()
        self.stale: frozenset[int] = frozenset()

    def show(self, figures: Sequence[Shown], stale: Iterable[int] = ()) -> None:
        """Take another list. `stale` are places in it whose figures are of the sheet before."""
        self.figures, self.stale = tuple(figures), frozenset(stale)
        self.rebuild()

    def rebuild(self) -> None:
        """Make the rows again, after another theme, other units or another grouping."""
        groups: dict[str, QStandardItem] = {}
        alike = Counter((quantity_of(f), f.group) for f in self.figures)
        for place, figure in enumerate(self.figures):
            title = figure.group if self.grouping == "subject" else quantity_of(figure)
            if title not in groups:
                groups[title] = self._group(title, place)
            label = figure.name
            if self.grouping == "quantity":
                label = figure.group if alike[title, figure.group] == 1 else _subject(figure)
            groups[title].appendRow(self._row(figure, place, label))
        self.clear()
        self.setHorizontalHeaderLabels(HEADS)
        for item in groups.values():
            item.setData(f"{item.text()}, {item.rowCount()} figures", Qt.ItemDataRole.AccessibleTextRole)
            rest = [QStandardItem(), QStandardItem()]
            for one in rest:
                one.setFlags(Qt.ItemFlag.ItemIsEnabled)
            self.appendRow([item, *rest])

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        if role == Qt.ItemDataRole.TextAlignmentRole and orientation == Qt.Orientation.Horizontal:
            side = Qt.AlignmentFlag.AlignRight if section == VALUE else Qt.AlignmentFlag.AlignLeft
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        return super().headerData(section, orientation, role)

    def _group(self, title: str, place: int) -> QStandardItem:
        item = QStandardItem(title)
        item.setForeground(QBrush(self.look.colour("ink2")))
        item.setData(place, PLACE)
        item.setData("", WORDS)
        item.setEditable(False)
        item.setToolTip(tip(title))
        return item

    def _row(self, figure: Shown, place: int, label: str) -> list[QStandardItem]:
        gap = isinstance(figure, Gap)
        value, unit = (MISSING, "") if gap else cell_words(figure, self.units)
        cells = [QStandardItem(text) for text in (label, value, unit)]
        said = f"{figure.missing} is missing" if isinstance(figure, Gap) else figure.note
        faint = place in self.stale
        for column, cell in enumerate(cells):
            cell.setEditable(False)
            cell.setData(figure, FIGURE)
            cell.setData(place, PLACE)
            token = "ink3" if faint or column == UNIT or (gap and column == VALUE) else "ink"
            cell.setForeground(QBrush(self.look.colour(token)))
            cell.setToolTip(f"{figure.name}, {figure.group}." + (f" {said[:1].upper()}{said[1:]}." if said else ""))
        cells[NAME].setData(" ".join((figure.name, figure.group, said, value, unit)).lower(), WORDS)
        heard = f"{figure.name}, {value} {unit}".strip() + (f". {said}" if said else "")
        cells[NAME].setData(heard + (", being worked out again" if faint else ""), Qt.ItemDataRole.AccessibleTextRole)
        cells[VALUE].setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if not gap:
            font = QFont(self.parent().font())  # type: ignore[union-attr]
            font.setWeight(QFont.Weight.DemiBold)
            cells[VALUE].setFont(font)
        return cells


class FigureOrder(QSortFilterProxyModel):
    """Sorts within the groups, which keep their place, and lets through what has every word of the filter."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._words: tuple[str, ...] = ()
        self.setRecursiveFilteringEnabled(True)

    def look_for(self, text: str) -> None:
        """Let through only what has all these words."""
        self._words = tuple(text.lower().split())
        self.invalidate()

    def filterAcceptsRow(self, row: int, parent: Index) -> bool:
        if not self._words:
            return True
        index = self.sourceModel().index(row, NAME, parent)
        words = index.data(WORDS)
        return bool(words) and all(word in words for word in self._words)

    def lessThan(self, left: Index, right: Index) -> bool:
        if not left.parent().isValid():
            first, second = (i.model().index(i.row(), NAME).data(PLACE) for i in (left, right))
            under = bool(first < second)
            return under if self.sortOrder() == Qt.SortOrder.AscendingOrder else not under
        a, b = left.data(FIGURE), right.data(FIGURE)
        if left.column() == NAME:
            return str(left.data()).casefold() < str(right.data()).casefold()
        if isinstance(a, Gap) and isinstance(b, Gap):
            return bool(left.data(PLACE) < right.data(PLACE))
        if isinstance(a, Gap) or isinstance(b, Gap):  # what is not known comes last, whichever way it is sorted
            return isinstance(a, Gap) == (self.sortOrder() == Qt.SortOrder.DescendingOrder)
        return bool(a.value < b.value)


def as_tabs(figures: Iterable[Shown], units: Units) -> str:
    """Figures as lines of name, number and unit with tabs between, for a spreadsheet or a letter."""
    lines = []
    for one in figures:
        number, unit = cell_words(one, units, 6)
        lines.append("\t".join((one.group, one.name, number, unit)))
    return "\n".join(lines)


def as_csv(figures: Iterable[Shown], units: Units) -> str:
    """Figures as a table with all that stands behind each: equation, inputs, validity, source, parts."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(["group", "name", "value", "unit", "equation", "inputs", "validity", "source", "note", "parts"])
    for one in figures:
        parts = " ".join(one.about)
        if isinstance(one, Gap):
            table.writerow([one.group, one.name, "", "", "", "", "", "", f"{one.missing} is missing", parts])
            continue
        number, unit = number_words(one.value, one.unit, units, 6)
        inputs = "; ".join(
            f"{i.name} {' '.join(number_words(i.value, i.unit, units, 6))}".strip() + (" assumed" if i.assumed else "")
            for i in one.inputs
        )
        table.writerow(
            [one.group, one.name, number, unit, one.equation, inputs, one.valid, one.source, one.note, parts]
        )
    return out.getvalue()
