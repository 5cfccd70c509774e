"""Reaching, shortest ways, and pairs of legs that share no place. No cycle is ever listed.

Walks respect direction: bit 1 of a passing flag lets a -> b through, bit 2 lets b -> a.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable

from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.skeleton import Skeleton, Step
from loopwright.waterways.views import BACK, BOTH, FORWARD, Passing

Cost = Callable[[Element, bool], float]


def _may(element: Element, here: Place, passing: Passing, backwards: bool) -> bool:
    flags = passing[element.key]
    forward = (element.a == here) != backwards
    return bool(flags & (FORWARD if forward else BACK))


def reach(ways: Waterways, passing: Passing, starts: Iterable[Place], *, drop: Collection[Key] = (),
          walls: Collection[Place] = (), backwards: bool = False) -> set[Place]:
    """Places reached from `starts`. `drop` are elements left out, `walls` places entered but not crossed.

    With `backwards` the walk goes against the flow: places that reach `starts`.
    """
    seen = set(starts)
    todo = list(seen)
    while todo:
        here = todo.pop()
        if here in walls and here not in starts:
            continue
        for element in ways.links[here]:
            there = element.other(here)
            if there not in seen and element.key not in drop and _may(element, here, passing, backwards):
                seen.add(there)
                todo.append(there)
    return seen


def cheapest(ways: Waterways, passing: Passing, starts: Iterable[Place], ends: Collection[Place], cost: Cost, *,
             drop: Collection[Key] = (), walls: Collection[Place] = ()) -> tuple[float, tuple[Step, ...]] | None:
    """The way of least cost from any start to any end, as steps, or None. `cost(element, forward)` is not negative."""
    best: dict[Place, float] = dict.fromkeys(starts, 0.0)
    back: dict[Place, tuple[Place, Step]] = {}
    heap: list[tuple[float, int, Place]] = [(0.0, i, p) for i, p in enumerate(best)]
    count = len(heap)
    done: set[Place] = set()
    while heap:
        so_far, _, here = heapq.heappop(heap)
        if here in done:
            continue
        done.add(here)
        if here in ends:
            steps: list[Step] = []
            place = here
            while place in back:
                place, step = back[place]
                steps.append(step)
            return so_far, tuple(reversed(steps))
        if here in walls and here in back:
            continue
        for element in ways.links[here]:
            if element.key in drop or not _may(element, here, passing, False):
                continue
            there, forward = element.other(here), element.a == here
            total = so_far + cost(element, forward)
            if there not in done and total < best.get(there, float("inf")):
                best[there] = total
                back[there] = (here, (element.key, forward))
                count += 1
                heapq.heappush(heap, (total, count, there))
    return None


def shortest(ways: Waterways, passing: Passing, starts: Iterable[Place], ends: Collection[Place], *,
             drop: Collection[Key] = (), walls: Collection[Place] = ()) -> tuple[Step, ...] | None:
    """The way with the fewest elements, or None."""
    found = cheapest(ways, passing, starts, ends, lambda _e, _f: 1.0, drop=drop, walls=walls)
    return found[1] if found else None


def places_along(ways: Waterways, start: Place, steps: Iterable[Step]) -> list[Place]:
    """The places of a walk, start included."""
    out = [start]
    for key, forward in steps:
        element = ways.elements[key]
        out.append(element.b if forward else element.a)
    return out


def pair_of_legs(skeleton: Skeleton, chain_flags: list[int], chain_cost: list[float], hot: Place, cold: Place,
                 ends: tuple[Place, ...], *, drop: Collection[int], walls: Collection[Place],
                 ) -> tuple[float, tuple[Step, ...], tuple[Step, ...]] | None:
    """Two legs of least cost in all, sharing no place: hot -> one end of the sink, the other end -> cold.

    Min-cost flow of two units from {hot, cold} to `ends` on the node-split skeleton, by shortest augmenting paths
    (Suurballe 1974; Bellman-Ford on the residual). Direction of one-way chains is not looked at here: a chain passes if
    it passes either way. Returns (cost, flow leg, return leg), both in flow direction, or None.
    """
    target: Place = ("target",)
    capacity = dict.fromkeys(ends, 1) if len(ends) == 2 else {ends[0]: 2}
    through: dict[Place, str] = {}  # place -> "used" once a leg passes it
    used: dict[int, tuple[Place, Place]] = {}  # chain -> direction it is used in

    def augment(start: Place) -> bool:
        # nodes are (place, side): side 0 = arriving, 1 = leaving
        distance: dict[tuple[Place, int], float] = {(start, 1): 0.0}
        before: dict[tuple[Place, int], tuple[tuple[Place, int], int | None]] = {}
        queue = [(start, 1)]
        while queue:
            node = queue.pop(0)
            place, side = node
            so_far = distance[node]
            moves: list[tuple[tuple[Place, int], float, int | None]] = []
            if side == 0:
                if place in capacity and ended.count(place) < capacity[place]:
                    moves.append(((target, 0), 0.0, None))
                if place not in through:
                    if place not in walls and place not in capacity:
                        moves.append(((place, 1), 0.0, None))
                for index, (u, v) in used.items():  # push back along a used chain that arrives here
                    if v == place and u != v:
                        moves.append(((u, 1), -chain_cost[index], index))
            else:
                if place in through and place not in (hot, cold):
                    moves.append(((place, 0), 0.0, None))
                for chain in skeleton.links.get(place, ()):
                    index = chain.index
                    if index in drop or not chain_flags[index] or chain.u == chain.v or index in used:
                        continue
                    there = chain.v if chain.u == place else chain.u
                    if there in (hot, cold):
                        continue
                    if there in walls and there not in capacity:
                        continue
                    moves.append(((there, 0), chain_cost[index], index))
            for to, step_cost, via in moves:
                total = so_far + step_cost
                if total < distance.get(to, float("inf")) - 1e-12:
                    distance[to] = total
                    before[to] = (node, via)
                    if to[0] != target and to not in queue:
                        queue.append(to)
        if (target, 0) not in before:
            return False
        node = (target, 0)
        last = before[node][0][0]
        ended.append(last)
        walk: list[tuple[tuple[Place, int], tuple[Place, int], int | None]] = []
        while node in before:
            prev, via = before[node]
            walk.append((prev, node, via))
            node = prev
        for prev, node, via in reversed(walk):
            if via is None:
                continue
            if via in used and used[via][0] == node[0]:
                del used[via]
            else:
                used[via] = (prev[0], node[0])
        through.clear()
        for u, v in used.values():
            for place in (u, v):
                if place not in (hot, cold) and place not in capacity:
                    through[place] = "used"
        return True

    ended: list[Place] = []
    if hot in capacity or cold in capacity:
        return None
    if not augment(hot) or not augment(cold):
        return None

    def leg(start: Place) -> tuple[list[Step], Place]:
        steps: list[Step] = []
        here = start
        onward = {u: (index, v) for index, (u, v) in used.items()}
        while here not in capacity:
            index, there = onward[here]
            chain = skeleton.chains[index]
            steps += chain.steps if chain.u == here else [(k, not f) for k, f in reversed(chain.steps)]
            here = there
        return steps, here

    out, _ = leg(hot)
    back, _ = leg(cold)
    cost = sum(chain_cost[i] for i in used)
    return cost, tuple(out), tuple((key, not forward) for key, forward in reversed(back))


def against(ways: Waterways, passing: Passing, steps: Iterable[Step]) -> list[Key]:
    """Elements of a walk that do not let it through in its direction."""
    out = []
    for key, forward in steps:
        flags = passing[key]
        if flags != BOTH and not flags & (FORWARD if forward else BACK):
            out.append(key)
    return out
