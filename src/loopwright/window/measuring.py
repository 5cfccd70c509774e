"""Ready-made dimensions: what a fitter measures first, put on the sheet by one command.

Owns where such a line stands and which one comes next. Refuses to know what is measured: `rules.heights` says that.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from loopwright.catalogue import Catalogue
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.dimensions import foot_at
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import Dimension, Sheet

if TYPE_CHECKING:
    from loopwright.rules.heights import Measure
    from loopwright.rules.registry import Case
    from loopwright.window.main import MainWindow

BESIDE_M = 0.35
"""Between the outermost of what is measured and the line."""
STEP_M = 0.05


class MeasuringCommands:
    """Commands of one window that measure."""

    def __init__(self, window: MainWindow) -> None:
        self._window = window

    def handlers(self) -> dict[str, Callable[[], object]]:
        """The function of each command."""
        return {"measure_vent": self.measure_vent, "measure_circulating": self.measure_circulating}

    def measure_vent(self) -> None:
        """From a cistern's cold water line to the top of its open vent."""
        from loopwright.rules.heights import vent_rises

        none = "No open vent ends over a cistern whose water line is known. Draw the vent to the cistern first."
        self._measure("Measure the vent's rise", vent_rises, none)

    def measure_circulating(self) -> None:
        """From a fire's middle to the middle of what it heats by gravity."""
        from loopwright.rules.heights import circulating_heights

        none = "No fire here heats anything by gravity alone. Pipe a stove to a store or a heat-leak radiator first."
        self._measure("Measure the circulating height", circulating_heights, none)

    def _measure(self, label: str, find: Callable[[Case], list[Measure]], none: str) -> None:
        from loopwright.rules.registry import Case

        window, sheet = self._window, self._window.document.sheet
        found = find(Case(window.checks.kept.of(sheet)))
        chosen = [m for m in found if m.about & window.document.chosen] or found
        there = {(d.a, d.b) for d in sheet.dimensions}
        new = [m for m in chosen if (m.a, m.b) not in there]
        if not new:
            window.status.say("That is measured already. Choose another cistern or fire." if found else none)
            return
        one = dimension_of(sheet, new[0], window.catalogue)
        if window.commands.apply(label, lambda s: edits.put_dimension(s, one), {one.id}):
            rest = f" {len(new) - 1} more: the same command again." if len(new) > 1 else ""
            window.status.say(f"{window.stage.describe({one.id})}. It follows what it stands on.{rest}")


def dimension_of(sheet: Sheet, measure: Measure, catalogue: Catalogue) -> Dimension:
    """The dimension of a measure, its line to the left of what it stands on and clear of parts there."""
    feet = [foot_at(sheet, foot, catalogue) or (0.0, 0.0) for foot in (measure.a, measure.b)]
    boxes = [box_of(part, catalogue) for part in sheet.parts.values()]
    own = [box_of(sheet.parts[i], catalogue)[0] for i in measure.about if i in sheet.parts]
    low, high = sorted(z for _, z in feet)
    x = min([x for x, _ in feet] + own) - BESIDE_M
    taken = [d.x_m for d in sheet.dimensions if d.level_m is None]
    while any(b[0] - 0.1 < x < b[2] + 0.1 and b[1] < high and low < b[3] for b in boxes) or any(
        abs(x - other) < 0.2 for other in taken
    ):
        x -= STEP_M
    ident = numbered("dimension", ids_in_use(sheet))
    return Dimension(id=ident, a=measure.a, b=measure.b, x_m=round(round(x / STEP_M) * STEP_M, 3))
