"""Discharge pipe of a relief valve: the statutory table with its allowance for bends.

Owns the lookup in `resources/tables/discharge.toml`. Knows a length, a count of bends and a valve size only.
"""

from __future__ import annotations

from dataclasses import dataclass

from loopwright.engineering.tables import table
from loopwright.errors import FigureError


@dataclass(frozen=True)
class DischargeRow:
    """One row: valve outlet (thread size), least pipe to the tundish, pipe after it, and its reach."""

    valve: str
    d1: str
    d2: str
    longest_m: float
    bend_m: float

    def equivalent_m(self, length_m: float, bends: float) -> float:
        """Length plus the allowance for bends, m."""
        return length_m + bends * self.bend_m

    def allows(self, length_m: float, bends: float) -> bool:
        """Whether a pipe of so many metres and bends is within the row."""
        return self.equivalent_m(length_m, bends) <= self.longest_m + 1e-9


def rows(valve: str) -> tuple[DischargeRow, ...]:
    """Rows of a valve outlet, smallest pipe first. `valve`: "1/2", "G 1/2", "3/4", "1"."""
    key = valve.upper().replace("G", "").replace('"', "").replace(" ", "")
    found = tuple(DischargeRow(**row) for row in table("discharge")["row"] if row["valve"] == key)
    if not found:
        raise FigureError(f"The discharge table has no valve outlet {valve}", do="Choose 1/2, 3/4 or 1")
    return found


def pipe_for(valve: str, length_m: float, bends: float) -> DischargeRow:
    """The smallest pipe after the tundish that may be so long with so many bends.

    Source: Approved Document G3, table. Refused beyond its longest row: such a run needs its own calculation.
    """
    if length_m < 0.0 or bends < 0:
        raise FigureError("A discharge pipe needs a length and a number of bends of nil or more")
    for row in rows(valve):
        if row.allows(length_m, bends):
            return row
    raise FigureError(
        f"No pipe in the table may run {length_m:g} m with {bends:g} bends from a {valve} valve",
        do="Shorten the run, take out bends, or have it calculated on its own",
    )


def judge(valve: str, size: str, length_m: float, bends: float) -> tuple[bool, float, float]:
    """Whether a drawn pipe of `size` will do: (passes, equivalent length m, longest allowed m).

    A size larger than any row of the valve is judged as the largest row; a smaller one never passes.
    """
    listed = rows(valve)
    outside = float(size)
    fitting = [row for row in listed if float(row.d2) <= outside + 1e-9]
    if not fitting:
        return False, listed[0].equivalent_m(length_m, bends), 0.0
    row = fitting[-1]
    return row.allows(length_m, bends), row.equivalent_m(length_m, bends), row.longest_m


def longest_to_tundish_m() -> float:
    """Longest pipe from valve to tundish, m."""
    return float(table("discharge")["d1_longest_m"])
