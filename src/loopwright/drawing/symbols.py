"""Symbols of parts as plain lines and areas, read from the small drawings in `resources/symbols/`.

Owns the reading of a symbol file and the sorting of its elements into shapes; `svg_paths` flattens the
curves. Refuses to know of sheets, colours, pens and windows: a shape is ink on paper, and whoever draws it
chooses both.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from functools import cache
from html import escape
from pathlib import Path
from typing import Literal
from xml.etree import ElementTree

import msgspec

from loopwright.drawing.svg_paths import MOST_POINTS, Point, Polyline, ellipse, flatten, numbers, rounded_box
from loopwright.errors import KindError
from loopwright.resources import resource_root

MAX_FILE_BYTES = 100_000
FULL_BOX = (0.0, 0.0, 100.0, 100.0)
MOST_UNITS = 1000.0
"""Ten metres on the sheet. A line that goes further, or is wider, would keep a painter busy for ever."""
_CAP_MIDDLE = 0.35
"""Middle of a capital above its base line, in ems of the letter (from memory: capitals are 0.7 em tall)."""

Fill = Literal["none", "paper", "ink"]

_PAINT = {"fill", "stroke", "stroke-width", "class"}
_ROOT = {"viewBox", "fill", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin"}
_ELEMENTS: dict[str, set[str]] = {
    "path": {"d"},
    "line": {"x1", "y1", "x2", "y2"},
    "polyline": {"points"},
    "polygon": {"points"},
    "rect": {"x", "y", "width", "height", "rx", "ry"},
    "circle": {"cx", "cy", "r"},
    "ellipse": {"cx", "cy", "rx", "ry"},
    "text": {"x", "y", "font-size", "text-anchor"},
}
_FILLS: dict[str, tuple[Fill, set[str | None]]] = {
    "": ("none", {None, "none"}),
    "paper": ("paper", {None, "white"}),
    "ink": ("ink", {None, "currentColor"}),
    "upright": ("ink", {None, "currentColor"}),
}
_NAME = re.compile(r"[a-z][a-z0-9_]*")
_SVG = "{http://www.w3.org/2000/svg}"


class Shape(msgspec.Struct, frozen=True, kw_only=True):
    """One line, area or word of a symbol, in the units of its viewbox, y downward.

    For a word `points` holds one point, the middle of its letters; `size` is the letters' em. `stroke` and `size`
    are hundredths of a metre on the sheet and are not stretched when a large part's symbol is. A stroke of 0 is
    not drawn. Whatever is filled is closed. Ends and corners of lines are round.
    """

    points: Polyline
    closed: bool = False
    fill: Fill = "none"
    stroke: float = 0.0
    text: str = ""
    size: float = 0.0


class Symbol(msgspec.Struct, frozen=True):
    """The shapes of one symbol, in the order they are drawn, and its viewbox (x, y, width, height)."""

    viewbox: tuple[float, float, float, float]
    shapes: tuple[Shape, ...]

    @property
    def stretched(self) -> bool:
        """Fills a large part's box, whatever its size; else one unit is 0.01 m about the part's centre."""
        return self.viewbox == FULL_BOX


def symbol(kind_id: str) -> Symbol:
    """The symbol of that name, shipped or taken on. Raises KindError if there is none or it cannot be used."""
    if not _NAME.fullmatch(kind_id):
        raise KindError(f"“{kind_id}” cannot be the name of a symbol", do="Use small letters, figures and _")
    return _own.get(kind_id) or _shipped(kind_id)


def shipped(name: str) -> bool:
    """Whether a symbol of that name comes with the program."""
    return bool(_NAME.fullmatch(name)) and (resource_root() / "symbols" / f"{name}.svg").is_file()


_own: dict[str, Symbol] = {}
"""Symbols of a person's own kinds, by name; never one that ships."""


def adopt(name: str, drawn: Symbol) -> None:
    """Draw a person's own kinds by this symbol from now on."""
    _own[name] = drawn


def as_svg(name: str) -> str:
    """The drawing of a symbol as text: a shipped one as it lies there; a person's own written anew from its shapes, so
    that nothing else of their file goes anywhere. Empty when there is none."""
    if name not in _own:
        return (resource_root() / "symbols" / f"{name}.svg").read_text(encoding="utf-8") if shipped(name) else ""
    drawn, ink = _own[name], {"none": "none", "paper": "white", "ink": "currentColor"}
    box = " ".join(f"{v:g}" for v in drawn.viewbox)
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" fill="none" stroke="currentColor">']
    for shape in drawn.shapes:
        if shape.text:
            x, y = shape.points[0]
            at = f'x="{x:.3f}" y="{y + _CAP_MIDDLE * shape.size:.3f}" font-size="{shape.size:.3f}"'
            words = escape(shape.text, quote=False)
            out.append(f'<text {at} text-anchor="middle" fill="currentColor" stroke="none">{words}</text>')
            continue
        points = " ".join(f"{x:.3f},{y:.3f}" for x, y in shape.points)
        stroke = f'stroke-width="{shape.stroke:.3f}"' if shape.stroke else 'stroke="none"'
        tag = "polygon" if shape.closed else "polyline"
        out.append(f'<{tag} points="{points}" fill="{ink[shape.fill]}" {stroke}/>')
    return "\n".join([*out, "</svg>"])


@cache
def _shipped(name: str) -> Symbol:
    return read_symbol(resource_root() / "symbols" / f"{name}.svg")


def read_symbol(path: Path) -> Symbol:
    """The symbol in a file, shipped or a person's own. Raises KindError."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except OSError:
        raise KindError(
            f"There is no symbol “{path.stem}”",
            where=path.name,
            do="Add its drawing to the symbols or name another symbol",
        ) from None
    return parse_symbol(data, path.name)


def parse_symbol(data: bytes, where: str = "") -> Symbol:
    """The symbol in the bytes of an SVG drawing of the few elements allowed. Raises KindError."""
    try:
        return _parse(data)
    except _DrawingError as fault:
        raise KindError(f"A symbol cannot be used: {fault}", where=where, do=fault.do) from None
    except (ValueError, OverflowError) as bad:
        raise KindError(f"A symbol cannot be used: {bad}", where=where, do="Mend that number") from None


class _DrawingError(Exception):
    def __init__(self, what: str, do: str = "Draw it with plain shapes, single ink") -> None:
        self.do = do
        super().__init__(what)


def _parse(data: bytes) -> Symbol:
    if len(data) > MAX_FILE_BYTES:
        raise _DrawingError("it is larger than 100 kB", "Draw it with fewer points")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise _DrawingError("it is not UTF-8 text", "Save it as plain SVG") from None
    # Entities can swell without end or name other files: refused before any reader of XML sees them.
    if re.search(r"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise _DrawingError("it declares a document type or entities", "Remove the declaration")
    if re.search(r"<\?(?!xml\s)", text):
        raise _DrawingError("it carries a processing instruction", "Remove it")
    try:
        root = ElementTree.fromstring(text)  # text, so that no declared encoding is obeyed
    except (ElementTree.ParseError, LookupError) as bad:
        raise _DrawingError(f"it is not well-formed ({bad})", "Save it as plain SVG") from None
    if _tag(root) != "svg":
        raise _DrawingError(f"it begins with “{_tag(root)}”, not “svg”", "Save it as plain SVG")
    _only(root.attrib, _ROOT, "svg")
    if root.get("stroke", "currentColor") != "currentColor" or root.get("fill", "none") != "none":
        raise _DrawingError("its ground colours are not fill none and stroke currentColor")
    box = tuple(numbers(root.get("viewBox", "")))
    if len(box) != 4 or min(box[2:]) < 0.1 or not all(abs(v) <= MOST_UNITS for v in box):
        raise _DrawingError("it has no viewBox of four numbers", 'Write viewBox="-12 -12 24 24"')
    width = _number(root.attrib, "stroke-width", 1.7)
    chord = max(box[2:]) / 1500.0
    shapes: list[Shape] = []
    points = 0
    for element in root:
        new = _shapes(element, width, chord)
        points += sum(len(shape.points) for shape in new)
        if points > MOST_POINTS:
            raise _DrawingError(f"it has more than {MOST_POINTS} points", "Draw it with fewer curves")
        shapes.extend(new)
    if not shapes:
        raise _DrawingError("it draws nothing", "Draw at least one shape")
    for shape in shapes:
        if not all(math.isfinite(v) for point in shape.points for v in point):
            raise _DrawingError("it has a point that is not a number", "Mend that number")
        if max(shape.stroke, shape.size, *(abs(v) for point in shape.points for v in point)) > MOST_UNITS:
            raise _DrawingError("it is larger than 10 m on the sheet", "Draw it within its viewBox")
    return Symbol((box[0], box[1], box[2], box[3]), tuple(shapes))


def _shapes(element: ElementTree.Element, width: float, chord: float) -> list[Shape]:
    tag, has = _tag(element), element.attrib
    if tag not in _ELEMENTS:
        raise _DrawingError(f"it holds the element “{tag}”", f"Use only {', '.join(_ELEMENTS)}")
    _only(has, _ELEMENTS[tag] | _PAINT, tag)
    if len(element):
        raise _DrawingError(f"its “{tag}” holds another element", "Keep every shape on its own")
    fill, stroke = _paint(tag, has, width)
    if tag == "text":
        return [_word(element)]
    lines = [(line, closed) for line, closed in _outline(tag, has, chord) if len(line) > 1]
    if fill != "none" and not all(closed for _, closed in lines):
        raise _DrawingError(f"its “{tag}” is filled but not closed", "Close it, or leave it unfilled")
    return [Shape(points=line, closed=closed, fill=fill, stroke=stroke) for line, closed in lines]


def _outline(tag: str, has: Mapping[str, str], chord: float) -> list[tuple[Polyline, bool]]:
    def number(key: str, default: float | None = None) -> float:
        return _number(has, key, default)

    if tag == "path":
        return flatten(has.get("d", ""), chord)
    if tag == "line":
        return [(((number("x1"), number("y1")), (number("x2"), number("y2"))), False)]
    if tag in ("polyline", "polygon"):
        values = numbers(has.get("points", ""))
        if len(values) % 2 or len(values) < 4:
            raise _DrawingError(f"its “{tag}” has an odd or short list of points", "Give pairs of numbers")
        return [(tuple(zip(values[::2], values[1::2])), tag == "polygon")]
    if tag == "rect":
        rx = number("rx", _number(has, "ry", 0.0))
        size = (_length(has, "width"), _length(has, "height"))
        return [(rounded_box((number("x"), number("y")), size, (rx, number("ry", rx)), chord), True)]
    centre: Point = (number("cx", 0.0), number("cy", 0.0))
    radii = (_length(has, "r"),) * 2 if tag == "circle" else (_length(has, "rx"), _length(has, "ry"))
    return [(ellipse(centre, radii, chord), True)]


def _paint(tag: str, has: Mapping[str, str], width: float) -> tuple[Fill, float]:
    kind = has.get("class", "")
    if kind not in _FILLS or (kind == "upright") != (tag == "text"):
        raise _DrawingError(f"its “{tag}” has the class “{kind}”", "Use paper, ink, or upright for letters")
    fill, colours = _FILLS[kind]
    if has.get("fill") not in colours:
        raise _DrawingError(f"its “{tag}” is filled with “{has['fill']}”", "Fill with the class paper or ink")
    if has.get("stroke", "currentColor") not in ("currentColor", "none"):
        raise _DrawingError(f"its “{tag}” is drawn in “{has['stroke']}”", "Draw every line in currentColor")
    stroke = 0.0 if has.get("stroke") == "none" else _number(has, "stroke-width", width)
    if stroke < 0.0:
        raise _DrawingError(f"its “{tag}” has a line narrower than nothing", "Give a stroke-width of 0 or more")
    return fill, stroke


def _word(element: ElementTree.Element) -> Shape:
    has, size = element.attrib, _length(element.attrib, "font-size")
    if has.get("text-anchor") != "middle":
        raise _DrawingError("its letters are not set about their middle", 'Write text-anchor="middle"')
    text = (element.text or "").strip()
    if not 1 <= len(text) <= 4:
        raise _DrawingError("its letters are not one to four", "Keep a symbol to a few letters")
    middle = (_number(has, "x", None), _number(has, "y", None) - _CAP_MIDDLE * size)
    return Shape(points=(middle,), fill="ink", text=text, size=size)


def _tag(element: ElementTree.Element) -> str:
    return str(element.tag).removeprefix(_SVG)


def _only(has: Mapping[str, str], allowed: set[str], tag: str) -> None:
    for name in has:
        if name not in allowed:
            raise _DrawingError(f"its “{tag}” has the attribute “{name}”", f"Use only {', '.join(sorted(allowed))}")


def _number(has: Mapping[str, str], key: str, default: float | None) -> float:
    text = has.get(key)
    if text is None:
        if default is None:
            raise _DrawingError(f"it lacks the number “{key}”", "Add it")
        return default
    value = float(text)
    if not math.isfinite(value):
        raise _DrawingError(f"“{key}” is not a number", "Mend it")
    return value


def _length(has: Mapping[str, str], key: str) -> float:
    value = _number(has, key, None)
    if value <= 0.0:
        raise _DrawingError(f"“{key}” is not more than 0", "Mend it")
    return value
