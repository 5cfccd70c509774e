"""The link tool: click what is felt, then what is driven. Shift-click a second sensor for a difference.

Owns these states. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from loopwright.canvas.tools.base import Event, Line, Overlay, Ring, Tool
from loopwright.canvas.tools.link_ends import LINE_MM, Felt, middle_of, place_at
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import plan_link
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.links import can_drive, likely, place_words, sentence
from loopwright.sheet.values import ControlLink, Point, Sheet


@dataclass
class LinkTool(Tool):
    """Draws control links. After one is drawn the same sensor can drive more: click them; a click beside ends."""

    name: str = "link"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"enter"})
    sensor: Felt | None = field(default=None, init=False)
    second: Felt | None = field(default=None, init=False)
    last: str = field(default="", init=False)
    """The sensor of the link drawn last: what is clicked next and can be driven, it drives too."""
    _at: Point = field(default=(0.0, 0.0), init=False)

    def abandon(self) -> None:
        """Begin anew."""
        self.sensor = self.second = None
        super().abandon()

    def on_move(self, event: Event) -> None:
        """Show the link to the pointer, and what a click would do."""
        event = self._through(event)
        felt, refusal = self._place(event)
        words = self._words(felt)
        if self._from(event) is None:
            self.host.say(
                refusal or (f"Click to take {words} as the sensor." if felt else AGAIN if self.last else START)
            )
            self.host.show(Overlay(rings=self._ring(felt, refusal), words=words, words_at=event.at))
            return
        self.host.say(refusal or (f"Click to drive {words}." if felt else GO_ON))
        lines = (Line((self._at, event.at), "ink2", True, LINE_MM),) if self.sensor else ()
        if felt and not refusal and not event.shift:
            sheet, link = self._made(self.host.sheet, event, felt)
            plan = plan_link(sheet, link, self.host.catalogue)
            if plan is not None:
                lines = (Line(tuple(to_metres(p) for p in plan.points), "accent", True, LINE_MM),)
        self.host.show(Overlay(lines, self._ring(felt, refusal), words=words, words_at=event.at))

    def _through(self, event: Event) -> Event:
        """The event with what lies under the lines of other links, which are in nobody's way here."""
        if event.hit is None or event.hit.kind != "link":
            return event
        return replace(event, hit=self.host.hit(event.at, frozenset(self.host.sheet.links)))

    def _words(self, felt: Felt | None) -> str:
        if felt is None:
            return ""
        words = place_words(self.host.sheet, felt.place, self.host.catalogue)
        return words if felt.new_m is None else f"{words} in a new pocket, {felt.new_m:.2f} m above the base"

    def _ring(self, felt: Felt | None, refusal: str) -> tuple[Ring, ...]:
        if felt is None:
            return ()
        return (Ring(middle_of(self.host.sheet, felt, self.host.catalogue), "refuses" if refusal else "takes"),)

    def _from(self, event: Event) -> Felt | None:
        """The sensor that a click would go on from: the one taken, or over something that can be driven the last."""
        if self.sensor is not None:
            return self.sensor
        hit, sheet = event.hit, self.host.sheet
        drives = (
            hit is not None
            and hit.kind in ("part", "port")
            and can_drive(self.host.catalogue[sheet.parts[hit.id].kind])
        )
        owner, _, letter = self.last.partition("/")
        there = owner in sheet.parts and (not letter or sheet.parts[owner].tapping(letter) is not None)
        return Felt(self.last) if drives and there and not event.shift else None

    def _place(self, event: Event) -> tuple[Felt | None, str]:
        """(what is at the pointer, why it cannot be taken)."""
        begun = self._from(event)
        sensing = begun is None or event.shift
        sheet, catalogue = self.host.sheet, self.host.catalogue
        if begun is not None and not sensing:
            here = place_at(sheet, event.hit, event.at, True, catalogue)[0]
            if here is not None and here.place == begun.place:
                return here, "The link begins here. Click what it drives."
        return place_at(sheet, event.hit, event.at, sensing, catalogue)

    def _made(self, sheet: Sheet, event: Event, target: Felt) -> tuple[Sheet, ControlLink]:
        """The sheet with the pockets that the link needs, and the link to a target."""
        begun, catalogue = self._from(event), self.host.catalogue
        assert begun is not None
        second = ""
        sheet, sensor = begun.put(sheet, catalogue)
        if self.second is not None:
            sheet, second = self.second.put(sheet, catalogue)
        ident = numbered("link", ids_in_use(sheet))
        return sheet, likely(sheet, ident, sensor, target.place, second, catalogue)

    def on_press(self, event: Event) -> None:
        """Take the sensor, a second one with Shift, or what is driven; a click beside, once a link is drawn, ends."""
        if event.button != "left":
            return
        event = self._through(event)
        felt, refusal = self._place(event)
        if felt is None or refusal:
            if event.hit is None and self.last and not self.busy:
                self.host.choose(())
                self.host.finished()
                return
            self.host.say(refusal or (GO_ON if self.sensor else START))
            return
        if self._from(event) is None:
            self.begin()
            self.sensor, self._at = felt, middle_of(self.host.sheet, felt, self.host.catalogue)
            self.host.say(GO_ON)
            return
        if event.shift:
            self.second = felt
            self.host.say(f"Difference to {self._words(felt)}. {GO_ON}")
            return
        try:
            link = self._made(self.host.sheet, event, felt)[1]
        except LoopwrightError as bad:
            self.host.say(bad.sentence)
            return
        felts = [one for one in (self._from(event), self.second) if one is not None]
        self.abandon()

        def edit(sheet: Sheet) -> Sheet:
            for one in felts:
                sheet = one.put(sheet, self.host.catalogue)[0]
            return edits.put_link(sheet, link)

        if self.host.commit("Link a control", edit, choose={link.id}):
            self.last = link.sensor
            self.host.say(f"{sentence(self.host.sheet, link, self.host.catalogue)} {NEXT}")

    def on_key(self, event: Event) -> None:
        """Enter is a click at the pointer."""
        self.on_press(self.clicked(event))


START = "Click the sensor, control or vessel that the link begins at."
GO_ON = "Click the pump, valve or source that it drives; Shift-click a second sensor for a difference."
AGAIN = "Click another thing that the same sensor drives, or another sensor; click beside to end."
NEXT = "Change it in the properties, or click another thing that it drives."
