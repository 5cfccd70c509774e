"""Every sound sheet there is, by name: the systems of this folder, the three-source store, samples and starters."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache

import others
import own_systems
import small_others
import small_systems

import systems
from loopwright.sheet.values import Sheet

assert small_others and own_systems  # their systems register themselves
_HOUSES: dict[str, Callable[[], systems.House]] = {
    "01-stove-beside-a-store": others.stove_by_gravity,
    "06-sealed-log-boiler": others.log_boiler,
    "08-oil-boiler-by-coil": others.oil_by_coil,
    "three-source-store": systems.three_source,
    "base-sheet": systems.base,
    "store-only": others.store_only,
}


def _made(draw: Callable[[], systems.House]) -> Callable[[], Sheet]:
    return lambda: systems.done(draw())


def _drawn(draw: Callable[[], object]) -> Callable[[], Sheet]:
    return lambda: draw().done()  # type: ignore[attr-defined]


_MAKE: Mapping[str, Callable[[], Sheet]] = {
    **{name: _drawn(make) for name, make in small_systems.SYSTEMS.items()},
    **{name: _made(make) for name, make in _HOUSES.items()},
}
NAMES = sorted(_MAKE)


@cache
def sound_sheet(name: str) -> Sheet:
    """A sound sheet, drawn once."""
    return _MAKE[name]()
