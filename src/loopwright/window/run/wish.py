"""What is to be run: a power cut or a day, which valves were left shut, in which condition; and the work that does it.

Owns the wish and how it is carried out beside the window. Refuses to know widgets.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from loopwright.catalogue import Behaviour, Catalogue
from loopwright.sheet.values import Sheet
from loopwright.waterways.views import NORMAL, POWER_CUT, Condition
from loopwright.window.conditions import called, on_sheet, with_way

if TYPE_CHECKING:
    from loopwright.engineering.runs.day import Day
    from loopwright.engineering.runs.result import Run

What = Literal["cut", "full", "day"]
CUT_HOURS = 3.0
"""A power cut tells how far it is as a share of this."""


@dataclass(frozen=True)
class Wish:
    """What to run. `condition` holds the valves that were left shut too."""

    what: What = "cut"
    day: Day | None = None
    condition: Condition = POWER_CUT

    @property
    def words(self) -> str:
        """A short name for it."""
        if self.what == "day" and self.day is not None:
            return self.day.title
        return "Power cut with the store full" if self.what == "full" else "Power cut during a fire"

    @property
    def told(self) -> str:
        """The same with what is unusual about its condition."""
        usual = POWER_CUT if self.what != "day" else NORMAL
        odd = [w for w in self.condition.words.split(", ") if w not in usual.words] if self.condition != usual else []
        return ", ".join([self.words[:1].lower() + self.words[1:], *odd])

    def on(self, sheet: Sheet) -> Wish:
        """The same on another sheet: parts that are not on it are left out."""
        return replace(self, condition=on_sheet(self.condition, sheet))


def carry_out(
    wish: Wish,
    sheet: Sheet,
    catalogue: Catalogue,
    progress: Callable[[float], None],
    cancel: Callable[[], bool],
    so_far: Callable[[Run], None] | None = None,
) -> Run:
    """Run it. `so_far` is handed what there is from time to time. LoopwrightError says what is missing on the sheet."""
    from loopwright.engineering.runs.cut import power_cut
    from loopwright.engineering.runs.day import run_day
    from loopwright.waterways import Waterways

    ways = Waterways(sheet, catalogue)
    if wish.what == "day" and wish.day is not None:
        return run_day(ways, wish.day, condition=wish.condition, progress=progress, cancel=cancel, so_far=so_far)
    full = wish.what == "full"
    return power_cut(ways, wish.condition, store_full=full, progress=progress, cancel=cancel, so_far=so_far)


def conditions(sheet: Sheet, catalogue: Catalogue, what: What, shown: Condition) -> list[tuple[str, Condition]]:
    """The conditions that are offered, the usual one first: words and condition, without valves."""
    usual = NORMAL if what == "day" else POWER_CUT
    words = {True: "Normal running", False: "No electricity"}
    found = [(words[usual.power], usual)]
    if what == "day":
        found.append((words[False], POWER_CUT))
    for pump in with_way(sheet, catalogue, Behaviour.PUMP):
        found.append((f"{called(pump, catalogue)} stopped", Condition(stopped=frozenset({pump.id}))))
    plain = replace_valves(shown, frozenset())
    if plain not in [c for _, c in found] and plain != NORMAL:
        found.append((f"As shown: {plain.words}", plain))
    return found


def replace_valves(condition: Condition, shut: frozenset[str]) -> Condition:
    """The condition with these valves shut and no others."""
    return Condition(condition.power, condition.stopped, shut, condition.out)


def progress_words(wish: Wish, part: float, passed_s: float) -> str:
    """How far it is, and how long it will still take."""
    left_s = passed_s * (1.0 - part) / part if part > 0.02 else None
    if wish.what == "day":
        minutes = round(24 * 60 * part)
        said = f"{minutes // 60:02d}:{minutes % 60:02d} of 24:00"
    else:
        minutes = round(60 * CUT_HOURS * part)
        said = f"{minutes} min after the cut"
    if left_s is None:
        return said
    return f"{said}, about {left_s:.0f} s left" if left_s >= 1.0 else f"{said}, nearly done"
