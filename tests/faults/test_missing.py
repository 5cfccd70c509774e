"""Things that are not there: a home folder, fonts, OpenGL, a printer, a library, a worker that does not fall over."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.errors import FigureError
from loopwright.sheet import edits

CATALOGUE = standard_catalogue()
SAMPLES = Path(__file__).parents[2] / "samples"
START = """
import sys
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from loopwright.window import questions
said = []
questions.tell = lambda *a: said.append(a[1:])
questions.ask_recover = lambda *a: False
from loopwright.window import app
from loopwright.window.commands import Commands
Commands.cautions = lambda self: None
qt = QApplication([])
heard = []
def look():
    frame = next(w for w in qt.topLevelWidgets() if type(w).__name__ == "Sheets")
    window = frame.current
    window.recovery.failed.connect(heard.append)
    parts = len(window.document.sheet.parts)
    from loopwright.sheet import edits
    window.document.apply("Title", lambda s: edits.set_title(s, "Changed"))
    window.document.choose(list(window.document.sheet.parts)[:2])
    window.actions_["copy"].trigger()
    print("parts", parts, "title", window.document.sheet.title, flush=True)
    QTimer.singleShot(300, end)
def end():
    frame = next(w for w in qt.topLevelWidgets() if type(w).__name__ == "Sheets")
    print("words", *heard, flush=True)
    frame.shut_down()
    qt.quit()
QTimer.singleShot(1500, look)
code = app.run(Path(sys.argv[1]))
print("ended", code, flush=True)
"""


def started(tmp_path: Path, **env: str) -> subprocess.CompletedProcess[str]:
    kept = {
        k: v for k, v in os.environ.items() if k not in ("HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME")
    }
    kept.update(QT_QPA_PLATFORM="offscreen", OPENBLAS_NUM_THREADS="1", **env)
    sheet = SAMPLES / "sound" / "stove-by-gravity.loopwright"
    return subprocess.run(
        [sys.executable, "-c", START, str(sheet)], capture_output=True, text=True, env=kept, cwd=tmp_path, timeout=120
    )


@pytest.mark.parametrize("home", ["/proc/nobody/home", "/dev/null"])
def test_no_home_folder(tmp_path, home):
    """Where nobody can make one, whoever they are."""
    ran = started(tmp_path, HOME=home, XDG_DATA_HOME=home, XDG_CONFIG_HOME=home, XDG_STATE_HOME=home)
    assert "Traceback" not in ran.stderr, ran.stderr
    assert "title Changed" in ran.stdout and "ended 0" in ran.stdout
    assert ran.returncode == 0, "what was copied brings the program down as it ends"
    assert "No copy of unsaved work can be kept" in ran.stdout


COPIED = """
from PySide6.QtWidgets import QApplication
app = QApplication([])
from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.window import clipboard
s = draw.sheet("x")
s.add("pump", "P1", x_m=0, height_m=0)
clipboard.copy(s.done(), clipboard.picture_of(s.done(), standard_catalogue(), {}))
"""


def test_what_was_copied_brings_nothing_down_however_the_program_ends(tmp_path):
    """Data made here that is still on the clipboard as the interpreter goes was a segmentation fault."""
    env = {**os.environ, "QT_QPA_PLATFORM": "offscreen"}
    ran = subprocess.run([sys.executable, "-c", COPIED], capture_output=True, text=True, env=env, timeout=60)
    assert ran.returncode == 0, ran.stderr


def test_no_fonts_and_no_opengl(tmp_path):
    """The program's own fonts are used where the system has none; nothing needs OpenGL."""
    ran = started(
        tmp_path, HOME=str(tmp_path), FONTCONFIG_FILE="/nonexistent", QT_QPA_FONTDIR="/nonexistent",
        QT_OPENGL="software", LIBGL_ALWAYS_SOFTWARE="1", QT_XCB_GL_INTEGRATION="none",
    )  # fmt: skip
    assert "Traceback" not in ran.stderr and "ended 0" in ran.stdout


def test_a_worker_that_falls_over_is_said_and_the_drawing_stays(window, small, qtbot):
    window.document.open(small, None)
    before = window.document.sheet

    def bad(_sheet: object) -> object:
        raise ZeroDivisionError("a defect")

    said: list[object] = []
    window.checks.broke.connect(said.append)
    right, window.surveyor._check = window.surveyor._check, bad
    with qtbot.captureExceptions() as caught:  # what nothing else takes goes to the hook, which tells the person
        window.surveyor.ask(before)
        window.surveyor._start()
        assert said and isinstance(said[0], ZeroDivisionError)
        assert window.document.sheet is before
        window.surveyor._check = right
        window.document.apply("Title", lambda s: edits.set_title(s, "Goes on"))
    assert caught
    assert window.document.undo_label == "Title"


@pytest.mark.parametrize("bad", [ZeroDivisionError("x"), MemoryError(), RecursionError("deep"), FigureError("No flow")])
def test_work_beside_the_window_that_fails_comes_home(window, qtbot, bad):
    found: list[Exception] = []

    def work(_task: object) -> object:
        raise bad

    task = window.desk.jobs.start(work, lambda answer: None, found.append)
    qtbot.waitUntil(lambda: task.over)
    assert found == [bad]


@pytest.mark.parametrize("library", ["reportlab", "pypdfium2"])
def test_a_missing_library_is_said_in_words(tmp_path, library):
    """As on a system that packages the program without it."""
    (tmp_path / "gone").mkdir()
    (tmp_path / "gone" / f"{library}.py").write_text(
        f"raise ModuleNotFoundError('No module named {library}', name='{library}')\n", encoding="utf-8"
    )
    env = {**os.environ, "PYTHONPATH": str(tmp_path / "gone")}
    sheet = SAMPLES / "sound" / "stove-by-gravity.loopwright"
    out = tmp_path / "r.pdf"
    ran = subprocess.run(
        [sys.executable, "-m", "loopwright", "report", str(sheet), "-o", str(out)],
        capture_output=True, text=True, env=env, timeout=120,
    )  # fmt: skip
    assert "Traceback" not in ran.stderr, ran.stderr[-1500:]
    if library == "reportlab":
        assert ran.returncode == 2 and "Install reportlab" in ran.stderr
        assert not out.exists()
    else:
        assert ran.returncode == 0 and out.read_bytes().startswith(b"%PDF")
