"""The commands of the menu Run.

Owns how each reaches the view. Loads nothing of it before it is called.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow
    from loopwright.window.run.view import RunView


class RunCommands:
    """The commands of a window."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        names = ("run_cut", "run_full", "run_day", "run_own", "run_again", "run_stop", "run_play")
        return {name: getattr(self, name) for name in names}

    def _view(self) -> RunView:
        view = self._window.places.open("run")
        assert view is not None
        return view  # type: ignore[return-value]

    def run_cut(self) -> None:
        self._view().start("cut")

    def run_full(self) -> None:
        self._view().start("full")

    def run_day(self) -> None:
        view = self._view()
        if view.choices.day() is None:
            view.choices.choose("winter")
        view.choices.what.setFocus()
        view.choices.what.showPopup()

    def run_own(self) -> None:
        self._view().edit_day()

    def run_again(self) -> None:
        self._view().run()

    def run_stop(self) -> None:
        view = self._window.places.widget("run")
        if view is not None:
            view.stop()  # type: ignore[attr-defined]

    def run_play(self) -> None:
        self._view().player.toggle()
