"""How numbers and names are written in a report. Owns their form; knows nothing of what they mean."""

from __future__ import annotations

from datetime import date
from math import floor, isfinite, log10

from loopwright import units
from loopwright.reports.model import Cell, Column, Mark
from loopwright.words import capital as capital
from loopwright.words import listed as listed

_SIGNS = {"degC": "°C", "percent": "%", "deg": "°"}
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def sign(unit: str) -> str:
    """A unit as people write it."""
    return _SIGNS.get(unit, unit)


def figure(value: float, places: int | None = None) -> str:
    """A number with so many places, or with four figures where none are asked for; never as a power of ten."""
    if places is None:
        shown = units.show(float(format(value, ".4g")) if abs(value) < 1000 else round(value), "")
    else:
        shown = f"{value:.{places}f}"
    if shown.startswith("-"):
        return "−" + shown[1:] if float(shown) else shown[1:]
    return shown


def quantity(value: float, unit: str, places: int | None = None) -> str:
    """A number with its unit; a slope as "1 in 120"."""
    if unit == units.SLOPE:
        return units.show(value, unit)
    shown = figure(value, places)
    return f"{shown}°" if unit == "deg" else f"{shown} {sign(unit)}".rstrip()


def rough(value: float, unit: str) -> str:
    """A number with its unit at three figures, whole numbers left whole: what a computation is worth."""
    size = floor(log10(abs(value))) if value and isfinite(value) else 0
    shown = figure(round(value, max(0, 2 - size)))
    return f"{shown}°" if unit == "deg" else f"{shown} {sign(unit)}".rstrip()


def cell(value: Cell, column: Column) -> str:
    """What a cell says. A mark says its word."""
    if value is None:
        return ""
    if isinstance(value, Mark):
        return value.severity
    if isinstance(value, str):
        return value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int) and column.places is None:
        return str(value)
    return figure(value, column.places)


def day(of: date) -> str:
    """A day as people write it."""
    return f"{of.day} {_MONTHS[of.month - 1]} {of.year}"


def fours(code: str, groups: int = 4) -> str:
    """A code in groups of four."""
    return " ".join(code[k : k + 4] for k in range(0, 4 * groups, 4)).strip()
