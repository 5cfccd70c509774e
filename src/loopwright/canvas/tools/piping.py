"""The edit that a drawn pipe stands for: tees and tappings at its ends, an open end in the air, its corners.

Owns this one edit and what a beginning and an end may be. Knows no Qt and no pointer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.plane import Dir, same
from loopwright.sheet.ports import Port, ports_of
from loopwright.sheet.values import End, Part, Point, Sheet, TappingSide

DIP_M = 0.005
SERVES = {
    "source_flow": "source_flow",
    "source_return": "source_return",
    "emitter_flow": "load_flow",
    "emitter_return": "load_return",
    "vent": "vent",
    "feed": "feed",
    "drain": "drain",
    "air": "air_vent",
}
"""Purpose of a tapping by the role of the port that is piped to it."""


@dataclass(frozen=True)
class Shell:
    """A place on the shell of a vessel that will get a tapping."""

    part: str
    height_m: float
    side: TappingSide


@dataclass(frozen=True)
class Start:
    """Where the pipe begins: a port, a place on a pipe that will get a tee, or one on a shell."""

    at: Point
    side: Dir | None
    end: End | None = None
    pipe: str = ""
    rises: bool = False
    """Water leaves here by its own warmth (a fire's flow, an open vent): the pipe must climb all the way."""
    shell: Shell | None = None


@dataclass(frozen=True)
class Stop:
    """Where the pipe ends: a port, a pipe, a shell, or (with none of these) open in the air."""

    end: End | None = None
    pipe: str = ""
    shell: Shell | None = None


@dataclass(frozen=True)
class Drawn:
    """A pipe as it was drawn, from `start` over `corners` to `at`. `placed`: corners were set by hand."""

    start: Start
    stop: Stop
    at: Point
    corners: tuple[Point, ...]
    placed: bool
    size: str | None = None
    material: str | None = None
    graded: bool = False
    """Level runs are laid to rise towards the higher end, of two of one height towards the one drawn to."""

    @property
    def label(self) -> str:
        """What the undo step is called."""
        if self.stop.pipe or self.start.pipe:
            return "Draw a pipe with a tee"
        return "Draw a pipe and a tapping" if self.stop.shell or self.start.shell else "Draw a pipe"

    def put(self, sheet: Sheet, catalogue: Catalogue) -> Sheet:
        """The sheet with the pipe. Raises SheetError."""
        start, stop, corners = self.start, self.stop, self.corners
        if caps := {c for end in (start.end, stop.end) if end and (c := cap_on(sheet, end, catalogue))}:
            sheet = edits.delete(sheet, caps, catalogue)
        first, last, two = start.end, stop.end, stop.pipe
        bored: list[End] = []
        ahead, behind = corners[0] if corners else self.at, corners[-1] if corners else start.at
        if start.shell is not None:
            sheet, first = bored_into(sheet, start.shell, catalogue)
            bored.append(first)
        elif first is None:
            known = set(sheet.pipes)
            sheet, first = edits.tee_into(sheet, start.pipe, start.at, catalogue, towards=ahead)
            if two == start.pipe:  # the pipe was cut: the end may lie on its new half
                two = _nearest_pipe(sheet, [two, *(set(sheet.pipes) - known)], self.at, catalogue)
        if two:
            sheet, last = edits.tee_into(sheet, two, self.at, catalogue, towards=behind)
        elif stop.shell is not None:
            sheet, last = bored_into(sheet, stop.shell, catalogue)
            bored.append(last)
        elif last is None:
            sheet, last = _open_end(sheet, self.at, behind, catalogue)
        moved = bool(two or start.pipe) or last != stop.end
        sheet = self._connected(sheet, first, last, corners if self.placed or not moved else None, catalogue)
        pipe = sheet.pipes[sheet.taken[first]]
        for end in bored:  # a boss takes the size of the pipe that was drawn to it, and serves what is at its other end
            purpose = _purpose(sheet, pipe.a if pipe.b == end else pipe.b, catalogue)
            sheet = edits.set_tapping(sheet, end.part, end.port, catalogue, size=pipe.size, purpose=purpose)
        if self.graded:
            a, b = (ports_of(sheet.parts[e.part], catalogue)[e.port].at[1] for e in (first, last))
            sheet = edits.set_pipe(sheet, pipe.id, graded="a" if a > b else "b")
        return sheet

    def _connected(
        self, sheet: Sheet, first: End, last: End, points: tuple[Point, ...] | None, catalogue: Catalogue
    ) -> Sheet:
        held = tuple(range(1, len(self.corners))) if self.placed else ()
        try:
            return edits.connect(
                sheet,
                first,
                last,
                catalogue,
                points=_fitted(sheet, first, last, points, catalogue),
                size=self.size,
                material=self.material,
                held=held if points else (),
            )
        except LoopwrightError:
            if points is None:
                raise
            return edits.connect(sheet, first, last, catalogue, size=self.size, material=self.material)


def _purpose(sheet: Sheet, other: End, catalogue: Catalogue) -> str:
    """What a new tapping serves, by the port at the other end of its pipe."""
    spec = catalogue[sheet.parts[other.part].kind].port(other.port)
    return SERVES.get(spec.role, "any") if spec is not None else "any"


def bored_into(sheet: Sheet, shell: Shell, catalogue: Catalogue) -> tuple[Sheet, End]:
    """The sheet with a tapping at a place of a shell, and its end. Raises SheetError where another is too near."""
    sheet = edits.add_tapping(sheet, shell.part, shell.height_m, catalogue, side=shell.side)
    return sheet, End(shell.part, sheet.parts[shell.part].tappings[-1].letter)


def shell_at(sheet: Sheet, part_id: str, at: Point, catalogue: Catalogue) -> tuple[Shell, Port] | None:
    """The place on a vessel's shell nearest to a point, and the port a tapping there would have; None for a part that
    is no vessel. Raises SheetError where there is no room."""
    shell = shell_near(sheet, part_id, at, catalogue)
    if shell is None:
        return None
    trial, end = bored_into(sheet, shell, catalogue)
    return shell, ports_of(trial.parts[part_id], catalogue)[end.port]


def shell_near(sheet: Sheet, part_id: str, at: Point, catalogue: Catalogue) -> Shell | None:
    """The place on a vessel's shell nearest to a point, whether or not there is room; None for a part without one."""
    part = sheet.parts[part_id]
    if not is_vessel(sheet, part_id, catalogue):
        return None
    side: TappingSide = "left" if (at[0] < part.x_m) != part.mirror else "right"
    return Shell(part_id, round(at[1] - part.height_m, 2), side)


def is_vessel(sheet: Sheet, part_id: str, catalogue: Catalogue) -> bool:
    """Whether a part has a shell that tappings go into."""
    return catalogue[sheet.parts[part_id].kind].body in ("store", "cylinder")


def nearest_port(sheet: Sheet, part_id: str, at: Point, catalogue: Catalogue) -> Port | None:
    """The free port of a part nearest to a point."""
    free = [p for p in ports_of(sheet.parts[part_id], catalogue).values() if End(part_id, p.name) not in sheet.taken]
    return min(free, key=lambda p: (p.at[0] - at[0]) ** 2 + (p.at[1] - at[1]) ** 2, default=None)


def cap_on(sheet: Sheet, end: End, catalogue: Catalogue) -> str:
    """The cap that closes a port with nothing between, or an empty string."""
    pipe = sheet.pipes.get(sheet.taken.get(end, ""))
    if pipe is None or not pipe.joint:
        return ""
    far = pipe.other(end.part).part
    return far if "cap" in catalogue[sheet.parts[far].kind].tags else ""


def capped_by(sheet: Sheet, part_id: str, catalogue: Catalogue) -> End | None:
    """The port that a cap closes with nothing between; None for any other part."""
    if "cap" not in catalogue[sheet.parts[part_id].kind].tags:
        return None
    return next((pipe.other(part_id) for pipe in sheet.pipes_of(part_id) if pipe.joint), None)


def dip_of(way: tuple[Point, ...]) -> float:
    """How far the lowest dip of a way lies under both its sides, m."""
    heights = [z for _, z in way]
    return max(min(max(heights[: k + 1]), max(heights[k:])) - z for k, z in enumerate(heights))


def _fitted(
    sheet: Sheet, first: End, last: End, points: tuple[Point, ...] | None, catalogue: Catalogue
) -> tuple[Point, ...] | None:
    """Corners drawn to the middle of a tee, set onto its branch: first and last runs stay level or
    upright."""
    if points is None:
        return None
    out = list(points)
    for end, at, beyond in ((first, 0, 1), (last, -1, -2)):
        port = ports_of(sheet.parts[end.part], catalogue)[end.port]
        if not out:
            return () if _aligned(sheet, first, last, catalogue) else None
        x, z = out[at]
        if port.side in ("left", "right") and not same(z, port.at[1]):
            out[at] = (x, port.at[1])
        elif port.side in ("up", "down") and not same(x, port.at[0]):
            out[at] = (port.at[0], z)
        if len(out) > 1 and not (same(out[at][0], out[beyond][0]) or same(out[at][1], out[beyond][1])):
            return None
    return tuple(out)


def _aligned(sheet: Sheet, first: End, last: End, catalogue: Catalogue) -> bool:
    a, b = (ports_of(sheet.parts[e.part], catalogue)[e.port].at for e in (first, last))
    return same(a[0], b[0]) or same(a[1], b[1])


def _nearest_pipe(sheet: Sheet, ids: Iterable[str], at: Point, catalogue: Catalogue) -> str:
    return min(ids, key=lambda k: nearest_on(polyline(sheet, sheet.pipes[k], catalogue), at)[2])


def _open_end(sheet: Sheet, at: Point, behind: Point, catalogue: Catalogue) -> tuple[Sheet, End]:
    """An open end in the air, facing back along the pipe."""
    dx, dz = behind[0] - at[0], behind[1] - at[1]
    turn = (0 if dx < 0 else 2) if abs(dx) > abs(dz) else (1 if dz > 0 else 3)
    part = Part(
        id=numbered("end", ids_in_use(sheet)),
        kind="open_end",
        x_m=round(at[0], 3),
        height_m=round(at[1], 3),
        turn=turn,
    )
    x, z = ports_of(part, catalogue)["a"].at  # the pipe itself ends where it was drawn to
    part = msgspec.structs.replace(
        part, x_m=round(part.x_m + at[0] - x, 6), height_m=round(part.height_m + at[1] - z, 6)
    )
    return edits.place(sheet, part), End(part.id, "a")
