"""The link tool: click what is felt, then what is driven. Shift-click a second sensor for a difference.

Owns these states. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from loopwright.canvas.tools.base import Event, Line, Overlay, Ring, Tool
from loopwright.canvas.tools.link_ends import LINE_MM, middle_of, place_at
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import plan_link
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.links import likely, place_words, sentence
from loopwright.sheet.values import ControlLink, Point


@dataclass
class LinkTool(Tool):
    """Draws control links."""

    name: str = "link"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"enter"})
    sensor: str = field(default="", init=False)
    second: str = field(default="", init=False)
    _at: Point = field(default=(0.0, 0.0), init=False)

    def abandon(self) -> None:
        """Begin anew."""
        self.sensor = self.second = ""
        super().abandon()

    def on_move(self, event: Event) -> None:
        """Show the link to the pointer, and what a click would do."""
        event = self._through(event)
        place, refusal = self._place(event)
        sheet, catalogue = self.host.sheet, self.host.catalogue
        words = place_words(sheet, place, catalogue) if place else ""
        if not self.sensor:
            self.host.say(refusal or (f"Click to take {words} as the sensor." if place else START))
            self.host.show(Overlay(rings=self._ring(place, refusal)))
            return
        self.host.say(refusal or (f"Click to drive {words}." if place else GO_ON))
        lines = (Line((self._at, event.at), "ink2", True, LINE_MM),)
        if place and not refusal and not event.shift:
            plan = plan_link(sheet, self._made(place), catalogue)
            if plan is not None:
                lines = (Line(tuple(to_metres(p) for p in plan.points), "accent", True, LINE_MM),)
        self.host.show(Overlay(lines, self._ring(place, refusal), words=words, words_at=event.at))

    def _through(self, event: Event) -> Event:
        """The event with what lies under the lines of other links, which are in nobody's way here."""
        if event.hit is None or event.hit.kind != "link":
            return event
        return replace(event, hit=self.host.hit(event.at, frozenset(self.host.sheet.links)))

    def _ring(self, place: str, refusal: str) -> tuple[Ring, ...]:
        if not place:
            return ()
        return (Ring(self._middle(place), "refuses" if refusal else "takes"),)

    def _middle(self, place: str) -> Point:
        return middle_of(self.host.sheet, place, self.host.catalogue)

    def _place(self, event: Event) -> tuple[str, str]:
        """(what is at the pointer, why it cannot be taken)."""
        sensing = not self.sensor or event.shift
        sheet, catalogue = self.host.sheet, self.host.catalogue
        if self.sensor and not sensing and place_at(sheet, event.hit, event.at, True, catalogue)[0] == self.sensor:
            return self.sensor, "The link begins here. Click what it drives."
        return place_at(sheet, event.hit, event.at, sensing, catalogue)

    def _made(self, target: str) -> ControlLink:
        ident = numbered("link", ids_in_use(self.host.sheet))
        return likely(self.host.sheet, ident, self.sensor, target, self.second, self.host.catalogue)

    def on_press(self, event: Event) -> None:
        """Take the sensor, a second one with Shift, or what is driven."""
        if event.button != "left":
            return
        event = self._through(event)
        place, refusal = self._place(event)
        if not place or refusal:
            self.host.say(refusal or (GO_ON if self.sensor else START))
            return
        if not self.sensor:
            self.begin()
            self.sensor, self._at = place, self._middle(place)
            self.host.say(GO_ON)
            return
        if event.shift:
            self.second = place
            self.host.say(f"Difference to {place_words(self.host.sheet, place, self.host.catalogue)}. {GO_ON}")
            return
        link = self._made(place)
        self.abandon()
        if self.host.commit("Link a control", lambda s: edits.put_link(s, link), choose={link.id}):
            self.host.finished()
            words = sentence(self.host.sheet, link, self.host.catalogue)
            self.host.say(f"{words} Change it in the properties.")

    def on_key(self, event: Event) -> None:
        """Enter is a click at the pointer."""
        self.on_press(Event("press", event.at, event.px, self.host.hit(event.at), event.modifiers, "left"))


START = "Click the sensor, control or pocket that the link begins at."
GO_ON = "Click the pump, valve or source that it drives; Shift-click a second sensor for a difference."
