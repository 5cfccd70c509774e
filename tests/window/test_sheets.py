"""The frame: several sheets in one window, each with its own history; closing them; and what shows before they load."""

from __future__ import annotations

from loopwright.files.writer import save
from loopwright.sheet import edits
from loopwright.window.questions import Choice
from loopwright.window.sheets import SHADES, Sheets
from loopwright.window.theme import theme


def test_the_empty_frame_has_the_colours_of_the_theme(qtbot, memory):
    for mode, shades in SHADES.items():
        look = theme(mode)
        assert shades == (look["chrome"], look["line"], look["paper"])
    frame = Sheets(memory)
    qtbot.addWidget(frame)
    with qtbot.waitSignal(frame.painted):
        frame.show()
    at = frame.grab().toImage()
    assert at.pixelColor(5, 5).name().upper() == SHADES["light"][0]
    assert at.pixelColor(400, 400).name().upper() == SHADES["light"][2]


def test_an_untouched_sheet_gives_way_and_one_in_use_keeps_its_tab(frame, tmp_path, small):
    save(small, tmp_path / "barn.loopwright")
    first = frame.current
    assert first.filing.open(tmp_path / "barn.loopwright")
    assert frame.windows() == (first,) and frame.tabs.isHidden()
    first.commands.new()
    assert len(frame.windows()) == 2 and not frame.tabs.isHidden()
    second = frame.current
    assert second is not first and not second.document.sheet.parts
    assert not second.filing.open(tmp_path / "barn.loopwright") or frame.current is second
    assert first.document.sheet == small


def test_a_file_that_is_open_comes_to_the_front(frame, tmp_path, small):
    save(small, tmp_path / "barn.loopwright")
    first = frame.current
    first.filing.open(tmp_path / "barn.loopwright")
    first.commands.new()
    second = frame.current
    second.document.apply("Set title", lambda s: edits.set_title(s, "Second"))
    second.filing.open(tmp_path / "barn.loopwright")
    assert frame.current is first and len(frame.windows()) == 2


def test_each_sheet_keeps_its_own_history_and_tab_says_what_is_not_saved(frame):
    first = frame.current
    first.document.apply("Set title", lambda s: edits.set_title(s, "First"))
    first.commands.new()
    second = frame.current
    second.document.apply("Set title", lambda s: edits.set_title(s, "Second"))
    assert [frame.tabs.tabText(n) for n in range(2)] == ["First •", "Second •"]
    second.commands.undo()
    assert second.document.sheet.title == "Untitled" and first.document.sheet.title == "First"
    assert frame.tabs.tabText(1) == "Untitled"
    assert frame.windowTitle().startswith("Untitled") and not frame.isWindowModified()


def test_closing_asks_for_each_sheet_that_is_not_saved_and_can_be_called_off(frame, answers):
    first = frame.current
    first.document.apply("Set title", lambda s: edits.set_title(s, "First"))
    first.commands.new()
    answers["ask_save"] = Choice.CANCEL
    assert not frame.close() and len(frame.windows()) == 2 and frame.current is first
    answers["ask_save"] = Choice.DROP
    assert frame.close() and frame.windows() == ()


def test_the_last_sheet_leaves_an_empty_one_and_that_the_program(frame, answers, small):
    frame.current.document.open(small, None)
    frame.current.actions_["close"].trigger()
    assert len(frame.windows()) == 1 and not frame.current.document.sheet.parts
    frame.current.actions_["close"].trigger()
    assert frame.windows() == ()


def test_a_theme_chosen_in_one_sheet_is_that_of_all(frame):
    first = frame.current
    first.document.apply("Set title", lambda s: edits.set_title(s, "First"))
    first.commands.new()
    frame.current.commands.dark()
    assert first.look.mode == frame.current.look.mode == "dark"
    frame.current.commands.light()
    assert first.look.mode == "light"
