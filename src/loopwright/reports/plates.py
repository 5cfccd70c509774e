"""What stands round the drawing on a page of its own: a frame, and a strip with key of lines, bar of scale and title.

Owns the layout in millimetres of paper, and the map that says which piece of a large sheet a page shows. Refuses to
know back ends.
"""

from __future__ import annotations

from loopwright.drawing.frame import services_used
from loopwright.drawing.look import PX_A_MM, Look, ServiceLook
from loopwright.drawing.plotter import Plotter
from loopwright.drawing.widths import shortened, width_px
from loopwright.reports.model import Box, Plate
from loopwright.reports.pictures import OVERLAP_MM, PLATE_MARGIN_MM, STRIP_MM

TITLE_MM, SPLIT_MM = 92.0, 56.0
BAR_MM = 41.0
SMALL_MM, NAME_MM = 2.3, 2.9
LEAST = 0.72
"""Words are set smaller down to this share of their size; then they are cut."""


def draw_round(plot: Plotter, plate: Plate, tile: int, page: Box, title: str, revision: str, number: str) -> None:
    """Frame and strip of a page given as a box in drawing units, with `tile` of the plate on it."""
    look = Look.on_paper(plate.picture.scale)
    mm = look.mm
    left, top = page[0] + PLATE_MARGIN_MM * mm, page[1] + PLATE_MARGIN_MM * mm
    right, foot = page[2] - PLATE_MARGIN_MM * mm, page[3] - PLATE_MARGIN_MM * mm
    strip = foot - STRIP_MM * mm
    plot.area([(left, strip), (right, strip), (right, foot), (left, foot)], "#FFFFFF")
    plot.line([(left, top), (right, top), (right, foot), (left, foot)], "ink", 0.35, (), True)
    plot.line([(left, strip), (right, strip)], "ink", 0.35)
    begin = right - TITLE_MM * mm
    split = begin + SPLIT_MM * mm
    for x in (begin, split):
        plot.line([(x, strip), (x, foot)], "ink", 0.25)
    upper, lower = strip + 3.6 * mm, strip + 7.7 * mm
    _words(plot, (begin + 2 * mm, upper), title, NAME_MM, 600, SPLIT_MM - 4.0)
    _words(plot, (begin + 2 * mm, lower), "Section through the house" + (f", revision {revision}" if revision else ""),
           SMALL_MM, 400, SPLIT_MM - 4.0)  # fmt: skip
    _words(plot, (split + 2 * mm, upper), f"Scale 1 : {plate.picture.scale:g}", SMALL_MM, 500)
    _words(plot, (split + 2 * mm, lower), number, SMALL_MM, 400)
    at = begin - (BAR_MM + 4.0) * mm
    _bar(plot, look, at, strip + 7.0 * mm, plate.picture.scale)
    if len(plate.tiles) > 1:
        at -= _map(plot, look, plate, tile, at - 3.0 * mm, strip) + 5.0 * mm
        _matches(plot, look, plate, tile)
    _key(plot, look, services_used(plate.picture.plan), (left + 3 * mm, strip), at - 4.0 * mm)


def _words(
    plot: Plotter, at: tuple[float, float], words: str, size_mm: float, weight: int, room_mm: float = 0.0
) -> None:
    px = size_mm * PX_A_MM
    wide = width_px(words, px, weight) / PX_A_MM
    if room_mm and wide > room_mm:
        px *= max(LEAST, room_mm / wide)
        if wide * LEAST > room_mm:
            words = shortened(words, room_mm, lambda some: width_px(some, px, weight) / PX_A_MM)
    plot.text(at[0], at[1], words, px, weight, "ink", 0, "start")


def _key(plot: Plotter, look: Look, services: list[ServiceLook], at: tuple[float, float], right: float) -> None:
    """Samples of the lines with their names in columns, up to three in a column."""
    mm = look.mm
    rows = 2 if len(services) <= 6 else 3
    columns = -(-len(services) // rows)
    wide = min((right - at[0]) / max(1, columns), 36.0 * mm)
    pitch = STRIP_MM / (rows + 0.45)
    for k, service in enumerate(services):
        column, row = divmod(k, rows)
        x, y = at[0] + wide * column, at[1] + (pitch * (row + 0.72)) * mm
        end = x + 9.0 * mm
        plot.line([(x, y), (end, y)], service.token, service.mm, service.dash)
        if service.cased:
            plot.line([(x, y), (end, y)], "#FFFFFF", service.mm * 0.32, tuple(d / 0.32 for d in service.dash))
        plot.text(end + 1.5 * mm, y, service.words, SMALL_MM * PX_A_MM, 400, "ink", 0, "start")


def _bar(plot: Plotter, look: Look, x: float, y: float, scale: float) -> None:
    """A bar of whole metres with its figures above; of parts of a metre where not one has room."""
    mm = look.mm
    step = next((s for s in (1.0, 0.5, 0.2) if s * 1000.0 / scale <= BAR_MM), 0.1)
    count = max(1, int(BAR_MM * scale / 1000.0 / step + 1e-9))
    half = 0.6 * mm
    for k in range(count):
        a, b = x + k * step * 100.0, x + (k + 1) * step * 100.0
        plot.area(
            [(a, y - half), (b, y - half), (b, y + half), (a, y + half)], "#FFFFFF" if k % 2 else "ink", "ink", 0.2
        )
    for k in range(count + 1):
        words = f"{k * step:g} m" if k == count else f"{k * step:g}"
        plot.text(x + k * step * 100.0, y - 2.8 * mm, words, SMALL_MM * PX_A_MM)


def _map(plot: Plotter, look: Look, plate: Plate, tile: int, right: float, strip: float) -> float:
    """The pieces of the sheet in small, this one filled; gives the width."""
    mm = look.mm
    rows = len(plate.tiles) // plate.across
    wide, high = min(7.0, 30.0 / plate.across) * mm, min(4.2, 8.4 / rows) * mm
    top = strip + (STRIP_MM * mm - high * rows) / 2
    left = right - wide * plate.across
    for k in range(len(plate.tiles)):
        x, y = left + wide * (k % plate.across), top + high * (k // plate.across)
        here = k == tile
        plot.area(
            [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)], "ink2" if here else "#FFFFFF", "ink", 0.2
        )
        if high >= 2.6 * mm:
            plot.text(x + wide / 2, y + high / 2, str(k + 1), 9.0, 600, "#FFFFFF" if here else "ink")
    return wide * plate.across


def _matches(plot: Plotter, look: Look, plate: Plate, tile: int) -> None:
    """A dashed line in the middle of each overlap, with the piece that goes on there."""
    x0, y0, x1, y1 = plate.tiles[tile]
    row, column = divmod(tile, plate.across)
    lap = OVERLAP_MM * look.mm / 2
    rows = len(plate.tiles) // plate.across
    dash = (12.0, 8.0)
    for goes, next_, a, b in (
        (column > 0, tile - 1, (x0 + lap, y0), (x0 + lap, y1)),
        (column + 1 < plate.across, tile + 1, (x1 - lap, y0), (x1 - lap, y1)),
        (row > 0, tile - plate.across, (x0, y0 + lap), (x1, y0 + lap)),
        (row + 1 < rows, tile + plate.across, (x0, y1 - lap), (x1, y1 - lap)),
    ):
        if goes:
            plot.line([a, b], "ink3", 0.2, dash)
            upright = a[0] == b[0]
            at = (a[0], a[1] + 16.0 * look.mm) if upright else (a[0] + 16.0 * look.mm, a[1])
            plot.text(
                *at, f"goes on in piece {next_ + 1}", SMALL_MM * PX_A_MM, 400, "ink2", int(upright), "middle", "paper"
            )
