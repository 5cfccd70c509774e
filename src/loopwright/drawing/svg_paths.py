"""SVG path data to polylines: lines, Béziers and elliptical arcs as chords close enough to look round.

Owns the grammar of `d` and the geometry of its curves (W3C SVG 1.1, chapter 8 and appendix F.6).
Refuses to know of files, elements, paint and symbols.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise

Point = tuple[float, float]
Polyline = tuple[Point, ...]

_TOKEN = re.compile(r"[MLHVCSQAZmlhvcsqaz]|[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_GAP = re.compile(r"[\s,]*")
_NEEDS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "A": 7, "Z": 0}
_MOST_CHORDS = 200
MOST_POINTS = 20_000
"""A drawing with more is no symbol; also keeps a hostile file from filling the memory."""


def numbers(text: str) -> list[float]:
    """All numbers of a list parted by spaces or commas. Raises ValueError if anything else stands in it."""
    out = []
    for token in _tokens(text):
        if token.isalpha():
            raise ValueError(f"“{token}” stands among numbers")
        out.append(float(token))
    return out


def _tokens(text: str) -> list[str]:
    out, at = [], 0
    while (at := _gap_end(text, at)) < len(text):
        found = _TOKEN.match(text, at)
        if found is None:
            raise ValueError(f"“{text[at : at + 12]}” is not path data")
        out.append(found.group())
        at = found.end()
    return out


def _gap_end(text: str, at: int) -> int:
    gap = _GAP.match(text, at)
    return gap.end() if gap else at


def _commands(data: str) -> list[tuple[str, list[float]]]:
    """(letter, its numbers), repeats written out; a pair after a move is a line."""
    out: list[tuple[str, list[float]]] = []
    tokens = _split_flags(_tokens(data))
    at = 0
    while at < len(tokens):
        letter = tokens[at]
        if not letter.isalpha():
            raise ValueError("path data has a number where a command must stand")
        if not out and letter.upper() != "M":
            raise ValueError("path data does not begin with a move")
        need, at = _NEEDS[letter.upper()], at + 1
        if need == 0:
            out.append((letter, []))
            continue
        first = True
        while first or (at < len(tokens) and not tokens[at].isalpha()):
            args = tokens[at : at + need]
            if len(args) < need or any(a.isalpha() for a in args):
                raise ValueError(f"path command {letter} lacks numbers")
            out.append((letter, [float(a) for a in args]))
            if letter in "Mm":
                letter = "L" if letter == "M" else "l"
            at, first = at + need, False
    return out


def _split_flags(tokens: list[str]) -> list[str]:
    """Arc flags may be written without a gap ("0 01 9,0"): part them."""
    out: list[str] = []
    place, arc = 0, False
    for token in tokens:
        if token.isalpha():
            arc, place = token in "Aa", 0
            out.append(token)
            continue
        rest = token
        while arc and place % 7 in (3, 4) and len(rest) > 1:
            out.append(rest[0])
            rest, place = rest[1:], place + 1
        out.append(rest)
        place += 1
    return out


def flatten(data: str, chord: float) -> list[tuple[Polyline, bool]]:
    """Polylines of path data and whether each is closed; curves stray from their chords by about `chord` at most.

    Raises ValueError for anything that is not M L H V C S Q A Z path data.
    """
    done: list[tuple[Polyline, bool]] = []
    line: list[Point] = []
    start: Point = (0.0, 0.0)
    here: Point = (0.0, 0.0)
    made = 0
    handle: Point | None = None  # last control point of a C or S, for the next S
    for letter, args in _commands(data):
        letter_up = letter.upper()
        ox, oy = here if letter.islower() else (0.0, 0.0)
        if letter_up == "Z":
            if line:
                done.append((_closed(line), True))
            line, here, handle = [], start, None
            continue
        if letter_up == "M":
            if len(line) > 1:
                done.append((tuple(line), False))
            here = start = (ox + args[0], oy + args[1])
            line, handle = [here], None
            continue
        if not line:  # drawing on after a close begins again at the closed point
            line = [here]
        next_handle: Point | None = None
        before = len(line)
        if letter_up in "LHV":
            end = _line_end(letter_up, args, here, (ox, oy))
            line.append(end)
        elif letter_up == "A":
            end = (ox + args[5], oy + args[6])
            line.extend(_arc(here, args, end, chord))
        else:
            pairs = [(ox + x, oy + y) for x, y in zip(args[::2], args[1::2])]
            end = pairs[-1]
            if letter_up == "Q":
                c1 = _between(here, pairs[0], 2 / 3)
                c2 = _between(end, pairs[0], 2 / 3)
            elif letter_up == "S":
                c1 = (2 * here[0] - handle[0], 2 * here[1] - handle[1]) if handle else here
                c2 = next_handle = pairs[0]
            else:
                c1, c2 = pairs[0], pairs[1]
                next_handle = c2
            line.extend(_bezier(here, c1, c2, end, chord))
        here, handle = end, next_handle
        made += len(line) - before
        if made > MOST_POINTS:
            raise ValueError(f"a path has more than {MOST_POINTS} points")
    if len(line) > 1:
        done.append((tuple(line), False))
    return done


def _line_end(letter: str, args: list[float], here: Point, origin: Point) -> Point:
    if letter == "H":
        return origin[0] + args[0], here[1]
    if letter == "V":
        return here[0], origin[1] + args[0]
    return origin[0] + args[0], origin[1] + args[1]


def _closed(line: list[Point]) -> Polyline:
    return tuple(line[:-1]) if len(line) > 2 and math.dist(line[0], line[-1]) < 1e-9 else tuple(line)


def _between(a: Point, b: Point, share: float) -> Point:
    return a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share


def _bezier(p0: Point, p1: Point, p2: Point, p3: Point, chord: float) -> list[Point]:
    """Points after p0. The count follows from the greatest second difference of the control points."""
    bend = max(math.hypot(a[0] - 2 * b[0] + c[0], a[1] - 2 * b[1] + c[1]) for a, b, c in ((p0, p1, p2), (p1, p2, p3)))
    steps = min(_MOST_CHORDS, max(1, math.ceil(math.sqrt(0.75 * bend / chord))))
    out = []
    for i in range(1, steps):
        t = i / steps
        u = 1.0 - t
        w = (u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t)
        out.append(
            (
                w[0] * p0[0] + w[1] * p1[0] + w[2] * p2[0] + w[3] * p3[0],
                w[0] * p0[1] + w[1] * p1[1] + w[2] * p2[1] + w[3] * p3[1],
            )
        )
    return [*out, p3]


def _arc(p0: Point, args: list[float], p1: Point, chord: float) -> list[Point]:
    """Points after p0 of an elliptical arc: centre and angles by SVG 1.1 appendix F.6.5, radii by F.6.6."""
    if args[3] not in (0.0, 1.0) or args[4] not in (0.0, 1.0):
        raise ValueError("an arc flag is neither 0 nor 1")
    rx, ry, large, sweep = abs(args[0]), abs(args[1]), args[3] == 1.0, args[4] == 1.0
    if rx == 0.0 or ry == 0.0 or p0 == p1:
        return [p1]
    cos, sin = math.cos(math.radians(args[2])), math.sin(math.radians(args[2]))
    dx, dy = (p0[0] - p1[0]) / 2, (p0[1] - p1[1]) / 2
    x, y = cos * dx + sin * dy, -sin * dx + cos * dy
    short = (x / rx) ** 2 + (y / ry) ** 2
    if short > 1.0:
        rx, ry, short = rx * math.sqrt(short), ry * math.sqrt(short), 1.0
    factor = math.sqrt(max(0.0, 1.0 / short - 1.0)) * (1 if large != sweep else -1)
    cx, cy = factor * rx * y / ry, -factor * ry * x / rx
    first = math.atan2((y - cy) / ry, (x - cx) / rx)
    turn = math.atan2((-y - cy) / ry, (-x - cx) / rx) - first
    if sweep and turn < 0.0:
        turn += math.tau
    elif not sweep and turn > 0.0:
        turn -= math.tau
    mx, my = (p0[0] + p1[0]) / 2, (p0[1] + p1[1]) / 2
    steps = _arc_steps(max(rx, ry), abs(turn), chord)
    out = []
    for i in range(1, steps):
        a = first + turn * i / steps
        ex, ey = cx + rx * math.cos(a), cy + ry * math.sin(a)
        out.append((cos * ex - sin * ey + mx, sin * ex + cos * ey + my))
    return [*out, p1]


def _arc_steps(radius: float, turn: float, chord: float) -> int:
    """Chords of an arc so that none strays more than `chord` from it: sagitta r (1 - cos(a/2))."""
    widest = 2.0 * math.acos(max(0.0, 1.0 - min(1.0, chord / radius)))
    if widest <= 0.0:
        raise ValueError(f"a radius of {radius:g} is beyond all bounds")
    return min(_MOST_CHORDS, max(2, math.ceil(turn / widest)))


def ellipse(centre: Point, radii: Point, chord: float) -> Polyline:
    """Points round an ellipse, not repeating the first."""
    steps = 4 * math.ceil(_arc_steps(max(radii), math.tau, chord) / 4)  # through all four ends of the axes
    return tuple(
        (centre[0] + radii[0] * math.cos(math.tau * i / steps), centre[1] + radii[1] * math.sin(math.tau * i / steps))
        for i in range(steps)
    )


def rounded_box(corner: Point, size: Point, radii: Point, chord: float) -> Polyline:
    """Points round a box with rounded corners, not repeating the first; `corner` has the least x and y."""
    (x, y), (w, h) = corner, size
    rx, ry = min(abs(radii[0]), w / 2), min(abs(radii[1]), h / 2)
    if rx == 0.0 or ry == 0.0:
        return (x, y), (x + w, y), (x + w, y + h), (x, y + h)
    steps = max(2, _arc_steps(max(rx, ry), math.pi / 2, chord))
    out: list[Point] = []
    for cx, cy, first in (
        (x + w - rx, y + ry, -90),
        (x + w - rx, y + h - ry, 0),
        (x + rx, y + h - ry, 90),
        (x + rx, y + ry, 180),
    ):
        for i in range(steps + 1):
            a = math.radians(first + 90 * i / steps)
            out.append((cx + rx * math.cos(a), cy + ry * math.sin(a)))
    return tuple(p for p, after in pairwise([*out, out[0]]) if math.dist(p, after) > 1e-9)
