"""The place tool: a part hangs on the pointer until a click puts it on the sheet or into a pipe.

Owns that one state. Knows no Qt.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from loopwright.canvas.tools.base import Edit, Event, Line, Overlay, Tool
from loopwright.canvas.tools.drags import GUIDE_MM
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.guides import Guides
from loopwright.sheet.values import Coil, Part, Point, PropValue, Sheet, Tapping


@dataclass
class PlaceTool(Tool):
    """Places parts of one kind. Shift keeps the tool for another; R turns, M mirrors."""

    name: str = "place"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"r", "m", "enter", "turn", "mirror"})
    kind: str = ""
    props: Mapping[str, PropValue] = field(default_factory=dict)
    tappings: tuple[Tapping, ...] = ()
    coils: tuple[Coil, ...] = ()
    turn: int = 0
    mirror: bool = False
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
        self.kind, self.props = kind, dict(props or {})
        self.tappings, self.coils, self.turn, self.mirror = tappings, coils, 0, False

    def part(self, at: Point) -> Part:
        """The part as it would stand at a place."""
        kind = self.host.catalogue[self.kind]
        turn = 0 if kind.large else self.turn
        return Part(
            id=edits.new_id(self.host.sheet, kind),
            kind=self.kind,
            x_m=round(at[0], 6),
            height_m=round(at[1], 6),
            turn=turn,
            mirror=self.mirror,
            props=dict(self.props),
            tappings=self.tappings,
            coils=self.coils,
        )

    def on_move(self, event: Event) -> None:
        """Show the part where it would go."""
        self._last = event
        if not self.kind:
            return
        kind = self.host.catalogue[self.kind]
        made = self._insert(event)
        if made is not None:
            try:
                after = made(self.host.sheet)
                where = "into" if kind.through else "on a branch of"
                self.host.say(f"Click puts the {kind.name.lower()} {where} this pipe. Ctrl places it beside.")
                self.host.show(Overlay(words=f"height {event.at[1]:.2f} m", words_at=event.at), after)
                return
            except LoopwrightError as bad:
                self.host.say(bad.sentence)
        else:
            self.host.say(f"Click places the {kind.name.lower()}. Shift keeps the tool, Esc puts it back.")
        spot, lines = self._spot(event)
        part = self.part(spot)
        words = f"height {part.height_m:.2f} m"
        self.host.show(Overlay(lines, ghosts=(part,), words=words, words_at=event.at))

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

    def _insert(self, event: Event) -> Edit | None:
        hit = event.hit
        kind, catalogue = self.host.catalogue[self.kind], self.host.catalogue
        if hit is None or hit.kind != "pipe" or event.free or kind.large or not kind.ports:
            return None
        part, at = self.part(hit.at), self.host.snap_on(hit)
        if kind.through is None:
            return lambda s: edits.branch_from(s, hit.id, part, at, catalogue)
        return lambda s: edits.insert_in_pipe(s, hit.id, part, at, catalogue)

    def on_press(self, event: Event) -> None:
        """Put it there."""
        if event.button != "left" or not self.kind:
            return
        kind = self.host.catalogue[self.kind]
        insert = self._insert(event)
        part = self.part(self._spot(event)[0])

        def place(sheet: Sheet) -> Sheet:
            return edits.place(sheet, part)

        edit, label = (
            (insert, f"Put {a_or_an(kind.name)} {'in' if kind.through else 'on'} a pipe")
            if insert
            else (place, f"Place {a_or_an(kind.name)}")
        )
        self.host.show(Overlay())
        if self.host.commit(label, edit, choose={part.id}) and not event.shift:
            self.host.finished()

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


def a_or_an(name: str) -> str:
    """A kind's name in a sentence, with its article."""
    return f"{'an' if name[:1].lower() in 'aeiou' else 'a'} {name[:1].lower()}{name[1:]}"
