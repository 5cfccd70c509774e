"""Where a control link may begin and end on the sheet, and the drag of one of its ends to another place.

Owns what a hit means to a link. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import dist
from textwrap import fill
from typing import NamedTuple

import msgspec

from loopwright.canvas.tools.base import Event, Hit, Host, Line
from loopwright.canvas.tools.drags import Made
from loopwright.catalogue import Catalogue
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import plan_link
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.asked import EXTRAS
from loopwright.sheet.fitting_out import fitted
from loopwright.sheet.links import can_drive, can_sense, sentence
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import ControlLink, Point, Sheet, TappingSide

LINE_MM = 0.30
WORDS_WIDE = 48
POCKET_REACH_M = 0.12
"""A pocket so near in height to the pointer is the one that is meant; else a new one is put there."""
POCKET = next(extra for extra in EXTRAS if extra.sort == "pocket")


class Felt(NamedTuple):
    """What a link's end means: a part, a pocket of a vessel (“store/C”), or a pocket yet to be put into a vessel."""

    place: str
    new_m: float | None = None
    """Height above the base of a pocket that is not there yet; `place` is then the vessel."""
    side: TappingSide = "right"

    def put(self, sheet: Sheet, catalogue: Catalogue) -> tuple[Sheet, str]:
        """The sheet with the pocket, and the place's name on it. Raises SheetError where there is no room."""
        if self.new_m is None:
            return sheet, self.place
        sheet = fitted(sheet, self.place, POCKET, catalogue, self.new_m, self.side)
        return sheet, f"{self.place}/{sheet.parts[self.place].tappings[-1].letter}"


def place_at(sheet: Sheet, hit: Hit | None, at: Point, sensing: bool, catalogue: Catalogue) -> tuple[Felt | None, str]:
    """(what a hit means to a link; why it cannot be taken). A vessel is felt in the pocket at that height, and gets one
    there where none is near."""
    if hit is None or hit.kind not in ("part", "port"):
        return None, ""
    part = sheet.parts[hit.id]
    kind = catalogue[part.kind]
    felt = Felt(part.id)
    if not sensing:
        return felt, "" if can_drive(kind) else f"A {kind.name.lower()} cannot be driven. Click what runs or opens."
    if not can_sense(part, kind):
        return felt, f"A {kind.name.lower()} feels nothing. Click a sensor, a control or a vessel."
    if kind.body not in ("store", "cylinder"):
        return felt, ""
    pockets = [t for t in part.tappings if t.purpose == "sensor"]
    near = min(pockets, key=lambda t: abs(part.height_m + t.height_m - at[1]), default=None)
    if near is not None and abs(part.height_m + near.height_m - at[1]) <= POCKET_REACH_M:
        return Felt(f"{part.id}/{near.letter}"), ""
    side: TappingSide = "left" if (at[0] < part.x_m) != part.mirror else "right"
    felt = Felt(part.id, round(at[1] - part.height_m, 2), side)
    try:
        felt.put(sheet, catalogue)
    except LoopwrightError as bad:
        return felt, bad.sentence
    return felt, ""


def middle_of(sheet: Sheet, felt: Felt, catalogue: Catalogue) -> Point:
    """Where a ring about a place stands."""
    owner, _, letter = felt.place.partition("/")
    part = sheet.parts[owner]
    tapping = part.tapping(letter) if letter else None
    height = tapping.height_m if tapping else felt.new_m
    x0, z0, x1, z1 = box_of(part, catalogue)
    return ((x0 + x1) / 2, (z0 + z1) / 2 if height is None else part.height_m + height)


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
        felt, refusal = place_at(sheet, hit, event.at, self.end == "sensor", catalogue)
        if felt is not None and not refusal:
            ready, place = felt.put(sheet, catalogue)
            new = msgspec.structs.replace(link, **{self.end: place})
            words = fill(sentence(ready, new, catalogue), WORDS_WIDE)
            return Made(lambda s: edits.put_link(felt.put(s, catalogue)[0], new), words)
        plan = plan_link(sheet, link, catalogue)
        other = to_metres(plan.points[-1 if self.end == "sensor" else 0]) if plan is not None else event.at
        wanted = "a sensor, a control or a pocket" if self.end == "sensor" else "the pump, valve or source it drives"
        words = refusal or f"Let go over {wanted}"
        line = Line((other, (event.at[0], other[1]), event.at), "accent", True, LINE_MM)
        return Made(lambda s: s, fill(words, WORDS_WIDE), (line,))
