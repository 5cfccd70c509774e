"""The whole drawing in its order, from the ground up, on any plotter.

Owns the order of drawing and the extent of a picture. Refuses to know back ends.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from loopwright.drawing.dimensions import draw_dimension
from loopwright.drawing.ink import FLOOR_UNITS, draw_floors, draw_hops, draw_link, draw_part, draw_pipe
from loopwright.drawing.labels import Labels, place_labels
from loopwright.drawing.look import Look
from loopwright.drawing.plan import Flag, SheetPlan
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.store import draw_store
from loopwright.drawing.writing import draw_flag, draw_label

MARGIN_PX = 60.0


Bounds = tuple[float, float, float, float]


def frame_of(plan: SheetPlan, look: Look, bounds: Bounds | None = None) -> Bounds:
    """The extent of a picture (left, top, right, bottom): all that is drawn, its floors, and room for
    labels. `bounds` are the plan's where they are known already."""
    x0, y0, x1, y1 = bounds or plan.bounds()
    room = MARGIN_PX * look.px
    near = [f.y for f in plan.floors if y0 - 60.0 <= f.y <= y1 + 60.0]
    return (
        x0 - room,
        min([y0, *near]) - room,
        x1 + room,
        max([y1, *(y + FLOOR_UNITS for y in near)]) + room / 2,
    )


def draw_sheet(
    plot: Plotter,
    look: Look,
    plan: SheetPlan,
    flags: Sequence[Flag] = (),
    labels: Labels | None = None,
    states: Mapping[str, str] | None = None,
) -> None:
    """Floors, pipes, hops, links, parts, stores, labels and flags. `states` as in `draw_pipe`, by id."""
    states = states or {}
    left, top, right, foot = frame_of(plan, look)
    written = labels if labels is not None else place_labels(plan, look, flags, floors=True)
    draw_floors(plot, look, [f for f in plan.floors if top <= f.y <= foot], left, right)
    for link in plan.links.values():
        draw_link(plot, look, link)
    for key, pipe in plan.pipes.items():
        plot.push(f"{key} {pipe.words}", "pipe")
        draw_pipe(plot, look, pipe, states.get(key, ""))
        plot.pop()
    for key, pipe in plan.pipes.items():
        if pipe.hops:
            draw_hops(plot, look, pipe, states.get(key, ""))
    for key, part in plan.parts.items():
        plot.push(part.name or key, "part")
        draw_part(plot, look, part, states.get(key, ""))
        plot.pop()
    for key, store in plan.stores.items():
        plot.push(store.name or key, "store")
        draw_store(plot, look, store, states.get(key, ""))
        plot.pop()
    for dimension in plan.dimensions.values():
        draw_dimension(plot, look, dimension)
    for label in written.words:
        draw_label(plot, look, label, states.get(label.owner) == "idle")
    for flag in written.flags:
        draw_flag(plot, look, flag, flag.flag.severity == "accepted")
