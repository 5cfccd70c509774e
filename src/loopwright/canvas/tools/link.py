"""The link tool: click what is felt, then what is driven. Shift-click a second sensor for a difference.

Owns these states. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from loopwright.canvas.tools.base import Event, Line, Overlay, Ring, Tool
from loopwright.drawing.look import to_metres
from loopwright.drawing.plan import plan_link
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.links import can_drive, can_sense, likely, place_words, sentence
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import ControlLink, Point

LINE_MM = 0.30


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

    def _ring(self, place: str, refusal: str) -> tuple[Ring, ...]:
        if not place:
            return ()
        return (Ring(self._middle(place), "refuses" if refusal else "takes"),)

    def _middle(self, place: str) -> Point:
        owner, _, letter = place.partition("/")
        part = self.host.sheet.parts[owner]
        tapping = part.tapping(letter) if letter else None
        x0, z0, x1, z1 = box_of(part, self.host.catalogue)
        return ((x0 + x1) / 2, part.height_m + tapping.height_m if tapping else (z0 + z1) / 2)

    def _place(self, event: Event) -> tuple[str, str]:
        """(what is at the pointer, why it cannot be taken)."""
        hit, sheet = event.hit, self.host.sheet
        if hit is None or hit.kind not in ("part", "port"):
            return "", ""
        part = sheet.parts[hit.id]
        kind = self.host.catalogue[part.kind]
        place = part.id
        pockets = [t for t in part.tappings if t.purpose == "sensor"]
        if pockets:
            nearest = min(pockets, key=lambda t: abs(part.height_m + t.height_m - event.at[1]))
            place = f"{part.id}/{nearest.letter}"
        if not self.sensor or event.shift:
            if not can_sense(part, kind):
                return part.id, f"A {kind.name.lower()} feels nothing. Click a sensor, a control or a vessel's pocket."
            if part.tappings and not pockets:
                return part.id, "This vessel has no sensor pocket. Add one in its table of tappings first."
            return place, ""
        if place == self.sensor:
            return place, "The link begins here. Click what it drives."
        return part.id, "" if can_drive(kind) else f"A {kind.name.lower()} cannot be driven. Click what runs or opens."

    def _made(self, target: str) -> ControlLink:
        ident = numbered("link", ids_in_use(self.host.sheet))
        return likely(self.host.sheet, ident, self.sensor, target, self.second, self.host.catalogue)

    def on_press(self, event: Event) -> None:
        """Take the sensor, a second one with Shift, or what is driven."""
        if event.button != "left":
            return
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
