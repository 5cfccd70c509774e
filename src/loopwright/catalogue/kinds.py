"""What a kind of part is: its ports, ways, positions and properties, as frozen values.

Owns the vocabulary of the catalogue. Knows nothing of sheets, files or drawing; `reader.py` makes these from
TOML.
"""

from __future__ import annotations

from enum import StrEnum
from typing import Literal

import msgspec

Side = Literal["left", "right", "up", "down"]
Value = bool | int | float | str | None


class Behaviour(StrEnum):
    """How a way lets water through. See `waterways.views` for what passes when."""

    FREE = "free"
    SOURCE = "source"
    EMITTER = "emitter"
    COIL = "coil"
    PUMP = "pump"
    HAND = "hand"
    POWERED = "powered"
    THERMAL = "thermal"
    ONE_WAY = "one_way"
    RELIEF = "relief"
    AIR_GAP = "air_gap"
    GUARD = "guard"
    SEAL = "seal"
    PIPE = "pipe"


class PortSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where a pipe may end on a part.

    `at` is (x, z): for a large part x runs -1 (left edge) .. 1 (right edge) and z 0 (base) .. 1 (top) of its
    box; for a small fitting both are metres from its centre. `side` is the way a pipe leaves.
    """

    name: str
    at: tuple[float, float]
    side: Side
    role: str = "any"
    label: str = ""
    optional: bool = False
    """May stand unused without being an open end (a factory plug)."""
    bore_mm: float | None = None


class WaySpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A way between two places of a part: ports, inner places, or `body`. a -> b is its own direction."""

    name: str
    a: str
    b: str
    does: Behaviour
    bypass: bool = False
    gravity_ok: bool = False
    """A one-way that buoyancy alone opens (a low-resistance flap)."""
    loss_k: float = 0.0


class SourceSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What makes a part a heat source. `stops` may be overridden by a property of that name."""

    stops: Literal["fire", "switched", "residual", "sun"]
    hot: str = "hot"
    cold: str = "cold"


class PropSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A property: unit, default, usual range, hard limits, and what it means.

    `default` None means that nobody can guess it: it must be asked for.
    """

    name: str
    label: str
    help: str
    unit: str = ""
    default: Value = None
    usual: tuple[float, float] | None = None
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()
    kind: Literal["number", "flag", "text", "choice"] = "number"


class PlaceSpec(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A port moved by the part's `layout` property."""

    at: tuple[float, float]
    side: Side


class Kind(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of part."""

    id: str
    name: str
    group: str
    help: str
    synonyms: tuple[str, ...] = ()
    symbol: str = ""
    large: bool = False
    """Drawn to scale with its origin at the middle of its base; a fitting has its origin at its centre."""
    width_m: float = 0.24
    height_m: float = 0.24
    ports: tuple[PortSpec, ...] = ()
    inner: dict[str, tuple[float, float]] = {}
    ways: tuple[WaySpec, ...] = ()
    positions: dict[str, tuple[str, ...]] = {}
    """Tied ways: position name -> ways open in it. Ways named in no position are not tied."""
    tied_by: Behaviour | None = None
    """What moves the tied ways: powered, thermal or hand."""
    body: str = ""
    """Role of the part's body of water: store, cylinder, header, cistern, drain_vessel, expansion or none."""
    source: SourceSpec | None = None
    props: tuple[PropSpec, ...] = ()
    layouts: dict[str, dict[str, PlaceSpec]] = {}
    tags: tuple[str, ...] = ()
    """Facts that rules ask for by name, e.g. "outlet", "mains", "air_vent", "vessel", "loading_unit"."""
    fluid: str = "heating"
    letter: str = ""
    """Prefix of ids given to new parts ("P" gives P1, P2); empty: the kind's own id."""

    def prop(self, name: str) -> PropSpec | None:
        """The property of that name, or None."""
        return next((p for p in self.props if p.name == name), None)

    def port(self, name: str) -> PortSpec | None:
        """The fixed port of that name, or None."""
        return next((p for p in self.ports if p.name == name), None)

    @property
    def through(self) -> tuple[str, str] | None:
        """The two ports by which a fitting lies in a pipe: the first two if they face opposite ways, else two that
        do and are joined by a free way. None for a large part and for one that cannot lie in line."""
        if self.inline:
            return self.ports[0].name, self.ports[1].name
        for way in self.ways if not self.large else ():
            a, b = self.port(way.a), self.port(way.b)
            if way.does is Behaviour.FREE and a and b and {a.side, b.side} in ({"left", "right"}, {"up", "down"}):
                return a.name, b.name
        return None

    @property
    def inline(self) -> bool:
        """Two ports opposite each other: lies in a pipe by its first two ports."""
        if self.large or len(self.ports) < 2:
            return False
        sides = {p.side for p in self.ports[:2]}
        return sides in ({"left", "right"}, {"up", "down"})
