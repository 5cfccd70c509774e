"""How far figures lie from references outside the project: a fixture that checks and notes, a table at the run's end.

The notes travel as user properties of the reports, so the table is whole with any number of workers.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable

import pytest

KEY = "deviation"


@pytest.fixture
def deviation(record_property: Callable[[str, object], None]) -> Callable[..., None]:
    """`deviation(quantity, reference, got, want, allowed)`, relative, or absolute in a unit. Fails beyond `allowed`."""

    def check(quantity: str, reference: str, got: float, want: float, allowed: float, unit: str = "%") -> None:
        apart = abs(got - want)
        if unit == "%":
            apart = 0.0 if got == want else math.inf if want == 0.0 else 100.0 * apart / abs(want)
            allowed = 100.0 * allowed
        record_property(KEY, [reference, quantity, float(apart), float(allowed), unit])
        assert apart <= allowed, f"{quantity} against {reference}: {got!r} for {want!r}"

    return check


def largest(noted: Iterable[list]) -> list[tuple[str, str, float, float, str, int]]:
    """The largest deviation of each reference and quantity, with how many checks it is of."""
    found: dict[tuple[str, str, str], tuple[float, float, int]] = {}
    for reference, quantity, apart, allowed, unit in noted:
        key = (reference, quantity, unit)
        most, limit, count = found.get(key, (0.0, 0.0, 0))
        if apart >= most:
            most, limit = apart, allowed
        found[key] = (most, limit, count + 1)
    return [(ref, q, most, limit, unit, n) for (ref, q, unit), (most, limit, n) in sorted(found.items())]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print the table where any figure was checked."""
    reports = [r for kind in ("passed", "failed") for r in terminalreporter.stats.get(kind, ())]
    noted = [value for r in reports if r.when == "call" for key, value in r.user_properties if key == KEY]
    if not noted:
        return
    terminalreporter.section("largest deviation from references outside the project")
    terminalreporter.write_line(f"{'reference':<34} {'quantity':<44} {'largest':>11} {'allowed':>11}  checks")
    for reference, quantity, most, allowed, unit, count in largest(noted):
        shown, limit = f"{most:.3g} {unit}", f"{allowed:.3g} {unit}"
        terminalreporter.write_line(f"{reference:<34} {quantity:<44} {shown:>11} {limit:>11}  {count}")
