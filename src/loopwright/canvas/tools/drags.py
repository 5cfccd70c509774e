"""What a drag with the select tool means: the edit at every move, its words, and the lines it comes into line with.

Owns a class for each sort of drag, made at the press. They always start from the sheet at the press, so that out and
back is the same sheet. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple, Protocol

from loopwright.canvas.tools.base import Edit, Event, Hit, Host, Line
from loopwright.sheet import bends, edits
from loopwright.sheet.guides import Guides
from loopwright.sheet.meanwhile import Hand
from loopwright.sheet.pipework import joined_to
from loopwright.sheet.values import Point, Sheet

GUIDE_MM = 0.18


class Made(NamedTuple):
    """What a drag has come to. `meanwhile` gives a sheet sooner that is good enough to be looked at while the hand
    moves, and tells the `hand` what it owes."""

    edit: Edit
    words: str
    lines: tuple[Line, ...] = ()
    meanwhile: Edit | None = None
    hand: Hand | None = None


class Drag(Protocol):
    """A drag under way. `label` names its undo step."""

    label: str

    def at(self, event: Event) -> Made | None:
        """The edit for a place of the pointer; None when there is none (the reason has been said)."""


@dataclass
class Shift:
    """Parts, notes and dimensions moved together."""

    host: Host
    sheet: Sheet
    ids: frozenset[str]
    start: Point
    lead: str
    label: str
    _guides: Guides | None = field(default=None, init=False)
    _hand: Hand = field(default_factory=Hand, init=False)

    def at(self, event: Event) -> Made | None:
        """Shift keeps straight, Ctrl leaves snap and guides."""
        if not self.ids:
            return None
        sheet, catalogue, ids = self.sheet, self.host.catalogue, self.ids
        dx, dz = event.at[0] - self.start[0], event.at[1] - self.start[1]
        if event.shift:
            dx, dz = (dx, 0.0) if abs(dx) > abs(dz) else (0.0, dz)
        part = sheet.parts.get(self.lead)
        home = (part.x_m, part.height_m) if part else self.start
        # only a direction in which the pointer went is snapped, so that a level drag keeps an odd height
        snapped = self.host.snap((home[0] + dx, home[1] + dz), event.free)
        to = [snapped[0] - home[0] if abs(dx) > 1e-9 else 0.0, snapped[1] - home[1] if abs(dz) > 1e-9 else 0.0]
        lines: tuple[Line, ...] = ()
        if part is not None and not event.free:
            if self._guides is None:
                self._guides = Guides(sheet, joined_to(sheet, ids & set(sheet.parts)), self.lead, catalogue)
            off = abs(to[0] - dx), abs(to[1] - dz)
            found = self._guides.snap(dx, dz, self.host.reach_m, off)
            if found.dx is not None and abs(dx) > 1e-9:
                to[0] = found.dx
            if found.dz is not None and abs(dz) > 1e-9:
                to[1] = found.dz
            lines = tuple(
                Line(pair, "accent", True, GUIDE_MM)
                for pair in self._guides.snap(to[0], to[1], 1e-4).lines
                if pair[0] != pair[1]
            )
        dx, dz = round(to[0], 6), round(to[1], 6)
        words = f"height {home[1] + dz:.2f} m\nx {home[0] + dx:.2f} m"
        floor = max(
            (v for v in sheet.levels if v.height_m <= home[1] + dz + 1e-9), key=lambda v: v.height_m, default=None
        )
        if floor is not None and part is not None:
            words = f"height {home[1] + dz:.2f} m, {home[1] + dz - floor.height_m:.2f} above {floor.name.lower()}"
        return Made(
            lambda s: edits.move(s, ids, dx, dz, catalogue),
            words,
            lines,
            lambda s: edits.move(s, ids, dx, dz, catalogue, self._hand),
            self._hand,
        )


@dataclass
class Copy:
    """A copy of parts dragged away; the originals stay."""

    shift: Shift
    label: str = "Drag a copy"

    def at(self, event: Event) -> Made | None:
        """Where the drag itself would put them."""
        made, sheet = self.shift.at(event), self.shift.sheet
        if made is None:
            return None
        assert made.meanwhile is not None
        old, new = sheet.parts[self.shift.lead], made.meanwhile(sheet).parts[self.shift.lead]
        dx, dz = new.x_m - old.x_m, new.height_m - old.height_m
        return Made(lambda s: edits.duplicate(s, self.shift.ids, dx, dz), f"copy\n{made.words}", made.lines)


@dataclass
class Run:
    """A run of a pipe sideways. With Alt at the press, the run is cut there and one piece pulled out."""

    host: Host
    sheet: Sheet
    hit: Hit
    cut: bool = False
    label: str = "Move a run"

    def at(self, event: Event) -> Made | None:
        """The run at the pointer's height, or x."""
        hit, catalogue = self.hit, self.host.catalogue
        way = bends.run_way(self.sheet, hit.id, hit.run, catalogue)
        if way not in ("level", "upright"):
            self.host.say("This run does not move sideways. Move the parts at its ends.")
            return None
        to = self.host.snap(event.at, event.free)
        words = f"height {to[1]:.2f} m" if way == "level" else f"x {to[0]:.2f} m"
        if self.cut:
            start = self.host.snap(hit.at)
            return Made(lambda s: bends.part_run(s, hit.id, start, to, catalogue), words)
        return Made(lambda s: bends.move_run(s, hit.id, hit.run, to, catalogue), words)


@dataclass
class Corner:
    """A corner of the chosen pipe."""

    host: Host
    sheet: Sheet
    pipe: str
    corner: int
    label: str = "Move a corner"

    def at(self, event: Event) -> Made | None:
        """The corner at the pointer, as far as the ports let it."""
        to, catalogue = self.host.snap(event.at, event.free), self.host.catalogue
        return Made(
            lambda s: bends.move_corner(s, self.pipe, self.corner, to, catalogue),
            f"height {to[1]:.2f} m\nx {to[0]:.2f} m",
        )
