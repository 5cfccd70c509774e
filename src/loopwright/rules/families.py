"""Families of rules that speak of one cause, by slug: what a rule of another theme yields to.

Owns the lists, so that a rule added to a family silences what the others silence.
"""

from __future__ import annotations

IN_THE_LOOP = (
    "gravity-loop/isolating-valve",
    "gravity-loop/pump-in-line",
    "gravity-loop/spring-check",
    "gravity-loop/flap-only-way",
)
"""What stands in the gravity loop of a fire."""
SHUTS_IN = ("solid-fuel/heat-leak-needs-power", "solid-fuel/heat-leak-can-be-shut", *IN_THE_LOOP)
"""What keeps a fire's heat in; it shuts cold water and steam in as well."""
SHEDDING = (
    "solid-fuel/no-heat-leak",
    *SHUTS_IN,
    "solid-fuel/store-is-only-leak",
    "solid-fuel/heat-leak-too-small",
)
"""Every answer of the shedding question."""
LOOP_SHAPE = (
    "gravity-loop/dips",
    "gravity-loop/sink-too-low",
    "gravity-loop/small-bore",
    "gravity-loop/level-run",
)
"""How the gravity loop of a fire is laid."""
WRONG_TAPPINGS = ("tapping/flow-below-return", "tapping/coil-upside-down", "tapping/swapped")
"""What makes a circuit run the wrong way through a vessel."""
VENT_CAN_CLOSE = ("solid-fuel/vent-can-close", "vent-and-feed/vent-can-close")
"""What can shut a vent."""
CAN_CLOSE = (*VENT_CAN_CLOSE, "solid-fuel/feed-can-close")
"""What can shut a vent or a feed."""
