"""Dimensions, control links, notes, floors, quick search, key of lines and map, by hand in the window."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hand import Hand
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QMenu
from test_story import shown

from loopwright.sheet import edits
from loopwright.sheet.dimensions import measured_m
from loopwright.sheet.ports import box_of, ports_of
from loopwright.sheet.values import ControlLink, Dimension, End, Foot, Note, Part, Sheet
from loopwright.window.actions import COMMANDS, keys_html

CTRL, SHIFT = Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier


@pytest.fixture
def hand(qtbot, drawn) -> Hand:
    return shown(qtbot, drawn)


def test_a_height_is_measured_and_follows(drawn, hand, catalogue):
    doc = drawn.document
    hand.key(Qt.Key.Key_D)
    a, b = hand.port("stove", "flow"), hand.port("store", "A")
    for at in (a, b, (0.3, 1.0)):
        hand.click(at)
    (one,) = doc.sheet.dimensions
    assert doc.chosen == {one.id} and drawn.stage.tool == "select"
    assert measured_m(doc.sheet, one, catalogue) == pytest.approx(abs(a[1] - b[1]))
    drawn.stage.scene.place_labels()
    figure = next(w for w in drawn.stage.scene.labels.words if w.owner == one.id)
    assert figure.lines == (f"{abs(a[1] - b[1]):.2f} m",)
    doc.apply("Raise", lambda s: edits.move(s, {"store"}, 0.0, 0.5, catalogue))
    assert measured_m(doc.sheet, doc.sheet.dimensions[0], catalogue) == pytest.approx(abs(a[1] - b[1] - 0.5))
    # it is hit by its line, and goes with Delete
    hand.click((4.0, 3.4))
    hand.click((0.3, 0.75))
    assert doc.chosen == {one.id}
    hand.key(Qt.Key.Key_Delete)
    assert doc.sheet.dimensions == ()


def test_a_sensor_is_linked_to_a_pump_and_the_condition_changed_in_words(drawn, hand, catalogue):
    doc = drawn.document
    doc.apply("Place", lambda s: edits.place(s, Part(id="TS1", kind="pipe_thermostat", x_m=6.0, height_m=2.0)))
    hand.key(Qt.Key.Key_L)
    hand.click((6.0, 2.0))
    hand.click((7.0, 1.0))
    (link,) = doc.sheet.links.values()
    assert (link.sensor, link.target, link.does, link.setting_c) == ("TS1", "P1", "runs_above", 55.0)
    assert "runs while" in drawn.status.words.text() and "55 °C" in drawn.status.words.text()
    fields = drawn.properties.fields()
    hand.fill("setting_c", "60")
    assert doc.sheet.links[link.id].setting_c == 60.0
    box = fields["does"].box
    box.setCurrentIndex(box.findData("difference"))
    box.activated.emit(box.currentIndex())
    changed = doc.sheet.links[link.id]
    assert (changed.does, changed.setting_c, changed.off_c) == ("difference", 6.0, 3.0)
    second = drawn.properties.fields()["second"].box
    words = [second.itemText(k) for k in range(second.count())]
    assert any(w.startswith("Heat store at 0.90 m (C") for w in words), words
    second.setCurrentIndex(next(k for k, w in enumerate(words) if w.startswith("Heat store at 0.90 m")))
    second.activated.emit(second.currentIndex())
    assert doc.sheet.links[link.id].second == "store/C"
    # chosen again by its line on the sheet
    hand.click((5.0, 3.4))
    assert doc.chosen == frozenset()
    hand.click((6.5, 2.0))
    assert doc.chosen == {link.id}


def test_a_condition_is_written_on_the_sheet_in_plain_words(drawn, hand, answers):
    doc, link = drawn.document, ControlLink(id="L1", sensor="store/C", target="P1", does="runs_above", setting_c=60.0)
    doc.apply("Link", lambda s: edits.put_link(s, link), {"L1"})
    hand.key(Qt.Key.Key_Return)
    box = drawn.stage.over.writing
    assert box.isVisible() and box.toPlainText() == "runs above 60 °C"
    hand.type("below 55 until 65")
    hand.key(Qt.Key.Key_Return)
    now = doc.sheet.links["L1"]
    assert (now.does, now.setting_c, now.off_c) == ("runs_below", 55.0, 65.0)
    assert "below 55 °C, until 65 °C" in drawn.status.words.text()
    hand.key(Qt.Key.Key_Return)
    hand.type("whenever")
    hand.key(Qt.Key.Key_Return)
    assert doc.sheet.links["L1"] is now and "no condition" in drawn.status.words.text()
    hand.undo()
    assert doc.sheet.links["L1"].does == "runs_above"


def test_what_feels_nothing_begins_no_link(drawn, hand):
    hand.key(Qt.Key.Key_L)
    hand.click((7.0, 1.0))
    assert "feels nothing" in drawn.status.words.text() and not drawn.document.sheet.links


def test_a_note_is_written_where_it_stands(drawn, hand):
    doc = drawn.document
    hand.key(Qt.Key.Key_N)
    hand.click((5.5, 3.0))
    hand.type("Lag this pipe")
    hand.key(Qt.Key.Key_Return, SHIFT)
    hand.type("with 25 mm")
    hand.key(Qt.Key.Key_Return)
    (note,) = doc.sheet.notes
    assert note.text == "Lag this pipe\nwith 25 mm"
    assert drawn.stage.view.hasFocus(), "the keys are the sheet's again"
    assert drawn.stage.over.write_note(note.id)
    hand.type("Never mind")
    hand.key(Qt.Key.Key_Escape)
    assert doc.sheet.notes[0].text == "Lag this pipe\nwith 25 mm"
    hand.key(Qt.Key.Key_N)
    hand.click((6.5, 2.0))
    hand.type("Never mind")
    hand.key(Qt.Key.Key_Escape)
    assert len(doc.sheet.notes) == 1, "what was left before it said anything does not stay behind"


def test_what_is_for_pipes_works_on_those_of_a_chosen_part(drawn, hand):
    doc = drawn.document
    doc.choose(["P1"])
    assert not drawn.actions_["lead_anew"].isEnabled()
    doc.choose(["stove"])
    hand.key(Qt.Key.Key_P, CTRL | SHIFT)
    assert "Every pipe already runs" in drawn.status.words.text()
    hand.key(Qt.Key.Key_A, CTRL | SHIFT)
    assert doc.chosen == set(doc.sheet.pipes) | {"stove"}


def test_the_count_of_an_opened_sheet_is_shown(window, small):
    window.document.open(small, None)
    words = [label.text() for label in window.properties.findChildren(QLabel)]
    assert "3 parts, 2 pipes." in words


def test_a_part_is_named_at_the_pointer_and_placed(drawn, hand):
    doc = drawn.document
    hand.point((6.0, 2.5))
    hand.key(Qt.Key.Key_A)
    assert drawn.stage.over.popup.isVisible()
    hand.type("expansion vessel")
    hand.key(Qt.Key.Key_Return)
    assert drawn.stage.tool == "select" and drawn.stage.view.hasFocus()
    new = [p for p in doc.sheet.parts.values() if p.kind == "expansion_vessel"]
    assert len(new) == 1 and abs(new[0].x_m - 6.0) < 0.06 and abs(new[0].height_m - 2.5) < 0.06
    hand.key(Qt.Key.Key_A)
    hand.key(Qt.Key.Key_Escape)
    assert not drawn.stage.over.popup.isVisible() and drawn.stage.view.hasFocus()


def test_a_coil_and_a_pocket_go_into_the_vessel_under_the_pointer(drawn, hand):
    doc = drawn.document
    before = doc.sheet.parts["store"]
    for words in ("boiler coil 1.4", "pocket 1.05"):
        hand.point((4.1, 1.2))
        hand.key(Qt.Key.Key_A)
        assert "puts a coil or a pocket in" in drawn.status.words.text()
        hand.type(words)
        hand.key(Qt.Key.Key_Return)
    store = doc.sheet.parts["store"]
    (coil,) = (c for c in store.coils if c not in before.coils)
    assert (coil.purpose, coil.area_m2) == ("source", 1.4)
    assert any(t.purpose == "sensor" and t.height_m == 1.05 for t in store.tappings)
    hand.undo()
    hand.undo()
    assert doc.sheet.parts["store"] == before, "one step each"


def test_a_lesson_lends_the_quick_search_its_kinds_alone(drawn, hand):
    drawn.parts.allow(frozenset({"pump"}))
    hand.point((6.5, 3.0))
    hand.key(Qt.Key.Key_A)
    rows = drawn.stage.over.popup.list
    assert [rows.item(k).text() for k in range(rows.count())] == ["Pump"]
    hand.type("stove")
    assert rows.count() == 0


def test_a_row_that_finds_no_room_says_so_and_stays_on_the_pointer(drawn, hand):
    doc, sheet = drawn.document, drawn.document.sheet
    line = drawn.stage.scene.lines[sheet.taken[End("stove", "flow")]]
    hand.point(((line[0][0] + line[1][0]) / 2, line[0][1]))
    hand.key(Qt.Key.Key_A)
    hand.type("stop, check, stop, check, stop, check")
    hand.key(Qt.Key.Key_Return)
    assert doc.sheet is sheet and drawn.stage.tool == "place"
    assert "needs" in drawn.status.words.text()


def test_a_part_is_found_by_its_name(drawn, hand):
    hand.key(Qt.Key.Key_F, CTRL)
    hand.type("stov")
    hand.key(Qt.Key.Key_Return)
    assert drawn.document.chosen == {"stove"}
    hand.key(Qt.Key.Key_2, CTRL)
    assert drawn.stage.view.zoom > 1.2, "what is chosen is brought near"


def test_parts_are_brought_into_line_from_the_menu(drawn, hand):
    doc = drawn.document
    doc.choose({"stove", "P1"})
    drawn.actions_["align_bottom"].trigger()
    assert doc.undo_label == "Align bases"
    assert not drawn.actions_["spread_across"].isEnabled()
    doc.choose({"stove"})
    assert not drawn.actions_["align_left"].isEnabled()


def test_a_floor_is_dragged_on_the_ruler(drawn, hand):
    doc, ruler = drawn.document, drawn.stage.view.heights
    y = drawn.stage.view.mapFromScene(0.0, 0.0).y()
    up = drawn.stage.view.mapFromScene(0.0, -30.0).y()
    QTest.mousePress(ruler, Qt.MouseButton.LeftButton, pos=QPoint(30, y))
    QTest.mouseMove(ruler, QPoint(30, (y + up) // 2))
    QTest.mouseRelease(ruler, Qt.MouseButton.LeftButton, pos=QPoint(30, up))
    assert doc.sheet.levels[0].height_m == pytest.approx(0.3, abs=0.051) and doc.undo_label == "Move ground floor"
    hand.undo()
    assert doc.sheet.levels[0].height_m == 0.0


def pick(qtbot, window, row: int) -> None:
    """Go down an open menu of the ruler by keys and take a row."""
    menu = next(m for m in window.stage.findChildren(QMenu) if m.objectName() == "floor-menu" and m.isVisible())
    for _ in range(row + 1):
        QTest.keyClick(menu, Qt.Key.Key_Down)
    QTest.keyClick(menu, Qt.Key.Key_Return)
    window.activateWindow()
    qtbot.waitUntil(lambda: not menu.isVisible(), timeout=1000)


def test_a_floor_is_added_named_and_removed_from_the_rulers_menu(qtbot, drawn, hand):
    doc, view = drawn.document, drawn.stage.view
    view.heights.menu_wanted.emit("", 2.6, QPoint(100, 100))
    pick(qtbot, drawn, 0)
    hand.type("Upstairs")
    hand.key(Qt.Key.Key_Return)
    assert [(v.name, v.height_m) for v in doc.sheet.levels] == [("Ground floor", 0.0), ("Upstairs", 2.6)]
    view.heights.menu_wanted.emit("Upstairs", 2.6, QPoint(100, 100))
    pick(qtbot, drawn, 2)
    assert [v.name for v in doc.sheet.levels] == ["Ground floor"]


def test_the_key_of_lines_names_what_is_on_the_sheet(drawn, hand):
    drawn.actions_["legend"].trigger()
    legend = drawn.stage.over.legend
    assert legend.isVisible() and legend.rows
    assert not legend.grab().isNull()
    drawn.actions_["legend"].trigger()
    assert not legend.isVisible()


def test_the_map_leads_to_a_place(drawn, hand):
    drawn.stage.view.set_zoom(2.5)
    drawn.actions_["overview"].trigger()
    card = drawn.stage.over.overview
    assert card.isVisible()
    before = drawn.stage.view.metres(drawn.stage.view.viewport().rect().center().toPointF())
    QTest.mouseClick(card, Qt.MouseButton.LeftButton, pos=QPoint(30, 100))
    after = drawn.stage.view.metres(drawn.stage.view.viewport().rect().center().toPointF())
    assert after[0] < before[0]


def test_the_title_block_is_set_in_the_properties(drawn, hand):
    drawn.document.choose(())
    hand.fill("revision", "B")
    hand.fill("drawn_by", "The fitter")
    assert (drawn.document.sheet.block.revision, drawn.document.sheet.block.drawn_by) == ("B", "The fitter")
    scale = drawn.properties.fields()["scale"].box
    scale.setCurrentIndex(scale.findData(25.0))
    scale.activated.emit(scale.currentIndex())
    assert drawn.document.sheet.block.scale == 25.0


def test_the_title_block_leaves_the_floor_below_a_hanging_part_free(drawn, hand):
    hanging = Part(id="r", kind="radiator", x_m=3.0, height_m=0.6)
    drawn.document.apply("Hang a radiator", lambda s: edits.place(Sheet(), hanging))
    top = drawn.stage.scene.page_layer.title_box[1]
    assert top >= 0.0, "the ground floor is at nought, and downwards counts on from there"


def test_a_key_of_the_tool_in_hand_is_no_command(drawn, hand):
    """M mirrors what hangs on the pointer, whatever command has the letter."""
    drawn.stage.place("pump")
    drawn.stage.take_focus()
    hand.point((6.0, 3.0))
    hand.key(Qt.Key.Key_M)
    assert drawn.stage.view.tool.mirror
    hand.key(Qt.Key.Key_R)
    assert drawn.stage.view.tool.turn == 1
    hand.click((6.0, 3.0))
    placed = next(p for p in drawn.document.sheet.parts.values() if p.id != "P1" and p.kind == "pump")
    assert placed.mirror and placed.turn == 1


def test_no_two_commands_share_a_key():
    keys = [key for command in COMMANDS for key in command.keys]
    assert len(keys) == len(set(keys))


def test_what_is_chosen_is_said_to_a_screen_reader(drawn, hand):
    doc = drawn.document
    note = Note(id="note", x_m=6.0, height_m=3.0, text="Hot")
    link = ControlLink(id="link", sensor="store/C", target="P1", does="runs_above", setting_c=50.0)
    rise = Dimension(id="rise", a=Foot(height_m=0.0), b=Foot(height_m=1.5), x_m=0.0)
    doc.apply("Words", lambda s: edits.put_dimension(edits.put_link(edits.put_note(s, note), link), rise))
    said = {}
    for one in ("note", "link", "rise", "P1"):
        doc.choose([one])
        said[one] = drawn.stage.view.accessibleDescription()
    assert said["note"] == "Note: Hot" and said["rise"] == "Dimension, 1.50 m"
    assert said["link"] == "Control link. Pump runs while Heat store at 0.90 m (C) is above 50 °C."
    doc.choose(["note", "rise"])
    assert drawn.properties.title.text() == "Selection"
    hand.key(Qt.Key.Key_A, CTRL)
    hand.key(Qt.Key.Key_D, CTRL)
    assert len(doc.sheet.notes) == 2 and len(doc.sheet.dimensions) == 2 and len(doc.sheet.links) == 2


def test_the_page_of_keys_tells_the_gestures_too():
    page = keys_html()
    assert "Ctrl D" in page and "Alt drag" in page and "=2.6" in page


def test_a_pipe_keeps_off_the_letters_of_a_store(drawn, catalogue):
    """They stand beside it on either side; only a pipe that is let out of there runs among them."""
    host, sheet = drawn.stage.host, drawn.document.sheet
    port = ports_of(sheet.parts["store"], catalogue)["E"]
    edge = box_of(sheet.parts["store"], catalogue)[2]
    way = (port.at, *host.route(port.at, port.side, (6.0, 3.4), None), (6.0, 3.4))
    upright = [a[0] for a, b in pairwise(way) if abs(a[0] - b[0]) < 1e-6 and abs(a[1] - b[1]) > 1e-6]
    assert upright and all(x >= edge + 0.22 - 1e-6 for x in upright), way
    among = (edge + 0.1, 1.0)
    assert host.route(among, "up", (6.0, 3.4), None)[0][0] == among[0], "a fitting that stands there can be piped up"


def test_the_menu_of_the_sheet_adds_a_part_there_and_is_forgotten(qtbot, drawn, hand):
    at = (6.5, 3.0)
    there = drawn.stage.view.viewport().mapToGlobal(hand.spot(at))
    for chosen in (False, True):
        drawn.commands.sheet_menu(None, there)
        menu = next(m for m in drawn.findChildren(QMenu) if m.isVisible())
        place = next(a for a in menu.actions() if a.text() == "Place")
        if chosen:
            QTest.mouseClick(menu, Qt.MouseButton.LeftButton, pos=menu.actionGeometry(place).center())
            assert drawn.stage.over.popup.isVisible()
            drawn.activateWindow()  # a menu that was open takes the keys along where there is no desktop
            hand.breathe()
            drawn.stage.over.popup.line.setFocus()
            hand.type("radiator")
            hand.key(Qt.Key.Key_Return)
        else:
            menu.close()
        qtbot.waitUntil(lambda: drawn.commands.drawing.spot is None, timeout=1000)
    (part,) = (p for p in drawn.document.sheet.parts.values() if p.kind == "radiator")
    assert (part.x_m, part.height_m) == pytest.approx(at, abs=0.03)
