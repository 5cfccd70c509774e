"""The order of work of a sheet: its jobs, what comes before what and why, an order to follow, and the ticks.

Owns the answer as one value. Knows nothing of how jobs are found (`order_jobs`) or shown (`order_print`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property

import msgspec
import networkx as nx

from loopwright.catalogue import Catalogue
from loopwright.lessons.order_jobs import Job, crossed, jobs
from loopwright.lessons.order_steps import rank_of_step, steps
from loopwright.lessons.order_words import called, detail, title
from loopwright.lessons.precedence import Broken, Precedence, broken_in, graph_of, precedences
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways

DONE = "done "
"""Starts the name of the fact under which a sheet keeps a ticked job."""
ON_FLOOR_M = 0.05
"""A part that stands this little below a floor stands on it."""


class Task(msgspec.Struct, frozen=True, kw_only=True):
    """One job. `key` is its name in ticks and arrangements; `parts` and `pipes` are ids of the sheet.

    `place` is the floor it is done on, or empty where it is on several. `sources` are keys of published figures that
    bear on it.
    """

    key: str
    step: str
    stage: str
    title: str
    detail: str = ""
    place: str = ""
    subject: str = ""
    parts: tuple[str, ...] = ()
    pipes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()


class WorkOrder(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """The order of work. `tasks` stand in the suggested order; `needs_none` are parts and pipes in no task."""

    title: str
    tasks: tuple[Task, ...]
    precedences: tuple[Precedence, ...]
    needs_none: tuple[str, ...] = ()
    unclear: tuple[str, ...] = ()
    """What the sheet leaves open, in sentences."""

    @cached_property
    def graph(self) -> nx.DiGraph:
        """The partial order: a node a task's key, an edge a precedence."""
        graph: nx.DiGraph = nx.DiGraph()
        graph.add_nodes_from(t.key for t in self.tasks)
        graph.add_edges_from((p.before, p.after, {"why": p.why, "sources": p.sources}) for p in self.precedences)
        return nx.freeze(graph)

    @cached_property
    def by_key(self) -> dict[str, Task]:
        """Tasks by key."""
        return {t.key: t for t in self.tasks}

    @cached_property
    def number(self) -> dict[str, int]:
        """Each task's number in the suggested order, from 1."""
        return {t.key: n for n, t in enumerate(self.tasks, 1)}

    @cached_property
    def shown(self) -> tuple[Precedence, ...]:
        """The precedences that no others imply: what a checklist has to name."""
        least = nx.transitive_reduction(self.graph)
        return tuple(p for p in self.precedences if least.has_edge(p.before, p.after))

    def before(self, key: str) -> tuple[Precedence, ...]:
        """Every precedence in which a task comes last, implied ones too, by number."""
        return tuple(sorted((p for p in self.precedences if p.after == key), key=lambda p: self.number[p.before]))


def order_of_work(ways: Waterways) -> WorkOrder:
    """The order of work of a sheet. An empty sheet has none."""
    found = jobs(ways)
    arrows = precedences(found)
    graph = graph_of(found, arrows)
    by_key = {job.key: job for job in found}
    rank = _ranks(ways, found)
    ordered = list(nx.lexicographical_topological_sort(graph, key=rank.__getitem__)) if found else []
    tasks = tuple(_task(ways, by_key[key]) for key in ordered)
    named = {name for job in found for name in (*job.parts, *job.pipes, job.subject)}
    left = tuple(name for name in (*ways.sheet.parts, *ways.sheet.pipes) if name not in named)
    return WorkOrder(
        title=ways.sheet.title, tasks=tasks, precedences=arrows, needs_none=left, unclear=tuple(_unclear(ways, found))
    )


def broken(order: WorkOrder, arrangement: Sequence[str]) -> tuple[Broken, ...]:
    """Every precedence that an arrangement of task keys breaks, the earliest first, with its reasons.

    Tasks may be left out. Raises ArrangementError for a key that is there twice or is no task's.
    """
    return broken_in(order.graph, arrangement)


def _task(ways: Waterways, job: Job) -> Task:
    step = next(s for s in steps().step if s.key == job.step)
    stage = next(s for s in steps().stage if s.key == step.stage)
    return Task(
        key=job.key,
        step=step.key,
        stage=stage.name,
        title=title(ways, step, job),
        detail=detail(ways, step, job),
        place=place_of(ways, job),
        subject=job.subject,
        parts=job.parts,
        pipes=job.pipes,
        sources=step.facts,
    )


# -- the suggested order ----------------------------------------------------------------------------------------------


def _level(ways: Waterways, part: str) -> int:
    """Number of the floor a part stands on, from below."""
    levels = sorted(level.height_m for level in ways.sheet.levels)
    height = ways.sheet.parts[part].height_m + ON_FLOOR_M
    return max((n for n, z in enumerate(levels) if z <= height), default=0)


def place_of(ways: Waterways, job: Job) -> str:
    """The floor that a job is done on, or '' where it is on several or on none."""
    if job.whole or job.wide or any(crossed(ways, pipe) for pipe in job.pipes):
        return ""
    floors = {_level(ways, p) for p in (job.subject, *job.parts) if p}
    levels = sorted(ways.sheet.levels, key=lambda level: level.height_m)
    return levels[floors.pop()].name if len(floors) == 1 else ""


def _ranks(ways: Waterways, found: Sequence[Job]) -> dict[str, tuple[float, ...]]:
    """Ties: by stage; floor by floor where the stage says so; by step; fires first, then heavy, low, near the fire.

    What is left after that goes by the order of the sheet, so neither names nor left and right matter.
    """
    stages = {stage.key: (n, stage.by_place) for n, stage in enumerate(steps().stage)}
    stage_of = {step.key: stages[step.stage] for step in steps().step}
    parts = ways.sheet.parts
    middle = next((parts[s.part].x_m for s in ways.fires), None)
    if middle is None:
        middle = next((parts[b[1]].x_m for b in ways.bodies("store", "cylinder")), 0.0)
    number = {name: n for n, name in enumerate(parts)}
    out: dict[str, tuple[float, ...]] = {}
    for job in found:
        stage, by_place = stage_of[job.step]
        part = parts.get(job.subject)
        floor = float(_level(ways, part.id)) if part is not None and by_place else -1.0
        weight = _weight(ways, part.id) if part is not None else 0.0
        height = part.height_m if part is not None else 0.0
        away = round(abs(part.x_m - middle), 6) if part is not None else 0.0
        own = float(number[part.id]) if part is not None else 0.0
        fire = 0.0 if any(s.part == job.subject for s in ways.fires) else 1.0
        out[job.key] = (float(stage), floor, float(rank_of_step()[job.step]), fire, -weight, height, away, own)
    return out


def _weight(ways: Waterways, part: str) -> float:
    return ways.number(part, "volume_l") or 0.0 if ways.kind(part).prop("volume_l") else 0.0


def _unclear(ways: Waterways, found: Sequence[Job]) -> list[str]:
    filled = {n for job in found if job.step.startswith("fill-") for n in job.waters}
    return [
        f"How the water of {called(ways, job.subject)} is filled is not clear: the sheet shows neither a cistern with "
        "feed and vent nor a sealed system with its relief valve"
        for job in found
        if job.step == "test-heat" and not job.waters & filled
    ]


# -- ticks ------------------------------------------------------------------------------------------------------------


def ticked(sheet: Sheet) -> frozenset[str]:
    """Keys of the jobs that are ticked on a sheet, those it no longer asks for too."""
    return frozenset(name.removeprefix(DONE) for name, v in sheet.facts.items() if name.startswith(DONE) and v is True)


def tick(sheet: Sheet, key: str, done: bool = True) -> Sheet:
    """The sheet with a job ticked, or no longer. The tick is a fact of the sheet: it is saved with it."""
    return edits.set_fact(sheet, f"{DONE}{key}", True if done else None)


def untick_all(sheet: Sheet) -> Sheet:
    """The sheet with no job ticked."""
    for key in ticked(sheet):
        sheet = tick(sheet, key, False)
    return sheet


def ready(order: WorkOrder, done: frozenset[str]) -> tuple[str, ...]:
    """Keys of the tasks that may be started: not done, and everything before them is."""
    return tuple(
        t.key for t in order.tasks if t.key not in done and all(p in done for p in order.graph.predecessors(t.key))
    )


def order_of_sheet(sheet: Sheet, catalogue: Catalogue) -> WorkOrder:
    """The order of work of a sheet whose waterways are not built yet."""
    return order_of_work(Waterways(sheet, catalogue))
