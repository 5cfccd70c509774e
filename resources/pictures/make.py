"""Makes the pictures of the window in this folder: `python resources/pictures/make.py [NAME ...]` from the source tree.

Opens the real window without a screen, on a sample, and saves what it shows: the drawing in light and dark, a power cut
that was run, the report and a lesson.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"

from PySide6.QtCore import QBuffer, QIODevice, QSettings
from PySide6.QtGui import QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget

from loopwright.catalogue import standard_catalogue
from loopwright.window.main import MainWindow
from loopwright.window.recent import Memory
from loopwright.window.sheets import Sheets

HERE = Path(__file__).resolve().parent
SAMPLES = HERE.parents[1] / "samples"
SHEET = SAMPLES / "sound" / "three-source.loopwright"
FAULTY = SAMPLES / "faulty" / "valve-on-heat-leak.loopwright"
SIZE = (1600, 1000)
MOST_BYTES = 400_000
OPEN_GROUPS = ("Heat sources",)
REST_MS = 900
"""What the window puts off (check, labels, exact look) is done by then."""
MOST_MS = 120_000
"""No run and no report takes longer."""


@contextmanager
def opened(path: Path | None, mode: str = "light") -> Iterator[MainWindow]:
    """A window with the drawing of a file, fitted, as a person would see it first."""
    with tempfile.TemporaryDirectory() as folder:
        memory = Memory(QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat))
        memory.mode, memory.caution_read = mode, True
        frame = Sheets(memory, inline=True, recovery_folder=Path(folder) / "unsaved")
        frame.resize(*SIZE)
        frame.show()
        window = frame.furnish(standard_catalogue())
        if path is not None and not window.filing.read(path):
            raise SystemExit(f"{path} cannot be opened")
        QTest.qWait(REST_MS)
        yield window
        frame.shut_down()
        frame.deleteLater()


def taken(window: QWidget) -> QPixmap:
    """What the frame of a window shows once it has come to rest."""
    QTest.qWait(REST_MS)
    return window.window().grab()


def wait_for(ready: Callable[[], object], what: str) -> None:
    """Let the window work until something is there."""
    for _ in range(MOST_MS // 100):
        if ready():
            return
        QTest.qWait(100)
    raise SystemExit(f"{what} took too long")


def drawing(mode: str) -> QPixmap:
    """The sample with its store chosen and a group of parts open."""
    with opened(SHEET, mode) as window:
        model = window.parts.model
        for row in range(model.rowCount()):
            if model.index(row, 0).data() in OPEN_GROUPS:
                window.parts.tree.setExpanded(model.index(row, 0), True)
        store = next(p.id for p in window.document.sheet.parts.values() if p.kind == "heat_store")
        window.document.choose([store])
        window.stage.fit()
        return taken(window)


def finding() -> QPixmap:
    """A valve where none may be: the finding chosen, with the page that says why."""
    with opened(FAULTY) as window:
        window.actions_["next_finding"].trigger()
        window.actions_["why"].trigger()
        return taken(window)


def run() -> QPixmap:
    """A power cut while the stove burns, played to its end."""
    with opened(SHEET) as window:
        window.actions_["run_cut"].trigger()
        view = window.places.open("run")
        if view.reading is None:
            view.run()
        wait_for(lambda: view.reading is not None, "The run")
        return taken(window)


def report() -> QPixmap:
    """The first page of the report."""
    with opened(SHEET) as window:
        view = window.places.open("report")
        wait_for(lambda: view.pdf.isEnabled(), "The report")
        return taken(window)


def lesson() -> QPixmap:
    """A lesson as it begins."""
    with opened(None) as window:
        view = window.places.open("courses")
        view.start_button.click()
        QTest.qWait(REST_MS)
        return taken(window)


PICTURES: dict[str, Callable[[], QPixmap]] = {
    "window": lambda: drawing("light"),
    "window-dark": lambda: drawing("dark"),
    "finding": finding,
    "run": run,
    "report": report,
    "lesson": lesson,
}


def save(pixels: QPixmap, path: Path) -> int:
    """Save as PNG; in fewer colours if it would be too large. Gives its bytes."""
    picture = pixels.toImage()
    for form in (picture, picture.convertToFormat(picture.Format.Format_Indexed8)):
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        form.save(buffer, "PNG", 0)
        data = bytes(buffer.data().data())
        if len(data) <= MOST_BYTES:
            path.write_bytes(data)
            return len(data)
    raise SystemExit(f"{path.name} has {len(data)} bytes, more than {MOST_BYTES}")


def main(names: list[str]) -> int:
    """Make those named, else all."""
    app = QApplication.instance() or QApplication([])
    for name in names or PICTURES:
        if name not in PICTURES:
            raise SystemExit(f"There is no picture “{name}”; there are {', '.join(PICTURES)}")
        size = save(PICTURES[name](), HERE / f"{name}.png")
        app.processEvents()
        print(f"{name}.png: {size // 1000} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
