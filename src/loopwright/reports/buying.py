"""What to buy for a sheet: parts counted by kind and what was given of them, pipe by size and material.

Owns the counting and the allowance. Knows nothing of reports: `loopwright parts` prints the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.engineering.tables import table
from loopwright.reports.words import quantity
from loopwright.sheet.geometry import developed_length_m
from loopwright.sheet.values import Part, Sheet
from loopwright.waterways import Waterways

ALLOWANCE_PERCENT = 10.0
"""Waste and what a drawing does not show: common practice, no source."""
STEP_M = 0.1


class PartLine(msgspec.Struct, frozen=True, kw_only=True):
    """So many parts alike: same kind, same given properties. `ids` are theirs on the sheet."""

    kind: str
    name: str
    group: str
    count: int
    given: tuple[str, ...]
    ids: tuple[str, ...]


class PipeLine(msgspec.Struct, frozen=True, kw_only=True):
    """Pipe of one size and material: how many pieces, metres drawn, metres to buy."""

    size: str
    material: str
    title: str
    count: int
    drawn_m: float
    order_m: float


class Order(msgspec.Struct, frozen=True, kw_only=True):
    """Everything to buy. Parts marked as existing are left out and counted in `existing`."""

    parts: tuple[PartLine, ...]
    pipes: tuple[PipeLine, ...]
    allowance_percent: float
    existing: int


def order(
    sheet: Sheet, catalogue: Catalogue, ways: Waterways | None = None, allowance_percent: float = ALLOWANCE_PERCENT
) -> Order:
    """What to buy. Lengths are developed lengths; with the allowance they are rounded up to a tenth of a metre."""
    ways = ways or Waterways(sheet, catalogue)
    groups = list(catalogue.groups())
    alike: dict[tuple[int, str, tuple[str, ...]], list[Part]] = {}
    for part in sheet.parts.values():
        if not part.existing:
            kind = catalogue[part.kind]
            key = (groups.index(kind.group), kind.name, (part.kind, *_given(part, catalogue, sheet)))
            alike.setdefault(key, []).append(part)
    lines = tuple(
        PartLine(
            kind=same[0].kind,
            name=name,
            group=groups[at],
            count=len(same),
            given=given[1:],
            ids=tuple(p.id for p in same),
        )
        for (at, name, given), same in sorted(alike.items(), key=lambda item: item[0])
    )
    return Order(
        parts=lines,
        pipes=tuple(_pipes(sheet, ways, allowance_percent)),
        allowance_percent=allowance_percent,
        existing=sum(p.existing for p in sheet.parts.values()),
    )


def _given(part: Part, catalogue: Catalogue, sheet: Sheet) -> tuple[str, ...]:
    """What was typed of a part, in the order of its kind; and the sizes of the pipes it joins, for a joint."""
    kind = catalogue[part.kind]
    said = []
    for spec in kind.props:
        value = part.props.get(spec.name)
        if value is None or (isinstance(value, bool) and not value):
            continue
        if isinstance(value, bool):
            said.append(spec.label.lower())
        elif isinstance(value, int | float):
            said.append(f"{spec.label.lower()} {quantity(float(value), spec.unit)}")
        else:
            said.append(f"{spec.label.lower()} {str(value).replace('_', ' ')}")
    if not kind.large:
        sizes = [f"{p.size} {p.material}" for p in sheet.pipes_of(part.id) if not p.joint]
        if sizes:
            said.insert(0, _sizes(sizes))
    return tuple(said)


def _sizes(sizes: Iterable[str]) -> str:
    """Sizes of the pipes at a fitting, largest first, each once where all are alike: “28 × 28 × 22 copper”."""
    pairs = [(s.split()[0], s.split()[1]) for s in sizes]
    materials = list(dict.fromkeys(m for _, m in pairs))
    names = sorted((s for s, _ in pairs), key=lambda s: (-float(s.partition("x")[0]), s))
    said = names[0] if len(set(names)) == 1 else " × ".join(names)
    return f"{said} {' and '.join(materials)}"


def _pipes(sheet: Sheet, ways: Waterways, allowance_percent: float) -> Iterable[PipeLine]:
    alike: dict[tuple[str, str], list[float]] = {}
    for pipe in sheet.pipes.values():
        if not pipe.joint:
            alike.setdefault((pipe.material, pipe.size), []).append(developed_length_m(sheet, pipe, ways.catalogue))
    known = table("pipes")
    for (material, size), lengths in sorted(alike.items(), key=lambda i: (i[0][0], -float(i[0][1].partition("x")[0]))):
        drawn = sum(lengths)
        steps = ceil(round(drawn * (1 + allowance_percent / 100) / STEP_M, 6))
        yield PipeLine(
            size=size,
            material=material,
            title=known[material]["title"] if material in known else material,
            count=len(lengths),
            drawn_m=round(drawn, 4),
            order_m=round(steps * STEP_M, 1),
        )
