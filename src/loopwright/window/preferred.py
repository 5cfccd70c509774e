"""The units a person prefers, kept between runs and followed by all that shows numbers.

Owns taking another preference, here or from the window of another sheet. Refuses to convert anything.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loopwright.units import System
from loopwright.window.quantities import Units

if TYPE_CHECKING:
    from loopwright.window.main import MainWindow


class PreferredUnits:
    """The units of one window."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window
        self.now = Units(window.memory.system)

    def use(self, system: System) -> None:
        """Show numbers in metric or imperial units, from now on."""
        self._window.memory.system = system
        self.follow()

    def follow(self, *, always: bool = True) -> None:
        """Take the units that are preferred now; not `always`: only if they were changed in another window."""
        window = self._window
        if always or window.memory.system != self.now.system:
            self.now = Units(window.memory.system)
            window.properties.set_units(self.now)
            window.status.set_units(self.now)
            window.stage.use_units(self.now)
            window.findings.set_units(self.now)
            window.why.set_units(self.now)
            window.actions_[self.now.system].setChecked(True)
            window.desk.units_changed.emit(self.now)
