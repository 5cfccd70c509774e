"""Rooms about emitters: they lose heat to the outdoors and keep some.

Owns a room's own balance. Knows nothing of water. Each emitter has a room of its own, which at the design outdoor
temperature needs just what that emitter gives at the flow temperature it is stated to need.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from dataclasses import dataclass

from loopwright.engineering.runs.given import assumed
from loopwright.waterways.graph import Waterways


@dataclass
class Room:
    """Air and walls at one temperature. `lacking_J`: heat that would have kept it at what is wanted."""

    part: str
    loss_W_K: float
    heat_J_K: float
    want_C: float
    air_C: float
    lacking_J: float = 0.0
    asked_for: bool = True
    """Whether anybody counts on it being warm: the room of a heat leak takes what comes."""

    def step(self, dt: float, heat_W: float, outdoor_C: float) -> None:
        """One step with the heat its emitter gave, exact for a steady one. Free warmth counts as a milder outdoors."""
        end = outdoor_C + assumed("house", "free_k") + heat_W / self.loss_W_K
        self.air_C = end + (self.air_C - end) * math.exp(-dt * self.loss_W_K / self.heat_J_K)
        if self.asked_for:
            self.lacking_J += dt * self.loss_W_K * max(0.0, self.want_C - 1.0 - self.air_C)


def design_W(ways: Waterways, part: str) -> float:
    """What an emitter gives at the flow temperature it needs, W, with water 10 K cooler coming back (5 K: a floor)."""
    output = ways.number(part, "output_w") or 0.0
    if ways.has_tag(part, "underfloor"):
        return output
    need = ways.number(part, "t_need_c") or 60.0
    want = assumed("house", "want_c")
    return output * (max(1.0, need - 5.0 - want) / 50.0) ** (ways.number(part, "exponent") or 1.3)


def room_of(ways: Waterways, part: str, design_outdoor_C: float) -> Room:
    """The room that an emitter just heats at the design outdoor temperature."""
    want = assumed("house", "want_c")
    free = assumed("house", "free_k")
    loss = max(1.0, design_W(ways, part) / max(5.0, want - free - design_outdoor_C))
    heat = 3600.0 * assumed("house", "time_constant_h") * loss
    return Room(part, loss, heat, want, want, asked_for=not ways.has_tag(part, "heat_leak"))
