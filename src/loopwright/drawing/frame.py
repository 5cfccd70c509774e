"""What stands round a drawing on paper: the frame, the title block, a bar of scale, and the key of lines.

Owns their layout in millimetres of paper. Refuses to know pages of a back end: it is given the page's box in
drawing units.
"""

from __future__ import annotations

from collections.abc import Iterable

from loopwright.drawing.look import CONTROL, PX_A_MM, SERVICES, Look, Point, ServiceLook
from loopwright.drawing.plan import SheetPlan
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.widths import shortened, width_px

MARGIN_MM = 8.0
STRIP_MM = 12.0
"""Height of the strip at the foot of the frame."""
TITLE_MM, TITLE_SPLIT_MM = 84.0, 50.0
SAMPLE_MM, KEY_ROW_MM, KEY_GAP_MM = 11.0, 4.4, 5.0
NAME_MM, WORDS_MM = 3.0, 2.5
"""Sizes of text in print: names and everything else (at least these, so that a copy can be read)."""


def drawing_room_mm(page_mm: tuple[float, float]) -> tuple[float, float]:
    """Width and height left for the drawing on a page (width, height)."""
    return page_mm[0] - 2 * MARGIN_MM - 4.0, page_mm[1] - 2 * MARGIN_MM - STRIP_MM - 4.0


def services_used(plan: SheetPlan) -> list[ServiceLook]:
    """Looks of the services on a sheet, in the order of the key; control links last."""
    used = {pipe.service for pipe in plan.pipes.values() if not pipe.joint}
    out = [look for name, look in SERVICES.items() if name in used]
    return [*out, CONTROL] if plan.links else out


def draw_frame(
    plot: Plotter,
    look: Look,
    plan: SheetPlan,
    page: tuple[float, float, float, float],
    scale: float,
    page_name: str = "A3",
    sheet: str = "Sheet 1",
    revision: str = "",
) -> None:
    """The frame of a page given as (left, top, right, bottom) in drawing units; the drawing is at 1 :
    `scale`."""
    mm = look.mm
    left, top = page[0] + MARGIN_MM * mm, page[1] + MARGIN_MM * mm
    right, foot = page[2] - MARGIN_MM * mm, page[3] - MARGIN_MM * mm
    strip = foot - STRIP_MM * mm
    plot.push("Frame", "frame")
    plot.line([(left, top), (right, top), (right, foot), (left, foot)], "ink", 0.35, (), True)
    plot.line([(left, strip), (right, strip)], "ink", 0.35)
    title = right - TITLE_MM * mm
    split = title + TITLE_SPLIT_MM * mm
    for x in (title, split):
        plot.line([(x, strip), (x, foot)], "ink", 0.25)
    _title(plot, look, plan, (title, strip), scale, page_name, sheet, revision)
    bar = _scale_bar(plot, look, (title - 4 * mm, strip + STRIP_MM / 2 * mm), scale)
    draw_key(plot, look, services_used(plan), (left + 3 * mm, strip), bar - 4 * mm)
    plot.pop()


def draw_title_card(plot: Plotter, look: Look, plan: SheetPlan, corner: Point, scale: float) -> None:
    """The title block alone, with its top left at a corner: how a sheet without its page carries it."""
    mm = look.mm
    (x, y), wide, high = corner, TITLE_MM * mm, STRIP_MM * mm
    plot.push("Title block", "frame")
    plot.area([(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], "paper", "line2", 0.25)
    split = x + TITLE_SPLIT_MM * mm
    plot.line([(split, y), (split, y + high)], "line2", 0.25)
    _title(plot, look, plan, corner, scale, plan.block.page)
    plot.pop()


def _title(
    plot: Plotter,
    look: Look,
    plan: SheetPlan,
    corner: Point,
    scale: float,
    page_name: str,
    sheet: str = "Sheet 1",
    revision: str = "",
) -> None:
    """The words of the title block, with its top left at a corner."""
    mm = look.mm
    title, strip = corner
    split = title + TITLE_SPLIT_MM * mm
    upper, lower = strip + STRIP_MM * 0.31 * mm, strip + STRIP_MM * 0.71 * mm
    block, below = plan.block, lower
    if width_px(plan.title, NAME_MM * PX_A_MM, 600) <= (TITLE_SPLIT_MM - 3.0) * PX_A_MM:
        _words(plot, (title + 2 * mm, upper), plan.title, NAME_MM, 600)
    else:
        below = strip + STRIP_MM * 0.80 * mm
        for k, line in enumerate(_two_lines(plan.title, TITLE_SPLIT_MM - 3.0)):
            _words(plot, (title + 2 * mm, strip + STRIP_MM * (0.20 + 0.30 * k) * mm), line, WORDS_MM, 600)
    about = ", ".join(w for w in (block.drawing or "Pipework, section through the house", block.drawn_by) if w)
    _words(plot, (title + 2 * mm, below), _cut(about, TITLE_SPLIT_MM - 3.0), WORDS_MM, 400)
    _words(plot, (split + 2 * mm, upper), f"Scale 1 : {scale:g} on {page_name}", WORDS_MM, 500)
    revision = revision or block.revision
    given = [block.sheet or sheet, f"revision {revision}" if revision else "", block.date]
    room = TITLE_MM - TITLE_SPLIT_MM - 3.0
    _words(plot, (split + 2 * mm, lower), _cut(", ".join(w for w in given if w), room), WORDS_MM, 400)


def _two_lines(words: str, room_mm: float) -> list[str]:
    """A title on two lines, broken where they come out most alike, with an ellipsis for what has no room."""
    room = room_mm * PX_A_MM

    def wide(text: str) -> float:
        return width_px(text, WORDS_MM * PX_A_MM, 600)

    if wide(words) <= room:
        return [words]
    pieces = words.split(" ")
    breaks = [(" ".join(pieces[:k]), " ".join(pieces[k:])) for k in range(1, len(pieces))]
    both = [pair for pair in breaks if max(map(wide, pair)) <= room]
    if both:
        return list(min(both, key=lambda pair: max(map(wide, pair))))
    first = next((head for head, _ in reversed(breaks) if wide(head) <= room), "")
    first = first or next(words[:k] for k in range(len(words), 0, -1) if wide(words[:k]) <= room or k == 1)
    return [first, _cut(words[len(first) :].lstrip(), room_mm, 600)]


def _cut(words: str, room_mm: float, weight: int = 400) -> str:
    """As much of a line as fits at the size that can still be read, with an ellipsis for the rest."""
    return shortened(words, room_mm * PX_A_MM, lambda some: width_px(some, WORDS_MM * PX_A_MM, weight))


def _words(plot: Plotter, at: Point, words: str, size_mm: float, weight: int) -> None:
    plot.text(at[0], at[1], words, size_mm * PX_A_MM, weight, "ink", 0, "start")


def _scale_bar(plot: Plotter, look: Look, right_middle: Point, scale: float) -> float:
    """A bar of whole metres, its figures above; gives its left end."""
    mm = look.mm
    metres = max(1, round(40.0 * scale / 1000.0))
    x1, y = right_middle[0] - 3 * mm, right_middle[1] + 1.6 * mm
    x0 = x1 - metres * 100.0
    half = 0.7 * mm
    for k in range(metres):
        a, b = x0 + k * 100.0, x0 + (k + 1) * 100.0
        plot.area(
            [(a, y - half), (b, y - half), (b, y + half), (a, y + half)],
            "paper" if k % 2 else "ink",
            "ink",
            0.2,
        )
    for k in range(metres + 1):
        words = f"{k} m" if k == metres else str(k)
        plot.text(x0 + k * 100.0, y - 3.2 * mm, words, WORDS_MM * PX_A_MM, 400, "ink")
    return x0 - 2 * mm


def draw_key(plot: Plotter, look: Look, services: Iterable[ServiceLook], at: Point, right: float) -> None:
    """Samples of the lines with their names, in rows from `at` (the top of the strip) up to `right`."""
    mm = look.mm
    x, y = at[0], at[1] + 3.2 * mm
    for service in services:
        wide = width_px(service.words, WORDS_MM * PX_A_MM, 400) / PX_A_MM * mm
        if x + SAMPLE_MM * mm + 2 * mm + wide > right and x > at[0]:
            x, y = at[0], y + KEY_ROW_MM * mm
        end = x + SAMPLE_MM * mm
        plot.line([(x, y), (end, y)], service.token, service.mm, service.dash)
        if service.cased:
            plot.line([(x, y), (end, y)], "paper", service.mm * 0.32, tuple(d / 0.32 for d in service.dash))
        plot.text(end + 1.5 * mm, y, service.words, WORDS_MM * PX_A_MM, 400, "ink", 0, "start")
        x = end + 1.5 * mm + wide + KEY_GAP_MM * mm
