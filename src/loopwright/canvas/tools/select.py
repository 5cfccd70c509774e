"""The select tool: choose, move, drag a run or corner of a pipe, drag a stub of a store, drag a frame, move by keys.

Owns the states of choosing and dragging. Knows no Qt; what a drag means is in `drags`, what keys mean in `keys`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from enum import StrEnum
from math import dist
from textwrap import fill

from loopwright.canvas.tools import keys
from loopwright.canvas.tools.base import Event, Hit, Host, Overlay, Ring, Tool, moved_enough
from loopwright.canvas.tools.drags import Copy, Corner, Drag, Made, Run, Shift
from loopwright.canvas.tools.link_ends import LinkEnd, end_at
from loopwright.canvas.tools.vessel_drags import Grip, Stub, grip_of, grip_words
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.circuit import circuit_of
from loopwright.sheet.geometry import polyline
from loopwright.sheet.links import sentence
from loopwright.sheet.pipework import rested
from loopwright.sheet.ports import ports_of
from loopwright.sheet.removal import remove

WORDS_WIDE = 48
"""Signs in a line of a refusal at the pointer."""


class State(StrEnum):
    """Where the tool is in a gesture."""

    IDLE = "idle"
    PRESSED = "pressed"
    MOVING = "moving"
    FRAMING = "framing"


@dataclass
class SelectTool(Tool):
    """Click chooses, Shift adds, drag moves; a drag on empty paper draws a frame.

    A click on a pipe that is chosen already, and Ctrl-click on any, chooses its whole circuit. Alt drags a copy of
    parts, and a piece of a pipe's run.
    """

    name: str = "select"
    cursor: str = "arrow"
    flags: bool = True
    keys: frozenset[str] = frozenset({*keys.ARROWS, "delete", "backspace", "enter"})
    state: State = field(default=State.IDLE, init=False)
    _from: Event | None = field(default=None, init=False)
    _drag: Drag | None = field(default=None, init=False)
    _made: Made | None = field(default=None, init=False)
    _again: str = field(default="", init=False)
    """The pipe whose whole circuit is chosen when the button is let go where it was pressed."""

    def abandon(self) -> None:
        """Let go: the sheet is as it was at the press."""
        self.state, self._from, self._drag, self._made, self._again = State.IDLE, None, None, None, ""
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
        event = self._at_handle(event)
        self.begin()
        self._from, hit = event, event.hit
        self.state, self._drag, self._again = State.PRESSED, None, ""
        if hit is None:
            return
        if hit.kind == "flag":
            self.host.opened(hit.id)
            return
        if hit.kind == "title":
            self.host.choose(())
            return
        chosen = self.host.chosen
        if hit.kind == "pipe" and not event.shift and (event.free or chosen == {hit.id}):
            self._again = hit.id
        if event.shift:
            self.host.choose(chosen ^ {hit.id})
        elif hit.id not in chosen:
            self.host.choose({hit.id})
        self._drag = self._drag_of(hit, event, chosen)

    def _drag_of(self, hit: Hit, event: Event, chosen: frozenset[str]) -> Drag:
        host, sheet = self.host, self.host.sheet
        part = sheet.parts.get(hit.id)
        if hit.kind == "link" and chosen == {hit.id}:
            end = end_at(sheet, sheet.links[hit.id], event.at, host.reach_m, host.catalogue)
            if end:
                return LinkEnd(host, sheet, hit.id, end)
        if hit.kind == "pipe" and not (hit.id in chosen and len(chosen) > 1):
            corner = self._corner(hit) if hit.id in chosen else None
            if corner is not None:
                return Corner(host, sheet, hit.id, corner)
            return Run(host, sheet, hit, "alt" in event.modifiers)
        grip = self._grip(hit, event) if chosen == {hit.id} else None
        if grip is not None:
            return Stub(host, sheet, hit.id, grip)
        ids = frozenset(i for i in host.chosen if i not in sheet.pipes and i not in sheet.links)
        lead = hit.id if part is not None else next((i for i in sorted(ids) if i in sheet.parts), "")
        shift = Shift(host, sheet, ids, event.at, lead, keys.move_label(ids, sheet) if ids else "")
        return Copy(shift) if "alt" in event.modifiers and lead else shift

    def _grip(self, hit: Hit, event: Event) -> Grip | None:
        """What of the chosen vessel the pointer has hold of: a part that was not chosen moves as a whole."""
        if self.host.chosen != {hit.id} or "alt" in event.modifiers:
            return None
        return grip_of(self.host.sheet, hit, event.at, self.host.reach_m, self.host.catalogue)

    def _corner(self, hit: Hit) -> int | None:
        """The number of the corner of a pipe that the pointer has hold of."""
        line = polyline(self.host.sheet, self.host.sheet.pipes[hit.id], self.host.catalogue)
        near = [(dist(at, hit.at), k) for k, at in enumerate(line[1:-1], start=1)]
        return min(near)[1] if near and min(near)[0] <= self.host.reach_m else None

    def on_move(self, event: Event) -> None:
        """Mark what is under the pointer, or drag."""
        if self.state is State.IDLE:
            self._hover(event)
            return
        assert self._from is not None
        if self.state is State.PRESSED:
            if not moved_enough(self._from.px, event.px):
                return
            self.state = State.FRAMING if self._from.hit is None else State.MOVING
            self.host.hover(None)
        if self.state is State.FRAMING:
            self.host.show(Overlay(frame=(self._from.at, event.at)))
        elif self._drag is not None:
            self._show(self._drag.at(event), event)

    def _show(self, made: Made | None, event: Event) -> None:
        if made is None:
            return
        assert self._sheet is not None
        try:
            after = (made.meanwhile or made.edit)(self._sheet)
        except LoopwrightError as bad:  # what was shown last stays, and is what letting go would make
            self.host.say(bad.sentence)
            shown = (last.meanwhile or last.edit)(self._sheet) if (last := self._made) is not None else self._sheet
            self.host.show(Overlay(words=fill(bad.sentence, WORDS_WIDE), words_at=event.at), shown)
            return
        self._made = made
        self.host.show(Overlay(made.lines, words=made.words, words_at=event.at), after)

    def on_rest(self, event: Event) -> None:
        """The hand rests: pipes shown by a stand-in are led as they would be if it let go here."""
        made = self._made
        if self.state is State.MOVING and made is not None and made.hand is not None and made.hand.owing:
            assert self._sheet is not None
            after = made.edit(self._sheet)
            rested(after, made.hand, self.host.catalogue)
            self.host.show(Overlay(made.lines, words=made.words, words_at=event.at), after)

    def _at_handle(self, event: Event) -> Event:
        """The event, on the chosen control link where the pointer is at an end of it: that lies within a part."""
        sheet, chosen = self.host.sheet, self.host.chosen
        link = sheet.links.get(next(iter(chosen))) if len(chosen) == 1 and not event.shift else None
        if link is None or not end_at(sheet, link, event.at, self.host.reach_m, self.host.catalogue):
            return event
        return replace(event, hit=Hit("link", link.id, at=event.at))

    def _hover(self, event: Event) -> None:
        hit = self._at_handle(event).hit
        self.host.hover(hit)
        if hit is None:
            self.host.show(Overlay())
            self.host.say("")
            return
        sheet = self.host.sheet
        rings: tuple[Ring, ...] = ()
        part = sheet.parts.get(hit.id)
        if part is not None:
            rings = tuple(
                Ring(p.at)
                for p in ports_of(part, self.host.catalogue).values()
                if not any(e.part == part.id and e.port == p.name for e in sheet.taken)
            )
            name = part.name or self.host.catalogue[part.kind].name
            grip = self._grip(hit, event)
            if grip is not None:
                rings = (*rings, Ring(grip.at, "takes"))
            self.host.say(grip_words(part, grip) if grip else f"{name}. Click chooses it, drag moves it.")
        elif hit.kind == "pipe":
            pipe = sheet.pipes[hit.id]
            again = "Click again chooses the whole circuit" if hit.id in self.host.chosen else "Click chooses it"
            self.host.say(f"Pipe, {pipe.size} mm {pipe.material}. {again}, drag moves this run, Alt a piece of it.")
        elif hit.kind == "flag":
            self.host.say("Click shows this finding.")
        elif hit.kind == "title":
            self.host.say("Title block. Double click changes it, with the paper and the scale.")
        elif hit.kind in ("note", "dimension"):
            self.host.say("Click chooses it, drag moves it, double click changes it.")
        elif hit.kind == "link":
            link = sheet.links[hit.id]
            near = hit.id in self.host.chosen
            near = near and bool(end_at(sheet, link, event.at, self.host.reach_m, self.host.catalogue))
            does = (
                "Drag takes this end elsewhere." if near else "Double click changes when. Chosen, its ends are dragged."
            )
            self.host.say(f"{sentence(sheet, link, self.host.catalogue)} {does}")
        self.host.show(Overlay(rings=rings))

    def on_release(self, event: Event) -> None:
        """End the gesture: choose by the frame, or make the edit."""
        if event.button != "left" or not self.busy:
            return
        start, state, made, drag, again = self._from, self.state, self._made, self._drag, self._again
        chosen = self.host.chosen
        self.state, self._from, self._drag, self._made, self._sheet = State.IDLE, None, None, None, None
        self.host.show(Overlay())
        if state is State.FRAMING and start is not None:
            found = self.host.within(start.at, event.at, touched=event.at[0] < start.at[0])
            self.host.choose(chosen | found if event.shift else found)
        elif state is State.MOVING and made is not None and drag is not None:
            before = self.host.sheet
            if self.host.commit(drag.label, made.edit) and isinstance(drag, Copy):
                self.host.choose({*self.host.sheet.parts} - {*before.parts})
        elif state is State.PRESSED and again:
            circuit = circuit_of(self.host.sheet, again, self.host.catalogue)
            self.host.choose(circuit)
            self.host.say(f"Whole circuit chosen: {sum(i in self.host.sheet.pipes for i in circuit)} pipes.")
        elif start is not None and start.hit is None and not event.shift:
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
            return not self.busy and keys.beside(self.host, key) is not None
        return super().wants(key)

    def on_key(self, event: Event) -> None:
        """Arrows move by the snap, Shift by half a metre, Ctrl by a centimetre; Alt walks; Delete removes; Enter
        opens."""
        chosen, catalogue = self.host.chosen, self.host.catalogue
        there = None
        if event.key in ("tab", "backtab"):
            there = keys.beside(self.host, event.key)
        elif event.key in keys.ARROWS and "alt" in event.modifiers:
            there = keys.walk(self.host, event.key)
            if there is None:
                self.host.say("No pipe leaves that way.")
        elif not chosen:
            return
        elif event.key in keys.ARROWS:
            keys.nudge(self.host, event)
        elif event.key in ("delete", "backspace"):
            self.abandon()
            self.host.commit("Delete", lambda s: remove(s, chosen, catalogue), choose=())
        elif event.key == "enter":
            self.host.opened(next(iter(sorted(chosen))))
        if there is not None:
            self.host.choose({there})
            self.host.say(keys.told(self.host, there))


def duplicate_here(host: Host) -> None:
    """Copy the chosen parts a little down and to the right, and choose the copies."""
    chosen = frozenset(i for i in host.chosen if i in host.sheet.parts)
    if not chosen:
        return
    after = edits.duplicate(host.sheet, chosen, 0.3, -0.3)
    new = set(after.parts) - set(host.sheet.parts)
    host.commit("Duplicate", lambda s: edits.duplicate(s, chosen, 0.3, -0.3), choose=new)
