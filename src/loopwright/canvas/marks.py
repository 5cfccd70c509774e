"""Boxes, halos and handles: what shows that something is chosen, lit or moving, and how far things reach.

Owns these shapes in drawing units, worked out from plans. Refuses to know layers and items.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import pairwise
from typing import Any, Literal, NamedTuple

from loopwright.drawing.labels import FLAG_HALF_PX, Labels
from loopwright.drawing.look import Look, Point
from loopwright.drawing.plan import DimensionPlan, LinkPlan, NotePlan, PipePlan, StorePlan

UnitBox = tuple[float, float, float, float]
FLAG_ROOM_PX = FLAG_HALF_PX + 2.0
STORE_FRAME_PX = 17.0
MOVING, CHOSEN = 0.10, 0.16
"""Opacity of a halo round what moves and round what is chosen; one over the other where a pipe is both."""


class Halo(NamedTuple):
    """A halo round a line, or round a box given by two corners: its points, colour and opacity."""

    points: Sequence[Point]
    token: str
    opacity: float
    box: bool = False


class Marks(NamedTuple):
    """What to show by id: halos, selection boxes, vertices to take hold of."""

    halos: dict[str, Halo]
    boxes: dict[str, UnitBox]
    handles: dict[str, Sequence[Point]]


def marks_of(
    plans: Mapping[str, Any],
    chosen: Collection[str],
    lit: tuple[Collection[str], str],
    moving: Iterable[str],
    look: Look,
) -> Marks:
    """Marks of what is chosen, lit in a token's colour, and moving."""
    made = Marks({}, {}, {})
    ids, token = lit
    going = {key for key in moving if key in plans and key not in ids}
    for key in going.difference(chosen):
        made.halos[key] = Halo(plans[key].points, "accent", MOVING)
    for key in {*ids, *chosen}:
        plan = plans.get(key)
        if plan is None:
            continue
        colour = token if key in ids else "accent"
        if isinstance(plan, PipePlan | LinkPlan):
            opacity = 0.24 if key in ids else 1.0 - (1.0 - CHOSEN) * (1.0 - MOVING) if key in going else CHOSEN
            made.halos[key] = Halo(plan.points, colour, opacity)
            if key in chosen:
                made.handles[key] = plan.points
        elif isinstance(plan, DimensionPlan):
            made.halos[key] = Halo(plan.line, colour, CHOSEN)
        else:
            if key in ids:
                made.halos[key] = Halo(((plan.box[0], plan.box[1]), (plan.box[2], plan.box[3])), colour, CHOSEN, True)
            if key in chosen:
                made.boxes[key] = frame_of(plan, look)
    return made


def frame_of(plan: Any, look: Look) -> UnitBox:
    """The box that a selection is drawn round: outside the letters of a store."""
    x0, y0, x1, y1 = plan.box
    room = STORE_FRAME_PX * look.px if isinstance(plan, StorePlan) else 0.0
    return x0 - room, y0 - room, x1 + room, y1 + room


def note_box(note: NotePlan, labels: Labels, look: Look) -> UnitBox:
    """The box of a note's words where they stand."""
    label = next((w for w in labels.words if w.owner == note.id), None)
    x, y = label.at if label else note.at
    w, h = label.size if label else (40.0, 14.0)
    px = look.px
    return x - w / 2 * px, y - h / 2 * px, x + w / 2 * px, y + h / 2 * px


def hit_words(
    labels: Labels, notes: Mapping[str, NotePlan], look: Look
) -> dict[str, tuple[Literal["note", "dimension"], UnitBox]]:
    """Boxes of the words that are things by themselves: notes, and the figures of dimensions."""
    px = look.px
    out: dict[str, tuple[Literal["note", "dimension"], UnitBox]] = {
        key: ("note", note_box(note, labels, look)) for key, note in notes.items()
    }
    for label in labels.words:
        if label.kind == "dimension":
            (x, y), (w, h) = label.at, label.size
            out[label.owner] = ("dimension", (x - w / 2 * px, y - h / 2 * px, x + w / 2 * px, y + h / 2 * px))
    return out


def words_box(labels: Labels, look: Look) -> UnitBox | None:
    """The box round all words and flags; None where nothing is written."""
    return hull(word_boxes(labels, look))


def word_boxes(labels: Labels, look: Look) -> list[UnitBox]:
    """The box of each word and flag."""
    px = look.px
    boxes = [(*w.at, w.size[0] / 2 * px, w.size[1] / 2 * px) for w in labels.words]
    boxes += [(*f.at, FLAG_ROOM_PX * px, FLAG_ROOM_PX * px) for f in labels.flags]
    return [(x - w, y - h, x + w, y + h) for x, y, w, h in boxes]


def line_of_plan(plan: Any) -> tuple[Point, ...]:
    """The line of a pipe, control link or dimension; nothing for what has a body."""
    if isinstance(plan, PipePlan | LinkPlan):
        return tuple(plan.points)
    return plan.line if isinstance(plan, DimensionPlan) else ()


def boxes_of_plan(plan: Any) -> list[UnitBox]:
    """What a thing covers: its box, or one a run of its line."""
    runs = pairwise(line_of_plan(plan))
    return [(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1])) for a, b in runs] or [plan.box]


def box_round(plans: Iterable[Any]) -> UnitBox | None:
    """The box round some things; None for none."""
    boxes = []
    for plan in plans:
        if isinstance(plan, PipePlan | LinkPlan):
            xs, ys = zip(*plan.points)
            boxes.append((min(xs), min(ys), max(xs), max(ys)))
        elif isinstance(plan, NotePlan):
            boxes.append((*plan.at, *plan.at))
        else:
            boxes.append(plan.box)
    return hull(boxes)


def hull(boxes: Sequence[UnitBox]) -> UnitBox | None:
    """The box round some boxes; None for none."""
    if not boxes:
        return None
    left, top, right, foot = zip(*boxes)
    return min(left), min(top), max(right), max(foot)
