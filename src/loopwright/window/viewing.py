"""Commands that show or put away what lies over and under the sheet: key of lines, map, page frame.

Owns that these are kept between starts. Refuses to know how they are painted.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow

SHOWN = ("legend", "overview", "page_frame")
LEGEND_AT = "legend_at"


class ViewCommands:
    """What one window shows beside the drawing itself."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        return {name: getattr(self, name) for name in SHOWN}

    def restore(self) -> None:
        """Show what was shown last, where it stood."""
        window = self._window
        legend = window.stage.over.legend
        legend.put_back(window.memory.words(LEGEND_AT))
        legend.dragged.connect(self._legend_dragged)
        for name in SHOWN:
            if window.memory.shown(name):
                window.actions_[name].setChecked(True)
                getattr(self, name)()

    def _legend_dragged(self, place: str) -> None:
        self._window.memory.keep_words(LEGEND_AT, place)

    def _shown(self, name: str) -> bool:
        shown = self._window.actions_[name].isChecked()
        self._window.memory.keep_shown(name, shown)
        return shown

    def legend(self) -> None:
        """Show or put away the key of lines."""
        self._window.stage.over.show_legend(self._shown("legend"))

    def overview(self) -> None:
        """Show or put away the map of the sheet."""
        self._window.stage.over.show_overview(self._shown("overview"))

    def page_frame(self) -> None:
        """Show the page as it is printed, or the title block alone."""
        window, shown = self._window, self._shown("page_frame")
        window.stage.scene.show_frame(shown)
        box = window.stage.scene.page_layer.box
        if shown and box is not None and window.stage.isVisible():
            window.stage.view.show_box(box)
            paper = window.document.sheet.block.page
            window.status.say(f"The page as it is printed, {paper}. Double click the title block for paper and scale.")
