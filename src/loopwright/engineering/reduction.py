"""The drawing reduced to what can circulate: runs between joints, dead ends and bridges left out.

Owns which ways make a flow network under a view. Knows nothing of bores, heights, heat or how it is solved.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence

import msgspec
import networkx as nx

from loopwright.waterways.graph import Key, Place, Waterways
from loopwright.waterways.skeleton import Step
from loopwright.waterways.views import BACK, BOTH, FORWARD, Passing


class Run(msgspec.Struct, frozen=True):
    """Steps in order from `u` to `v`. `flags`: bit 1 passes u -> v, bit 2 passes v -> u."""

    u: Place
    v: Place
    steps: tuple[Step, ...]
    flags: int

    def turned(self) -> Run:
        """The same run from its other end."""
        flags = self.flags if self.flags in (0, BOTH) else (BACK if self.flags == FORWARD else FORWARD)
        return Run(self.v, self.u, tuple((key, not ahead) for key, ahead in reversed(self.steps)), flags)

    @property
    def oriented(self) -> Run:
        """From end to end the way that it passes."""
        return self.turned() if self.flags == BACK else self


def circulating(
    ways: Waterways,
    passes: Passing,
    elements: frozenset[Key],
    driven: Callable[[Iterable[Key], Place], bool],
    *,
    extra: Sequence[Run] = (),
    kept: Collection[Place] = (),
) -> list[Run]:
    """Runs in which water can go round, in the order of the sheet.

    `elements` are those of one water; cisterns are cut. Runs through places that join just two of them are merged,
    so that a ring keeps one joint. `driven(keys, place)` says whether a run or a place can set water going:
    connected parts without any are left out. `extra` are runs that are not drawn (water taken at a tap comes in again
    at the main); places in `kept` are never merged away.
    """
    skeleton = ways.skeleton
    flags = skeleton.passes(passes)
    cisterns, bodies = set(ways.bodies("cistern")), {*ways.bodies(), *kept}
    last = {source.cold: i for i, source in enumerate(ways.sources)}  # a ring keeps its source's return as its joint
    runs: dict[int, Run] = {
        c.index: Run(c.u, c.v, c.steps, flags[c.index])
        for c in skeleton.chains
        if flags[c.index] and c.steps[0][0] in elements and not {c.u, c.v} & cisterns
    }
    runs.update({len(skeleton.chains) + i: run for i, run in enumerate(extra)})
    while True:
        for index in _bridges(runs):
            del runs[index]
        if not _merge_all(runs, bodies, last):
            return _driven(runs, driven)


def _merge_all(runs: dict[int, Run], bodies: set[Place], last: dict[Place, int]) -> bool:
    """Merge what can be merged. True as soon as runs were taken out, so that others may have lost their ring."""
    while True:
        before = len(runs)
        if not _merge_one(runs, bodies, last):
            return False
        if len(runs) < before - 1:
            return True


def _bridges(runs: dict[int, Run]) -> set[int]:
    """Runs that lie on no ring, dead ends included."""
    graph: nx.Graph = nx.Graph()
    for index, run in runs.items():
        if run.u != run.v:
            graph.add_edge(run.u, index)
            graph.add_edge(index, run.v)
    return {end for bridge in nx.bridges(graph) for end in bridge if isinstance(end, int)}


def _merge_one(runs: dict[int, Run], bodies: set[Place], last: dict[Place, int]) -> bool:
    """Merge the runs of one place that joins just two; two that oppose each other are taken out. False: none left."""
    at: dict[Place, list[int]] = {}
    for index, run in runs.items():
        at.setdefault(run.u, []).append(index)
        at.setdefault(run.v, []).append(index)
    found = [p for p, joined in at.items() if len(joined) == 2 and joined[0] != joined[1] and p not in bodies]
    if not found:
        return False
    place = min(found, key=lambda p: last.get(p, -1))
    one, two = at[place]
    first = runs.pop(one)
    second = runs.pop(two)
    first = first if first.v == place else first.turned()
    second = second if second.u == place else second.turned()
    if first.flags & second.flags:
        runs[min(one, two)] = Run(first.u, second.v, first.steps + second.steps, first.flags & second.flags)
    return True


def _driven(runs: dict[int, Run], driven: Callable[[Iterable[Key], Place], bool]) -> list[Run]:
    graph: nx.Graph = nx.Graph()
    for run in runs.values():
        graph.add_edge(run.u, run.v)
    alive: set[Place] = set()
    for part in nx.connected_components(graph):
        keys = [k for run in runs.values() if run.u in part for k, _ in run.steps]
        if any(driven(keys, place) for place in part):
            alive |= part
    return [runs[index].oriented for index in sorted(runs) if runs[index].u in alive]
