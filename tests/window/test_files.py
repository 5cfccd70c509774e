"""Opening, saving and the guard: what is asked, what follows, and that nothing is lost on the way."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from PySide6.QtCore import QSettings

from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.sheet import edits
from loopwright.window.app import Starting
from loopwright.window.crash import CrashHook, Recovery
from loopwright.window.document import Document
from loopwright.window.questions import Choice
from loopwright.window.recent import KEEP, Memory


@pytest.fixture
def file(tmp_path, small):
    path = tmp_path / "barn.loopwright"
    save(small, path)
    return path


def change(window) -> None:
    window.document.apply("Set title", lambda s: edits.set_title(s, s.title + " changed"))


def test_open_and_save_give_the_same_sheet(window, file, small, catalogue):
    assert window.filing.open(file)
    assert window.document.sheet == small and window.document.clean
    assert "Kiln Lane barn" in window.windowTitle()
    change(window)
    assert window.isWindowModified()
    assert window.filing.save()
    assert load(file, catalogue).title == "Kiln Lane barn changed"
    assert window.document.clean and not window.isWindowModified()


def test_a_refused_file_is_a_page_and_the_sheet_before_it_stays(drawn, tmp_path, qtbot):
    before = drawn.document.sheet
    bad = tmp_path / "bad.loopwright"
    bad.write_text('{"format": "something else"}')
    assert not drawn.filing.open(bad)
    assert drawn.document.sheet is before
    assert drawn.views.currentWidget() is drawn.refused
    assert drawn.refused.title.text() == "bad.loopwright was not opened"
    drawn.escape()
    assert drawn.views.currentWidget() is not drawn.refused


def test_a_file_that_is_not_there_is_refused(window, tmp_path):
    assert not window.filing.open(tmp_path / "none.loopwright")
    assert window.views.currentWidget() is window.refused


@pytest.mark.parametrize(
    ("answer", "goes", "saved"),
    [(Choice.SAVE, True, True), (Choice.DROP, True, False), (Choice.CANCEL, False, False)],
)
def test_the_guard_before_a_drawing_goes(window, file, answers, catalogue, answer, goes, saved):
    window.filing.open(file)
    change(window)
    changed = window.document.sheet
    answers["ask_save"] = answer
    assert window.filing.new() is goes
    assert (load(file, catalogue).title == "Kiln Lane barn changed") is saved
    assert (window.document.sheet is changed) is not goes


def test_a_clean_drawing_goes_without_a_question(window, file):
    window.filing.open(file)
    assert window.filing.new()


def test_closing_is_guarded(window, file, answers):
    window.filing.open(file)
    change(window)
    answers["ask_save"] = Choice.CANCEL
    assert not window.close()
    answers["ask_save"] = Choice.DROP
    assert window.close()


def test_save_without_a_file_asks_where(drawn, answers, tmp_path, catalogue):
    change(drawn)
    answers["ask_save_path"] = None
    assert not drawn.filing.save() and not drawn.document.clean
    answers["ask_save_path"] = tmp_path / "new.loopwright"
    assert drawn.filing.save()
    assert load(tmp_path / "new.loopwright", catalogue) == drawn.document.sheet
    assert drawn.memory.recent()[0] == (tmp_path / "new.loopwright").resolve()


def test_a_sheet_nobody_has_titled_takes_the_name_of_its_first_file(drawn, answers, tmp_path):
    drawn.document.apply("Take the title off", lambda s: edits.set_title(s, "Untitled"))
    answers["ask_save_path"] = tmp_path / "Mill.loopwright"
    assert drawn.filing.save() and drawn.document.clean and drawn.document.sheet.title == "Mill"
    drawn.document.undo()
    assert drawn.document.sheet.title == "Untitled" and drawn.filing.save() and drawn.document.sheet.title == "Untitled"


def test_a_file_changed_by_somebody_else_is_not_written_over_unasked(window, file, answers, small, catalogue):
    window.filing.open(file)
    change(window)
    save(edits.set_title(small, "By another"), file)
    answers["ask_overwrite_changed"] = False
    assert not window.filing.save()
    assert load(file, catalogue).title == "By another"
    answers["ask_overwrite_changed"] = True
    assert window.filing.save()
    assert load(file, catalogue).title == "Kiln Lane barn changed"


def test_a_save_that_fails_keeps_the_drawing_and_says_so(drawn, answers, tmp_path):
    change(drawn)
    answers["ask_save_path"] = tmp_path / "no such folder" / "x.loopwright"
    answers["tell"] = None
    assert not drawn.filing.save()
    assert not drawn.document.clean and drawn.status.words.text()


def test_exports_write_files(drawn, answers, tmp_path, qtbot):
    """Source: a PDF begins with %PDF (ISO 32000-1, 7.5.2), a PNG with 89 50 4E 47 (ISO/IEC 15948, 5.2)."""
    for command, name, head in (("export_pdf", "a.pdf", b"%PDF"), ("export_png", "a.png", b"\x89PNG")):
        answers["ask_save_path"] = tmp_path / name
        drawn.actions_[command].trigger()
        assert (tmp_path / name).read_bytes().startswith(head)


def test_the_recent_list_is_short_newest_first_and_without_what_is_gone(tmp_path):
    memory = Memory(QSettings(str(tmp_path / "s.ini"), QSettings.Format.IniFormat))
    paths = [tmp_path / f"{n}.loopwright" for n in range(KEEP + 3)]
    for path in paths:
        path.write_text("x")
        memory.add(path)
    assert memory.recent() == paths[: -KEEP - 1 : -1]
    memory.add(paths[5])
    assert memory.recent()[0] == paths[5] and len(memory.recent()) == KEEP
    paths[5].unlink()
    assert paths[5] not in memory.recent()
    assert memory.folder() == tmp_path
    memory.forget()
    assert memory.recent() == []


def test_settings_survive_a_new_start(tmp_path):
    name = str(tmp_path / "s.ini")
    memory = Memory(QSettings(name, QSettings.Format.IniFormat))
    assert not memory.caution_read and memory.mode == ""
    memory.caution_read, memory.mode = True, "dark"
    memory._settings.sync()
    again = Memory(QSettings(name, QSettings.Format.IniFormat))
    assert again.caution_read and again.mode == "dark"


def test_the_caution_is_shown_once(frame, monkeypatch):
    shown = []
    monkeypatch.setattr(frame.current.commands, "cautions", lambda: shown.append(True))
    frame.memory.caution_read = False
    Starting(frame, None).first_run_note()
    Starting(frame, None).first_run_note()
    assert shown == [True]


def test_the_cautions_say_what_they_must(qtbot):
    """The five cautions of the trade (common practice, no source) and of this program."""
    from PySide6.QtWidgets import QLabel

    from loopwright.window.cautions import CautionDialog

    dialog = CautionDialog()
    qtbot.addWidget(dialog)
    text = " ".join(label.text() for label in dialog.findChildren(QLabel)).lower()
    for words in (
        "never replaces",
        "notifiable or restricted",
        "local codes",
        "licensed practice",
        "never light a fire",
        "filled and vented",
        "scald",
        "explode",
    ):
        assert words in text


def test_an_unsaved_drawing_is_kept_and_let_go_when_saved(qapp, small, catalogue, tmp_path, qtbot):
    document = Document(small)
    recovery = Recovery(document, catalogue, tmp_path / "unsaved", rest_ms=0)
    document.apply("Set title", lambda s: edits.set_title(s, "Unsaved"))
    copy = tmp_path / "unsaved" / recovery._path.name
    assert copy.name.startswith(f"{os.getpid()}-")
    qtbot.waitUntil(copy.exists)
    assert load(copy, catalogue).title == "Unsaved"
    assert recovery.left_over() == [], "a copy of a run that goes on is not offered"
    document.mark_saved(tmp_path / "saved.loopwright")
    assert not copy.exists()


def test_edits_that_follow_each_other_do_not_put_the_copy_off(qapp, small, catalogue, tmp_path, qtbot):
    document = Document(small)
    recovery = Recovery(document, catalogue, tmp_path / "unsaved", rest_ms=60)
    copy = tmp_path / "unsaved" / recovery._path.name
    for number in range(40):
        document.apply("Set title", lambda s, n=number: edits.set_title(s, f"Title {n}"))
        qtbot.wait(10)
    assert copy.exists(), "no rest of 60 ms between any two edits, and still a copy"
    qtbot.waitUntil(lambda: load(copy, catalogue).title == "Title 39")
    document.apply("Set title", lambda s: edits.set_title(s, "One more"))
    qtbot.wait(70)
    document.mark_saved(tmp_path / "saved.loopwright")  # perhaps while it is being written
    qtbot.wait(80)
    assert not copy.exists(), "a copy that is still being written never comes back"


def test_a_killed_run_leaves_a_copy_that_is_offered(frame, answers, tmp_path, small):
    """A process that was killed in mid-edit, and one that looks for what it left."""
    code = (
        "import os, sys\nos.environ['QT_QPA_PLATFORM'] = 'offscreen'\nfrom pathlib import Path\n"
        "from PySide6.QtCore import QCoreApplication\nfrom loopwright.catalogue import standard_catalogue\n"
        "from loopwright.sheet import edits\nfrom loopwright.window.crash import Recovery\n"
        "from loopwright.window.document import Document\napp = QCoreApplication([])\ndocument = Document()\n"
        "recovery = Recovery(document, standard_catalogue(), Path(sys.argv[1]))\n"
        "document.apply('Set title', lambda s: edits.set_title(s, 'Killed'))\nrecovery.keep()\nos._exit(9)\n"
    )
    ended = subprocess.run([sys.executable, "-c", code, str(tmp_path / "unsaved")], check=False, timeout=60)
    assert ended.returncode == 9
    window = frame.current
    answers["ask_recover"] = False
    Starting(frame, None).offer_recovery()
    assert window.document.sheet.title == "Untitled" and window.recovery.left_over(), "not now is not never"
    answers["ask_recover"] = True
    Starting(frame, None).offer_recovery()
    assert window.document.sheet.title == "Killed" and not window.document.clean
    assert window.recovery.left_over() == []


def test_the_crash_hook_keeps_the_drawing_and_speaks_once(tmp_path, capsys):
    kept, said = [], []
    hook = CrashHook(lambda: kept.append(1) or tmp_path / "copy", lambda text, more: said.append(more), None)
    for _ in range(3):
        hook(ValueError, ValueError("defect"), None)
    assert kept == [1] and len(said) == 1 and "copy" in said[0]
    assert "defect" in capsys.readouterr().err


def test_the_hook_is_put_back(window):
    before = sys.excepthook
    window.failed.install()
    assert sys.excepthook is not before
    window.shut_down()
    assert sys.excepthook is before


def test_the_recent_menu_opens_what_is_chosen(window, file):
    window._recent_menu.fill()
    assert [a.text() for a in window._recent_menu.actions()] == ["None yet"]
    window.memory.add(file)
    window._recent_menu.fill()
    window._recent_menu.actions()[0].trigger()
    assert window.document.path == file.resolve()
