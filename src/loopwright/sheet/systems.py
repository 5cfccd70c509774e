"""A sheet parted into its systems: what no pipe and no control link joins.

Owns the parting. A system is a sheet of its own with what its water may depend on; title, notes and what reviewers
wrote are left behind, so that two of them are equal exactly when nothing in them can be judged differently.
"""

from __future__ import annotations

from collections.abc import Mapping

from loopwright.sheet.values import ControlLink, Part, Pipe, Sheet

LOOSE = ""
"""Stands for the parts that nothing joins to any other; they are one system, since each alone has nothing to tell."""


def parted(sheet: Sheet) -> tuple[Sheet, ...]:
    """The systems of a sheet, each in the order of the sheet, ordered by their first part; none for an empty one."""
    above: dict[str, str] = {}

    def head(part: str) -> str:
        while (up := above[part]) != part:
            above[part] = part = above[up]
        return part

    ends = [(pipe.a.part, pipe.b.part) for pipe in sheet.pipes.values()]
    for link in sheet.links.values():
        sensed = (link.sensor, link.second) if link.second else (link.sensor,)
        ends += [(link.target, sensor.partition("/")[0]) for sensor in sensed]
    for pair in ends:
        for end in pair:
            above.setdefault(end, end)
        one, other = head(pair[0]), head(pair[1])
        above[other] = one
    heads = {part: head(part) if part in above else LOOSE for part in sheet.parts}
    order = dict.fromkeys(heads.values())
    if len(order) <= 1:
        return (_system(sheet, sheet.parts, sheet.pipes, sheet.links),) if order else ()
    parts: dict[str, dict[str, Part]] = {name: {} for name in order}
    pipes: dict[str, dict[str, Pipe]] = {name: {} for name in order}
    links: dict[str, dict[str, ControlLink]] = {name: {} for name in order}
    for part in sheet.parts.values():
        parts[heads[part.id]][part.id] = part
    for pipe in sheet.pipes.values():
        pipes[heads[pipe.a.part]][pipe.id] = pipe
    for link in sheet.links.values():
        links[heads[link.target]][link.id] = link
    return tuple(_system(sheet, parts[name], pipes[name], links[name]) for name in order)


def _system(
    sheet: Sheet, parts: Mapping[str, Part], pipes: Mapping[str, Pipe], links: Mapping[str, ControlLink]
) -> Sheet:
    return Sheet(
        title="",
        levels=sheet.levels,
        parts=dict(parts),
        pipes=dict(pipes),
        links=dict(links),
        limits=sheet.limits,
        facts=sheet.facts,
    )
