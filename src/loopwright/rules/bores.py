"""How wide a way is: the tube of a pipe, and the narrow places among pipes, tappings and emitters.

Owns the comparison. Knows no limits: whoever asks brings them.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from loopwright.catalogue import Behaviour
from loopwright.engineering.pipes import Tube, tube
from loopwright.errors import FigureError
from loopwright.rules.findings import Missing
from loopwright.rules.registry import Case
from loopwright.waterways.graph import Element
from loopwright.waterways.skeleton import Step

METALS = ("copper", "copper_y", "copper_continental", "steel", "stainless", "brass", "cast iron")
"""Materials that stand boiling water; of these pipe is called metal."""


def tube_of(case: Case, pipe_id: str) -> Tube | None:
    """The tube of a pipe, or None when its size is in no table."""
    pipe = case.ways.sheet.pipes[pipe_id]
    try:
        return tube(pipe.size, pipe.material)
    except FigureError:
        return None


def no_size(case: Case, subject: str, pipe_id: str) -> Missing:
    """The answer for a subject that the size of a pipe is in no table."""
    return Missing(subject, f"{case.name(pipe_id)}: its size is in no table", pipe_id, "size")


class Narrow(msgspec.Struct, frozen=True):
    """A place with too small a bore: the part or pipe, its size in words, and in millimetres."""

    id: str
    words: str
    size_mm: float
    copper: bool


def narrow(case: Case, element: Element, outside_mm: float, bore_mm: float) -> Narrow | None:
    """Whether an element is smaller than copper of that outside diameter, or other material of that bore."""
    if element.pipe:
        pipe = case.ways.sheet.pipes[element.pipe]
        if pipe.joint:
            return None
        found = tube_of(case, element.pipe)
        if found is None:
            return None
        if found.material == "copper":
            small, size = found.outside_m * 1e3 < outside_mm - 0.01, found.outside_m * 1e3
            return Narrow(pipe.id, f"{size:g} mm", size, True) if small else None
        size = found.bore_m * 1e3
        small = size < bore_mm - 0.01
        return Narrow(pipe.id, f"{pipe.material} with a bore of {size:.1f} mm", size, False) if small else None
    part = case.ways.sheet.parts[element.part]
    tapping = part.tapping(element.key[2].removeprefix("tapping ")) if element.way is None else None
    if tapping is not None:
        try:
            size = tube(tapping.size).outside_m * 1e3
        except FigureError:
            return None
        small = size < outside_mm - 0.01
        return Narrow(part.id, f"{size:g} mm at tapping {tapping.letter}", size, True) if small else None
    if element.does is Behaviour.EMITTER or case.ways.has_tag(part.id, "emitter"):
        bore = case.ways.number(part.id, "tapping_bore_mm")
        if bore is not None and bore < bore_mm - 0.01:
            return Narrow(part.id, f"{bore:g} mm in the bore at its tappings", bore, False)
    return None


def unsized(case: Case, steps: Iterable[Step]) -> str | None:
    """The first pipe of a walk whose size is in no table."""
    return next(
        (
            k[1]
            for k, _ in steps
            if k[0] == "pipe" and not case.ways.sheet.pipes[k[1]].joint and tube_of(case, k[1]) is None
        ),
        None,
    )
