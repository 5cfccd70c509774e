"""What comes before what: the jobs of a sheet as a partial order, and which of it an arrangement breaks.

Owns the arrows between jobs and their reasons. Knows nothing of pipes or of words.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

import msgspec
import networkx as nx

from loopwright.errors import LoopwrightError
from loopwright.lessons.order_jobs import Job
from loopwright.lessons.order_steps import NO_SOURCE, steps
from loopwright.rules.registry import facts


class ArrangementError(LoopwrightError):
    """An arrangement that names a job twice, or one that the sheet does not ask for."""


class Precedence(msgspec.Struct, frozen=True):
    """Job `before` comes before job `after`, and why. `sources` are keys of published figures; none: practice."""

    before: str
    after: str
    why: str
    sources: tuple[str, ...] = ()

    @property
    def source(self) -> str:
        """Where the reason is written, in words."""
        return "; ".join(dict.fromkeys(facts()[key].source for key in self.sources)) or NO_SOURCE


class Broken(msgspec.Struct, frozen=True):
    """A precedence that an arrangement breaks. `chain` runs from the job that comes first to the one put before it.

    `why` gives the reason of each link of the chain: one, unless jobs in between are missing from the arrangement.
    """

    before: str
    after: str
    chain: tuple[str, ...]
    why: tuple[str, ...]
    sources: tuple[str, ...] = ()


def precedences(jobs: Sequence[Job]) -> tuple[Precedence, ...]:
    """Every arrow between jobs, in the order of the table. A step that the sheet does not have asks for nothing."""
    by_step: dict[str, list[Job]] = {}
    for job in jobs:
        by_step.setdefault(job.step, []).append(job)
    out: dict[tuple[str, str], Precedence] = {}
    for step in steps().step:
        for job in by_step.get(step.key, ()):
            for after in step.after:
                for first in by_step.get(after.step, ()):
                    if first.key != job.key and _bears(first, job, after.by):
                        made = Precedence(first.key, job.key, after.why, after.facts)
                        out.setdefault((first.key, job.key), made)
    return tuple(out.values())


def _bears(first: Job, job: Job, by: str) -> bool:
    if first.whole or job.whole or by == "any":
        return True
    if first.near & job.near or first.subject == job.subject != "":
        return True
    return by == "near" and bool(first.waters & job.waters)


def graph_of(jobs: Sequence[Job], arrows: Sequence[Precedence]) -> nx.DiGraph:
    """The partial order: a node a job key, an edge a precedence (data `why`, `sources`)."""
    graph: nx.DiGraph = nx.DiGraph()
    graph.add_nodes_from(job.key for job in jobs)
    graph.add_edges_from((a.before, a.after, {"why": a.why, "sources": a.sources}) for a in arrows)
    return graph


def broken_in(graph: nx.DiGraph, arrangement: Sequence[str]) -> tuple[Broken, ...]:
    """Every precedence that an arrangement breaks, the earliest first.

    The arrangement may leave jobs out: what follows through a job that is missing is still asked for. Raises
    ArrangementError for a job that is named twice or that the graph does not have.
    """
    place: dict[str, int] = {}
    for number, key in enumerate(arrangement):
        if key not in graph:
            raise ArrangementError(f"There is no job “{key}” in this order of work", do="Take its key from the list")
        if key in place:
            raise ArrangementError(f"The job “{key}” is there twice", do="Name each job once")
        place[key] = number
    out = []
    for last in place:
        for chain in _chains(graph, last, place):
            if place[chain[0]] > place[last]:
                links = [graph.edges[a, b] for a, b in pairwise(chain)]
                sources = tuple(dict.fromkeys(s for link in links for s in link["sources"]))
                out.append(Broken(chain[0], last, chain, tuple(link["why"] for link in links), sources))
    return tuple(sorted(out, key=lambda b: (place[b.after], place[b.before])))


def _chains(graph: nx.DiGraph, last: str, place: Mapping[str, int]) -> Iterator[tuple[str, ...]]:
    """Shortest chains to a job from each that must come before it, with only missing jobs in between."""
    ring: list[tuple[str, ...]] = [(last,)]
    seen = {last}
    while ring:
        onward: list[tuple[str, ...]] = []
        for chain in ring:
            for before in graph.predecessors(chain[0]):
                if before in seen:
                    continue
                seen.add(before)
                if before in place:
                    yield (before, *chain)
                else:
                    onward.append((before, *chain))
        ring = onward
