"""The dimension tool: click two things whose difference of height matters, then where the line stands.

Owns these three states. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from loopwright.canvas.tools.base import Event, Hit, Line, Overlay, Ring, Tool
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.dimensions import foot_at
from loopwright.sheet.geometry import polyline
from loopwright.sheet.plane import same
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import Dimension, Foot, Point

LINE_MM = 0.35
BESIDE_M = 0.3


@dataclass
class DimensionTool(Tool):
    """Measures heights: between ports, parts, floors and any places. A foot on a part goes with it."""

    name: str = "dimension"
    cursor: str = "cross"
    keys: frozenset[str] = frozenset({"enter"})
    feet: list[Foot] = field(default_factory=list, init=False)

    def abandon(self) -> None:
        """Begin anew."""
        self.feet = []
        super().abandon()

    def on_move(self, event: Event) -> None:
        """Show what a click would measure."""
        sheet, catalogue = self.host.sheet, self.host.catalogue
        placed = [foot_at(sheet, foot, catalogue) or (0.0, 0.0) for foot in self.feet]
        if len(placed) == 2:
            x = self.host.snap(event.at, event.free)[0]
            self.host.say("Click where the line should stand.")
            self._show(placed[0], placed[1], x, event)
            return
        here = foot_at(sheet, self._foot(event), catalogue) or event.at
        if not placed:
            self.host.say("Click the first height: a port, a part, a floor or a free place.")
            self.host.show(Overlay(rings=(Ring(here, "takes"),), words=f"height {here[1]:.2f} m", words_at=event.at))
            return
        self.host.say("Click the second height.")
        self._show(placed[0], here, here[0], event)

    def _show(self, a: Point, b: Point, x: float, event: Event) -> None:
        lines = (
            Line((a, (x, a[1])), "accent", False, LINE_MM / 2),
            Line((b, (x, b[1])), "accent", False, LINE_MM / 2),
            Line(((x, a[1]), (x, b[1])), "accent", False, LINE_MM),
        )
        words = f"{abs(a[1] - b[1]):.2f} m"
        self.host.show(Overlay(lines, (Ring(a), Ring(b, "takes")), words=words, words_at=event.at))

    def on_press(self, event: Event) -> None:
        """Take a foot, or put the line there."""
        if event.button != "left":
            return
        if len(self.feet) < 2:
            foot = self._foot(event)
            if foot in self.feet:
                self.host.say("That is where it begins. Click another height.")
                return
            if not self.feet:
                self.begin()
            self.feet.append(foot)
            self.on_move(event)
            return
        a, b = self.feet
        x = round(self.host.snap(event.at, event.free)[0], 3)
        one = Dimension(id=numbered("dimension", ids_in_use(self.host.sheet)), a=a, b=b, x_m=x)
        self.abandon()
        made = self.host.commit("Measure a height", lambda s: edits.put_dimension(s, one), choose={one.id})
        if made and not event.shift:
            self.host.finished()

    def on_key(self, event: Event) -> None:
        """Enter is a click at the pointer."""
        self.on_press(Event("press", event.at, event.px, self.host.hit(event.at), event.modifiers, "left"))

    def _foot(self, event: Event) -> Foot:
        hit, sheet = event.hit, self.host.sheet
        if hit is None or event.free or hit.kind not in ("port", "part", "pipe"):
            at = self.host.snap(event.at, event.free)
            return Foot(x_m=at[0], height_m=at[1])
        if hit.kind == "port":
            return Foot(part=hit.id, port=hit.port)
        if hit.kind == "pipe":
            return self._on_pipe(hit)
        part = sheet.parts[hit.id]
        if not self.host.catalogue[part.kind].large:
            return Foot(part=part.id)
        _, low, _, high = box_of(part, self.host.catalogue)
        pocket = next((t.letter for t in part.tappings if self._near(event, part.height_m + t.height_m)), "")
        if pocket:
            return Foot(part=part.id, port=pocket)
        edge = min((low, high, (low + high) / 2), key=lambda z: abs(z - event.at[1]))
        return Foot(part=part.id, x_m=0.0, height_m=round(edge - part.height_m, 6))

    def _near(self, event: Event, height: float) -> bool:
        return abs(event.at[1] - height) <= self.host.reach_m

    def _on_pipe(self, hit: Hit) -> Foot:
        """The run of a pipe, by the port that gives it its height where it has one."""
        pipe = self.host.sheet.pipes[hit.id]
        line = polyline(self.host.sheet, pipe, self.host.catalogue)
        at = self.host.snap_on(hit)
        for end, port in ((pipe.a, line[0]), (pipe.b, line[-1])):
            if same(port[1], at[1]):
                return Foot(part=end.part, port=end.port)
        return Foot(x_m=round(at[0], 3), height_m=round(at[1], 6))
