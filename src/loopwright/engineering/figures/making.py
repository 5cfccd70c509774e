"""Makes figures and gaps of one subject, with inputs as the sheet states them.

Owns what the makers of figures share, names of waters among it. Knows no equation.
"""

from __future__ import annotations

import msgspec

from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways
from loopwright.waterways.waters import Water

WATER_SOURCE = "water after Kell 1975 and IAPWS-IF97"


class Subject(msgspec.Struct, frozen=True, kw_only=True):
    """What the figures of one subject share. A figure may have another page, or be about other parts and pipes."""

    group: str
    about: tuple[str, ...]
    topic: str
    page: str

    def figure(
        self,
        name: str,
        value: float,
        unit: str,
        equation: str,
        inputs: tuple[Input | None, ...],
        source: str,
        note: str = "",
        *,
        quantity: str = "",
        about: tuple[str, ...] = (),
        page: str = "",
    ) -> Figure:
        """A figure; inputs that nobody knows are left out."""
        return Figure(
            group=self.group,
            name=name,
            about=about or self.about,
            value=value,
            unit=unit,
            equation=equation,
            inputs=tuple(i for i in inputs if i is not None),
            source=source,
            note=note,
            topic=self.topic,
            quantity=quantity,
            page=page or self.page,
        )

    def gap(self, name: str, missing: str, prop: str = "", *, about: tuple[str, ...] = (), page: str = "") -> Gap:
        """A figure that cannot be made, and what is missing."""
        return Gap(
            group=self.group,
            name=name,
            about=about or self.about,
            missing=missing,
            topic=self.topic,
            page=page or self.page,
            prop=prop,
        )


def stated(ways: Waterways, part: str, prop: str, name: str, unit: str) -> Input | None:
    """A property of a part as an input, marked as assumed where it is a default; None if nobody knows it."""
    number = ways.number(part, prop)
    return None if number is None else Input(name, number, unit, not ways.typed(part, prop))


def water_name(ways: Waterways, water: Water) -> str:
    """A water by what heats it, else by what it fills."""
    if water.sources:
        return "Water of " + " and ".join(ways.name(s.part) for s in water.sources[:2])
    bodies = sorted(p[1] for p in water.places if p[0] == "body")
    return f"Water of {ways.name(bodies[0])}" if bodies else f"Water {water.number + 1}"


def small(words: str) -> str:
    """Words for the middle of a sentence."""
    return words[:1].lower() + words[1:]


def lacking(bad: FigureError) -> str:
    """What is missing, as the beginning of a sentence that ends in “is missing”."""
    return bad.what.removesuffix(" is missing")


def about_of(ways: Waterways, bad: FigureError) -> tuple[tuple[str, ...], str]:
    """The part or pipe that an error names, and the property."""
    named, _, prop = bad.where.partition(", ")
    known = named in ways.sheet.parts or named in ways.sheet.pipes
    return ((named,) if known else ()), (prop if known and " " not in prop else "")
