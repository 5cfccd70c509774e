"""The Figures panel: worked out beside the window, old ones grey, sorted, found, copied, lit and opened."""

from __future__ import annotations

import csv
import io
import threading

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication

from loopwright.engineering.figures import Figure, Gap, Input, every
from loopwright.files import load
from loopwright.resources import resource_root
from loopwright.sheet import edits
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL, POWER_CUT
from loopwright.window.figure_list import FIGURE, NAME, UNIT, VALUE
from loopwright.window.main import MainWindow


def figure(group: str, name: str, value: float, unit: str, **more) -> Figure:
    return Figure(
        group=group, name=name, about=more.pop("about", ("store",)), value=value, unit=unit, equation="a + b", **more
    )


VOLUME = Input("volume", 250.0, "l")
COLD = Input("cold water", 10.0, "°C", True)
STILL = (
    figure(
        "Heat store",
        "Heat held",
        11.42,
        "kWh",
        topic="stores",
        inputs=(VOLUME, COLD),
        page="store",
        source="a book",
        valid="0 to 110 °C",
    ),
    Gap(
        group="Heat store",
        name="Standing loss",
        about=("store",),
        missing="insulation of Heat store",
        topic="stores",
        prop="insulation_mm",
    ),
    figure("Heat store", "Body height", 1.2, "m", topic="stores"),
)
FLOW = (
    figure("Flow", "riser: speed", 0.31, "m/s", topic="pipes", quantity="Speed", about=("p1",)),
    figure("Flow", "return: speed", 0.12, "m/s", topic="pipes", quantity="Speed", about=("p2",)),
    figure("Flow", "riser: friction", 19.8, "Pa/m", topic="pipes", quantity="Friction", about=("p1",)),
)


@pytest.fixture
def asked(monkeypatch):
    """What the figures were asked for; answered from the lists above."""
    told: list[object] = []

    def fake(ways, condition=None, **_more):
        told.append(condition)
        return STILL if condition is None else STILL + FLOW

    monkeypatch.setattr("loopwright.engineering.figures.figures", fake)
    return told


@pytest.fixture
def panel(asked, drawn, qtbot):
    with qtbot.waitExposed(drawn):
        drawn.show()
    made = drawn.places.open("figures")
    qtbot.waitUntil(lambda: made.said.text().startswith("5 figures"))
    return made


def rows(panel) -> list[list[str]]:
    """The list as it is read: each group and what stands in it."""
    order, out = panel.order, []
    for row in range(order.rowCount()):
        group = order.index(row, NAME)
        out.append([group.data(), *(order.index(r, NAME, group).data() for r in range(order.rowCount(group)))])
    return out


def place(panel, name: str):
    found = next(f for f in panel.model.figures if f.name == name)
    return panel._row_of(found)


def test_figures_stand_in_their_groups_in_the_order_they_come(panel):
    assert rows(panel) == [
        ["Heat store", "Heat held", "Standing loss", "Body height"],
        ["Flow", "riser: speed", "return: speed", "riser: friction"],
    ]
    index = place(panel, "Heat held")
    assert (index.siblingAtColumn(VALUE).data(), index.siblingAtColumn(UNIT).data()) == ("11.4", "kWh")
    assert place(panel, "Standing loss").siblingAtColumn(VALUE).data() == "missing"
    assert "insulation of Heat store is missing" in place(panel, "Standing loss").data(
        Qt.ItemDataRole.AccessibleTextRole
    )
    assert panel.said.text() == "5 figures, 1 not assessed."


def test_by_quantity_like_stands_with_like(panel):
    panel.by.setCurrentIndex(1)
    panel.by.activated.emit(1)
    assert ["Speed", "riser", "return"] in rows(panel) and ["Friction", "Flow"] in rows(panel)


def test_a_heading_sorts_up_down_and_back(panel):
    panel.by.setCurrentIndex(1)
    panel.by.activated.emit(1)
    seen = []
    for _ in range(3):
        panel.tree.header().sectionClicked.emit(VALUE)
        seen.append(next(r for r in rows(panel) if r[0] == "Speed")[1:])
    assert seen == [["return", "riser"], ["riser", "return"], ["riser", "return"]]
    panel.by.setCurrentIndex(0)
    panel.by.activated.emit(0)
    for _ in range(2):  # what is not known stays last, whichever way
        panel.tree.header().sectionClicked.emit(VALUE)
        assert rows(panel)[0][-1] == "Standing loss" and rows(panel)[0][0] == "Heat store"


def test_the_filter_lets_through_what_has_every_word(panel):
    panel.search.setText("speed riser")
    assert rows(panel) == [["Flow", "riser: speed"]]
    panel.search.setText("insulation missing")
    assert rows(panel) == [["Heat store", "Standing loss"]]
    panel.search.setText("")
    assert len(rows(panel)) == 2


def test_choosing_a_figure_lights_its_parts_and_letting_go_puts_them_out(panel, drawn, qtbot):
    panel.tree.setCurrentIndex(place(panel, "Heat held"))
    assert set(drawn.stage.scene._lit[0]) == {"store"}
    qtbot.keyClick(panel.tree, Qt.Key.Key_Escape)
    assert not drawn.stage.scene._lit[0] and not panel.chosen()


def test_rows_copy_with_tabs_and_all_as_csv(panel, qtbot):
    flags = panel.tree.selectionModel().SelectionFlag
    for name in ("Heat held", "Standing loss"):
        panel.tree.selectionModel().select(place(panel, name), flags.Select | flags.Rows)
    qtbot.keyClick(panel.tree, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    assert QGuiApplication.clipboard().text() == (
        "Heat store\tHeat held\t11.42\tkWh\nHeat store\tStanding loss\tnot assessed\t"
    )
    qtbot.keyClick(panel.tree, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier)
    table = list(csv.DictReader(io.StringIO(QGuiApplication.clipboard().text())))
    assert [row["name"] for row in table] == [f.name for f in STILL + FLOW]
    assert table[0]["inputs"] == "volume 250 l; cold water 10 °C assumed" and table[0]["equation"] == "a + b"
    assert table[1]["note"] == "insulation of Heat store is missing" and table[1]["value"] == ""


def test_enter_shows_what_stands_behind_a_figure_and_esc_goes_back(panel, drawn, qtbot):
    panel.tree.setCurrentIndex(place(panel, "Heat held"))
    qtbot.keyClick(panel.tree, Qt.Key.Key_Return)
    page = drawn.right.currentWidget()
    text = page.text.toPlainText()
    for words in ("11.42 kWh", "a + b", "250 l", "assumed", "0 to 110 °C", "A book", "The computation in the Help"):
        assert words in text.replace("\xa0", " ")
    assert page.title.text() == "Heat held"
    qtbot.keyClick(page, Qt.Key.Key_Escape)
    assert drawn.right.currentWidget() is drawn._panels


def test_a_gap_says_what_is_missing_and_leads_to_its_field(panel, drawn, qtbot):
    panel.tree.setCurrentIndex(place(panel, "Standing loss"))
    qtbot.keyClick(panel.tree, Qt.Key.Key_Return)
    page = drawn.right.currentWidget()
    assert "Insulation of Heat store is missing" in page.text.toPlainText()
    page.jump.click()
    assert drawn.document.chosen == {"store"}
    entry = drawn.properties.fields()["insulation_mm"].entry
    assert drawn.focusWidget() is entry and drawn.right.currentWidget() is drawn._panels


def test_other_units_are_shown_at_once(panel, drawn):
    drawn.preferred.use("imperial")
    index = place(panel, "Body height")
    assert index.siblingAtColumn(VALUE).data() == "3 ft 11.2 in"
    index = place(panel, "riser: speed")
    assert (index.siblingAtColumn(VALUE).data(), index.siblingAtColumn(UNIT).data()) == ("1.02", "ft/s")


def test_another_condition_asks_again(panel, drawn, asked, qtbot):
    asked.clear()
    drawn.conditions.set_condition(POWER_CUT)
    qtbot.waitUntil(lambda: panel.said.text().startswith("5 figures"))
    assert asked == [None, POWER_CUT]


def test_old_figures_stay_grey_until_new_ones_come_and_overtaken_answers_are_dropped(
    qtbot, small, catalogue, memory, answers, tmp_path, monkeypatch
):
    gate = threading.Event()
    asked: list[tuple[str, object]] = []

    def held(ways, condition=None):
        asked.append((ways.sheet.title, condition))
        if condition is not None:
            assert gate.wait(10)
        return STILL[:1] if condition is None else STILL[:1] + FLOW[:1]

    monkeypatch.setattr("loopwright.engineering.figures.figures", held)
    window = MainWindow(catalogue, memory, rest_ms=0, staged=False, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(window, before_close_func=lambda w: (gate.set(), w.shut_down()))
    window.document.open(small, None)
    panel = window.places.open("figures")
    gate.set()
    qtbot.waitUntil(lambda: panel.said.text() == "2 figures.", timeout=5000)
    assert not panel.model.stale
    gate.clear()
    window.document.apply("Title", lambda s: edits.set_title(s, "Second"))
    assert panel.said.text() == "working out…" and panel.model.stale == {0, 1}
    qtbot.waitUntil(lambda: panel.model.stale == {1}, timeout=5000)  # what needs no flow is there, the rest still old
    window.document.apply("Title", lambda s: edits.set_title(s, "Third"))
    assert panel.model.stale == {0, 1}
    gate.set()
    qtbot.waitUntil(lambda: panel.said.text() == "2 figures.", timeout=5000)
    assert asked[-1] == ("Third", NORMAL) and not panel.model.stale


def test_the_list_is_what_the_engineering_says_of_a_real_sheet(qtbot, window, catalogue):
    sheet = load(resource_root() / "starters" / "oil-by-coil.loopwright", catalogue)
    window.document.open(sheet, None)
    panel = window.places.open("figures")
    qtbot.waitUntil(lambda: "figures" in panel.said.text(), timeout=20_000)
    whole = every.figures(Waterways(sheet, catalogue), NORMAL)
    shown = [
        panel.order.index(r, NAME, g).data(FIGURE)
        for g in (panel.order.index(row, NAME) for row in range(panel.order.rowCount()))
        for r in range(panel.order.rowCount(g))
    ]
    assert sorted(f.name for f in shown) == sorted(f.name for f in whole) and set(shown) == set(whole)
