"""How a picture of a report is drawn on a plotter: halo, floors, pipes, parts, labels, flags, a ruler of heights.

Owns the order and what is paled. Refuses to know back ends and what is shown.
"""

from __future__ import annotations

from collections.abc import Sequence

from loopwright.drawing.dimensions import draw_dimension
from loopwright.drawing.ink import FLOOR_UNITS, circle, draw_floors, draw_hops, draw_link, draw_part, draw_pipe, mixed
from loopwright.drawing.look import Dash, Look, Palette
from loopwright.drawing.plans import SheetPlan, StorePlan
from loopwright.drawing.plotter import Anchor, Plotter
from loopwright.drawing.store import draw_store
from loopwright.drawing.writing import draw_flag, draw_label
from loopwright.reports.model import Box, Picture

HALO_MM = 3.2
REST = 0.6
"""How much of its colour is left to what a picture is not about."""
RULER_PX = 10.5
WHITE = "#FFFFFF"


def _paper(look: Look) -> str:
    return WHITE if look.palette == "light" else look.colour("paper")


class Paled:
    """A plotter that mixes every colour with that of the paper."""

    def __init__(self, plot: Plotter, look: Look, share: float = REST) -> None:
        self._plot, self._look, self._share = plot, look, share

    def _pale(self, token: str) -> str:
        if not token or token == "paper":
            return token
        return mixed(self._look.colour(token), _paper(self._look), self._share)

    def line(
        self, points: Sequence[tuple[float, float]], token: str, mm: float, dash: Dash = (), closed: bool = False
    ) -> None:
        self._plot.line(points, self._pale(token), mm, dash, closed)

    def area(self, points: Sequence[tuple[float, float]], fill: str, edge: str = "", mm: float = 0.0) -> None:
        self._plot.area(points, self._pale(fill), self._pale(edge), mm)

    def text(
        self,
        x: float,
        y: float,
        words: str,
        px: float,
        weight: int = 400,
        token: str = "ink",
        turn: int = 0,
        anchor: Anchor = "middle",
        plate: str = "",
    ) -> None:
        self._plot.text(x, y, words, px, weight, token, turn, anchor, plate)

    def letter(self, x: float, y: float, words: str, size: float, token: str = "ink") -> None:
        self._plot.letter(x, y, words, size, self._pale(token))

    def push(self, title: str = "", kind: str = "") -> None:
        self._plot.push(title, kind)

    def pop(self) -> None:
        self._plot.pop()


class Broken(Paled):
    """A plotter for what was: pale, every line broken, nothing written."""

    BREAK: Dash = (3.0, 2.0)
    LEFT = 0.5

    def __init__(self, plot: Plotter, look: Look) -> None:
        super().__init__(plot, look, self.LEFT)

    def line(
        self, points: Sequence[tuple[float, float]], token: str, mm: float, dash: Dash = (), closed: bool = False
    ) -> None:
        super().line(points, "ink3" if token else token, mm, self.BREAK, closed)

    def area(self, points: Sequence[tuple[float, float]], fill: str, edge: str = "", mm: float = 0.0) -> None:
        if edge:
            self.line(points, edge, mm, closed=True)

    def text(self, *args: object, **more: object) -> None:
        """Nothing: the newer revision has the words."""

    def letter(self, *args: object, **more: object) -> None:
        """Nothing: the newer revision has the letters."""


def draw_picture(plot: Plotter, picture: Picture, box: Box | None = None, palette: Palette = "light") -> None:
    """A picture, or the piece of it in `box`. The back end clips; what lies wholly outside is not drawn."""
    look = Look.on_paper(picture.scale, palette)
    plan, lit = picture.plan, picture.lit
    room = box or picture.box
    rest: Plotter = Paled(plot, look) if lit else plot
    _halo(plot, look, picture)
    for whole in (True, False):  # the name of a floor that is cut by the edge would be cut too
        floors = [f for f in plan.floors if (room[1] <= f.y and f.y + FLOOR_UNITS <= room[3]) is whole]
        draw_floors(rest, look, floors, picture.box[0], picture.box[2], names=whole)
    if picture.under is not None:
        _beneath(Broken(plot, look), look, picture.under)
    for link in plan.links.values():
        draw_link(rest, look, link)
    pipes = {k: p for k, p in plan.pipes.items() if _touches(_bounds(p.points), room)}
    for pale in (True, False):  # what is lit lies over what is not
        for key, pipe in pipes.items():
            if (key in lit) is not pale:
                on = rest if key not in lit else plot
                on.push(f"{key} {pipe.words}", "pipe")
                draw_pipe(on, look, pipe)
                on.pop()
    for key, pipe in pipes.items():
        if pipe.hops:
            draw_hops(plot if key in lit else rest, look, pipe)
    for key, part in plan.parts.items():
        if _touches(part.box, room):
            on = plot if key in lit else rest
            on.push(part.name or key, "part")
            draw_part(on, look, part)
            on.pop()
    for key, store in plan.stores.items():
        if _touches(store.box, room):
            on = plot if key in lit else rest
            on.push(store.name or key, "store")
            draw_store(on, look, store)
            on.pop()
    for dimension in plan.dimensions.values():
        if _touches(dimension.box, room):
            draw_dimension(rest, look, dimension)
    if picture.ruler:
        for store in plan.stores.values():
            _ruler(plot, look, store)
    for label in picture.labels.words:
        if _touches(_about(label.at, label.size[0] * look.px, label.size[1] * look.px), room):
            draw_label(plot, look, label)
    for flag in picture.labels.flags:
        if _touches(_about(flag.at, 60 * look.px, 60 * look.px), room) or _touches(_about(flag.spot, 1, 1), room):
            draw_flag(plot, look, flag, flag.flag.number in picture.settled)


def _beneath(plot: Plotter, look: Look, plan: SheetPlan) -> None:
    """The lines of an older revision."""
    plot.push("the older revision", "under")
    for pipe in plan.pipes.values():
        draw_pipe(plot, look, pipe)
    for part in plan.parts.values():
        draw_part(plot, look, part)
    for store in plan.stores.values():
        draw_store(plot, look, store)
    plot.pop()


def _halo(plot: Plotter, look: Look, picture: Picture) -> None:
    """A broad soft line under each pipe that is lit, and ground round each part."""
    if not picture.lit:
        return
    token = f"{picture.severity}_soft" if picture.severity in ("danger", "fault", "advice") else "accent_soft"
    colour = mixed(look.colour(token.removesuffix("_soft")), _paper(look), 0.2)
    plan: SheetPlan = picture.plan
    half = HALO_MM / 2 * look.mm
    for key in sorted(picture.lit):
        if key in plan.pipes:
            points = plan.pipes[key].points
            plot.line(points, colour, HALO_MM)
            for at in points:  # round corners and ends, whatever the back end does at them
                plot.area(circle(at, half), colour)
        elif key in plan.parts and not plan.parts[key].large:
            x0, y0, x1, y1 = plan.parts[key].box
            plot.area(circle(((x0 + x1) / 2, (y0 + y1) / 2), max(half, (x1 - x0) / 2)), colour)
        elif key in plan.parts or key in plan.stores:
            x0, y0, x1, y1 = (plan.parts.get(key) or plan.stores[key]).box
            plot.area(
                [(x0 - half, y0 - half), (x1 + half, y0 - half), (x1 + half, y1 + half), (x0 - half, y1 + half)], colour
            )


def _ruler(plot: Plotter, look: Look, store: StorePlan) -> None:
    """Heights above the base, at the left of a store: a tick every tenth of a metre, a figure at each half."""
    x = store.box[0] - 7.0 * look.mm
    foot, top = store.base[1], store.top
    plot.line([(x, foot), (x, top)], "ink3", 0.2)
    steps = round((foot - top) / 10.0 + 0.49)
    every = 5 if look.mm < 4.5 else 10
    for k in range(steps + 1):
        y = foot - 10.0 * k
        if y < top - 0.5:
            break
        long = k % every == 0
        plot.line([(x - (1.6 if long else 0.8) * look.mm, y), (x, y)], "ink3", 0.2)
        if long:
            words = f"{k / 10:.1f}" if k else "0"
            plot.text(x - 2.4 * look.mm, y, words, RULER_PX, 400, "ink2", 0, "end")


def _bounds(points: Sequence[tuple[float, float]]) -> Box:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs), min(ys), max(xs), max(ys)


def _about(at: tuple[float, float], wide: float, high: float) -> Box:
    return at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2


def _touches(a: Box, b: Box) -> bool:
    return a[0] <= b[2] and b[0] <= a[2] and a[1] <= b[3] and b[1] <= a[3]
