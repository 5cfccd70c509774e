"""Heights that a fitter measures first, as two feet for a dimension: the rise of an open vent over its water, and the
height that drives a fire's gravity loop.

Owns which two places these are. Refuses to know dimensions on a sheet and how they are drawn.
"""

from __future__ import annotations

from itertools import pairwise

import msgspec

from loopwright.rules.registry import Case
from loopwright.rules.shedding import fixed_loops
from loopwright.rules.vents import fires, line_m, vent_ends, vented_waters
from loopwright.sheet.geometry import polyline
from loopwright.sheet.values import End, Foot, Pipe
from loopwright.waterways.loops import Loop


class Measure(msgspec.Struct, frozen=True):
    """Two feet, the lower first, and the ids it is about."""

    about: frozenset[str]
    a: Foot
    b: Foot


def vent_rises(case: Case) -> list[Measure]:
    """Of each open vent: from the cold water line of its cistern to the highest place of its last pipe."""
    out = []
    for water in vented_waters(case):
        for element in vent_ends(case, water):
            line = line_m(case, element.part)
            port = element.port
            pipe = case.sheet.pipes.get(case.sheet.taken.get(End(element.part, port[2]), ""))
            if line is None or pipe is None:
                continue
            low = Foot(part=element.part, height_m=round(line - case.sheet.parts[element.part].height_m, 6))
            out.append(Measure(frozenset({element.part, pipe.id}), low, _highest(case, pipe)))
    return out


def _highest(case: Case, pipe: Pipe) -> Foot:
    """The highest level run of a pipe; where none is highest, the port at its higher end."""
    line = polyline(case.sheet, pipe, case.ways.catalogue)
    top = max(z for _, z in line)
    for a, b in pairwise(line):
        if abs(a[1] - top) < 1e-3 and abs(b[1] - top) < 1e-3:
            return Foot(pipe=pipe.id, run="level", x_m=round((a[0] + b[0]) / 2, 6), height_m=round(top, 6))
    end = pipe.a if line[0][1] >= line[-1][1] else pipe.b
    return Foot(part=end.part, port=end.port)


def circulating_heights(case: Case) -> list[Measure]:
    """Of each fire and each sink that nothing can shut off from it: from the fire's middle to that of the sink, or to
    the tapping by which its water enters a store."""
    out = []
    for source in fires(case):
        part = case.sheet.parts[source.part]
        low = Foot(part=part.id, height_m=round(source.height_m - part.height_m, 6))
        for loop in fixed_loops(case, source):
            about = frozenset({source.part, loop.sink.part})
            out.append(Measure(about, low, _middle(case, loop)))
    return out


def _middle(case: Case, loop: Loop) -> Foot:
    sink = loop.sink
    if sink.sort == "body":
        key, forward = loop.flow_leg[-1]
        element = case.ways.elements[key]
        entry = element.a if forward else element.b
        if entry[0] == "port" and entry[1] == sink.part:
            return Foot(part=sink.part, port=str(entry[2]))
    return Foot(part=sink.part, height_m=round(sink.height_m - case.sheet.parts[sink.part].height_m, 6))
