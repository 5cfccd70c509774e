"""Where a control link may begin and end on the sheet, and the drag of one of its ends to another place.

Owns what a hit means to a link. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from textwrap import fill

import msgspec

from loopwright.canvas.tools.base import Event, Hit, Host, Line
from loopwright.canvas.tools.drags import Made
from loopwright.catalogue import Catalogue
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import plan_link
from loopwright.sheet import edits
from loopwright.sheet.links import can_drive, can_sense, sentence
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import ControlLink, Point, Sheet

LINE_MM = 0.30
WORDS_WIDE = 48


def place_at(sheet: Sheet, hit: Hit | None, at: Point, sensing: bool, catalogue: Catalogue) -> tuple[str, str]:
    """(the part, or the pocket of a vessel, that a hit means to a link; why it cannot be taken)."""
    if hit is None or hit.kind not in ("part", "port"):
        return "", ""
    part = sheet.parts[hit.id]
    kind = catalogue[part.kind]
    if not sensing:
        return part.id, "" if can_drive(kind) else f"A {kind.name.lower()} cannot be driven. Click what runs or opens."
    if not can_sense(part, kind):
        return part.id, f"A {kind.name.lower()} feels nothing. Click a sensor, a control or a vessel's pocket."
    pockets = [t for t in part.tappings if t.purpose == "sensor"]
    if part.tappings and not pockets:
        return part.id, "This vessel has no sensor pocket. Add one in its table of tappings first."
    if pockets:
        nearest = min(pockets, key=lambda t: abs(part.height_m + t.height_m - at[1]))
        return f"{part.id}/{nearest.letter}", ""
    return part.id, ""


def middle_of(sheet: Sheet, place: str, catalogue: Catalogue) -> Point:
    """Where a ring about a place stands."""
    owner, _, letter = place.partition("/")
    part = sheet.parts[owner]
    tapping = part.tapping(letter) if letter else None
    x0, z0, x1, z1 = box_of(part, catalogue)
    return ((x0 + x1) / 2, part.height_m + tapping.height_m if tapping else (z0 + z1) / 2)


def end_at(sheet: Sheet, link: ControlLink, at: Point, reach_m: float, catalogue: Catalogue) -> str:
    """Which end of a link is within reach: “sensor”, “target” or nothing."""
    plan = plan_link(sheet, link, catalogue)
    if plan is None:
        return ""
    ends = {"sensor": to_metres(plan.points[0]), "target": to_metres(plan.points[-1])}
    near = min(ends, key=lambda end: dist(ends[end], at))
    return near if dist(ends[near], at) <= reach_m else ""


@dataclass
class LinkEnd:
    """One end of a control link, to another sensor or another thing to drive."""

    host: Host
    sheet: Sheet
    link: str
    end: str
    label: str = "Move a control link's end"

    def at(self, event: Event) -> Made | None:
        """The link to what is under the pointer; in the air, a line that would change nothing."""
        sheet, catalogue = self.sheet, self.host.catalogue
        link = sheet.links[self.link]
        hit = self.host.hit(event.at, frozenset({self.link}))
        place, refusal = place_at(sheet, hit, event.at, self.end == "sensor", catalogue)
        if place and not refusal:
            new = msgspec.structs.replace(link, **{self.end: place})
            return Made(lambda s: edits.put_link(s, new), fill(sentence(sheet, new, catalogue), WORDS_WIDE))
        plan = plan_link(sheet, link, catalogue)
        other = to_metres(plan.points[-1 if self.end == "sensor" else 0]) if plan is not None else event.at
        wanted = "a sensor, a control or a pocket" if self.end == "sensor" else "the pump, valve or source it drives"
        words = refusal or f"Let go over {wanted}"
        line = Line((other, (event.at[0], other[1]), event.at), "accent", True, LINE_MM)
        return Made(lambda s: s, fill(words, WORDS_WIDE), (line,))
