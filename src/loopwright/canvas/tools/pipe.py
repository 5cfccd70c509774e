"""The pipe tool: click a port or a pipe, click corners, click a port or a pipe to end.

Owns the states of drawing a pipe and the live preview of its way. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from itertools import pairwise
from textwrap import fill

from loopwright.canvas.tools.base import Event, Hit, Line, Overlay, Ring, Tool, end_of
from loopwright.canvas.tools.keys import ARROWS, step_of
from loopwright.canvas.tools.piping import (
    DIP_M,
    Drawn,
    Shell,
    Start,
    Stop,
    cap_on,
    capped_by,
    dip_of,
    is_vessel,
    nearest_port,
    shell_at,
)
from loopwright.errors import LoopwrightError
from loopwright.sheet.geometry import drawn_length_m, polyline
from loopwright.sheet.plane import Dir, cleaned, same
from loopwright.sheet.ports import Port, ports_of
from loopwright.sheet.values import End, Point

RING_REACH_M = 1.5
WORDS_WIDE = 64
"""Signs in a line of words at the pointer."""
FALL_M = 0.005
NEARLY_M = 0.025
"""Half the snap."""
TYPED = frozenset("0123456789.,=")
GRADED = "Level runs drawn from now on are laid to rise 1 in 120 towards the higher end. G draws them level again."
LEVEL = "Level runs are drawn level. G lays them to rise."


@dataclass
class PipeTool(Tool):
    """Draws pipes. `size` and `material` are given to new pipes; None takes those of what they join."""

    name: str = "pipe"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"backspace", "enter", "tab", "backtab", "g", *ARROWS, *TYPED})
    size: str | None = None
    material: str | None = None
    graded: bool = False
    """Level runs of new pipes are laid to rise towards the higher end; G turns it on and off."""
    start: Start | None = field(default=None, init=False)
    corners: list[Point] = field(default_factory=list, init=False)
    _at: Point = field(default=(0.0, 0.0), init=False)
    _hit: Hit | None = field(default=None, init=False)
    typed: str = field(default="", init=False)
    """The length or height being typed: “1.2” goes so far towards the pointer, “=2.6” up or down to that height."""

    def abandon(self) -> None:
        """Put the pipe under way back."""
        self.start, self.corners, self.typed = None, [], ""
        super().abandon()

    def on_move(self, event: Event) -> None:
        """Show ports, or the way the pipe would take."""
        event = replace(event, hit=self._near(event))
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
        elif ok and (dip := dip_of(way)) > DIP_M:
            words = f"Dips {dip * 1000:.0f} mm on its way: air and dirt wait there. {words}"
            self.host.say(f"{words}.")
        if self.typed:
            words = self._typed_words()
        token = "accent" if ok and fall_m <= FALL_M else "fault"
        laid = ", laid to rise" if self.graded else ""
        text = f"{fill(words, WORDS_WIDE)}\nheight {way[-1][1]:.2f} m, {drawn_length_m(way):.2f} m long{laid}"
        self.host.show(Overlay((Line(way, token, not ok),), rings, words=text, words_at=event.at))

    def _idle(self, event: Event) -> None:
        hit = event.hit
        if hit is not None and hit.kind == "pipe":
            self.host.say("Click to start from this pipe with a tee.")
        elif hit is not None and hit.kind == "port":
            self.host.say(self._refusal(hit) or f"Click to start a pipe at this port.{self._uncapped(hit)}")
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
        if end in self.host.sheet.taken and not cap_on(self.host.sheet, end, self.host.catalogue):
            return "A pipe already ends at this port. Put a tee into that pipe instead."
        if self.start is not None and self.start.end == end:
            return "The pipe starts here. End it somewhere else."
        return ""

    def _uncapped(self, hit: Hit) -> str:
        return " Its cap comes off." if cap_on(self.host.sheet, end_of(hit), self.host.catalogue) else ""

    def on_press(self, event: Event) -> None:
        """Start, set a corner, or end."""
        if event.button != "left":
            return
        event = replace(event, hit=self._near(event))
        if self.start is None:
            self._begin(event)
        elif event.hit is not None and event.hit.kind == "port":
            reason = self._refusal(event.hit)
            if reason:
                self.host.say(reason)
            else:
                self._finish(event, Stop(end_of(event.hit)))
        elif event.hit is not None and event.hit.kind == "pipe" and not event.free:
            self._finish(event, Stop(pipe=event.hit.id))
        elif (shell := self._shell(event)) is not None:
            self._finish(event, Stop(shell=shell[0]))
        else:
            way, _, _ = self._way(event)
            self.corners = list(way[1:])
            self.on_move(event)

    def _begin(self, event: Event) -> None:
        hit, shell = event.hit, self._shell(event)
        if shell is not None:
            self.begin()
            self.start = Start(shell[1].at, shell[1].side, shell=shell[0])
            self.corners = []
            return
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

    def _near(self, event: Event) -> Hit | None:
        """The hit, and for the body of a part without a shell the nearest of its free ports."""
        hit = event.hit
        if (
            hit is not None
            and hit.kind == "part"
            and not event.free
            and not is_vessel(self.host.sheet, hit.id, self.host.catalogue)
        ):
            port = nearest_port(self.host.sheet, hit.id, event.at, self.host.catalogue)
            if port is not None:
                return Hit("port", hit.id, port.name, at=port.at)
            under = capped_by(self.host.sheet, hit.id, self.host.catalogue)
            if under is not None:
                closed = ports_of(self.host.sheet.parts[under.part], self.host.catalogue)[under.port]
                return Hit("port", under.part, under.port, at=closed.at)
        return hit

    def _shell(self, event: Event) -> tuple[Shell, Port] | None:
        """The place on a vessel's shell at the pointer, if a tapping can be put there."""
        hit = event.hit
        if hit is None or hit.kind != "part" or event.free:
            return None
        try:
            return shell_at(self.host.sheet, hit.id, event.at, self.host.catalogue)
        except LoopwrightError as bad:
            self.host.say(bad.sentence)
            return None

    def _must_rise(self, port: Port) -> bool:
        source = self.host.catalogue[self.host.sheet.parts[port.part].kind].source
        return port.role == "source_flow" and source is not None and source.stops == "fire"

    def on_double(self, event: Event) -> None:
        """End open, in the air."""
        if self.start is not None:
            self._finish(event, Stop())

    def on_key(self, event: Event) -> None:
        """Tab goes from port to port, arrows move the end, Enter starts, sets a corner or ends, Backspace
        takes back."""
        if event.key in ("tab", "backtab"):
            self._next_port(-1 if event.key == "backtab" else 1)
        elif event.key in TYPED:
            self._type(event)
        elif event.key == "g":
            self.graded = not self.graded
            self.on_move(Event("move", self._at, None, self._hit))
            self.host.say(GRADED if self.graded else LEVEL)
        elif event.key == "enter":
            self._set_typed() if self.typed else self._enter(event)
        elif event.key == "backspace" and self.typed:
            self.typed = self.typed[:-1]
            self.on_move(Event("move", self._at, None, self._hit))
        elif self.start is not None and event.key in ARROWS:
            self._step(event)
        elif self.start is not None and event.key == "backspace":
            self._take_back()

    def _enter(self, event: Event) -> None:
        """A click at the pointer; in the air, a corner or the end."""
        again = Event("press", self._at, None, self._hit, event.modifiers, "left")
        if self.start is not None and self._hit is None:
            self._corner_or_end(again)
        else:
            self.on_press(again)
        if self.start is not None and not self.corners:
            self._at = self.start.at

    def _step(self, event: Event) -> None:
        """The end of the pipe goes on by an arrow's step."""
        step = step_of(event)
        dx, dz = ARROWS[event.key]
        x, z = self._at if self._hit is None else self._hit.at
        at = (round(x + dx * step, 3), round(z + dz * step, 3))
        self.on_move(Event("move", at, None, self.host.hit(at)))
        if self._hit is None:
            self.host.say(f"Height {at[1]:.2f} m, x {at[0]:.2f} m. Enter sets a corner; Tab goes to a port.")

    def _take_back(self) -> None:
        """The last corner goes, or with none left the pipe."""
        if not self.corners:
            self.abandon()
            return
        self.corners = self.corners[:-1]
        self.on_move(Event("move", self._at))

    def _corner_or_end(self, event: Event) -> None:
        """Enter in the air sets a corner; Enter again at that corner ends the pipe open."""
        if self.corners and self.corners[-1] == self._place(event):
            self._finish(event, Stop())
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

    # ---- typed lengths

    def wants(self, key: str) -> bool:
        """Figures are wanted only while a pipe is under way."""
        return super().wants(key) and (key not in TYPED or self.start is not None)

    def _type(self, event: Event) -> None:
        if self.start is not None:
            self.typed += "." if event.key == "," else event.key
            self.on_move(Event("move", self._at, None, self._hit))

    def _last(self) -> Point:
        assert self.start is not None
        return self.corners[-1] if self.corners else self.start.at

    def _typed_end(self) -> tuple[Point, str] | None:
        """(the corner that what is typed means, in words), or None while it means nothing."""
        (x, z), text = self._last(), self.typed
        try:
            number = float(text.lstrip("="))
        except ValueError:
            return None
        if not 0 <= number <= 1000 or (number == 0 and not text.startswith("=")):
            return None
        if text.startswith("="):
            return (x, round(number, 4)), f"to height {number:g} m"
        dx, dz = self._at[0] - x, self._at[1] - z
        way = ("right" if dx > 0 else "left") if abs(dx) >= abs(dz) else ("up" if dz > 0 else "down")
        step = ARROWS[way]
        return (round(x + step[0] * number, 4), round(z + step[1] * number, 4)), f"{number:g} m {way}"

    def _typed_words(self) -> str:
        found = self._typed_end()
        return f"{found[1]}. Enter sets it" if found else f"{self.typed} m"

    def _set_typed(self) -> None:
        """A corner at the length or height typed."""
        found = self._typed_end()
        if found is None:
            self.host.say(f"“{self.typed}” is no length. Type metres, such as 1.2, or =2.6 for a height.")
            self.typed = ""
            return
        at, words = found
        assert self.start is not None
        rest: tuple[Point, ...] = ()
        if not self.corners:
            rest = self.host.route(self.start.at, self.start.side, at, None)
        self.corners = [*self.corners, *rest, at]
        self.typed, self._at, self._hit = "", at, None
        self.on_move(Event("move", at))
        self.host.say(f"Corner set {words}. Type the next length, or click where the pipe ends.")

    # ---- the way

    def _way(self, event: Event) -> tuple[tuple[Point, ...], bool, str]:
        """(all vertices from the start to the pointer, whether it may end so, what a click would do)."""
        assert self.start is not None
        hit = event.hit
        end, side, ok, words = self._place(event), None, True, "Click sets a corner"
        if hit is not None and hit.kind == "port":
            port, reason = self._port(hit), self._refusal(hit)
            if port is not None:
                end, side = port.at, port.side
            ok, words = not reason, reason or "Click to end at this port"
        elif hit is not None and hit.kind == "pipe" and not event.free:
            end, words = (
                self._on_pipe(hit),
                "Click to end on this pipe and make a tee. Ctrl ends beside it",
            )
        self.host.say(words if words.endswith(".") else words + ".")
        if hit is not None and hit.kind == "part" and (shell := self._shell(event)) is not None:
            end, side = shell[1].at, shell[1].side
            words = f"Click to end here with a new tapping, {shell[0].height_m:.2f} m above the base"
            self.host.say(f"{words}.")
        last = self._last()
        if self.corners:
            rest = self._leg(last, end, side)
        else:
            rest = self.host.route(self.start.at, self.start.side, end, side)
        return cleaned((self.start.at, *self.corners, *rest, end)), ok, words

    def _place(self, event: Event) -> Point:
        """The place on the snap, and a corner that was typed just as it was typed."""
        if self.corners and event.at == self.corners[-1]:
            return event.at
        at = self.host.snap(event.at, event.free)
        return at if event.free else self._level_with(at, event.at)

    def _on_pipe(self, hit: Hit) -> Point:
        """The place on a pipe, on the snap along its run or level with the last corner."""
        line = polyline(self.host.sheet, self.host.sheet.pipes[hit.id], self.host.catalogue)
        at = self.host.snap_on(hit)
        x, z = self._level_with(at, hit.at)
        if not 0 <= hit.run < len(line) - 1:
            return at
        a, b = line[hit.run : hit.run + 2]
        if same(a[0], b[0]):
            return at[0], min(max(z, min(a[1], b[1])), max(a[1], b[1]))
        return (min(max(x, min(a[0], b[0])), max(a[0], b[0])), at[1]) if same(a[1], b[1]) else at

    def _level_with(self, at: Point, pointed: Point) -> Point:
        """A place that is nearly level with the last corner, or nearly below it, brought quite so: a port need not be
        on the snap, and a step of two millimetres is a jog."""
        x, z = (n if abs(p - n) <= NEARLY_M else a for a, p, n in zip(at, pointed, self._last()))
        return x, z

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
        axis = 0 if level else 1
        if (last[axis] - before[axis]) * (end[axis] - last[axis]) < 0:
            level = not level  # going on would turn straight back
        return ((end[0], last[1]),) if level else ((last[0], end[1]),)

    def _finish(self, event: Event, stop: Stop) -> None:
        assert self.start is not None
        way, _, _ = self._way(event)
        drawn = Drawn(
            self.start, stop, way[-1], tuple(way[1:-1]), len(self.corners) > 0, self.size, self.material, self.graded
        )
        before, catalogue = set(self.host.sheet.pipes), self.host.catalogue
        self._sheet, self.start, self.corners, self.typed = None, None, [], ""
        self.host.show(Overlay())
        if self.host.commit(drawn.label, lambda s: drawn.put(s, catalogue)):
            new = [p for p in self.host.sheet.pipes if p not in before]
            self.host.choose(new[-1:])
