"""The dimension tool: click two things whose difference of height or width matters, then where the line stands.

Owns these three states. Knows no Qt.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from loopwright.canvas.tools.base import Event, Hit, Line, Overlay, Ring, Tool
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.dimensions import foot_at
from loopwright.sheet.geometry import polyline
from loopwright.sheet.plane import same
from loopwright.sheet.ports import box_of
from loopwright.sheet.values import Dimension, Foot, Point

LINE_MM = 0.35
EDGE_M = 0.4
"""How far the guide of an edge reaches past the part."""


@dataclass
class DimensionTool(Tool):
    """Measures heights and widths between ports, parts and their edges, pipes, floors and any places. A foot on a part
    or a pipe goes with it."""

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
            what = "width" if self._wide(event) else "height"
            self.host.say(f"Click where the line of this {what} should stand; above or below measures the width.")
            self._show(placed[0], placed[1], event)
            return
        here = foot_at(sheet, self._foot(event), catalogue) or event.at
        if not placed:
            self.host.say("Click the first end: a port, a part or its edge, a pipe, a floor or a free place.")
            words = f"height {here[1]:.2f} m"
            self.host.show(Overlay(self._edges(event), (Ring(here, "takes"),), words=words, words_at=event.at))
            return
        self.host.say("Click the second end.")
        self._show(placed[0], here, event)

    def _wide(self, event: Event) -> bool:
        """Whether the line at the pointer would measure the width: the pointer is above or below both feet and between
        them, or the feet stand at one height."""
        a, b = (foot_at(self.host.sheet, f, self.host.catalogue) or (0.0, 0.0) for f in (self.feet[0], self.feet[-1]))
        if len(self.feet) < 2:
            b = event.at
        if same(a[1], b[1]) or same(a[0], b[0]):
            return same(a[1], b[1])
        between = min(a[0], b[0]) < event.at[0] < max(a[0], b[0])
        return between and not min(a[1], b[1]) <= event.at[1] <= max(a[1], b[1])

    def _edges(self, event: Event) -> tuple[Line, ...]:
        """A guide along the edge of a large part that a foot would stand on."""
        hit = event.hit
        if hit is None or hit.kind != "part" or event.free or not self._large(hit.id):
            return ()
        x0, z0, x1, z1 = box_of(self.host.sheet.parts[hit.id], self.host.catalogue)
        at = foot_at(self.host.sheet, self._foot(event), self.host.catalogue) or event.at
        if any(same(at[1], z) for z in (z0, z1)):
            return (Line(((x0 - EDGE_M, at[1]), (x1 + EDGE_M, at[1])), "accent", True, LINE_MM / 2),)
        if any(same(at[0], x) for x in (x0, x1)):
            return (Line(((at[0], z0 - EDGE_M), (at[0], z1 + EDGE_M)), "accent", True, LINE_MM / 2),)
        return ()

    def _show(self, a: Point, b: Point, event: Event) -> None:
        wide = self._wide(event) if len(self.feet) == 2 else same(a[1], b[1])
        x, z = self.host.snap(event.at, event.free)
        if len(self.feet) < 2:
            x, z = b
        start, end = ((a[0], z), (b[0], z)) if wide else ((x, a[1]), (x, b[1]))
        lines = (
            Line((a, start), "accent", False, LINE_MM / 2),
            Line((b, end), "accent", False, LINE_MM / 2),
            Line((start, end), "accent", False, LINE_MM),
        )
        words = f"{abs(a[0] - b[0]) if wide else abs(a[1] - b[1]):.2f} m{' wide' if wide else ''}"
        rings = (Ring(a), Ring(b, "takes"))
        self.host.show(Overlay((*lines, *self._edges(event)), rings, words=words, words_at=event.at))

    def on_press(self, event: Event) -> None:
        """Take a foot, or put the line there."""
        if event.button != "left":
            return
        if len(self.feet) < 2:
            foot = self._foot(event)
            if foot in self.feet:
                self.host.say("That is where it begins. Click another place.")
                return
            if not self.feet:
                self.begin()
            self.feet.append(foot)
            self.on_move(event)
            return
        a, b = self.feet
        x, z = (round(c, 3) for c in self.host.snap(event.at, event.free))
        wide = self._wide(event)
        ident = numbered("dimension", ids_in_use(self.host.sheet))
        one = Dimension(id=ident, a=a, b=b, x_m=x, level_m=z if wide else None)
        self.abandon()
        label = "Measure a width" if wide else "Measure a height"
        made = self.host.commit(label, lambda s: edits.put_dimension(s, one), choose={one.id})
        if made and not event.shift:
            self.host.finished()

    def on_key(self, event: Event) -> None:
        """Enter is a click at the pointer."""
        self.on_press(self.clicked(event))

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
        if not self._large(part.id):
            return Foot(part=part.id)
        x0, z0, x1, z1 = box_of(part, self.host.catalogue)
        pocket = next((t.letter for t in part.tappings if self._near(event, part.height_m + t.height_m)), "")
        if pocket:
            return Foot(part=part.id, port=pocket)
        sides = {abs(x - event.at[0]): x for x in (x0, x1)}
        ends = {abs(z - event.at[1]): z for z in (z0, z1, (z0 + z1) / 2)}
        if min(sides) < min(ends) and min(sides) <= 2 * self.host.reach_m:
            at = self.host.snap(event.at)
            height = min(max(at[1], z0), z1) - part.height_m
            return Foot(part=part.id, x_m=round(sides[min(sides)] - part.x_m, 6), height_m=round(height, 6))
        return Foot(part=part.id, x_m=0.0, height_m=round(ends[min(ends)] - part.height_m, 6))

    def _large(self, part: str) -> bool:
        return self.host.catalogue[self.host.sheet.parts[part].kind].large

    def _near(self, event: Event, height: float) -> bool:
        return abs(event.at[1] - height) <= self.host.reach_m

    def _on_pipe(self, hit: Hit) -> Foot:
        """The run of a pipe, which the foot goes with."""
        pipe = self.host.sheet.pipes[hit.id]
        line = polyline(self.host.sheet, pipe, self.host.catalogue)
        at = self.host.snap_on(hit)
        if not 0 <= hit.run < len(line) - 1:
            return Foot(x_m=round(at[0], 3), height_m=round(at[1], 6))
        a, b = line[hit.run], line[hit.run + 1]
        run: Literal["level", "upright"] = "level" if abs(a[1] - b[1]) <= abs(a[0] - b[0]) else "upright"
        return Foot(pipe=pipe.id, run=run, x_m=round(at[0], 6), height_m=round(at[1], 6))
