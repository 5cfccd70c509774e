"""Files in odd places: long names, pipes, rings of links, folders; printers and clipboards that are not there.

Whoever runs the tests may be allowed everything, so what the system refuses by rights is played.
"""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from PySide6.QtPrintSupport import QPrinter

from loopwright.catalogue import standard_catalogue
from loopwright.errors import FileError, SheetError
from loopwright.files import writer
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.sheet import edits
from loopwright.window import clipboard, questions
from loopwright.window.crash import Recovery
from loopwright.window.document import Document
from loopwright.window.main import MainWindow
from loopwright.window.questions import Choice

from .test_disk import sheet

CATALOGUE = standard_catalogue()


def refuse(monkeypatch, name: str, code: int, only: Path | None = None) -> None:
    """Has one question about a path refused by the system."""
    right = getattr(Path, name)

    def asked(path: Path, *more: object, **named: object) -> object:
        if only is None or path == only:
            raise OSError(code, os.strerror(code), str(path))
        return right(path, *more, **named)

    monkeypatch.setattr(Path, name, asked)


@pytest.fixture
def changed(window, answers, tmp_path):
    """The window on a file, with a change that is not saved, and what it says of failures."""
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    told: list[str] = []
    window.filing.failed.connect(told.append)
    answers["tell"] = None
    return window, path, told


ODD = ["a b;'\"$(x) %s & #1!.loopwright", "line\nbreak.loopwright", "☃ é 𝟗.loopwright", "é" * 121 + ".loopwright",
       "𝟗" * 60 + ".loopwright", "-o.loopwright", ".hidden.loopwright", "no ending"]  # fmt: skip


def test_any_name_that_the_disk_takes(window, answers, tmp_path):
    folder = tmp_path / "jobs"
    folder.mkdir()
    for name in ODD:
        answers["ask_save_path"] = path = folder / name
        window.document.open(sheet("Odd"), None, saved=False)
        assert window.filing.save(), name
        window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
        assert window.filing.save() and load(path, CATALOGUE).title == "Changed", name
        assert window.filing.open(path) and window.memory.recent()[0] == path
    assert {p.name for p in folder.iterdir()} == set(ODD), "half a file is left lying about"


def test_a_name_that_is_too_long_is_said(window, answers, tmp_path):
    answers.update(ask_save_path=tmp_path / ("x" * 300), tell=None)
    window.document.open(sheet(), None, saved=False)
    told: list[str] = []
    window.filing.failed.connect(told.append)
    assert not window.filing.save()
    assert "File name too long" in told[0] and not window.document.clean
    refused: list[object] = []
    window.filing.refused.connect(lambda _name, bad: refused.append(bad))
    assert not window.filing.open(tmp_path / ("x" * 300)) and "File name too long" in refused[0].sentence


def test_a_save_onto_a_folder(changed, answers, tmp_path):
    window, path, told = changed
    (tmp_path / "jobs").mkdir()
    answers["ask_save_path"] = tmp_path / "jobs"
    assert not window.filing.save_as()
    assert "is a folder" in told[0] and "Name a file" in told[0]
    assert window.document.path == path and not window.document.clean


def test_a_file_renamed_under_the_window(changed, tmp_path):
    window, path, told = changed
    path.rename(tmp_path / "other.loopwright")
    said: list[str] = []
    window.filing.filed.connect(said.append)
    assert window.filing.save() and not told
    assert "was gone and is written anew" in said[-1]
    assert load(path, CATALOGUE).title == "Changed" and load(tmp_path / "other.loopwright", CATALOGUE).title == "Whole"


def test_a_read_only_file(changed, answers, tmp_path, monkeypatch):
    window, path, told = changed
    monkeypatch.setattr(writer.os, "access", lambda *_: False)
    answers["ask_save"] = Choice.SAVE
    assert not window.filing.save() and not window.close()
    assert "protected against writing" in told[0] and "another name" in told[0]
    monkeypatch.undo()
    assert load(path, CATALOGUE).title == "Whole"


def test_a_folder_that_may_no_longer_be_looked_into(changed, monkeypatch):
    """As on a share whose rights were taken away while the drawing was open: no trace, one sentence."""
    window, path, told = changed
    for name in ("exists", "stat", "is_file"):
        refuse(monkeypatch, name, errno.EACCES, path)
    monkeypatch.setattr(writer.os, "open", lambda *_: (_ for _ in ()).throw(OSError(errno.EACCES, "Permission denied")))
    assert not window.filing.save()
    assert "Permission denied" in told[0] and not window.document.clean


def test_a_folder_that_may_be_written_in_but_not_looked_into(tmp_path, monkeypatch):
    """The file is there and whole: that its folder cannot be opened is no failure."""
    right = os.open

    def opened(path: object, flags: int, *more: int) -> int:
        if path == tmp_path:
            raise PermissionError(errno.EACCES, "Permission denied")
        return right(path, flags, *more)

    monkeypatch.setattr(writer.os, "open", opened)
    save(sheet(), tmp_path / "barn.loopwright")
    assert load(tmp_path / "barn.loopwright", CATALOGUE).title == "Whole"


def test_drawings_of_late_on_a_disk_that_does_not_answer(qtbot, memory, answers, tmp_path, monkeypatch):
    """A share that is gone must not keep the window from starting."""
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    memory.add(path)
    refuse(monkeypatch, "is_file", errno.ESTALE, path)
    window = MainWindow(CATALOGUE, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(window, before_close_func=lambda w: w.shut_down())
    assert memory.recent() == []


def test_a_pipe_and_a_device_are_refused_at_once(window, answers, tmp_path):
    os.mkfifo(tmp_path / "pipe.loopwright")
    refused: list[object] = []
    window.filing.refused.connect(lambda _name, bad: refused.append(bad))
    assert not window.filing.open(tmp_path / "pipe.loopwright") and "is a pipe" in refused[0].sentence
    if Path("/dev/zero").exists():
        assert not window.filing.open(Path("/dev/zero")) and "MB large" in refused[1].sentence
    assert not window.filing.open(tmp_path) and "cannot be read" in refused[-1].sentence


def test_links_that_lead_in_a_ring(frame, answers, tmp_path):
    (tmp_path / "a.loopwright").symlink_to(tmp_path / "b.loopwright")
    (tmp_path / "b.loopwright").symlink_to(tmp_path / "a.loopwright")
    save(sheet(), tmp_path / "c.loopwright")
    assert frame.current.filing.open(tmp_path / "c.loopwright")
    second = frame.add()
    second.document.open(sheet("Second"), None, saved=False)
    answers.update(ask_save_path=tmp_path / "a.loopwright", tell=None)
    told: list[str] = []
    second.filing.failed.connect(told.append)
    second.filing.save_as()
    assert told or load(tmp_path / "a.loopwright", CATALOGUE).title == "Second"
    assert load(tmp_path / "c.loopwright", CATALOGUE).title == "Whole"


def test_what_is_offered_as_a_name_lies_in_the_folder(drawn, answers, monkeypatch):
    offered: list[Path] = []
    monkeypatch.setattr(questions, "ask_save_path", lambda _parent, start, *_: offered.append(start))
    for title in ("/", "..", "a/b", "Barn v1.2", "é" * 200, "."):
        drawn.document.apply("Title", lambda s, words=title: edits.set_title(s, words))
        for command in ("save_as", "export_pdf", "export_svg"):
            drawn.actions_[command].trigger()
    assert len(offered) == 18
    for start in offered:
        assert start.parent == drawn.memory.folder() and len(os.fsencode(start.name)) < 200
    assert [p.name for p in offered[9:12]] == ["Barn v1-2.loopwright", "Barn v1-2.pdf", "Barn v1-2.svg"]


@pytest.mark.parametrize("bad", [OSError(errno.ENOSPC, "No space left on device"), ValueError("a defect")])
def test_a_copy_on_a_full_disk_is_said_with_its_reason_and_kept_again_later(qapp, qtbot, tmp_path, monkeypatch, bad):
    from loopwright import files

    document = Document(sheet())
    recovery = Recovery(document, CATALOGUE, tmp_path / "unsaved", rest_ms=0)
    told: list[str] = []
    recovery.failed.connect(told.append)

    def failing(*_: object) -> None:
        raise bad

    right = files.save
    monkeypatch.setattr(files, "save", failing)
    document.apply("Title", lambda s: edits.set_title(s, "One"))
    qtbot.waitUntil(lambda: bool(told))
    assert ("No space left on device" if isinstance(bad, OSError) else "a defect") in told[0]
    assert told[0].endswith("save often.")
    monkeypatch.setattr(files, "save", right)
    document.apply("Title", lambda s: edits.set_title(s, "Two"))
    qtbot.waitUntil(lambda: len(list((tmp_path / "unsaved").glob("*.loopwright"))) == 1)
    assert recovery.keep() is not None and len(told) == 1
    recovery.close()


class NoClipboard:
    """A desktop whose clipboard takes nothing."""

    @staticmethod
    def instance() -> object:
        return None

    @classmethod
    def clipboard(cls) -> type[NoClipboard]:
        return cls

    @staticmethod
    def setMimeData(_data: object) -> None: ...

    @staticmethod
    def mimeData() -> None: ...


def test_what_the_clipboard_does_not_take_is_not_cut(drawn, monkeypatch):
    monkeypatch.setattr(clipboard, "QGuiApplication", NoClipboard)
    before = drawn.document.sheet
    drawn.document.choose(["store"])
    for command in ("copy", "cut", "copy_picture"):
        drawn.status.say("")
        drawn.actions_[command].trigger()
        assert "clipboard did not take it" in drawn.status.words.text()
        assert drawn.document.sheet is before
    with pytest.raises(SheetError, match="nothing to paste"):
        clipboard.piece(CATALOGUE)
    clipboard._ours.clear()


def test_no_printer_is_said_and_nothing_is_called_printed(drawn, monkeypatch, tmp_path):
    from loopwright.canvas.export import print_page
    from loopwright.window.lesson.checklist import ChecklistPage

    nobody = QPrinter(QPrinter.PrinterMode.HighResolution)
    nobody.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    assert questions.nowhere(nobody)
    with pytest.raises(FileError, match="cannot be reached"):
        print_page(nobody, drawn.document.sheet, CATALOGUE, {})
    lost = QPrinter(QPrinter.PrinterMode.HighResolution)
    lost.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    lost.setOutputFileName(str(tmp_path / "gone" / "x.pdf"))
    assert not questions.nowhere(lost)
    monkeypatch.setattr(questions, "ask_printer", lambda *_: lost)
    drawn.actions_["print"].trigger()
    assert "cannot be reached" in drawn.status.words.text()
    drawn.actions_["order"].trigger()
    panel = drawn.findChild(ChecklistPage)
    assert panel is not None
    panel.print_()
    assert "cannot be written" in drawn.status.words.text()
