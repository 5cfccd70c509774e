"""What a pointer tool is: events in, previews and edits out. No Qt, so tools are tried with plain scripts of
events.

Owns the words between canvas and tools: `Event`, `Hit`, `Overlay`, `Host` and the base class `Tool`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from math import hypot
from typing import Literal, Protocol

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import End, Part, Point, Sheet

Edit = Callable[[Sheet], Sheet]
DRAG_PX = 4.0
EventKind = Literal["press", "move", "rest", "release", "double", "key", "leave"]
Button = Literal["left", "right", "middle", ""]
HitKind = Literal["port", "part", "pipe", "flag", "note", "link", "dimension", "title"]


@dataclass(frozen=True, slots=True)
class Hit:
    """What is at the pointer: its sort, id (none for the title block), port (of a part) or run (of a pipe), and its
    own nearest point in metres."""

    kind: HitKind
    id: str
    port: str = ""
    run: int = -1
    at: Point = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Event:
    """A pointer or key event. `at` in metres (x, height); `px` in the view, None from the keyboard.

    A `rest` comes once the pointer has stood still for a moment within a gesture.
    """

    kind: EventKind
    at: Point = (0.0, 0.0)
    px: Point | None = None
    hit: Hit | None = None
    modifiers: frozenset[str] = frozenset()
    button: Button = ""
    key: str = ""

    @property
    def free(self) -> bool:
        """Snapping is off."""
        return "ctrl" in self.modifiers

    @property
    def shift(self) -> bool:
        """Keep straight, or add."""
        return "shift" in self.modifiers


@dataclass(frozen=True, slots=True)
class Line:
    """A polyline shown by a tool, in metres."""

    points: tuple[Point, ...]
    token: str = "accent"
    dashed: bool = False
    mm: float = 0.70


@dataclass(frozen=True, slots=True)
class Ring:
    """A port shown by a tool: plain, one that takes the end, or one that refuses it."""

    at: Point
    state: Literal["plain", "takes", "refuses"] = "plain"


@dataclass(frozen=True, slots=True)
class Overlay:
    """What a tool shows over the sheet. `words` follow the pointer at `words_at`; `ghosts` are parts not yet
    there."""

    lines: tuple[Line, ...] = ()
    rings: tuple[Ring, ...] = ()
    ghosts: tuple[Part, ...] = ()
    frame: tuple[Point, Point] | None = None
    words: str = ""
    words_at: Point = (0.0, 0.0)


class Host(Protocol):
    """What a tool may ask of the window it works in."""

    @property
    def sheet(self) -> Sheet:
        """The sheet that is worked on."""

    @property
    def catalogue(self) -> Catalogue:
        """The kinds it knows."""

    @property
    def chosen(self) -> frozenset[str]:
        """Ids of what is chosen."""

    @property
    def reach_m(self) -> float:
        """How far the pointer may be from what it means, m."""

    def hit(self, at: Point, ignore: frozenset[str] = frozenset()) -> Hit | None:
        """What is at a place, ports first, then fittings, pipes, large parts."""

    def within(self, a: Point, b: Point, touched: bool) -> frozenset[str]:
        """Ids of parts and pipes in a frame: wholly inside, or touched."""

    def snap(self, at: Point, free: bool = False) -> Point:
        """The place on the snap, unless `free`."""

    def snap_on(self, hit: Hit) -> Point:
        """The place on a pipe that a hit means, on the snap along its run."""

    def route(
        self, start: Point, start_dir: str | None, end: Point, end_dir: str | None, quick: bool = True
    ) -> tuple[Point, ...]:
        """Corners of a right-angled way between two places."""

    def show(self, overlay: Overlay, sheet: Sheet | None = None) -> None:
        """Show a preview: marks over the sheet, and a sheet in place of the real one (None: the real one)."""

    def commit(self, label: str, edit: Edit, choose: Iterable[str] | None = None) -> bool:
        """Make an edit, one undo step. False if it was refused (the reason has been said)."""

    def choose(self, ids: Iterable[str]) -> None:
        """Make these the selection."""

    def hover(self, hit: Hit | None) -> None:
        """Mark what the pointer is on."""

    def say(self, words: str) -> None:
        """A sentence in the status line."""

    def opened(self, ident: str) -> None:
        """A thing was double-clicked (its id), or a flag clicked (its number): show more of it."""

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Scroll the view."""

    def finished(self) -> None:
        """The tool is done: put it down."""


@dataclass
class Tool:
    """Base of the tools. A subclass answers events; `abandon` takes everything back and is safe at any
    time."""

    host: Host
    name: str = "tool"
    cursor: str = "arrow"
    keys: frozenset[str] = frozenset()
    flags: bool = False
    """Whether flags of findings are in the tool's way: only where they can be chosen."""
    _sheet: Sheet | None = field(default=None, init=False, repr=False)

    def feed(self, event: Event) -> None:
        """Take an event. A gesture begun on a sheet that has since changed (undo by key) is abandoned
        first."""
        if self._sheet is not None and self.host.sheet is not self._sheet:
            self.abandon()
        if event.kind == "key" and event.key == "escape":
            self.escape()
            return
        if event.kind == "press" and event.button == "right":
            self.abandon()
            return
        getattr(self, f"on_{event.kind}", self.ignore)(event)

    def wants(self, key: str) -> bool:
        """Whether a key is for this tool; keys that are not go on to the window's commands."""
        return key == "escape" or key in self.keys

    def lost_focus(self) -> None:
        """The window went to something else: a gesture under way is let go."""
        if self.busy:
            self.abandon()

    def ignore(self, event: Event) -> None:
        """Nothing to do."""

    def clicked(self, event: Event) -> Event:
        """The click that a key at the pointer stands for."""
        return Event("press", event.at, event.px, self.host.hit(event.at), event.modifiers, "left")

    def escape(self) -> None:
        """One step back: first the gesture, then the tool."""
        if self.busy:
            self.abandon()
        else:
            self.host.finished()

    @property
    def busy(self) -> bool:
        """Whether a gesture is under way."""
        return self._sheet is not None

    def begin(self) -> None:
        """Remember the sheet that the gesture works on."""
        self._sheet = self.host.sheet

    def abandon(self) -> None:
        """Let go of the gesture. The sheet is as it was."""
        self._sheet = None
        self.host.show(Overlay())


def moved_enough(a: Point | None, b: Point | None) -> bool:
    """Whether the pointer went far enough from where it was pressed to mean a drag."""
    return a is not None and b is not None and hypot(a[0] - b[0], a[1] - b[1]) > DRAG_PX


def end_of(hit: Hit) -> End:
    """The pipe end that a port stands for."""
    return End(hit.id, hit.port)
