"""Reaching, shortest ways, and pairs of legs that share no place. No cycle is ever listed.

Walks respect direction: bit 1 of a passing flag lets a -> b through, bit 2 lets b -> a.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence, Set

from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.skeleton import Skeleton, Step
from loopwright.waterways.views import BACK, BOTH, FORWARD, Passing

Cost = Callable[[Element, bool], float]


def _as_set(things: Collection[Place]) -> Set[Place]:
    return things if isinstance(things, Set) else frozenset(things)


def reach(
    ways: Waterways,
    passing: Passing,
    starts: Iterable[Place],
    *,
    drop: Collection[Key] = (),
    walls: Collection[Place] = (),
    backwards: bool = False,
) -> set[Place]:
    """Places reached from `starts`. `drop` are elements left out, `walls` places entered but not crossed.

    With `backwards` the walk goes against the flow: places that reach `starts`.
    """
    seen = set(starts)
    todo = list(seen)
    walls = _as_set(walls) - seen
    drop, moves = _as_set(drop), ways.moves
    while todo:
        here = todo.pop()
        if here in walls:
            continue
        for key, there, bit in moves[here]:
            if there not in seen and key not in drop and passing[key] & (BOTH - bit if backwards else bit):
                seen.add(there)
                todo.append(there)
    return seen


def cheapest(
    ways: Waterways,
    passing: Passing,
    starts: Iterable[Place],
    ends: Collection[Place],
    cost: Cost,
    *,
    drop: Collection[Key] = (),
    walls: Collection[Place] = (),
) -> tuple[float, tuple[Step, ...]] | None:
    """The way of least cost from any start to any end, as steps, or None. `cost(element, forward)` is not negative."""
    best: dict[Place, float] = dict.fromkeys(starts, 0.0)
    back: dict[Place, tuple[Place, Step]] = {}
    heap: list[tuple[float, int, Place]] = [(0.0, i, p) for i, p in enumerate(best)]
    count = len(heap)
    ends, walls, drop = _as_set(ends), _as_set(walls), _as_set(drop)
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
        for key, there, bit in ways.moves[here]:
            if there in done or key in drop or not passing[key] & bit:
                continue
            total = so_far + cost(ways.elements[key], bit == FORWARD)
            if total < best.get(there, float("inf")):
                best[there] = total
                back[there] = (here, (key, bit == FORWARD))
                count += 1
                heapq.heappush(heap, (total, count, there))
    return None


def shortest(
    ways: Waterways,
    passing: Passing,
    starts: Iterable[Place],
    ends: Collection[Place],
    *,
    drop: Collection[Key] = (),
    walls: Collection[Place] = (),
) -> tuple[Step, ...] | None:
    """The way with the fewest elements, or None."""
    todo = list(dict.fromkeys(starts))
    back: dict[Place, tuple[Place, Step]] = {}
    seen = set(todo)
    ends, walls, drop, moves = _as_set(ends), _as_set(walls), _as_set(drop), ways.moves
    for here in todo:  # grows as it goes: the nearest first
        if here in ends:
            steps: list[Step] = []
            while here in back:
                here, step = back[here]
                steps.append(step)
            return tuple(reversed(steps))
        if here in walls and here in back:
            continue
        for key, there, bit in moves[here]:
            if there not in seen and passing[key] & bit and key not in drop:
                seen.add(there)
                back[there] = (here, (key, bit == FORWARD))
                todo.append(there)
    return None


def places_along(ways: Waterways, start: Place, steps: Iterable[Step]) -> list[Place]:
    """The places of a walk, start included."""
    out = [start]
    for key, forward in steps:
        element = ways.elements[key]
        out.append(element.b if forward else element.a)
    return out


def pair_of_legs(
    skeleton: Skeleton,
    chain_flags: Sequence[int],
    chain_cost: Sequence[float],
    hot: Place,
    cold: Place,
    ends: tuple[Place, ...],
    *,
    drop: Collection[int],
    walls: Collection[Place],
    barred: Collection[tuple[int, Place]] = (),
) -> tuple[float, tuple[Step, ...], tuple[Step, ...]] | None:
    """Two legs of least cost in all, sharing no place: hot -> one end of the sink, the other end -> cold.

    Min-cost flow of two units from {hot, cold} to `ends` on the node-split skeleton, by shortest augmenting paths
    (Suurballe 1974; Dijkstra on reduced costs). Both legs are sought outwards, from hot and from cold. Direction of
    one-way chains is not looked at: a chain passes if it passes either way, unless `barred` names the chain and the
    place it may not be entered from. Returns (cost, flow leg, return leg), both in flow direction, or None.
    """
    if hot in ends or cold in ends:
        return None
    pair = _Pair(skeleton, chain_flags, chain_cost, (hot, cold), ends, drop, walls, barred)
    if not pair.augment(hot) or not pair.augment(cold):
        return None
    back = pair.leg(cold)
    cost = sum(chain_cost[index] for index, _ in pair.onward.values())
    return cost, tuple(pair.leg(hot)), tuple((key, not forward) for key, forward in reversed(back))


Node = tuple[Place, int]
"""A place split in two: 0 arriving, 1 leaving."""


class _Pair:
    """The flow of up to two legs: which chain leaves each place that a leg passes, and which arrive there."""

    def __init__(
        self,
        skeleton: Skeleton,
        flags: Sequence[int],
        cost: Sequence[float],
        starts: tuple[Place, Place],
        ends: tuple[Place, ...],
        drop: Collection[int],
        walls: Collection[Place],
        barred: Collection[tuple[int, Place]],
    ) -> None:
        self.skeleton, self.flags, self.cost, self.starts = skeleton, flags, cost, starts
        self.drop, self.walls, self.barred = drop, walls, barred
        self.room = dict.fromkeys(ends, 1) if len(ends) == 2 else {ends[0]: 2}
        self.onward: dict[Place, tuple[int, Place]] = {}
        self.into: dict[Place, list[tuple[int, Place]]] = {}
        self.height: dict[Node, float] = {}  # potentials, which keep reduced costs from being negative; 0 if not listed

    def _moves(self, node: Node) -> Iterator[tuple[Node, float, int]]:
        """Onward nodes on what is left of the flow, with cost and chain (-1 inside a place)."""
        place, side = node
        if side == 0:
            for index, u in self.into.get(place, ()):  # push back along a used chain that arrives here
                yield (u, 1), -self.cost[index], index
            if place not in self.onward and place not in self.walls and place not in self.room:
                yield (place, 1), 0.0, -1
            return
        used = self.onward.get(place, (-1, place))[0]
        if used >= 0 and place not in self.starts:
            yield (place, 0), 0.0, -1
        for chain in self.skeleton.links.get(place, ()):
            index = chain.index
            there = chain.v if chain.u == place else chain.u
            if (
                index == used
                or not self.flags[index]
                or index in self.drop
                or there == place
                or there in self.starts
                or (there in self.walls and there not in self.room)
                or (index, place) in self.barred
            ):
                continue
            if self.onward.get(there, (-1, there))[0] != index:
                yield (there, 0), self.cost[index], index

    def augment(self, start: Place) -> bool:
        """One more leg from `start`, others re-routed if need be. False when there is none."""
        height = self.height
        best: dict[Node, float] = {(start, 1): 0.0}
        back: dict[Node, tuple[Node, int]] = {}
        heap: list[tuple[float, int, Node]] = [(0.0, 0, (start, 1))]
        count, done = 0, set[Node]()
        while heap:
            so_far, _, node = heapq.heappop(heap)
            if node in done:
                continue
            if node[1] == 0 and self.room.get(node[0], 0) > 0:
                self._lay(node, back)
                for reached in done:  # potentials beyond the target's are cut to it, and the target's set to 0
                    height[reached] = height.get(reached, 0.0) + best[reached] - so_far
                return True
            done.add(node)
            here = height.get(node, 0.0)
            for to, cost, index in self._moves(node):
                total = so_far + max(0.0, cost + here - height.get(to, 0.0))
                if to not in done and total < best.get(to, float("inf")):
                    best[to] = total
                    back[to] = (node, index)
                    count += 1
                    heapq.heappush(heap, (total, count, to))
        return False

    def _lay(self, node: Node, back: dict[Node, tuple[Node, int]]) -> None:
        self.room[node[0]] -= 1
        gone: list[tuple[Place, int, Place]] = []
        new: list[tuple[Place, int, Place]] = []
        while node in back:
            before, index = back[node]
            if index >= 0 and node[1] == 1:
                gone.append((node[0], index, before[0]))
            elif index >= 0:
                new.append((before[0], index, node[0]))
            node = before
        for u, index, v in gone:
            del self.onward[u]
            self.into[v].remove((index, u))
        for u, index, v in new:
            self.onward[u] = (index, v)
            self.into.setdefault(v, []).append((index, u))

    def leg(self, start: Place) -> list[Step]:
        """The steps of the leg from `start` outwards."""
        steps: list[Step] = []
        here = start
        while here in self.onward:
            index, there = self.onward[here]
            chain = self.skeleton.chains[index]
            steps += chain.steps if chain.u == here else [(k, not f) for k, f in reversed(chain.steps)]
            here = there
        return steps


def against(ways: Waterways, passing: Passing, steps: Iterable[Step]) -> list[Key]:
    """Elements of a walk that do not let it through in its direction."""
    out = []
    for key, forward in steps:
        flags = passing[key]
        if flags != BOTH and not flags & (FORWARD if forward else BACK):
            out.append(key)
    return out
