"""Where in the text of a file a value stands: line by path, the first key written twice, the first NaN.

Owns a slow walk over JSON text that keeps positions. It runs only when something is wrong, to say where.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import NamedTuple

FARTHEST = 60_000
"""Values walked at most: to say where is a kindness, not worth waiting for."""
_BLANK = re.compile(r"[ \t\r\n]*")
_PLAIN = re.compile(r"[^\s,\]}:]+")


class Place(NamedTuple):
    """A value in the text: its path (`$.pipes[3].a`), where it begins, and whether its key came before in its
    object."""

    path: str
    at: int
    twice: bool


def line_at(text: str, at: int) -> int:
    """The line of a position, from 1."""
    return text.count("\n", 0, at) + 1


def line_of(text: str, path: str) -> int | None:
    """The line on which the value of a path begins, or that of the nearest value round it; None if it is the
    whole."""
    best: Place | None = None
    for place in walk(text):
        if path == place.path:
            return line_at(text, place.at)
        if path.startswith((place.path + ".", place.path + "[")) and (best is None or place.path >= best.path):
            best = place
    return line_at(text, best.at) if best and best.path != "$" else None


def first_twice(text: str) -> Place | None:
    """The first key that its object has twice."""
    return next((place for place in walk(text) if place.twice), None)


def first_unreal(text: str) -> Place | None:
    """The first number that is none: NaN, Infinity, or too large."""
    for place in walk(text):
        found = _PLAIN.match(text, place.at)
        word = found.group() if found else ""
        if word.lstrip("-") in ("NaN", "Infinity"):
            return place
        if word[:1] in "-0123456789" and word:
            try:
                if abs(float(word)) == float("inf"):
                    return place
            except ValueError:
                return place
    return None


def walk(text: str) -> Iterator[Place]:
    """Every value of the text in order. Text that is no JSON ends the walk where it goes wrong."""
    # a level of the stack: its path, the keys seen (None for a list), and how many entries came so far
    stack: list[tuple[str, set[str] | None, list[int]]] = []
    at, path, twice = _blank(text, 0), "$", False
    for _ in range(FARTHEST):
        if at >= len(text):
            return
        yield Place(path, at, twice)
        sign = text[at]
        if sign in "{[":
            stack.append((path, set() if sign == "{" else None, [0]))
            at = _blank(text, at + 1)
        else:
            try:
                at = scanstring(text, at + 1)[1] if sign == '"' else _plain_end(text, at)
            except json.JSONDecodeError:
                return
        while True:  # closing signs and the comma before the next value
            at = _blank(text, at)
            if not stack or at >= len(text):
                return
            if text[at] in "}]":
                stack.pop()
                at += 1
            elif text[at] == ",":
                at = _blank(text, at + 1)
                break
            else:
                break
        parent, keys, count = stack[-1]
        if keys is None:
            path, twice = f"{parent}[{count[0]}]", False
            count[0] += 1
            continue
        try:
            if text[at : at + 1] != '"':
                return
            key, at = scanstring(text, at + 1)
        except json.JSONDecodeError:
            return
        path, twice = f"{parent}.{key}", key in keys
        keys.add(key)
        at = _blank(text, at)
        if text[at : at + 1] != ":":
            return
        at = _blank(text, at + 1)


def _blank(text: str, at: int) -> int:
    found = _BLANK.match(text, at)
    return found.end() if found else at


def _plain_end(text: str, at: int) -> int:
    found = _PLAIN.match(text, at)
    return found.end() if found else at + 1
