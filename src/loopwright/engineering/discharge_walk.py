"""Measures of a discharge pipe as drawn: its length, its bends, and the walk from a valve's outlet.

Owns the walk along plain pipe for figures, and the measures that rules share. Says nothing about right and wrong.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Element, Waterways
from loopwright.waterways.profile import LEVEL_M, Stop, points_of, stops
from loopwright.waterways.skeleton import Step


def length_m(ways: Waterways, steps: Iterable[Step]) -> float:
    """Developed length of a walk: what is drawn, and what the section cannot show."""
    total = 0.0
    for key, _ in steps:
        element = ways.elements[key]
        total += sum(abs(b[0] - a[0]) + abs(b[1] - a[1]) for a, b in pairwise(points_of(ways, element)))
        total += ways.sheet.pipes[element.pipe].extra_length_m if element.pipe else 0.0
    return total


def bends(ways: Waterways, steps: Iterable[Step]) -> int:
    """Bends of a walk: where it turns as drawn, and those the section cannot show."""
    steps = list(steps)
    hidden = sum(ways.sheet.pipes[k[1]].extra_bends for k, _ in steps if k[0] == "pipe")
    return hidden + sum(one != two for one, two in pairwise(_headings(stops(ways, steps))))


def onward(ways: Waterways, valve: Element) -> tuple[list[Step], list[Step]]:
    """From a relief valve's outlet to its end, before and after the first tundish; both empty without a pipe.

    Stops where the way forks.
    """
    before: list[Step] = []
    after: list[Step] = []
    here, came, past = valve.b, valve.key, False
    for _ in range(200):
        ahead = [e for e in ways.links[here] if e.key != came and e.does is not Behaviour.RELIEF]
        if len(ahead) != 1:
            break
        element = ahead[0]
        if ways.has_tag(element.part, "tundish"):
            past = True
        elif element.pipe:
            (after if past else before).append((element.key, element.a == here))
        here, came = element.other(here), element.key
    return before, after


def _headings(walk: list[Stop]) -> list[tuple[int, int]]:
    """The direction of every piece of a walk, places where one element ends and the next begins left out."""
    out = []
    for before, here in pairwise(walk):
        dx, dz = here.at[0] - before.at[0], here.at[1] - before.at[1]
        if abs(dx) > LEVEL_M or abs(dz) > LEVEL_M:
            out.append((_sign(dx), _sign(dz)))
    return out


def _sign(x: float) -> int:
    return 0 if abs(x) <= LEVEL_M else 1 if x > 0 else -1
