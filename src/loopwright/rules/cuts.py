"""What cuts two places of a water: the least set of ways that can shut, and whether one pipe alone joins them.

Owns the two searches. Knows no themes.
"""

from __future__ import annotations

from collections.abc import Collection

from loopwright.catalogue import Behaviour
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Key, Place
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BACK, FORWARD, Ask, Passing, passing


def least_cut(
    case: Case,
    passes: Passing,
    near: Collection[Place],
    far: Collection[Place],
    *,
    drop: Collection[Key] = (),
    towards_near: bool = False,
) -> tuple[str, ...]:
    """Parts that cut `near` from `far`: as few as can be, and of those the nearest to `near`.

    Whatever a view lets through has no limit, what it stops counts one. `towards_near` asks for the direction
    far -> near (a feed) where one-way ways matter; otherwise near -> far. Empty when something always passes.
    """
    import networkx as nx  # heavy, and few sheets come here

    ways = case.ways
    walls = set(ways.bodies("cistern"))
    every = passing(ways, Ask.OPEN)
    elements = ways.between(reach(ways, every, near, drop=drop, walls=walls) - walls)
    stops: dict[tuple[Place, Place], int] = {}
    """How many ways stop the water between two places; none where one of those beside each other lets it through."""
    for element in elements:
        if element.key in drop or not every[element.key] or element.a == element.b:
            continue
        for u, v, flag in ((element.a, element.b, FORWARD), (element.b, element.a, BACK)):
            edge = (u, v) if towards_near else (v, u)  # sought from the far side, so that the nearest cut is found
            free = passes[element.key] & flag or stops.get(edge) == 0
            stops[edge] = 0 if free else stops.get(edge, 0) + 1
    graph: nx.DiGraph = nx.DiGraph()
    for (u, v), count in stops.items():
        graph.add_edge(u, v, **({"capacity": count} if count else {}))
    graph.add_edges_from((("far",), p) for p in far if p in graph)
    graph.add_edges_from((p, ("near",)) for p in near if p in graph)
    if ("far",) not in graph or ("near",) not in graph:
        return ()
    try:
        _, (side, _rest) = nx.minimum_cut(graph, ("far",), ("near",))
    except nx.NetworkXUnbounded:
        return ()
    cut = [
        e for e in elements if e.key not in drop and (e.a in side) != (e.b in side) and e.a in graph and e.b in graph
    ]
    return tuple(dict.fromkeys(e.id for e in cut))


def to_change(case: Case, cut: tuple[str, ...]) -> tuple[str, ...]:
    """Of the parts of a cut those one would change: a pump is left alone where something else shares the blame."""
    others = tuple(p for p in cut if not any(w.does is Behaviour.PUMP for w in case.ways.kind(p).ways))
    return others or cut


def only_pipe(case: Case, near: Collection[Place], far: Collection[Place]) -> str | None:
    """A pipe through which alone `near` reaches `far` with every way open, or None when two ways share no pipe.

    Unit flow on pipes: one augmenting walk, then a second on what is left of the first (Menger 1927).
    """
    every = passing(case.ways, Ask.OPEN)
    first, _ = _walk(case, every, near, far, {})
    if first is None:
        return None
    used = {key: forward for key, forward in first if key[0] == "pipe"}
    second, seen = _walk(case, every, near, far, used)
    if second is not None:
        return None
    for key, forward in first:
        element = case.ways.elements[key]
        start, stop = (element.a, element.b) if forward else (element.b, element.a)
        if key[0] == "pipe" and start in seen and stop not in seen:
            return key[1]
    return None


def _walk(
    case: Case,
    passes: Passing,
    near: Collection[Place],
    far: Collection[Place],
    used: dict[Key, bool],
) -> tuple[list[tuple[Key, bool]] | None, set[Place]]:
    ways = case.ways
    walls = set(ways.bodies("cistern"))
    seen, todo = set(near), list(near)
    back: dict[Place, tuple[Place, Key, bool]] = {}
    while todo:
        here = todo.pop(0)
        if here in far:
            steps: list[tuple[Key, bool]] = []
            while here in back:
                here, key, forward = back[here]
                steps.append((key, forward))
            return steps[::-1], seen
        for element in ways.links[here]:
            there, forward = element.other(here), element.a == here
            if there in seen or there in walls or not passes[element.key] or used.get(element.key) is forward:
                continue
            seen.add(there)
            back[there] = (here, element.key, forward)
            todo.append(there)
    return None, seen
