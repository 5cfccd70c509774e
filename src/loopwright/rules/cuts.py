"""What cuts two places of a water: the least set of ways that can shut, and whether one pipe alone joins them.

Owns the two searches. Knows no themes.
"""

from __future__ import annotations

from collections.abc import Collection

from loopwright.catalogue import Behaviour
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element, Key, Place, Source
from loopwright.waterways.paths import reach
from loopwright.waterways.views import BACK, FORWARD, Ask, Passing, passing
from loopwright.waterways.waters import Water, water_of


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
    graph: nx.DiGraph = nx.DiGraph()
    every = passing(ways, Ask.OPEN)
    elements = ways.between(reach(ways, every, near, drop=drop, walls=walls) - walls)
    for element in elements:
        if element.key in drop or not every[element.key] or element.a == element.b:
            continue
        for u, v, flag in ((element.a, element.b, FORWARD), (element.b, element.a, BACK)):
            if not towards_near:
                u, v = v, u  # the cut is sought from the far side, so that the nearest one is found
            limit = {} if passes[element.key] & flag else {"capacity": 1}
            if graph.has_edge(u, v) and "capacity" in graph[u][v] and limit:
                limit = {"capacity": graph[u][v]["capacity"] + 1}
            elif graph.has_edge(u, v) and not graph[u][v].get("capacity"):
                limit = {}
            graph.add_edge(u, v, **limit)
            if not limit:
                graph[u][v].pop("capacity", None)
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


def reliefs_reached(case: Case, water: Water, begin: Collection[Place], passes: Passing) -> list[Element]:
    """Relief seats of a water that are reached from somewhere in a view."""
    seen = reach(case.ways, passes, begin, walls=case.ways.bodies("cistern"))
    return [e for e in water.reliefs if e.a in seen]


def built_in_relief(case: Case, source: Source) -> bool | None:
    """Whether a source has a relief valve inside it; None when nobody has said."""
    spec = case.ways.kind(source.part).prop("relief_built_in")
    found = case.ways.value(source.part, "relief_built_in")
    return None if spec is not None and found is None else bool(found)


def immersions_in(case: Case, vessel: str) -> list[str]:
    """Immersion heaters screwed into a vessel."""
    sheet = case.sheet
    return sorted(
        {
            p.other(vessel).part
            for p in sheet.pipes_of(vessel)
            if "immersion" in case.ways.kind(p.other(vessel).part).tags
        }
    )


def heated_by_coil(case: Case, vessel: str) -> set[str]:
    """Sources whose own water passes a coil in a vessel (not those that heat it directly)."""
    ways = case.ways
    body = water_of(ways, ("body", vessel))
    out: set[str] = set()
    for element in ways.elements.values():
        if element.part == vessel and element.does is Behaviour.COIL:
            water = water_of(ways, element.a)
            if water is not None and water is not body:
                out |= {s.part for s in water.sources}
    return out


def coil_heats(case: Case, vessel: str) -> bool:
    """Whether a coil brings heat to a vessel: from a source, or from a store of heating water."""
    ways = case.ways
    body = water_of(ways, ("body", vessel))
    for element in ways.elements.values():
        if element.part == vessel and element.does is Behaviour.COIL:
            water = water_of(ways, element.a)
            if (
                water is not None
                and water is not body
                and water.fluid != "domestic"
                and (water.sources or any(b in water.places for b in ways.bodies("store")))
            ):
                return True
    return False
