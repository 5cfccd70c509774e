"""Pieces of the drawing for a report: the window round a finding, the section of a store, the whole sheet in pages.

Owns what is cut out, at which scale, and what is written in it. Refuses to know back ends: `drawn` draws a picture on
any plotter.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from math import ceil

import msgspec

from loopwright.drawing.labels import Label, Labels, place_labels
from loopwright.drawing.look import Look, to_units
from loopwright.drawing.plans import Flag, PipePlan, SheetPlan
from loopwright.drawing.scene import frame_of
from loopwright.reports.model import Box, Paper, Picture, Plate

SCALES = (20.0, 25.0, 50.0)
"""Scales of the whole drawing; a sheet too large for the last is split over pages at it."""
PAGE_MM: Mapping[Paper, tuple[float, float]] = {"A4": (210.0, 297.0), "A3": (297.0, 420.0)}
MARGIN_MM = 15.0
PLATE_MARGIN_MM, STRIP_MM = 7.0, 11.0
"""Of a page that holds the drawing alone: its margin, and the strip at its foot with title, scale and key."""
OVERLAP_MM = 18.0
FINDING_SCALES = (
    20.0,
    25.0,
    30.0,
    40.0,
    50.0,
    60.0,
    75.0,
    90.0,
    100.0,
    125.0,
    150.0,
    200.0,
    300.0,
    500.0,
    1000.0,
    2000.0,
    5000.0,
    20000.0,
)
NAMED_TO = 150.0
"""Coarser pictures of the whole sheet name nothing."""
QUIET_FROM = 45.0
"""Coarser pictures than this name only what they are about, and large parts."""


def plate_room_mm(paper: Paper, upright: bool) -> tuple[float, float]:
    """Width and height for the drawing on a page of its own."""
    short, long = PAGE_MM[paper]
    wide, high = (short, long) if upright else (long, short)
    return wide - 2 * PLATE_MARGIN_MM, high - 2 * PLATE_MARGIN_MM - STRIP_MM


def plate(plan: SheetPlan, flags: Sequence[Flag], paper: Paper) -> Plate:
    """The whole sheet at the largest usual scale that fits a page; else split over the fewest pages at the last."""
    for scale in SCALES:
        picture = _whole(plan, flags, scale)
        wide, high = picture.size_mm
        for upright in (False, True):
            room = plate_room_mm(paper, upright)
            if wide <= room[0] and high <= room[1]:
                return Plate(picture=picture, tiles=(picture.box,), across=1, upright=upright)
    picture = _whole(plan, flags, SCALES[-1])
    ways = [(_tiles(picture, plate_room_mm(paper, upright)), upright) for upright in (False, True)]
    (tiles, across), upright = min(ways, key=lambda w: len(w[0][0]))
    return Plate(picture=picture, tiles=tiles, across=across, upright=upright)


def _whole(plan: SheetPlan, flags: Sequence[Flag], scale: float) -> Picture:
    """Everything, with as much room round it as what is written there takes."""
    look = Look.on_paper(scale)
    labels = place_labels(plan, look, flags, floors=True)
    frame = frame_of(plan, look)
    return Picture(plan=plan, box=_inked(plan, labels, look, frame), scale=scale, labels=labels)


def _inked(plan: SheetPlan, labels: Labels, look: Look, frame: Box) -> Box:
    """The extent of what is drawn and written, and 3 mm round it; the floors take their names into it."""
    room = 3.0 * look.mm
    boxes = [plan.bounds(), *(_label_box(label, look) for label in labels.words)]
    boxes += [(x - 17 * look.px, y - 17 * look.px, x + 17 * look.px, y + 17 * look.px) for x, y in
              (place.at for place in labels.flags)]  # fmt: skip
    slabs = [f.y for f in plan.floors if frame[1] <= f.y <= frame[3]]
    left, top = min(b[0] for b in boxes), min([*(b[1] for b in boxes), *slabs])
    right, foot = max(b[2] for b in boxes), max([*(b[3] for b in boxes), *(y + 20.0 for y in slabs)])
    return left - max(room, min(left - frame[0], 9.0 * look.mm)), top - room, right + room, foot + room


def _label_box(label: Label, look: Look) -> Box:
    half_w, half_h = label.size[0] / 2 * look.px, label.size[1] / 2 * look.px
    return label.at[0] - half_w, label.at[1] - half_h, label.at[0] + half_w, label.at[1] + half_h


def _tiles(picture: Picture, room_mm: tuple[float, float]) -> tuple[tuple[Box, ...], int]:
    """Pieces of a picture that fill a page each, of one size, overlapping by at least OVERLAP_MM; row by row."""
    mm = picture.scale / 10.0
    x0, y0, x1, y1 = picture.box

    def cuts(low: float, high: float, room: float) -> list[tuple[float, float]]:
        size, lap = high - low, OVERLAP_MM * mm
        count = 1 if size <= room else ceil((size - lap) / (room - lap))
        piece = (size + lap * (count - 1)) / count
        return [(low + k * (piece - lap), low + k * (piece - lap) + piece) for k in range(count)]

    columns, rows = cuts(x0, x1, room_mm[0] * mm), cuts(y0, y1, room_mm[1] * mm)
    return tuple((a, c, b, d) for c, d in rows for a, b in columns), len(columns)


def overview(plan: SheetPlan, flags: Sequence[Flag], room_mm: tuple[float, float]) -> Picture:
    """The whole sheet in small: large parts named, flags numbered, no sizes."""
    parts = {k: p if p.large else msgspec.structs.replace(p, name="") for k, p in plan.parts.items()}
    bare = msgspec.structs.replace(plan, parts=parts, notes={}, links={}, dimensions={})
    for scale in FINDING_SCALES:
        look = Look.on_paper(scale)
        x0, y0, x1, y1 = _inked(bare, Labels(), look, frame_of(bare, look))
        margin = 9.0 * look.mm  # for names and flags at the edge
        box = (x0 - margin, y0 - margin, x1 + margin, y1 + margin)
        if (box[2] - box[0]) * 10.0 / scale <= room_mm[0] and (box[3] - box[1]) * 10.0 / scale <= room_mm[1]:
            break
    spare = max(0.0, room_mm[0] * scale / 10.0 - (box[2] - box[0])) / 2
    box = (box[0] - spare, box[1], box[2] + spare, box[3])
    labels = place_labels(bare, look, flags, floors=True)
    words = tuple(w for w in labels.words if w.kind == "name" and scale <= NAMED_TO)
    labels = _kept(Labels(words, labels.flags), box, look)
    return Picture(plan=bare, box=box, scale=scale, labels=labels, caption="The whole sheet")


def fitted(
    plan: SheetPlan,
    flags: Sequence[Flag],
    room_mm: tuple[float, float],
    lit: Collection[str] = (),
    severity: str = "",
    caption: str = "",
) -> Picture:
    """The whole of a small sheet with all its words, as large as the room allows."""
    for scale in FINDING_SCALES:
        picture = _whole(plan, flags, scale)
        if picture.size_mm[0] <= room_mm[0] and picture.size_mm[1] <= room_mm[1]:
            break
    return msgspec.structs.replace(picture, lit=frozenset(lit), severity=severity, caption=caption)


# ---- a window on the sheet


def window(
    plan: SheetPlan,
    lit: Collection[str],
    spot_m: tuple[float, float] | None,
    flag: Flag | None,
    room_mm: tuple[float, float],
    severity: str = "",
    caption: str = "",
) -> Picture | None:
    """The surroundings of what is lit, as wide as the room and no higher. None where nothing of it is drawn.

    The flag is never left out, however crowded it is there.
    """
    of = _extent(plan, lit, spot_m)
    if of is None:
        return None
    margin_mm = 11.0  # for a flag beside the outermost thing
    for scale in FINDING_SCALES:
        mm = scale / 10.0
        wide, high = of[2] - of[0] + 2 * margin_mm * mm, of[3] - of[1] + 2 * margin_mm * mm
        if wide <= room_mm[0] * mm and high <= room_mm[1] * mm:
            break
    box = _widened(of, room_mm[0] * mm, min(room_mm[1] * mm, max(high, room_mm[0] * mm * 0.62)), plan.bounds(), mm)
    look = Look.on_paper(scale)
    near = _within(plan, box, lit if scale > QUIET_FROM else None)
    labels = _kept(place_labels(near, look, (flag,) if flag else (), floors=True), box, look)
    return Picture(
        plan=near, box=box, scale=scale, labels=labels, caption=caption, lit=frozenset(lit), severity=severity
    )


def _extent(plan: SheetPlan, lit: Iterable[str], spot_m: tuple[float, float] | None) -> Box | None:
    xs: list[float] = []
    ys: list[float] = []
    for key in lit:
        thing = plan.parts.get(key) or plan.stores.get(key)
        if thing is not None:
            xs += [thing.box[0], thing.box[2]]
            ys += [thing.box[1], thing.box[3]]
        elif key in plan.pipes:
            xs += [x for x, _ in plan.pipes[key].points]
            ys += [y for _, y in plan.pipes[key].points]
    if spot_m is not None:
        x, y = to_units(spot_m)
        xs, ys = [*xs, x - 60.0, x + 60.0], [*ys, y - 60.0, y + 60.0]
    return (min(xs), min(ys), max(xs), max(ys)) if xs else None


def _widened(of: Box, wide: float, high: float, whole: Box, mm: float) -> Box:
    """A box of that size about another one, moved so that it shows drawing rather than nothing at all."""
    out = []
    for low, high_, size, first, last in (
        (of[0], of[2], wide, whole[0], whole[2]),
        (of[1], of[3], high, whole[1], whole[3]),
    ):
        start = (low + high_ - size) / 2
        room = 13.0 * mm
        if last - first + 2 * room > size:
            start = min(max(start, first - room), last + room - size)
            start = min(max(start, high_ + min(room, 11.0 * mm) - size), low - min(room, 11.0 * mm))
        out.append((start, start + size))
    return out[0][0], out[1][0], out[0][1], out[1][1]


def _within(plan: SheetPlan, box: Box, named: Collection[str] | None) -> SheetPlan:
    """What of a plan touches a box. With `named`, small fittings that are not in it lose their names."""

    def touches(b: Box) -> bool:
        return b[0] <= box[2] and box[0] <= b[2] and b[1] <= box[3] and box[1] <= b[3]

    def bounds(pipe: PipePlan) -> Box:
        xs, ys = [x for x, _ in pipe.points], [y for _, y in pipe.points]
        return min(xs), min(ys), max(xs), max(ys)

    parts = {k: p for k, p in plan.parts.items() if touches(p.box)}
    if named is not None:
        parts = {k: p if p.large or k in named else msgspec.structs.replace(p, name="") for k, p in parts.items()}
    return SheetPlan(
        plan.title,
        {k: p for k, p in plan.pipes.items() if touches(bounds(p))},
        parts,
        {k: s for k, s in plan.stores.items() if touches(s.box)},
        {},
        {k: n for k, n in plan.notes.items() if _inside(n.at, box, 0.0)},
        tuple(f for f in plan.floors if box[1] - 20.0 < f.y < box[3]),
        {k: d for k, d in plan.dimensions.items() if touches(d.box)},
    )


def _inside(at: tuple[float, float], box: Box, margin: float) -> bool:
    return box[0] + margin <= at[0] <= box[2] - margin and box[1] + margin <= at[1] <= box[3] - margin


def _kept(labels: Labels, box: Box, look: Look) -> Labels:
    """Only words that are wholly inside."""

    def whole(label: Label) -> bool:
        b = _label_box(label, look)
        return box[0] <= b[0] and b[2] <= box[2] and box[1] <= b[1] and b[3] <= box[3]

    inset = 4.5 * look.mm
    flags = tuple(
        msgspec.structs.replace(
            f, at=(_within_room(f.at[0], box[0], box[2], inset), _within_room(f.at[1], box[1], box[3], inset))
        )
        for f in labels.flags
    )
    return Labels(tuple(w for w in labels.words if whole(w)), flags)


def _within_room(value: float, low: float, high: float, inset: float) -> float:
    return min(max(value, low + inset), high - inset)


# ---- a store


def store_picture(plan: SheetPlan, key: str, room_mm: tuple[float, float]) -> Picture:
    """A store alone, with the letters of its tappings, its stubs, coils and insulation."""
    store = plan.stores[key]
    x0, y0, x1, y1 = store.box
    for scale in (10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 100.0, 200.0):
        mm = scale / 10.0
        box = (x0 - 17.0 * mm, y0 - 7.0 * mm, x1 + 9.0 * mm, y1 + 7.0 * mm)
        if box[2] - box[0] <= room_mm[0] * mm and box[3] - box[1] <= room_mm[1] * mm:
            break
    spare = max(0.0, room_mm[0] * mm - (box[2] - box[0])) / 2
    box = (box[0] - spare, box[1], box[2] + spare, box[3])
    bare = msgspec.structs.replace(store, name="", detail="")
    alone = SheetPlan(plan.title, {}, {}, {key: bare}, {}, {}, ())
    labels = place_labels(alone, Look.on_paper(scale))
    return Picture(plan=alone, box=box, scale=scale, labels=labels, ruler=True)
