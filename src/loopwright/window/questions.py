"""What the window asks: one function a question, so that each can be answered in a test without a box.

Owns the words. Refuses to act on the answer.
"""

from __future__ import annotations

from enum import Enum
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from loopwright.window.as_typed import Box

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

SUFFIX = ".loopwright"
_FILTER = f"Sheets (*{SUFFIX});;All files (*)"


class Choice(Enum):
    """An answer to whether changes are kept."""

    SAVE = "save"
    DROP = "drop"
    CANCEL = "cancel"


def ask_save(parent: QWidget | None, name: str) -> Choice:
    """Keep the changes to a drawing before it goes?"""
    box = Box(parent)
    box.setWindowTitle("Unsaved changes")
    box.setText(f"“{name}” has changes that are not saved.")
    box.setInformativeText("Save them before it is closed?")
    save = box.addButton("Save", QMessageBox.ButtonRole.AcceptRole)
    drop = box.addButton("Do not save", QMessageBox.ButtonRole.DestructiveRole)
    box.addButton("Cancel", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(save)
    box.exec()
    pressed = box.clickedButton()
    return Choice.SAVE if pressed is save else Choice.DROP if pressed is drop else Choice.CANCEL


def ask_open_path(
    parent: QWidget | None, folder: Path, words: str = "Open a sheet", pattern: str = _FILTER
) -> Path | None:
    """Which drawing, or other file, to open?"""
    name, _ = QFileDialog.getOpenFileName(parent, words, str(folder), pattern)
    return Path(name) if name else None


def ask_save_path(
    parent: QWidget | None, start: Path, words: str = "Save the sheet", suffix: str = SUFFIX
) -> Path | None:
    """Where to save? The suffix is added when it is left out."""
    pattern = _FILTER if suffix == SUFFIX else f"*{suffix}"
    name, _ = QFileDialog.getSaveFileName(parent, words, str(start), pattern)
    if not name:
        return None
    path = Path(name)
    return path if path.suffix else path.with_suffix(suffix)


def ask_folder(parent: QWidget | None, folder: Path, words: str) -> Path | None:
    """Which folder?"""
    name = QFileDialog.getExistingDirectory(parent, words, str(folder))
    return Path(name) if name else None


def ask_printer(parent: QWidget | None, name: str, start: Path | None = None) -> QPrinter | None:
    """On which printer? Where there is none, the file `start` is offered."""
    from PySide6.QtPrintSupport import QPrintDialog, QPrinter, QPrinterInfo  # not before somebody prints

    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setDocName(name)
    if start is not None and not QPrinterInfo.availablePrinterNames():
        printer.setOutputFileName(str(start))  # it goes to a file: the dialog begins with one
    dialog = QPrintDialog(printer, parent)
    dialog.setWindowTitle(f"Print {name}")
    if dialog.exec() != QPrintDialog.DialogCode.Accepted:
        return None
    if nowhere(printer):
        tell(parent, "Print", "There is no printer.", "Save it as PDF instead, and print that where there is one.")
        return None
    return printer


def nowhere(printer: QPrinter) -> bool:
    """Whether there is neither a printer nor a file to print to: what is printed then is lost without a word."""
    return printer.outputFormat() == printer.OutputFormat.PdfFormat and not printer.outputFileName()


def ask_overwrite_changed(parent: QWidget | None, path: Path) -> bool:
    """The file was changed by somebody else since it was opened: write over it?"""
    box = Box(parent)
    box.setWindowTitle("Changed on disk")
    box.setText(f"“{path.name}” was changed on disk after it was opened here.")
    box.setInformativeText("Saving now writes over that change. Save under another name to keep both.")
    write = box.addButton("Write over it", QMessageBox.ButtonRole.DestructiveRole)
    cancel = box.addButton("Cancel", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(cancel)
    box.exec()
    return box.clickedButton() is write


def ask_recover(parent: QWidget | None, name: str, when: str) -> bool:
    """A drawing was left unsaved when the program ended: bring it back?"""
    box = Box(parent)
    box.setWindowTitle("Unsaved drawing")
    box.setText(f"“{name}” was not saved when loopwright last ended.")
    box.setInformativeText(f"A copy from {when} is kept. Bring it back as an unsaved drawing?")
    back = box.addButton("Bring it back", QMessageBox.ButtonRole.AcceptRole)
    box.addButton("Not now", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(back)
    box.exec()
    return box.clickedButton() is back


def tell(parent: QWidget | None, title: str, text: str, more: str = "") -> None:
    """Say something that needs an answer of only one word."""
    box = Box(parent)
    box.setWindowTitle(title)
    box.setText(text)
    box.setInformativeText(more)
    box.exec()


def ask_forget_progress(parent: QWidget | None, lessons: int) -> bool:
    """Forget how every lesson stands?"""
    box = Box(parent)
    box.setWindowTitle("Forget my progress")
    box.setText("How every lesson stands will be forgotten: points, hints and what comes back.")
    box.setInformativeText(f"{lessons} lesson{' is' if lessons == 1 else 's are'} begun. This cannot be undone.")
    forget = box.addButton("Forget it", QMessageBox.ButtonRole.DestructiveRole)
    keep = box.addButton("Keep it", QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(keep)
    box.exec()
    return box.clickedButton() is forget
