"""The limits that rules ask for, as a person may set them for one sheet: figure, unit, source, and what is nonsense.

Owns the list (`resources/limits.toml`) and the judgement of a value. Refuses to know which rule takes which limit for
what: a rule asks its case.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from math import isfinite
from typing import Literal

import msgspec

from loopwright.errors import ValueRefused
from loopwright.resources import resource_root
from loopwright.rules.registry import Fact, all_rules, facts, page
from loopwright.units import SLOPE, show

TIMES = 20.0
"""A value so many times the published one, or so small a part of it, is a slip of the unit."""
HOTTEST_C = 150.0
_UNITS = ("degC", "m/s", "mm", "bar", "kW", "m", "l", "K", "%")
Ends = Literal["", "low", "high", "both"]


class Limit(msgspec.Struct, frozen=True):
    """A limit. `unit` can be converted; `of` is what stands after it in words ("OD", "per kW", "of output")."""

    key: str
    group: str
    fact: Fact
    ends: Ends
    unit: str
    of: str

    @property
    def published(self) -> tuple[float, ...]:
        """The figure the rules take: two of them where they take both ends of a range."""
        value = self.fact.value
        both = [float(v) for v in value] if isinstance(value, list) else [float(value)]  # type: ignore[arg-type]
        return {"low": (both[0],), "high": (both[-1],), "both": tuple(both), "": (both[0],)}[self.ends]

    def _figure(self, value: float) -> str:
        return show(value, SLOPE) if self.unit == SLOPE else f"{value:g}"

    def check(self, value: float) -> None:
        """Raises ValueRefused for a value that cannot be meant."""
        said = f"{self._figure(value)} {'' if self.unit == SLOPE else self.fact.unit}".strip()
        if not isfinite(value):
            raise ValueRefused("That is no number", do="Type one")
        if value < 0.0:
            raise ValueRefused(f"{said} is less than nothing", do="Type a positive figure")
        most = 1.0 if self.of == "fraction of height" else {"%": 100.0, "degC": HOTTEST_C}.get(self.unit)
        if most is not None:
            if value > most:
                raise ValueRefused(f"{said} is beyond {most:g}", do=f"Type a figure up to {most:g}")
            return
        low, high = min(self.published), max(self.published)
        if value == 0.0 or value > high * TIMES or value < low / TIMES:
            raise ValueRefused(
                f"{said} is far from the published {' to '.join(self._figure(p) for p in self.published)}",
                do="Check the unit",
            )


def _unit(text: str) -> tuple[str, str]:
    """The unit that can be converted and the words after it: `mm OD` is mm, and OD."""
    if text == SLOPE:
        return SLOPE, ""
    found = re.match(rf"({'|'.join(map(re.escape, _UNITS))})(?:\s+(.*))?$", text)
    if found is None or (found[2] or "").startswith("per "):
        return "", text
    return found[1], found[2] or ""


@cache
def limits() -> dict[str, Limit]:
    """Every limit by key, group by group in reading order."""
    data = tomllib.loads((resource_root() / "limits.toml").read_text(encoding="utf-8"))
    known = facts()
    out: dict[str, Limit] = {}
    for group, keys in data["groups"].items():
        for key in keys:
            unit, of = _unit(known[key].unit)
            out[key] = Limit(key, group, known[key], data["ends"].get(key, ""), unit, of)
    return out


@cache
def asked_by() -> dict[str, tuple[str, ...]]:
    """The rules whose pages name a figure, by its key."""
    out: dict[str, list[str]] = {}
    for slug in all_rules(computed=True):
        for key in page(slug).sources:
            out.setdefault(key, []).append(slug)
    return {key: tuple(slugs) for key, slugs in out.items()}
