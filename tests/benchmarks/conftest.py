"""One table of everything timed here, at the end of `pytest tests/benchmarks --benchmark-enable -s`.

A test hands what it has found to `measured`: it stands in the table beside its aim, and where the aim is missed the
test is an expected failure that says by how much. No aim is ever loosened for it.
"""

from __future__ import annotations

from dataclasses import dataclass

import pytest


@dataclass(frozen=True)
class Row:
    what: str
    found: float
    aim: float | None
    unit: str
    note: str

    @property
    def missed(self) -> bool:
        return self.aim is not None and self.found > self.aim


ROWS = pytest.StashKey[list[Row]]()


class Measured:
    """Rows of one test. `missed` are told at its end, so that one miss hides no other."""

    def __init__(self, rows: list[Row]) -> None:
        self.rows = rows
        self.missed: list[str] = []

    def __call__(self, what: str, found: float, aim: float | None = None, unit: str = "ms", note: str = "") -> None:
        """Note a figure and what it should be at most, in the same unit."""
        row = Row(what, found, aim, unit, note)
        self.rows.append(row)
        if row.missed:
            self.missed.append(f"{what}: {found:.3g} {unit}; the aim is {aim:.3g}")

    def judge(self) -> None:
        """An expected failure if an aim was missed."""
        if self.missed:
            pytest.xfail("; ".join(self.missed))


@pytest.fixture
def measured(request: pytest.FixtureRequest) -> Measured:
    return Measured(request.config.stash.setdefault(ROWS, []))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    rows = config.stash.get(ROWS, [])
    if not rows:
        return
    terminalreporter.section("speed, in time of the processor unless a note says otherwise")
    wide = max(len(row.what) for row in rows)
    for row in rows:
        aim = "" if row.aim is None else f"{row.aim:.4g}"
        word = "missed" if row.missed else ("met" if row.aim is not None else "")
        line = f"{row.what:<{wide}}  {row.found:>9.4g} {row.unit:<6} aim {aim:>7}  {word:<6}  {row.note}"
        terminalreporter.write_line(line.rstrip())
