"""What warms mains water: coils, plates and cylinders, each with its cold end and what is inside.

Shared by the rules of tap water and of the order of a mains inlet. Says nothing about right and wrong.
"""

from __future__ import annotations

import msgspec

from loopwright.rules.registry import Case
from loopwright.rules.warmth import cold_end, mixing_ways, tap_coils
from loopwright.waterways.graph import Key, Place
from loopwright.waterways.waters import water_of


class Heater(msgspec.Struct, frozen=True, kw_only=True):
    """Something that warms mains water: a coil, a plate, or a cylinder's own body."""

    part: str
    cold: Place
    inside: tuple[Place, ...]
    """Its hot end or its body."""
    key: Key | None
    content_l: float | None
    words: str

    @property
    def is_coil(self) -> bool:
        """A tube in another water, not a vessel."""
        return self.key is not None


def mains_heaters(case: Case) -> list[Heater]:
    """Every coil, plate and cylinder that warms water under mains pressure."""
    ways = case.ways
    out = []
    for element, cold, hot in tap_coils(case):
        water = water_of(ways, cold)
        if water is None or water.regime != "mains":
            continue
        coil = ways.coil_of(element)
        content = coil.content_l if coil else ways.number(element.part, "content_l")
        words = f"Coil “{coil.name}” of {case.name(element.part)}" if coil else case.name(element.part)
        out.append(Heater(part=element.part, cold=cold, inside=(hot,), key=element.key, content_l=content, words=words))
    for body in ways.bodies("cylinder", "store"):
        water = water_of(ways, body)
        if water is None or water.regime != "mains":
            continue
        cold_at = cold_end(case, ("none",), [e.other(body) for e in ways.links[body] if e.other(body)[0] == "port"])
        if cold_at is not None:
            litres = ways.number(body[1], "volume_l")
            out.append(
                Heater(part=body[1], cold=cold_at, inside=(body,), key=None, content_l=litres, words=case.name(body[1]))
            )
    return out


def beside(case: Case, heater: Heater) -> set[Key]:
    """What a walk on one side of a heater may not pass: its own way, and mixing valves, which join both sides."""
    return {*mixing_ways(case), *([heater.key] if heater.key else ())}
