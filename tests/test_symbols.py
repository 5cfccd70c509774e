"""Symbols: paths against geometry and QtSvg, shipped drawings against their kinds, hostile files refused."""

from __future__ import annotations

import math
import os
import re
from pathlib import Path

import numpy as np
import pytest
from shapely.geometry import LineString, MultiPoint, Point, Polygon
from shapely.ops import unary_union
from shapely.validation import make_valid

from loopwright.catalogue.kinds import Kind
from loopwright.catalogue.reader import standard_catalogue
from loopwright.drawing.svg_paths import ellipse, flatten, numbers, rounded_box
from loopwright.drawing.symbols import FULL_BOX, Shape, Symbol, parse_symbol, read_symbol, symbol
from loopwright.errors import KindError
from loopwright.resources import resource_root

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="-12 -12 24 24" fill="none" stroke="currentColor">'
FILES = sorted((resource_root() / "symbols").glob("*.svg"))
KINDS = list(standard_catalogue())


def drawing(inside: str) -> bytes:
    return f"{HEAD}{inside}</svg>".encode()


def ink(shape: Shape) -> Polygon:
    """What a shape covers with its line: half its stroke either side."""
    ring = [*shape.points, shape.points[0]] if shape.closed else list(shape.points)
    return LineString(ring).buffer(max(shape.stroke, 0.01) / 2)


# ---- path data: figures from plane geometry


def area(line: tuple[tuple[float, float], ...]) -> float:
    return Polygon(line).area


def test_two_arcs_make_a_circle() -> None:
    """Area of a circle, pi r^2 (plane geometry)."""
    [(line, closed)] = flatten("M-5,0 A5,5 0 0 1 5,0 A5 5 0 0 1 -5 0 Z", 0.001)
    assert closed
    assert area(line) == pytest.approx(math.pi * 25, rel=1e-3)
    assert all(math.hypot(x, y) == pytest.approx(5.0) for x, y in line)


@pytest.mark.parametrize(
    ("large", "sweep", "middle"),
    [
        (0, 0, (3.0 - 3.0 * math.sqrt(0.5), 3.0 - 3.0 * math.sqrt(0.5))),
        (0, 1, (3.0 * math.sqrt(0.5), 3.0 * math.sqrt(0.5))),
        (1, 0, (-3.0 * math.sqrt(0.5), -3.0 * math.sqrt(0.5))),
        (1, 1, (3.0 + 3.0 * math.sqrt(0.5), 3.0 + 3.0 * math.sqrt(0.5))),
    ],
)
def test_arc_flags(large: int, sweep: int, middle: tuple[float, float]) -> None:
    """The four arcs of radius 3 from (3, 0) to (0, 3), about (0, 0) and (3, 3): SVG 1.1 section 8.3.8."""
    [(line, _)] = flatten(f"M3,0A3,3 0 {large} {sweep} 0,3", 0.0005)
    assert line[-1] == (0.0, 3.0)
    # Of the two centres the flags choose one; positive sweep turns x towards y.
    centre = (0.0, 0.0) if large == (0 if sweep else 1) else (3.0, 3.0)
    assert all(math.dist(p, centre) == pytest.approx(3.0) for p in line)
    assert MultiPoint(line).distance(Point(middle)) < 0.06


def test_turned_ellipse_arc() -> None:
    """A half ellipse 4 by 2 turned a quarter stands on end: pi a b / 2 (plane geometry)."""
    [(line, _)] = flatten("M0,-4 A4,2 90 0 1 0,4 Z", 0.001)
    assert area(line) == pytest.approx(math.pi * 4 * 2 / 2, rel=2e-3)
    assert max(x for x, _ in line) == pytest.approx(2.0, abs=0.01)


def test_radii_too_small_are_stretched() -> None:
    """SVG 1.1 appendix F.6.6: radii that cannot reach are scaled up until they just do."""
    [(line, _)] = flatten("M-5,0A1,1 0 0 1 5,0", 0.001)
    assert all(math.hypot(x, y) == pytest.approx(5.0) for x, y in line)


def test_quadratic_is_a_parabola() -> None:
    """Area under a parabola is two thirds of its box (Archimedes)."""
    [(line, _)] = flatten("M0,0 Q3,6 6,0 Z", 0.0005)
    assert area(line) == pytest.approx(2 / 3 * 6 * 3, rel=1e-3)


def test_cubic_middle_and_smooth_handle() -> None:
    """De Casteljau at one half: (p0 + 3 p1 + 3 p2 + p3) / 8. S mirrors the last handle (SVG 1.1, 8.3.6)."""
    [(plain, _)] = flatten("M0,0 C0,4 4,4 4,0 C4,-4 8,-4 8,0", 0.001)
    [(smooth, _)] = flatten("M0,0 C0,4 4,4 4,0 S8,-4 8,0", 0.001)
    [(relative, _)] = flatten("m0,0 c0,4 4,4 4,0 s4,-4 4,0", 0.001)
    assert MultiPoint(plain).distance(Point(2.0, 3.0)) < 0.05
    for other in (smooth, relative):
        assert np.allclose(other, plain)


def test_relative_equals_absolute() -> None:
    absolute = flatten("M1,2 L4,2 H6 V5 Q7,6 8,5 A1,2 0 0 1 10,5 Z M0,0 L1,1", 0.01)
    relative = flatten("m1 2l3 0h2v3q1 1 2 0a1 2 0 012 0zm-1-2l1 1", 0.01)
    assert [closed for _, closed in relative] == [closed for _, closed in absolute] == [True, False]
    for (a, _), (b, _) in zip(absolute, relative):
        assert np.allclose(a, b)


def test_pairs_after_a_move_are_lines_and_a_close_returns() -> None:
    lines = flatten("M0,0 1,0 1,1 z l-1,0", 0.01)
    assert lines == [(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)), True), (((0.0, 0.0), (-1.0, 0.0)), False)]


def test_numbers_may_touch() -> None:
    assert numbers("1-2.5.5,3e1") == [1.0, -2.5, 0.5, 30.0]


def test_boxes_and_ellipses() -> None:
    """A rounded box lacks (4 - pi) r^2 of its area; an ellipse has pi a b (plane geometry)."""
    rounded = 60 - (4 - math.pi) * 2**2
    assert area(rounded_box((0, 0), (10, 6), (2, 2), 0.001)) == pytest.approx(rounded, rel=1e-3)
    assert area(rounded_box((0, 0), (10, 6), (0, 0), 0.001)) == 60
    assert area(ellipse((1, 2), (5, 3), 0.001)) == pytest.approx(math.pi * 15, rel=1e-3)


@pytest.mark.parametrize(
    "bad",
    [
        "",
        "5 5",
        "L1,1",
        "M1",
        "M0,0 L1",
        "M0,0 A1,1 0 2 1 3,3",
        "M0,0 T3,3",
        "M0,0 L1,x",
        "M0,0 url(#a)",
    ],
)
def test_bad_path_data_refused(bad: str) -> None:
    with pytest.raises(KindError):
        parse_symbol(drawing(f'<path d="{bad}"/>'))


# ---- whole drawings against QtSvg, a reader of SVG that is not ours


def covered(data: bytes, pixels: int = 600) -> float:
    """Share of the viewbox that QtSvg inks, black on white."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtGui import QImage, QPainter
    from PySide6.QtSvg import QSvgRenderer

    renderer = QSvgRenderer(data.replace(b"currentColor", b"#000000"))
    assert renderer.isValid()
    image = QImage(pixels, pixels, QImage.Format.Format_Grayscale8)
    image.fill(255)
    painter = QPainter(image)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    renderer.render(painter)
    painter.end()
    stride, raw = image.bytesPerLine(), bytes(image.constBits())
    rows = [raw[y * stride : y * stride + pixels] for y in range(pixels)]
    return 1.0 - sum(sum(row) for row in rows) / (255.0 * pixels * pixels)


def our_cover(drawn: Symbol) -> float:
    """The same share from our shapes: each laid over those before it, paper hiding ink."""
    total = Polygon()
    for shape in drawn.shapes:
        if shape.fill != "none":
            body = Polygon(shape.points).buffer(0)
            total = total.union(body) if shape.fill == "ink" else total.difference(body)
        if shape.stroke:
            total = total.union(ink(shape))
    x, y, w, h = drawn.viewbox
    return total.intersection(Polygon([(x, y), (x + w, y), (x + w, y + h), (x, y + h)])).area / (w * h)


def silhouette(drawn: Symbol) -> float:
    """Share of the viewbox inside the outlines of the shapes, lines left out, open ones closed."""
    solid = unary_union([make_valid(Polygon(s.points)) for s in drawn.shapes if len(s.points) > 2])
    return solid.area / (drawn.viewbox[2] * drawn.viewbox[3])


PLAIN = [path for path in FILES if "<text" not in path.read_text(encoding="utf-8")]
SIZED = b'<svg width="600" height="600" '


@pytest.mark.parametrize("path", PLAIN, ids=lambda p: p.stem)
def test_outlines_are_where_qtsvg_has_them(path: Path) -> None:
    data = path.read_bytes().replace(b"<svg ", SIZED + b'fill-rule="evenodd" ')
    data = re.sub(rb' (class|stroke|stroke-width)="[^"]*"', b"", data)
    data = re.sub(rb' fill="[^"]*"', b"", data).replace(SIZED, SIZED + b'fill="#000000" stroke="none" ')
    assert silhouette(read_symbol(path)) == pytest.approx(covered(data), abs=0.002)


@pytest.mark.parametrize("path", PLAIN, ids=lambda p: p.stem)
def test_ink_covers_what_qtsvg_covers(path: Path) -> None:
    """Qt inks a curved stroke some 4 % thin at this scale (a ring 2 wide of radius 8: 0.1679 for 0.1745)."""
    data = path.read_bytes().replace(b"<svg ", SIZED)
    assert our_cover(read_symbol(path)) == pytest.approx(covered(data), rel=0.05, abs=0.001)


# ---- shipped symbols


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_symbol_stays_in_its_box(path: Path) -> None:
    drawn = read_symbol(path)
    x, y, w, h = drawn.viewbox
    for shape in drawn.shapes:
        for px, py in shape.points:
            assert x - 1e-6 <= px <= x + w + 1e-6
            assert y - 1e-6 <= py <= y + h + 1e-6
        if shape.text:
            assert 3.0 <= shape.size <= 12.0


def port_in_symbol(kind: Kind, at: tuple[float, float]) -> Point:
    if kind.large:
        return Point(50.0 + 50.0 * at[0], 100.0 - 100.0 * at[1])
    return Point(100.0 * at[0], -100.0 * at[1])


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.id)
def test_every_kind_has_a_symbol_of_its_own_size(kind: Kind) -> None:
    drawn = symbol(kind.symbol)
    if kind.large:
        assert drawn.viewbox == FULL_BOX and drawn.stretched
    else:
        half_w, half_h = 50.0 * kind.width_m, 50.0 * kind.height_m
        assert drawn.viewbox == pytest.approx((-half_w, -half_h, 2 * half_w, 2 * half_h))
    assert (resource_root() / "symbols" / f"{kind.id}.svg").is_file()


@pytest.mark.parametrize("kind", [k for k in KINDS if k.ports], ids=lambda k: k.id)
def test_symbol_touches_every_fixed_port(kind: Kind) -> None:
    """A pipe that ends on a port must meet ink. Pipes over a cistern's rim end in air and are let off."""
    covers = unary_union([ink(s) for s in symbol(kind.symbol).shapes if len(s.points) > 1])
    for port in kind.ports:
        if kind.body == "cistern" and port.side == "up":
            continue
        assert covers.distance(port_in_symbol(kind, port.at)) < (1.0 if kind.large else 0.05), port.name


def test_symbols_are_read_once() -> None:
    assert symbol("tee") is symbol("tee")


def test_shape_facts() -> None:
    """Class, stroke and letters as written; letters 0.7 em tall stand about their middle (from memory)."""
    drawn = parse_symbol(
        drawing(
            '<rect class="paper" fill="white" x="-8" y="-8" width="16" height="16" stroke-width="1.2"/>'
            '<polygon class="ink" points="0,0 1,0 1,1" stroke="none"/>'
            '<line x1="-12" y1="0" x2="12" y2="0"/>'
            '<text class="upright" x="0" y="3.5" font-size="10" text-anchor="middle">M</text>'
        )
    )
    box, area_, line, word = drawn.shapes
    assert (box.fill, box.closed, box.stroke, len(box.points)) == ("paper", True, 1.2, 4)
    assert (area_.fill, area_.closed, area_.stroke) == ("ink", True, 0.0)
    assert (line.fill, line.closed, line.stroke) == ("none", False, 1.7)
    assert line.points == ((-12.0, 0.0), (12.0, 0.0))
    assert (word.text, word.size, word.points) == ("M", 10.0, ((0.0, 0.0),))


# ---- hostile and broken drawings

GOOD = '<path d="M0,0H5"/>'
LAUGHS = ('<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>' + HEAD + GOOD + "</svg>").encode()
OUTSIDE = ('<!doctype svg SYSTEM "file:///etc/hostname">' + HEAD + GOOD + "</svg>").encode()
HOSTILE = {
    "entities": LAUGHS,
    "outside document type": OUTSIDE,
    "style sheet": b'<?xml-stylesheet href="http://example.invalid/a.css"?>' + drawing(GOOD),
    "script": drawing(GOOD + "<script>alert(1)</script>"),
    "image": drawing(GOOD + '<image href="http://example.invalid/a.png" width="4" height="4"/>'),
    "use": drawing(GOOD + '<use href="#a"/>'),
    "foreign": drawing(GOOD + "<foreignObject/>"),
    "animation": drawing('<path d="M0,0H5"><animate attributeName="d"/></path>'),
    "group": drawing(f"<g>{GOOD}</g>"),
    "link": drawing(f'<a href="http://example.invalid">{GOOD}</a>'),
    "other namespace": drawing('<x:path xmlns:x="urn:x" d="M0,0H5"/>'),
    "handler": drawing('<path d="M0,0H5" onclick="alert(1)"/>'),
    "root handler": drawing(GOOD).replace(b"<svg ", b'<svg onload="alert(1)" '),
    "style": drawing('<path d="M0,0H5" style="stroke:url(http://example.invalid)"/>'),
    "transform": drawing('<path d="M0,0H5" transform="scale(9)"/>'),
    "reference": drawing('<path d="M0,0H5" xmlns:xlink="http://www.w3.org/1999/xlink" xlink:href="#a"/>'),
    "paint server": drawing('<path class="ink" d="M0,0H5V5Z" fill="url(#a)"/>'),
    "colour": drawing('<path d="M0,0H5" stroke="red"/>'),
    "filled line": drawing('<path class="paper" d="M0,0H5V5"/>'),
    "class": drawing('<path class="red" d="M0,0H5"/>'),
    "not a number": drawing('<circle cx="nan" cy="0" r="2"/>'),
    "endless number": drawing('<path d="M0,0H1e999"/>'),
    "endless box": drawing(GOOD).replace(b"24 24", b"1e999 24"),
    "negative radius": drawing('<circle cx="0" cy="0" r="-2"/>'),
    "empty box": drawing(GOOD).replace(b"24 24", b"0 24"),
    "nothing drawn": drawing(""),
    "long words": drawing('<text class="upright" x="0" y="0" font-size="5" text-anchor="middle">A story</text>'),
    "too large": drawing(GOOD + " " * 100_001),
    "too many points": drawing('<path d="M0,0' + "Q9e3 9e3 1 1 " * 5000 + '"/>'),
    "too many shapes": drawing('<circle cx="0" cy="0" r="1e6"/>' * 2500),
    "not XML": b"symbol of a pump",
    "cut short": drawing(GOOD)[:-4],
    "another root": b'<html xmlns="http://www.w3.org/1999/xhtml"/>',
    "wide letters": drawing(GOOD).decode().encode("utf-16"),
    "not text": bytes(range(256)),
    "empty": b"",
}


@pytest.mark.parametrize("data", HOSTILE.values(), ids=HOSTILE.keys())
def test_hostile_drawing_refused(data: bytes) -> None:
    with pytest.raises(KindError) as caught:
        parse_symbol(data, "mine.svg")
    assert caught.value.where == "mine.svg"
    assert caught.value.do


def test_good_drawing_beside_the_hostile_ones_is_read() -> None:
    """So that the refusals above are for their own faults."""
    assert len(parse_symbol(drawing(GOOD)).shapes) == 1


@pytest.mark.parametrize("name", ["../parts/joints", "/etc/hostname", "", "Tee", "no_such_symbol", "tee.svg"])
def test_unknown_symbol_refused(name: str) -> None:
    with pytest.raises(KindError):
        symbol(name)


def test_missing_file_refused(tmp_path: Path) -> None:
    with pytest.raises(KindError):
        read_symbol(tmp_path / "none.svg")
