"""Control links as rules read them: what senses, what is driven, and what a link does to it.

Owns the reading of `ControlLink`. Knows no limits.
"""

from __future__ import annotations

from collections.abc import Collection

from loopwright.rules.registry import Case
from loopwright.sheet.values import ControlLink

STOPS = ("stops_above", "shuts_above")
HOLDS = (*STOPS, "runs_below")
"""What keeps a sensor from getting hotter than the setting: stopped above it, or run only below it."""
NOT_DRAWN = "Controls are not drawn"


def drawn(case: Case) -> bool:
    """Whether the sheet shows any control link. Without one no rule guesses."""
    return case.ways.beyond.links


def driving(case: Case, targets: Collection[str], *does: str) -> list[ControlLink]:
    """Links to any of these parts, of these kinds (any kind when none is named)."""
    return [k for k in case.sheet.links.values() if k.target in targets and (not does or k.does in does)]


def senses(case: Case, link: ControlLink, vessel: str) -> bool:
    """Whether a link's sensor is in a vessel: a pocket of it, or a device of its own whose place nobody can draw."""
    part, _, pocket = link.sensor.partition("/")
    if part == vessel:
        return True
    return not pocket and part in case.sheet.parts and is_device(case, part, room=False)


def is_device(case: Case, part: str, *, room: bool = True) -> bool:
    """Whether a part is a sensor or thermostat that may hang anywhere; room thermostats count if asked for."""
    if not case.ways.has_tag(part, "sensor"):
        return False
    kind = case.sheet.parts[part].kind
    return kind not in ("pipe_thermostat", "flue_thermostat") and (room or kind != "room_thermostat")


def setting_c(case: Case, link: ControlLink) -> float | None:
    """The temperature at which a link acts: its own, else its device's as typed."""
    if link.setting_c is not None:
        return link.setting_c
    part = link.sensor.partition("/")[0]
    if part in case.sheet.parts and case.ways.has_tag(part, "sensor") and case.ways.typed(part, "setting_c"):
        return case.ways.number(part, "setting_c")
    return None
