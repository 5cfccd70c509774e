"""Makes the pictures of the window in this folder: `python resources/pictures/make.py` from the source tree.

Opens the real window without a screen, on a sample, in light and dark, and saves what it shows.
"""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

os.environ["QT_QPA_PLATFORM"] = "offscreen"

from PySide6.QtCore import QBuffer, QIODevice, QSettings
from PySide6.QtGui import QPixmap
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from loopwright.catalogue import standard_catalogue
from loopwright.window.main import MainWindow
from loopwright.window.recent import Memory

HERE = Path(__file__).resolve().parent
SHEET = HERE.parents[1] / "samples" / "sound" / "three-source.loopwright"
SIZE = (1600, 1000)
MOST_BYTES = 400_000
OPEN_GROUPS = ("Heat sources",)
REST_MS = 900
"""What the window puts off (check, labels, exact look) is done by then."""


def picture(mode: str) -> QPixmap:
    """The window on the sample: its store chosen, its first finding lit no more than a person would see it."""
    with tempfile.TemporaryDirectory() as folder:
        memory = Memory(QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat))
        memory.mode, memory.caution_read = mode, True
        window = MainWindow(standard_catalogue(), memory, inline=True, recovery_folder=Path(folder) / "unsaved")
        window.resize(*SIZE)
        window.show()
        if not window.filing.read(SHEET):
            raise SystemExit(f"{SHEET} cannot be opened")
        model = window.parts.model
        for row in range(model.rowCount()):
            if model.index(row, 0).data() in OPEN_GROUPS:
                window.parts.tree.setExpanded(model.index(row, 0), True)
        store = next(p.id for p in window.document.sheet.parts.values() if p.kind == "heat_store")
        window.document.choose([store])
        QTest.qWait(REST_MS)
        window.stage.fit()  # now that names stand where the flags let them
        QTest.qWait(REST_MS)
        taken = window.grab()
        window.shut_down()
        window.deleteLater()
        return taken


def save(taken: QPixmap, path: Path) -> int:
    """Save as PNG; in fewer colours if it would be too large. Gives its bytes."""
    picture = taken.toImage()
    for form in (picture, picture.convertToFormat(picture.Format.Format_Indexed8)):
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        form.save(buffer, "PNG", 0)
        data = bytes(buffer.data().data())
        if len(data) <= MOST_BYTES:
            path.write_bytes(data)
            return len(data)
    raise SystemExit(f"{path.name} has {len(data)} bytes, more than {MOST_BYTES}")


def main() -> int:
    """Make both."""
    app = QApplication.instance() or QApplication([])
    for mode, name in (("light", "window.png"), ("dark", "window-dark.png")):
        size = save(picture(mode), HERE / name)
        app.processEvents()
        print(f"{name}: {size // 1000} kB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
