"""The select tool: choose, move, drag a run of a pipe, drag a stub of a store, drag a frame, move by keys.

Owns the states of choosing and dragging. Knows no Qt; every edit it makes comes from
`loopwright.sheet.edits`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from loopwright.canvas.tools.base import Edit, Event, Hit, Host, Overlay, Ring, Tool, moved_enough
from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.geometry import polyline
from loopwright.sheet.plane import same
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Point, Sheet

STEP_M, LONG_STEP_M, STUB_STEP_M = 0.05, 0.5, 0.01
_ARROWS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


class State(StrEnum):
    """Where the tool is in a gesture."""

    IDLE = "idle"
    PRESSED = "pressed"
    MOVING = "moving"
    FRAMING = "framing"


@dataclass
class SelectTool(Tool):
    """Click chooses, Shift adds, drag moves; a drag on empty paper draws a frame."""

    name: str = "select"
    cursor: str = "arrow"
    keys: frozenset[str] = frozenset({*_ARROWS, "delete", "backspace", "enter"})
    state: State = field(default=State.IDLE, init=False)
    _from: Event | None = field(default=None, init=False)
    _kind: str = field(default="", init=False)
    _edit: Edit | None = field(default=None, init=False)
    _note: str = field(default="", init=False)

    def abandon(self) -> None:
        """Let go: the sheet is as it was at the press."""
        self.state, self._from, self._edit = State.IDLE, None, None
        super().abandon()

    def escape(self) -> None:
        """First the gesture, then the selection."""
        if self.busy:
            self.abandon()
        else:
            self.host.choose(())

    # ---- pointer

    def on_press(self, event: Event) -> None:
        """Choose what is there, and be ready for a drag."""
        if event.button != "left":
            return
        self.begin()
        self._from, hit = event, event.hit
        self.state = State.PRESSED
        if hit is None:
            self._kind = "frame"
            return
        if hit.kind == "flag":
            self._kind = ""
            self.host.opened(hit.id)
            return
        chosen = self.host.chosen
        if event.shift:
            self.host.choose(chosen ^ {hit.id})
        elif hit.id not in chosen:
            self.host.choose({hit.id})
        self._kind = self._drag_kind(hit, chosen)

    def _drag_kind(self, hit: Hit, chosen: frozenset[str]) -> str:
        part = self.host.sheet.parts.get(hit.id)
        if hit.kind == "pipe":
            return "run"
        if hit.kind == "port" and part is not None and part.tapping(hit.port) and chosen == {hit.id}:
            return "stub"
        return "move"

    def on_move(self, event: Event) -> None:
        """Mark what is under the pointer, or drag."""
        if self.state is State.IDLE:
            self._hover(event.hit)
            return
        assert self._from is not None
        if self.state is State.PRESSED:
            if not moved_enough(self._from.px, event.px):
                return
            self.state = State.FRAMING if self._kind == "frame" else State.MOVING
            self.host.hover(None)
        if self.state is State.FRAMING:
            self.host.show(Overlay(frame=(self._from.at, event.at)))
        elif self._kind:
            self._drag(event)

    def _hover(self, hit: Hit | None) -> None:
        self.host.hover(hit)
        if hit is None:
            self.host.show(Overlay())
            self.host.say("")
            return
        part = self.host.sheet.parts.get(hit.id)
        rings: tuple[Ring, ...] = ()
        if part is not None:
            taken = self.host.sheet.taken
            rings = tuple(
                Ring(p.at)
                for p in ports_of(part, self.host.catalogue).values()
                if not any(e.part == part.id and e.port == p.name for e in taken)
            )
            name = part.name or self.host.catalogue[part.kind].name
            self.host.say(f"{name}. Click chooses it, drag moves it.")
        elif hit.kind == "pipe":
            pipe = self.host.sheet.pipes[hit.id]
            self.host.say(f"Pipe, {pipe.size} mm {pipe.material}. Click chooses it, drag moves this run.")
        elif hit.kind == "flag":
            self.host.say("Click shows this finding.")
        self.host.show(Overlay(rings=rings))

    def _drag(self, event: Event) -> None:
        assert self._from is not None and self._sheet is not None and self._from.hit is not None
        hit = self._from.hit
        if self._kind == "stub":
            made = self._stub(hit, event)
        elif self._kind == "run":
            made = self._run(hit, event)
        else:
            made = self._shift(event)
        if made is None:
            return
        edit, words = made
        try:
            after = edit(self._sheet)
        except LoopwrightError as bad:
            self.host.say(bad.sentence)
            return
        self._edit, self._note = edit, words
        self.host.show(Overlay(words=words, words_at=event.at), after)

    def _shift(self, event: Event) -> tuple[Edit, str] | None:
        assert self._from is not None and self._sheet is not None
        sheet, catalogue = self._sheet, self.host.catalogue
        ids = frozenset(i for i in self.host.chosen if i not in sheet.pipes and i not in sheet.links)
        if not ids:
            return None
        dx, dz = event.at[0] - self._from.at[0], event.at[1] - self._from.at[1]
        if event.shift:
            dx, dz = (dx, 0.0) if abs(dx) > abs(dz) else (0.0, dz)
        lead = self._from.hit.id if self._from.hit and self._from.hit.id in sheet.parts else next(iter(sorted(ids)))
        part = sheet.parts.get(lead)
        home = (part.x_m, part.height_m) if part else self._from.at
        # only a direction in which the pointer went is snapped, so that a level drag keeps an odd height
        snapped = self.host.snap((home[0] + dx, home[1] + dz), event.free)
        dx = round(snapped[0] - home[0], 6) if abs(dx) > 1e-9 else 0.0
        dz = round(snapped[1] - home[1], 6) if abs(dz) > 1e-9 else 0.0
        words = f"height {home[1] + dz:.2f} m\nx {home[0] + dx:.2f} m"
        floor = max(
            (v for v in sheet.levels if v.height_m <= home[1] + dz + 1e-9),
            key=lambda v: v.height_m,
            default=None,
        )
        if floor is not None and part is not None:
            words = f"height {home[1] + dz:.2f} m, {home[1] + dz - floor.height_m:.2f} above {floor.name.lower()}"
        return (lambda s: edits.move(s, ids, dx, dz, catalogue)), words

    def _stub(self, hit: Hit, event: Event) -> tuple[Edit, str] | None:
        """A stub follows the pointer's height in steps of a centimetre, and changes sides with it."""
        assert self._sheet is not None
        catalogue, part = self.host.catalogue, self._sheet.parts[hit.id]
        tapping = part.tapping(hit.port)
        if tapping is None or tapping.side in ("top", "bottom"):
            return None
        height = event.at[1] - part.height_m
        height = round(height, 3) if event.free else round(height / STUB_STEP_M) * STUB_STEP_M
        left = (event.at[0] < part.x_m) != part.mirror
        side = "left" if left else "right"
        return (
            lambda s: edits.set_tapping(s, part.id, hit.port, catalogue, height_m=round(height, 3), side=side)
        ), f"{hit.port} at {height:.2f} m above the base"

    def _run(self, hit: Hit, event: Event) -> tuple[Edit, str] | None:
        assert self._sheet is not None and self._from is not None
        at = self.host.snap(event.at, event.free)
        catalogue = self.host.catalogue
        found = moved_run(self._sheet, hit.id, hit.run, at, catalogue)
        if found is None:
            self.host.say("This run is held by its port. Move the part, or drag another run of the pipe.")
            return None
        where = f"height {at[1]:.2f} m" if found else f"x {at[0]:.2f} m"

        def edit(s: Sheet) -> Sheet:
            return move_run(s, hit.id, hit.run, at, catalogue)

        return edit, where

    def on_release(self, event: Event) -> None:
        """End the gesture: choose by the frame, or make the edit."""
        if event.button != "left" or not self.busy:
            return
        start, state, edit = self._from, self.state, self._edit
        kind, chosen = self._kind, self.host.chosen
        self.state, self._from, self._edit, self._sheet = State.IDLE, None, None, None
        if state is State.FRAMING and start is not None:
            found = self.host.within(start.at, event.at, touched=event.at[0] < start.at[0])
            self.host.show(Overlay())
            self.host.choose(chosen | found if event.shift else found)
        elif state is State.MOVING and edit is not None:
            self.host.show(Overlay())
            label = {"stub": "Move a tapping", "run": "Move a run"}.get(kind) or _move_label(chosen, self.host.sheet)
            self.host.commit(label, edit)
        else:
            self.host.show(Overlay())
            if kind == "frame" and not event.shift:
                self.host.choose(())

    def on_double(self, event: Event) -> None:
        """Open the properties of what is there."""
        if event.hit is not None:
            self.abandon()
            self.host.opened(event.hit.id)

    def on_leave(self, event: Event) -> None:
        """The pointer left the view."""
        if not self.busy:
            self.host.hover(None)

    # ---- keys

    def wants(self, key: str) -> bool:
        """Tab is wanted while there is a next part; past the last one it goes on to the next field of the
        window."""
        if key in ("tab", "backtab"):
            return not self.busy and self._beside(key) is not None
        return super().wants(key)

    def _beside(self, key: str) -> str | None:
        """The part after (or before) the chosen one, by x and then by height."""
        order = sorted(self.host.sheet.parts.values(), key=lambda p: (p.x_m, p.height_m, p.id))
        ids = [part.id for part in order]
        here = next((k for k, part in enumerate(ids) if part in self.host.chosen), None)
        if here is None:
            return (ids[0] if key == "tab" else ids[-1]) if ids else None
        there = here + (1 if key == "tab" else -1)
        return ids[there] if 0 <= there < len(ids) else None

    def on_key(self, event: Event) -> None:
        """Arrows move by the snap, Shift by half a metre; Delete removes; Enter opens."""
        chosen, catalogue = self.host.chosen, self.host.catalogue
        if event.key in ("tab", "backtab"):
            beside = self._beside(event.key)
            if beside is not None:
                self.host.choose({beside})
                part = self.host.sheet.parts[beside]
                self.host.say(f"{part.name or catalogue[part.kind].name}, height {part.height_m:.2f} m.")
            return
        if not chosen:
            return
        if event.key in _ARROWS:
            step = LONG_STEP_M if event.shift else STEP_M
            dx, dz = (v * step for v in _ARROWS[event.key])
            ids = frozenset(i for i in chosen if i not in self.host.sheet.pipes and i not in self.host.sheet.links)
            if ids:
                self.host.commit(_move_label(ids, self.host.sheet), lambda s: edits.move(s, ids, dx, dz, catalogue))
        elif event.key in ("delete", "backspace"):
            self.abandon()
            self.host.commit("Delete", lambda s: edits.delete(s, chosen, catalogue), choose=())
        elif event.key == "enter":
            self.host.opened(next(iter(sorted(chosen))))


def _move_label(ids: frozenset[str], sheet: Sheet) -> str:
    things = [i for i in ids if i in sheet.parts] or list(ids)
    return f"Move {things[0]}" if len(things) == 1 else f"Move {len(things)} parts"


def moved_run(sheet: Sheet, pipe_id: str, run: int, at: Point, catalogue: Catalogue) -> bool | None:
    """True if the run is level, False if upright; None if it may not be dragged (it belongs to a port, or
    slopes)."""
    pipe = sheet.pipes[pipe_id]
    if not 0 < run < len(pipe.points):
        return None
    a, b = polyline(sheet, pipe, catalogue)[run : run + 2]
    if same(a[1], b[1]):
        return True
    return False if same(a[0], b[0]) else None


def move_run(sheet: Sheet, pipe_id: str, run: int, at: Point, catalogue: Catalogue) -> Sheet:
    """The sheet with one inner run of a pipe put at the height (level) or x (upright) of `at`, and held
    there."""
    level = moved_run(sheet, pipe_id, run, at, catalogue)
    if level is None:
        return sheet
    pipe = sheet.pipes[pipe_id]
    points = list(pipe.points)
    for k in (run - 1, run):
        points[k] = (points[k][0], round(at[1], 3)) if level else (round(at[0], 3), points[k][1])
    held = tuple(sorted({*pipe.held, run}))
    return edits.set_pipe(sheet, pipe_id, points=tuple(points), held=held)


def duplicate_here(host: Host) -> None:
    """Copy the chosen parts a little down and to the right, and choose the copies."""
    chosen = frozenset(i for i in host.chosen if i in host.sheet.parts)
    if not chosen:
        return
    after = edits.duplicate(host.sheet, chosen, 0.3, -0.3)
    new = set(after.parts) - set(host.sheet.parts)
    host.commit("Duplicate", lambda s: edits.duplicate(s, chosen, 0.3, -0.3), choose=new)


__all__ = ["SelectTool", "State", "duplicate_here", "move_run"]
