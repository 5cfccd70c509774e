"""The pipe tool: click a port or a pipe, click corners, click a port or a pipe to end.

Owns the states of drawing a pipe and the live preview of its way. Knows no Qt.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import pairwise

from loopwright.canvas.tools.base import Edit, Event, Hit, Line, Overlay, Ring, Tool, end_of
from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError, SheetError
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.geometry import drawn_length_m, nearest_on, polyline
from loopwright.sheet.plane import Dir, cleaned, same
from loopwright.sheet.ports import Port, ports_of
from loopwright.sheet.values import End, Part, Point, Sheet

RING_REACH_M = 1.5
FALL_M = 0.005
STEP_M, LONG_STEP_M = 0.05, 0.5
_ARROWS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


@dataclass(frozen=True)
class Start:
    """Where the pipe begins: a port, or a place on a pipe that will get a tee."""

    at: Point
    side: Dir | None
    end: End | None = None
    pipe: str = ""
    rises: bool = False
    """Water leaves here by its own warmth (a fire's flow, an open vent): the pipe must climb all the way."""


@dataclass
class PipeTool(Tool):
    """Draws pipes. `size` and `material` are given to new pipes; None takes those of what they join."""

    name: str = "pipe"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"backspace", "enter", "tab", "backtab", "left", "right", "up", "down"})
    size: str | None = None
    material: str | None = None
    start: Start | None = field(default=None, init=False)
    corners: list[Point] = field(default_factory=list, init=False)
    _at: Point = field(default=(0.0, 0.0), init=False)
    _hit: Hit | None = field(default=None, init=False)

    def abandon(self) -> None:
        """Put the pipe under way back."""
        self.start, self.corners = None, []
        super().abandon()

    def on_move(self, event: Event) -> None:
        """Show ports, or the way the pipe would take."""
        self._at, self._hit = event.at, event.hit
        if self.start is None:
            self._idle(event)
            return
        way, ok, words = self._way(event)
        rings = self._rings(event)
        fall_m = sum(max(a[1] - b[1], 0.0) for a, b in pairwise(way)) if self.start.rises else 0.0
        if fall_m > FALL_M:
            words = f"Gravity flow falls {fall_m * 1000:.0f} mm. It must climb all the way to the store."
            self.host.say(words)
        token = "accent" if ok and fall_m <= FALL_M else "fault"
        text = f"{words}\nheight {way[-1][1]:.2f} m, {drawn_length_m(way):.2f} m long"
        self.host.show(Overlay((Line(way, token, not ok),), rings, words=text, words_at=event.at))

    def _idle(self, event: Event) -> None:
        hit = event.hit
        if hit is not None and hit.kind == "pipe":
            self.host.say("Click to start from this pipe with a tee.")
        elif hit is not None and hit.kind == "port":
            self.host.say(self._refusal(hit) or "Click to start a pipe at this port.")
        else:
            self.host.say("Click a port to start a pipe. Esc puts the tool down.")
        self.host.hover(hit if hit is not None and hit.kind == "pipe" else None)
        self.host.show(Overlay(rings=self._rings(event)))

    def _rings(self, event: Event) -> tuple[Ring, ...]:
        """Free ports near the pointer; the one under it swells, or shows a bar if it will not take the
        end."""
        out = []
        taken = self.host.sheet.taken
        for part in self.host.sheet.parts.values():
            if abs(part.x_m - event.at[0]) > RING_REACH_M + 1 or abs(part.height_m - event.at[1]) > RING_REACH_M + 1.5:
                continue
            for port in ports_of(part, self.host.catalogue).values():
                end = End(part.id, port.name)
                mine = event.hit is not None and event.hit.kind == "port" and end_of(event.hit) == end
                if mine:
                    out.append(Ring(port.at, "refuses" if event.hit and self._refusal(event.hit) else "takes"))
                elif end not in taken:
                    out.append(Ring(port.at))
        return tuple(out)

    def _port(self, hit: Hit) -> Port | None:
        part = self.host.sheet.parts.get(hit.id)
        return ports_of(part, self.host.catalogue).get(hit.port) if part else None

    def _refusal(self, hit: Hit) -> str:
        """Why a port will not take the end, or nothing."""
        end = end_of(hit)
        if end in self.host.sheet.taken:
            return "A pipe already ends at this port. Put a tee into that pipe instead."
        if self.start is not None and self.start.end == end:
            return "The pipe starts here. End it somewhere else."
        return ""

    def on_press(self, event: Event) -> None:
        """Start, set a corner, or end."""
        if event.button != "left":
            return
        if self.start is None:
            self._begin(event)
        elif event.hit is not None and event.hit.kind == "port":
            reason = self._refusal(event.hit)
            if reason:
                self.host.say(reason)
            else:
                self._finish(event, end_of(event.hit), "")
        elif event.hit is not None and event.hit.kind == "pipe" and not event.free:
            self._finish(event, None, event.hit.id)
        else:
            way, _, _ = self._way(event)
            self.corners = list(way[1:])
            self.on_move(event)

    def _begin(self, event: Event) -> None:
        hit = event.hit
        if hit is None or hit.kind not in ("port", "pipe"):
            self.host.say("Click a port or a pipe to start a pipe.")
            return
        if hit.kind == "port":
            port, reason = self._port(hit), self._refusal(hit)
            if port is None or reason:
                self.host.say(reason)
                return
            self.begin()
            self.start = Start(port.at, port.side, end_of(hit), "", self._must_rise(port))
        else:
            self.begin()
            self.start = Start(self.host.snap_on(hit), None, None, hit.id)
        self.corners = []
        self.host.hover(None)

    def _must_rise(self, port: Port) -> bool:
        source = self.host.catalogue[self.host.sheet.parts[port.part].kind].source
        return port.role == "source_flow" and source is not None and source.stops == "fire"

    def on_double(self, event: Event) -> None:
        """End open, in the air."""
        if self.start is not None:
            self._finish(event, None, "", open_end=True)

    def on_key(self, event: Event) -> None:
        """Tab goes from port to port, arrows move the end, Enter starts, sets a corner or ends, Backspace
        takes back."""
        if event.key in ("tab", "backtab"):
            self._next_port(-1 if event.key == "backtab" else 1)
        elif event.key in _ARROWS and self.start is not None:
            step = LONG_STEP_M if event.shift else STEP_M
            dx, dz = _ARROWS[event.key]
            x, z = self._at if self._hit is None else self._hit.at
            at = (round(x + dx * step, 3), round(z + dz * step, 3))
            self.on_move(Event("move", at, None, self.host.hit(at)))
        elif event.key == "backspace" and self.start is not None:
            if not self.corners:
                self.abandon()
                return
            self.corners = self._without_last()
            self.on_move(Event("move", self._at))
        elif event.key == "enter":
            again = Event("press", self._at, None, self._hit, event.modifiers, "left")
            if self.start is not None and self._hit is None:
                self._corner_or_end(again)
            else:
                self.on_press(again)
            if self.start is not None and not self.corners:
                self._at = self.start.at

    def _corner_or_end(self, event: Event) -> None:
        """Enter in the air sets a corner; Enter again at that corner ends the pipe open."""
        if self.corners and self.corners[-1] == self.host.snap(event.at, event.free):
            self._finish(event, None, "", open_end=True)
        else:
            self.on_press(event)

    def _next_port(self, way: int) -> None:
        """Go to the next free port by x and then by height."""
        sheet, taken = self.host.sheet, self.host.sheet.taken
        ports = [
            p
            for part in sheet.parts.values()
            for p in ports_of(part, self.host.catalogue).values()
            if End(part.id, p.name) not in taken and (self.start is None or self.start.end != End(part.id, p.name))
        ]
        if not ports:
            self.host.say("There is no free port. Place another part, or click a pipe to start with a tee.")
            return
        ports.sort(key=lambda p: (p.at, p.part, p.name))
        here = next(
            (
                k
                for k, p in enumerate(ports)
                if self._hit is not None and (p.part, p.name) == (self._hit.id, self._hit.port)
            ),
            None,
        )
        port = ports[(here + way) % len(ports) if here is not None else (0 if way > 0 else -1)]
        self.on_move(Event("move", port.at, None, Hit("port", port.part, port.name, at=port.at)))
        part = sheet.parts[port.part]
        what = "ends the pipe here" if self.start is not None else "starts a pipe here"
        name = part.name or self.host.catalogue[part.kind].name
        self.host.say(f"{port.label.capitalize()} of {name}, height {port.at[1]:.2f} m. Enter {what}.")

    def _without_last(self) -> list[Point]:
        return self.corners[:-1]

    # ---- the way

    def _way(self, event: Event) -> tuple[tuple[Point, ...], bool, str]:
        """(all vertices from the start to the pointer, whether it may end so, what a click would do)."""
        assert self.start is not None
        hit = event.hit
        end, side, ok, words = self.host.snap(event.at, event.free), None, True, "Click sets a corner"
        if hit is not None and hit.kind == "port":
            port, reason = self._port(hit), self._refusal(hit)
            if port is not None:
                end, side = port.at, port.side
            ok, words = not reason, reason or "Click to end at this port"
        elif hit is not None and hit.kind == "pipe" and not event.free:
            end, words = (
                self.host.snap_on(hit),
                "Click to end on this pipe and make a tee. Ctrl ends beside it",
            )
        self.host.say(words if words.endswith(".") else words + ".")
        last = self.corners[-1] if self.corners else self.start.at
        if self.corners:
            rest = self._leg(last, end, side)
        else:
            rest = self.host.route(self.start.at, self.start.side, end, side)
        return cleaned((self.start.at, *self.corners, *rest, end)), ok, words

    def _leg(self, last: Point, end: Point, side: Dir | None) -> tuple[Point, ...]:
        """From the last corner on: to a port by the router, to a free place with one corner, going on
        straight first."""
        if side is not None:
            return self.host.route(last, None, end, side)
        if same(last[0], end[0]) or same(last[1], end[1]):
            return ()
        assert self.start is not None
        before = self.corners[-2] if len(self.corners) > 1 else self.start.at
        level = same(before[1], last[1])
        return ((end[0], last[1]),) if level else ((last[0], end[1]),)

    def _finish(self, event: Event, end: End | None, pipe: str, open_end: bool = False) -> None:
        assert self.start is not None
        way, _, _ = self._way(event)
        start, corners = self.start, tuple(way[1:-1])
        placed = len(self.corners) > 0
        edit = self._edit(start, end, pipe, way[-1], corners, placed, open_end)
        before = set(self.host.sheet.pipes)
        self._sheet, self.start, self.corners = None, None, []
        self.host.show(Overlay())
        label = "Draw a pipe with a tee" if pipe or start.pipe else "Draw a pipe"
        if self.host.commit(label, edit):
            new = [p for p in self.host.sheet.pipes if p not in before]
            self.host.choose(new[-1:])

    def _edit(
        self,
        start: Start,
        end: End | None,
        pipe: str,
        at: Point,
        corners: tuple[Point, ...],
        placed: bool,
        open_end: bool,
    ) -> Edit:
        catalogue, size, material = self.host.catalogue, self.size, self.material

        def edit(sheet: Sheet) -> Sheet:
            first, last, two = start.end, end, pipe
            moved = False
            if first is None:
                ahead = corners[0] if corners else at
                known = set(sheet.pipes)
                sheet, first = edits.tee_into(sheet, start.pipe, start.at, catalogue, towards=ahead)
                moved = True
                if two == start.pipe:  # the pipe was cut: the end may lie on its new half
                    two = _nearest_pipe(sheet, [two, *(set(sheet.pipes) - known)], at, catalogue)
            if two:
                behind = corners[-1] if corners else start.at
                sheet, last = edits.tee_into(sheet, two, at, catalogue, towards=behind)
                moved = True
            elif open_end:
                sheet, last = _open_end(sheet, at, corners[-1] if corners else start.at)
                moved = True
            if last is None:
                raise SheetError("The pipe has no end", do="Click a port or a pipe")
            held = range(1, len(corners)) if placed else ()
            points = corners if placed or not moved else None
            try:
                return edits.connect(
                    sheet,
                    first,
                    last,
                    catalogue,
                    points=_fitted(sheet, first, last, points, catalogue),
                    size=size,
                    material=material,
                    held=tuple(held) if points else (),
                )
            except LoopwrightError:
                if points is None:
                    raise
                return edits.connect(sheet, first, last, catalogue, size=size, material=material)

        return edit


def _fitted(
    sheet: Sheet, first: End, last: End, points: tuple[Point, ...] | None, catalogue
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


def _open_end(sheet: Sheet, at: Point, behind: Point) -> tuple[Sheet, End]:
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
    return edits.place(sheet, part), End(part.id, "a")
