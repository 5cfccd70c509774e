"""Commands that put the drawing on paper or into a picture: save as PDF, PNG or SVG, print, set the page.

Owns the small functions behind these menus. Refuses to know how a page is painted.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from loopwright.errors import LoopwrightError
from loopwright.sheet.pieces import cut_out
from loopwright.sheet.values import Sheet
from loopwright.window import questions

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow


class PaperCommands:
    """Commands of one window that make pictures."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        names = ("export_pdf", "export_png", "export_svg", "export_chosen", "print", "page_setup")
        return {name: getattr(self, f"{name}_" if name == "print" else name) for name in names}

    def refresh(self) -> None:
        """Which commands can be used now."""
        self._window.actions_["export_chosen"].setEnabled(bool(self._window.document.chosen))

    def export_pdf(self) -> None:
        """The whole drawing on a page."""
        self._save(self._window.document.sheet, ".pdf")

    def export_png(self) -> None:
        """The whole drawing in pixels."""
        self._save(self._window.document.sheet, ".png")

    def export_svg(self) -> None:
        """The whole drawing in lines and letters."""
        self._save(self._window.document.sheet, ".svg")

    def export_chosen(self) -> None:
        """What is chosen, as SVG; a name ending in .png or .pdf gives that."""
        doc = self._window.document
        try:
            self._save(cut_out(doc.sheet, doc.chosen), ".svg", flagged=False)
        except LoopwrightError as bad:
            self._window.status.say(bad.sentence)

    def _save(self, sheet: Sheet, suffix: str, flagged: bool = True) -> None:
        window = self._window
        doc = window.document
        start = window.memory.offered(doc.path, doc.name, suffix)
        path = questions.ask_save_path(window, start, "Save the drawing", suffix)
        if path is None:
            return
        try:
            window.status.say(self._write(path, sheet, flagged))
        except LoopwrightError as bad:
            window.status.say(bad.sentence)

    def _write(self, path: Path, sheet: Sheet, flagged: bool) -> str:
        """Write a picture in the form that its name says; what to say of it."""
        from loopwright.canvas.export import to_pdf, to_png
        from loopwright.drawing.svg import sheet_svg
        from loopwright.files.writer import write_bytes

        window, services = self._window, self._services()
        against = window.stage.scene.against
        system = window.preferred.now.system
        flags = window.stage.scene.flags if flagged else ()
        if path.suffix.lower() == ".pdf":
            scale = to_pdf(path, sheet, window.catalogue, services, flags, system=system, against=against)
            return f"{path.name} saved at 1 : {scale:g} on {sheet.block.page}."
        if path.suffix.lower() == ".svg":
            scale = sheet.block.scale or 25.0
            text = sheet_svg(sheet, window.catalogue, services, flags, scale=scale, system=system, against=against)
            write_bytes(path, text.encode())
        else:
            mode = window.look.mode
            to_png(path, sheet, window.catalogue, services, flags, palette=mode, system=system, against=against)
        return f"{path.name} saved."

    def _services(self) -> dict[str, str]:
        return dict(self._window.stage.scene.services)

    def print_(self) -> None:
        """Ask for a printer and print the drawing on its page."""
        from loopwright.canvas.export import print_page

        window = self._window
        doc = window.document
        printer = questions.ask_printer(window, doc.name, window.memory.offered(doc.path, doc.name, ".pdf"))
        if printer is None:
            return
        sheet = window.document.sheet
        try:
            scene, system = window.stage.scene, window.preferred.now.system
            services = self._services()
            scale = print_page(printer, sheet, window.catalogue, services, scene.flags, system, scene.against)
            window.status.say(f"Printed at 1 : {scale:g} on {sheet.block.page}.")
        except LoopwrightError as bad:
            window.status.say(bad.sentence)

    def page_setup(self) -> None:
        """Bring the title block, the paper and the scale in the properties."""
        window = self._window
        window.document.choose(())
        window.desk.open("draw")
        window.answers.close_why()
        window.properties.focus_field("page")
