"""Repairs at pipes: a larger size, copper for plastic, laid to rise, led so that they climb, a higher turn-over.

Owns which size, grade or way to try. The trial in `repairs` decides whether it helps.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from itertools import pairwise, product
from math import ceil

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.rules.findings import Finding
from loopwright.rules.mending.steps import called, led_anew
from loopwright.rules.repairs import Proposal, Repair, repair
from loopwright.sheet import edits
from loopwright.sheet.change import with_records
from loopwright.sheet.geometry import polyline
from loopwright.sheet.plane import TINY_M
from loopwright.sheet.sizes import sizes
from loopwright.sheet.values import Pipe, Point, Sheet
from loopwright.words import listed

MOST_GRADED = 4
"""Pipes whose two ways of rising are all tried together; more of them all rise towards the same ends."""


def _pipes(sheet: Sheet, finding: Finding) -> list[Pipe]:
    return [sheet.pipes[c] for c in finding.culprits if c in sheet.pipes and not sheet.pipes[c].joint]


def _mm(size: str) -> float | None:
    try:
        return float(size)
    except ValueError:
        return None


def _larger(material: str, least_mm: float) -> list[str]:
    """Listed sizes from `least_mm` up, smallest first."""
    found = [(mm, name) for name in sizes(material) if (mm := _mm(name)) is not None and mm >= least_mm - 1e-6]
    return [name for _, name in sorted(found)]


@repair(
    "gravity-loop/small-bore",
    "vent-and-feed/vent-too-small",
    "vent-and-feed/feed-too-small",
    "vent-and-feed/cistern-unfit",
    "discharge/undersized",
)
def enlarging(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The pipes in the size asked for; where a bore is asked for, in the smallest size that has it."""
    thin = _pipes(sheet, finding)
    if not thin or finding.unit not in ("mm", "m", ""):
        return
    if finding.unit == "mm" and finding.limit:
        least = finding.limit
    else:
        least = 1.0 + max((_mm(p.size) or 0.0) for p in thin)
    options = []
    for step in range(4):
        wanted: dict[str, str] = {}
        for pipe in thin:
            if (_mm(pipe.size) or 0.0) < least - 1e-6 or step:
                larger = _larger(pipe.material, least)
                if len(larger) <= step:
                    wanted = {}
                    break
                wanted[pipe.id] = larger[step]
        if wanted:
            size = listed(sorted(set(wanted.values()), key=lambda s: _mm(s) or 0.0))
            options.append(
                Repair(
                    f"Draw {listed(wanted) if len(wanted) < 4 else f'{len(wanted)} pipes'} in {size} mm",
                    partial(_sized, wanted=wanted),
                )
            )
    yield tuple(options)


def _sized(sheet: Sheet, wanted: dict[str, str]) -> Sheet:
    for pipe_id, size in wanted.items():
        sheet = edits.set_pipe(sheet, pipe_id, size=size)
    return sheet


@repair("solid-fuel/plastic-pipe", "discharge/rises")
def coppering(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """Copper of the same size, or the next larger one."""
    plastic = [p for p in _pipes(sheet, finding) if p.material not in ("copper", "steel")]
    if plastic:
        yield Repair(f"Run {listed(p.id for p in plastic)} in copper", lambda s: _in_copper(s, plastic))


def _in_copper(sheet: Sheet, plastic: Iterable[Pipe]) -> Sheet:
    for pipe in plastic:
        fit = _larger("copper", _mm(pipe.size) or 0.0)
        if not fit:
            raise SheetError(f"Copper is not listed in the size of {pipe.id}", do="Choose a size for it")
        sheet = edits.set_pipe(sheet, pipe.id, material="copper", size=fit[0])
    return sheet


@repair("gravity-loop/level-run", "vent-and-feed/vent-dips", "discharge/rises")
def grading(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """Level runs marked as laid to rise; which way helps is found by trying."""
    level = [p for p in _pipes(sheet, finding) if _has_level_run(sheet, p, catalogue)]
    if not level:
        return
    names = listed(p.id for p in level) if len(level) < 4 else f"{len(level)} pipes"
    ways = product("ba", repeat=len(level)) if len(level) <= MOST_GRADED else ("b" * len(level), "a" * len(level))
    yield tuple(
        Repair(
            f"Lay the level runs of {names} to rise, and mark them graded",
            partial(_graded, ends={p.id: end for p, end in zip(level, way)}),
        )
        for way in ways
    )


def _has_level_run(sheet: Sheet, pipe: Pipe, catalogue: Catalogue) -> bool:
    return any(abs(p[1] - q[1]) < TINY_M < abs(p[0] - q[0]) for p, q in pairwise(polyline(sheet, pipe, catalogue)))


def _graded(sheet: Sheet, ends: dict[str, str]) -> Sheet:
    for pipe_id, end in ends.items():
        sheet = edits.set_pipe(sheet, pipe_id, graded=end)
    return sheet


@repair("gravity-loop/dips", "vent-and-feed/vent-dips", "discharge/rises", "vent-and-feed/cistern-unfit")
def climbing(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """One pipe led without its dip: some of its corners left out, or a new way."""
    for pipe in _pipes(sheet, finding):
        line = polyline(sheet, pipe, catalogue)
        found = _straighter(line)
        options = [partial(_led, pipe=pipe, points=points) for points in found[:6]]
        options += [partial(_led, pipe=pipe, points=points, graded=end) for end in "ba" for points in found[:2]]
        yield tuple(
            Repair(f"Lead {pipe.id} without the {'rise' if 'rises' in finding.rule else 'dip'}", option)
            for option in (*options, partial(led_anew, pipe=pipe, catalogue=catalogue))
        )


def _led(sheet: Sheet, pipe: Pipe, points: tuple[Point, ...], graded: str | None = None) -> Sheet:
    sheet = edits.set_pipe(sheet, pipe.id, points=points, held=())
    return sheet if graded is None else edits.set_pipe(sheet, pipe.id, graded=graded)


def _straighter(line: tuple[Point, ...]) -> list[tuple[Point, ...]]:
    """Ways with fewer ups and downs, made of the corners of a line: the least waves first, then the least left out."""
    waves = _waves(line)
    out: dict[tuple[Point, ...], tuple[float, int]] = {}
    inner = line[1:-1]
    for begin in range(len(inner) + 1):
        for end in range(begin + 1, len(inner) + 1):
            before, after = line[: begin + 1], line[end + 1 :]
            for bend in ((), ((before[-1][0], after[0][1]),), ((after[0][0], before[-1][1]),)):
                new = (*before, *bend, *after)
                if _square(new) and _waves(new) < waves - TINY_M:
                    out.setdefault(new[1:-1], (round(_waves(new), 4), end - begin))
    return sorted(out, key=lambda points: out[points])


def _square(line: tuple[Point, ...]) -> bool:
    return all((abs(p[0] - q[0]) < TINY_M) != (abs(p[1] - q[1]) < TINY_M) for p, q in pairwise(line))


def _waves(line: tuple[Point, ...]) -> float:
    """Metres climbed and fallen beyond what the ends ask for."""
    return sum(abs(q[1] - p[1]) for p, q in pairwise(line)) - abs(line[-1][1] - line[0][1])


@repair("vent-and-feed/vent-too-low")
def turning_over_higher(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The top of the vent raised by what is missing, rounded up to a centimetre."""
    if finding.measured is None or finding.limit is None or finding.unit != "mm":
        return
    by = ceil((finding.limit - finding.measured) / 10.0 - 1e-9) / 100.0
    for pipe in _pipes(sheet, finding) if by > 0 else ():
        top = max((z for _, z in pipe.points), default=None)
        if top is not None:
            name = called(sheet, pipe.id, catalogue)
            yield Repair(f"Raise the top of {name} by {by * 1000:.0f} mm", partial(_raised, pipe=pipe, top=top, by=by))


def _raised(sheet: Sheet, pipe: Pipe, top: float, by: float) -> Sheet:
    points = tuple((x, round(z + by, 6)) if z > top - 1e-3 else (x, z) for x, z in pipe.points)
    return with_records(sheet, pipes={**sheet.pipes, pipe.id: msgspec.structs.replace(pipe, points=points)})
