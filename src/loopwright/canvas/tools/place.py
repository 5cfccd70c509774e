"""The place tool: a part hangs on the pointer until a click puts it on the sheet, into a pipe, or onto a port.

Owns that one state and what is under the pointer for a new part. Knows no Qt; the edits are in `placing`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import msgspec

from loopwright.canvas.tools.base import Edit, Event, Hit, Line, Overlay, Tool, end_of
from loopwright.canvas.tools.drags import GUIDE_MM
from loopwright.canvas.tools.piping import shell_near
from loopwright.catalogue import Catalogue
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits, placing
from loopwright.sheet.guides import Guides
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Coil, Part, Point, PropValue, Sheet, Tapping
from loopwright.waterways.naming import kind_words

BESIDE_M = 0.3
"""A part that is less than this to the side of a vessel is neither left nor right of it."""


class Joined(NamedTuple):
    """What a click on something already there makes of the part: an edit, and where it puts it, in words."""

    edit: Edit
    where: str
    label: str


@dataclass
class PlaceTool(Tool):
    """Places parts of one kind, or several in a row. Shift keeps the tool for another; R turns, M mirrors."""

    name: str = "place"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"r", "m", "enter", "turn", "mirror"})
    kind: str = ""
    props: Mapping[str, PropValue] = field(default_factory=dict)
    tappings: tuple[Tapping, ...] = ()
    coils: tuple[Coil, ...] = ()
    more: tuple[Part, ...] = ()
    """Parts that follow the first in a row."""
    turn: int = 0
    mirror: bool = False
    """Mirrored by hand: the other way round than the part would face by itself."""
    _last: Event | None = field(default=None, init=False)

    @property
    def busy(self) -> bool:
        """Placing is one click; there is never a gesture to go back on."""
        return False

    def take(
        self,
        kind: str,
        props: Mapping[str, PropValue] | None = None,
        tappings: tuple[Tapping, ...] = (),
        coils: tuple[Coil, ...] = (),
    ) -> None:
        """Hang a part of another kind on the pointer."""
        self.kind, self.props, self.more = kind, dict(props or {}), ()
        self.tappings, self.coils, self.turn, self.mirror = tappings, coils, 0, False

    def part(self, at: Point) -> Part:
        """The part as it would stand at a place."""
        kind = self.host.catalogue[self.kind]
        part = Part(
            id=edits.new_id(self.host.sheet, kind),
            kind=self.kind,
            x_m=round(at[0], 6),
            height_m=round(at[1], 6),
            turn=0 if kind.large else self.turn,
            props=dict(self.props),
            tappings=self.tappings,
            coils=self.coils,
        )
        turned = faces_away(self.host.sheet, part, self.host.catalogue)
        return msgspec.structs.replace(part, mirror=turned != self.mirror)

    def _parts(self, at: Point) -> tuple[Part, ...]:
        return (self.part(at), *self.more)

    def on_move(self, event: Event) -> None:
        """Show the part where it would go."""
        self._last = event
        if not self.kind:
            return
        kind = self.host.catalogue[self.kind]
        name = kind.name.lower() if not self.more else f"row of {len(self.more) + 1} parts"
        made = self._joined(event)
        if made is not None:
            try:
                after = made.edit(self.host.sheet)
                self.host.say(f"Click puts the {name} {made.where}. Ctrl places it beside.")
                self.host.show(Overlay(words=f"height {event.at[1]:.2f} m", words_at=event.at), after)
                return
            except LoopwrightError as bad:
                self.host.say(bad.sentence)
        else:
            self.host.say(f"Click places the {name}. Shift keeps the tool, Esc puts it back.")
        spot, lines = self._spot(event)
        parts = self._parts(spot)
        shown = placing.on_sheet(self.host.sheet, parts, self.host.catalogue)
        ghosts = tuple(part for key, part in shown.parts.items() if key not in self.host.sheet.parts)
        words = f"height {ghosts[0].height_m:.2f} m"
        self.host.show(Overlay(lines, ghosts=ghosts, words=words, words_at=event.at))

    def _spot(self, event: Event) -> tuple[Point, tuple[Line, ...]]:
        """Where the part would stand: on the snap, or in line with what is nearer than that; and the lines to show."""
        at = self.host.snap(event.at, event.free)
        if event.free:
            return at, ()
        part = self.part(at)
        sheet = edits.place(self.host.sheet, part)
        guides = Guides(sheet, {part.id}, part.id, self.host.catalogue)
        off = event.at[0] - at[0], event.at[1] - at[1]
        found = guides.snap(*off, self.host.reach_m, (abs(off[0]), abs(off[1])))
        by = found.dx or 0.0, found.dz or 0.0
        near = guides.snap(*by, 1e-4).lines
        lines = tuple(Line(pair, "accent", True, GUIDE_MM) for pair in near if pair[0] != pair[1])
        return (round(at[0] + by[0], 6), round(at[1] + by[1], 6)), lines

    def _joined(self, event: Event) -> Joined | None:
        """What a click on the pipe, the free port or the shell under the pointer makes; None for a place beside."""
        hit, catalogue = event.hit, self.host.catalogue
        kinds = [catalogue[part.kind] for part in (self.part(event.at), *self.more)]
        if hit is None or event.free or not all(placing.can_lie(kind) for kind in kinds):
            return None
        name, parts = a_or_an(kinds[0].name) if len(kinds) == 1 else f"{len(kinds)} parts", self._parts(hit.at)
        there = self.host.sheet.taken.get(end_of(hit)) if hit.kind == "port" else None
        if there is not None:  # the end of a pipe stands for the pipe
            hit = Hit("pipe", there, at=hit.at)
        if hit.kind == "pipe":
            at = hit.at if there is not None else self.host.snap_on(hit)
            word = "in" if all(kind.through for kind in kinds) else "on"
            return Joined(
                lambda s: placing.in_pipe(s, hit.id, parts, at, catalogue),
                "into this pipe" if word == "in" else "on a branch of this pipe",
                f"Put {name} {word} a pipe",
            )
        if hit.kind == "port":
            end = end_of(hit)
            return Joined(lambda s: placing.on_port(s, end, parts, catalogue), "on this port", f"Put {name} on a port")
        if hit.kind == "part":
            shell = shell_near(self.host.sheet, hit.id, event.at, catalogue)
            if shell is not None:
                return Joined(
                    lambda s: placing.on_shell(s, shell.part, shell.height_m, shell.side, parts, catalogue),
                    f"on a new tapping, {shell.height_m:.2f} m above the base",
                    f"Put {name} on a vessel",
                )
        return None

    def on_press(self, event: Event) -> None:
        """Put it there."""
        if event.button != "left" or not self.kind:
            return
        host, catalogue = self.host, self.host.catalogue
        made = self._joined(event)
        if made is None:
            kind, parts = catalogue[self.kind], self._parts(self._spot(event)[0])
            name = a_or_an(kind.name) if not self.more else f"{len(parts)} parts"
            made = Joined(lambda s: placing.on_sheet(s, parts, catalogue), "", f"Place {name}")
        host.show(Overlay())
        wanted = {self.kind, *(part.kind for part in self.more)}
        try:
            after = made.edit(host.sheet)
        except LoopwrightError as bad:
            host.say(bad.sentence)
            return
        new = {i for i, part in after.parts.items() if i not in host.sheet.parts and part.kind in wanted}
        if host.commit(made.label, made.edit, choose=new) and not event.shift:
            host.finished()

    def on_key(self, event: Event) -> None:
        """R turns, M mirrors, Enter places at the pointer."""
        if event.key in ("r", "turn"):
            self.turn = (self.turn + 1) % 4
        elif event.key in ("m", "mirror"):
            self.mirror = not self.mirror
        elif event.key == "enter":
            self.on_press(Event("press", event.at, event.px, None, event.modifiers, "left"))
            return
        if self._last is not None:
            self.on_move(self._last)

    def on_leave(self, event: Event) -> None:
        """Off the sheet, nothing hangs on the pointer."""
        self.host.show(Overlay())


def faces_away(sheet: Sheet, part: Part, catalogue: Catalogue) -> bool:
    """Whether a new part's flow, or its one port, is on the far side of the vessel nearest to it: it turns to that."""
    kind = catalogue[part.kind]
    flow = next((port for port in kind.ports if port.role.endswith("_flow")), None)
    if not kind.large:
        flow = kind.ports[0] if len(kind.ports) == 1 and part.turn == 0 else None
    if kind.body in ("store", "cylinder") or flow is None:
        return False
    vessels = [p for p in sheet.parts.values() if catalogue[p.kind].body in ("store", "cylinder")]
    if not vessels:
        return False
    to = min((v.x_m - part.x_m for v in vessels), key=abs)
    out = ports_of(part, catalogue)[flow.name].at[0] - part.x_m
    return abs(to) > BESIDE_M and to * out < 0


def a_or_an(name: str) -> str:
    """A kind's name in a sentence, with its article."""
    words = kind_words(name)
    return f"{'an' if words[:1].lower() in 'aeiou' else 'a'} {words}"
