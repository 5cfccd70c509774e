"""Drags on a vessel: a stub or pocket up and down its shell and over to its other side, and the ends of its coils.

Owns what can be taken hold of on a vessel, and the edit of each. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, NamedTuple

from loopwright.canvas.tools.base import Edit, Event, Hit, Host, Line
from loopwright.canvas.tools.drags import Made
from loopwright.catalogue import Catalogue
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import is_store, plan_store
from loopwright.sheet import edits
from loopwright.sheet.dimensions import foot_at
from loopwright.sheet.ports import size_of
from loopwright.sheet.values import Coil, Foot, Part, Point, Sheet

STEP_M = 0.01
LEVEL_M = 0.061
"""A coil's end that is no farther from its tapping goes with it: they are one pipe."""

CoilEnd = Literal["bottom_m", "top_m"]


class Grip(NamedTuple):
    """What a drag takes hold of: a tapping, a coil's end, or both."""

    letter: str
    coil: str = ""
    end: CoilEnd = "bottom_m"
    at: Point = (0.0, 0.0)


def grip_of(sheet: Sheet, hit: Hit, at: Point, reach_m: float, catalogue: Catalogue) -> Grip | None:
    """What of a vessel the pointer has hold of: a stub, a pocket or the end of a coil. None for its body."""
    part = sheet.parts.get(hit.id)
    if part is None or not part.tappings:
        return None
    if hit.kind == "port":
        return _with_coil(part, hit.port, hit.at) if part.tapping(hit.port) else None
    kind = catalogue[part.kind]
    if hit.kind != "part" or not is_store(kind):
        return None
    for tapping in part.tappings:
        shell = foot_at(sheet, Foot(part=part.id, port=tapping.letter), catalogue)
        if tapping.purpose != "sensor" or shell is None or tapping.side not in ("left", "right"):
            continue
        half = size_of(part, kind)[0] / 2
        outward = (at[0] - shell[0]) * (1 if shell[0] > part.x_m else -1)
        if abs(at[1] - shell[1]) <= reach_m and outward >= -half * 0.5 - reach_m:
            return Grip(tapping.letter, at=shell)
    return _coil_end(sheet, part, at, reach_m, catalogue)


def _coil_end(sheet: Sheet, part: Part, at: Point, reach_m: float, catalogue: Catalogue) -> Grip | None:
    plan = plan_store(sheet, part, catalogue[part.kind], catalogue, {})
    for drawn in plan.coils:
        coil = next(c for c in part.coils if c.name == drawn.name)
        line = [to_metres(p) for p in (*drawn.points, *drawn.vessel)]
        low, high = part.height_m + coil.bottom_m, part.height_m + coil.top_m
        inside = [x for x, z in line if low < z < high] or [x for x, _ in line]
        if not min(inside) - reach_m <= at[0] <= max(inside) + reach_m:
            continue
        ends: tuple[tuple[CoilEnd, float, str], ...] = (("bottom_m", low, coil.lower), ("top_m", high, coil.upper))
        for end, height, letter in ends:
            if abs(at[1] - height) <= reach_m:
                level = _level(part, coil, letter, end)
                return Grip(letter if level else "", coil.name, end, (at[0], height))
    return None


def _with_coil(part: Part, letter: str, at: Point) -> Grip:
    for coil in part.coils:
        ends: tuple[tuple[CoilEnd, str], ...] = (("bottom_m", coil.lower), ("top_m", coil.upper))
        for end, own in ends:
            if own == letter and _level(part, coil, letter, end):
                return Grip(letter, coil.name, end, at)
    return Grip(letter, at=at)


def _level(part: Part, coil: Coil, letter: str, end: CoilEnd) -> bool:
    tapping = part.tapping(letter)
    level = tapping is not None and tapping.side in ("left", "right")
    return level and tapping is not None and abs(tapping.height_m - getattr(coil, end)) <= LEVEL_M


def grip_words(part: Part, grip: Grip) -> str:
    """What a drag would move, for the status line."""
    tapping = part.tapping(grip.letter) if grip.letter else None
    if tapping is None:
        word = "bottom" if grip.end == "bottom_m" else "top"
        return f"Drag moves the {word} of coil {grip.coil}."
    what = "pocket" if tapping.purpose == "sensor" else "tapping"
    name = f", {tapping.name}" if tapping.name else ""
    coil = f" with its end of coil {grip.coil}" if grip.coil else ""
    now = f"now {tapping.height_m:.2f} m above the base"
    return f"Drag moves {what} {tapping.letter}{name}{coil}, {now}; across, to the other side."


@dataclass
class Stub:
    """What of a vessel the pointer has hold of, up or down, or over to the other side."""

    host: Host
    sheet: Sheet
    part: str
    grip: Grip

    label: str = "Move a tapping"

    def __post_init__(self) -> None:
        if not self.grip.letter:
            self.label = "Move a coil's end"

    def at(self, event: Event) -> Made | None:
        """The pointer's height in steps of a centimetre; Ctrl free."""
        catalogue, part, grip = self.host.catalogue, self.sheet.parts[self.part], self.grip
        tapping = part.tapping(grip.letter) if grip.letter else None
        if tapping is not None and tapping.side in ("top", "bottom"):
            self.host.say(
                f"{grip.letter} sits on the vessel's {tapping.side}. Give it a side in the table of tappings first."
            )
            return None
        height = event.at[1] - part.height_m
        height = round(height, 3) if event.free else round(round(height / STEP_M) * STEP_M, 3)
        level = f"height {part.height_m + height:.2f} m"
        line = (
            Line(
                ((part.x_m - 900.0, part.height_m + height), (part.x_m + 900.0, part.height_m + height)),
                "accent",
                True,
                0.18,
            ),
        )
        if tapping is None:
            end = "bottom" if grip.end == "bottom_m" else "top"
            return Made(
                self._coil_edit(height), f"{end} of coil {grip.coil} {height:.2f} m above the base\n{level}", line
            )
        side = "left" if (event.at[0] < part.x_m) != part.mirror else "right"
        move_coil = self._coil_edit(self._coil_height(part, height - tapping.height_m)) if grip.coil else None

        def edit(sheet: Sheet) -> Sheet:
            moved = edits.set_tapping(sheet, part.id, grip.letter, catalogue, height_m=height, side=side)
            return move_coil(moved) if move_coil is not None else moved

        words = f"{grip.letter} at {height:.2f} m above the base{_beside(part, grip.letter, side, height)}\n{level}"
        return Made(edit, words, line)

    def _coil_height(self, part: Part, by_m: float) -> float:
        coil = next(c for c in part.coils if c.name == self.grip.coil)
        return round(getattr(coil, self.grip.end) + by_m, 3)

    def _coil_edit(self, height: float) -> Edit:
        part, grip, catalogue = self.part, self.grip, self.host.catalogue
        return lambda sheet: edits.set_coil(sheet, part, grip.coil, catalogue, **{grip.end: height})


def _beside(part: Part, letter: str, side: str, height: float) -> str:
    """How far the next stub on that side is."""
    near = [(abs(t.height_m - height), t.letter) for t in part.tappings if t.side == side and t.letter != letter]
    gap, other = min(near, default=(1.0, ""))
    return f", {gap:.2f} m from {other}" if other and gap < 0.15 else ""
