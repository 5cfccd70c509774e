"""Disks that fill, folders that refuse, files that others change: the old file stays whole, the drawing stays open."""

from __future__ import annotations

import errno
import os
import resource
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.errors import FileError
from loopwright.files import writer
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.window.crash import Recovery
from loopwright.window.document import Document
from loopwright.window.questions import Choice

CATALOGUE = standard_catalogue()


def sheet(title: str = "Whole") -> Sheet:
    s = draw.sheet(title)
    for k in range(30):
        s.add("radiator", f"R{k}", x_m=k % 20, height_m=k // 20)
    return s.done()


def full(*_: object, **__: object) -> None:
    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.fixture
def disk(monkeypatch):
    """Lets one call of the system find the disk full."""

    def fail(where: str) -> None:
        if where == "write":

            class Full:
                def __init__(self, handle: int, _mode: str) -> None:
                    self.handle = handle

                def __enter__(self) -> Full:
                    return self

                def __exit__(self, *_: object) -> None:
                    os.close(self.handle)

                def write(self, data: bytes) -> int:
                    os.write(self.handle, data[: len(data) // 2])
                    full()
                    return 0

            monkeypatch.setattr(writer.os, "fdopen", Full)
        else:
            monkeypatch.setattr(writer.os, where, full)

    return fail


@pytest.mark.parametrize("where", ["write", "fsync", "replace", "open", "chmod"])
def test_a_full_disk_leaves_the_old_file_whole(tmp_path, disk, where):
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    before = path.read_bytes()
    disk(where)
    with pytest.raises(FileError) as caught:
        save(sheet("Other"), path)
    assert "No space left" in caught.value.sentence and caught.value.do
    assert path.read_bytes() == before
    assert [p.name for p in tmp_path.iterdir()] == [path.name], "half a file is left lying about"


@pytest.mark.parametrize("where", ["write", "fsync", "replace"])
def test_a_full_disk_is_said_in_the_window_and_the_drawing_stays(window, answers, tmp_path, disk, where):
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    told: list[str] = []
    window.filing.failed.connect(told.append)
    answers["tell"] = None
    answers["ask_save"] = Choice.SAVE
    disk(where)
    assert not window.filing.save()
    assert told and "No space left" in told[0]
    assert window.document.sheet.title == "Changed" and not window.document.clean
    assert load(path, CATALOGUE).title == "Whole"
    assert not window.close(), "a drawing that could not be saved is not let go"


LIMITED = """
import resource, signal, sys
from loopwright.errors import FileError
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.sheet import edits
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
sheet = load(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (1500, 1500))
try:
    save(edits.set_title(sheet, "Other"), sys.argv[1])
except FileError as bad:
    print(bad.sentence)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGXFSZ"), reason="a limit of some systems")
def test_a_disk_that_is_really_out_of_room(tmp_path):
    """The system itself cuts the file off at 1500 bytes (setrlimit, POSIX.1)."""
    assert resource.RLIMIT_FSIZE is not None
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    before = path.read_bytes()
    assert len(before) > 1500
    ran = subprocess.run([sys.executable, "-c", LIMITED, str(path)], capture_output=True, text=True, timeout=60)
    assert "cannot be written" in ran.stdout and not ran.stderr
    assert path.read_bytes() == before and len(list(tmp_path.iterdir())) == 1


def test_a_folder_that_may_not_be_written(window, answers, tmp_path, monkeypatch):
    """Whoever runs the tests may be allowed everything, so the system's refusal is played."""
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    told: list[str] = []
    window.filing.failed.connect(told.append)
    answers["tell"] = None

    def refused(*_: object, **__: object) -> int:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(writer.os, "open", refused)
    assert not window.filing.save()
    assert "Permission denied" in told[0] and not window.document.clean
    monkeypatch.undo()


def test_a_protected_file_is_not_replaced(tmp_path, monkeypatch):
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    monkeypatch.setattr(writer.os, "access", lambda *_: False)
    with pytest.raises(FileError, match="protected"):
        save(sheet("Other"), path)
    assert load(path, CATALOGUE).title == "Whole"


def test_a_file_deleted_while_open_is_asked_about(window, answers, tmp_path):
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    path.unlink()
    said: list[str] = []
    window.filing.filed.connect(said.append)
    assert window.filing.save()
    assert load(path, CATALOGUE).title == "Changed"
    assert "was gone" in said[-1], "that it had been deleted is said"


def test_a_folder_deleted_while_open_is_said(window, answers, tmp_path):
    folder = tmp_path / "jobs"
    folder.mkdir()
    path = folder / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    path.unlink()
    folder.rmdir()
    told: list[str] = []
    window.filing.failed.connect(told.append)
    answers["tell"] = None
    assert not window.filing.save() and told and not window.document.clean


OTHER = """
import sys
from loopwright.files.reader import load
from loopwright.files.writer import save
from loopwright.sheet import edits
save(edits.set_title(load(sys.argv[1]), "By another"), sys.argv[1])
"""


def test_two_programs_on_one_file(window, answers, tmp_path):
    """What the other program saved is never written over unasked, nor lost where the answer is no."""
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Mine"))
    subprocess.run([sys.executable, "-c", OTHER, str(path)], check=True, timeout=60)
    answers["ask_overwrite_changed"] = False
    assert not window.filing.save()
    assert load(path, CATALOGUE).title == "By another" and not window.document.clean
    answers["ask_overwrite_changed"] = True
    assert window.filing.save() and load(path, CATALOGUE).title == "Mine"


def test_two_tabs_never_hold_one_file(frame, answers, tmp_path):
    path = tmp_path / "barn.loopwright"
    save(sheet(), path)
    first = frame.current
    assert first.filing.open(path)
    first.filing.open(path)
    assert len(frame.windows()) == 1
    second = frame.add()
    second.document.open(sheet("Second"), None, saved=False)
    answers["ask_save_path"] = path
    answers["tell"] = None
    assert not second.filing.save_as(), "a file that is open in another tab is not written over"
    assert load(path, CATALOGUE).title == "Whole"


def test_a_change_between_reading_and_looking_again_is_noticed(window, answers, tmp_path, monkeypatch):
    """The file is changed by another just after it was read."""
    from loopwright import files

    path = tmp_path / "barn.loopwright"
    save(sheet(), path)

    def read(place: Path, kinds: object) -> Sheet:
        found = load(place, CATALOGUE)
        save(edits.set_title(found, "By another"), place)
        return found

    monkeypatch.setattr(files, "load", read)
    assert window.filing.open(path)
    window.document.apply("Title", lambda s: edits.set_title(s, "Mine"))
    answers["ask_overwrite_changed"] = False
    assert not window.filing.save()


def test_a_copy_that_cannot_be_kept_is_said_once(qapp, tmp_path, qtbot):
    (tmp_path / "unsaved").write_text("a file where the folder must be", encoding="utf-8")
    document = Document(sheet())
    recovery = Recovery(document, CATALOGUE, tmp_path / "unsaved", rest_ms=0)
    told: list[str] = []
    recovery.failed.connect(told.append)
    for k in range(3):
        document.apply("Title", lambda s, n=k: edits.set_title(s, f"T{n}"))
    qtbot.waitUntil(lambda: bool(told))
    assert recovery.keep() is None
    assert len(told) == 1 and "save often" in told[0].lower()
    assert recovery.left_over() == []
    recovery.close()
