"""What a person asks for in a line of words: a kind of part, with a value (“heat store 450”), or several in a row
(“stop valve, reducing valve, check valve”), and what belongs into a vessel (“solar coil”).

Owns reading the line. Refuses to know where on the sheet it goes, and what a window shows of it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Literal, NamedTuple

from loopwright import units
from loopwright.catalogue import Catalogue, Kind, PropSpec
from loopwright.errors import LoopwrightError
from loopwright.sheet.change import check_property
from loopwright.sheet.values import PropValue

_VALUE = re.compile(r"^(.*?\S)\s+(\d+(?:\.\d+)?)\s*([^\d\s,.][^\s,]*)?$")
MAIN = (
    ("volume_l", "l"),
    ("power_kw", "kW"),
    ("output_w", "kW"),
    ("absorber_m2", "m²"),
    ("setting_bar", "bar"),
    ("setting_c", "degC"),
    ("pressure_bar", "bar"),
    ("content_l", "l"),
)
"""The one figure that says how large a part is, in this order, and the unit a bare number has: as on the sheet."""
MOST_PIECES = 12


class Extra(NamedTuple):
    """What goes into a vessel rather than on the sheet."""

    sort: Literal["coil", "pocket", "tapping"]
    name: str
    words: str
    """Other words it goes by."""
    purpose: str = "any"


EXTRAS = (
    Extra("coil", "Solar coil", "sun panel collector low", "solar"),
    Extra("coil", "Hot water coil", "tap domestic dhw cold", "domestic"),
    Extra("coil", "Boiler coil", "heating source", "source"),
    Extra("pocket", "Sensor pocket", "thermostat probe", "sensor"),
    Extra("tapping", "Tapping", "boss stub connection", "any"),
)


class Asked(NamedTuple):
    """One thing of the line: a kind with its typed properties, or an extra of a vessel."""

    kind: Kind | None
    props: Mapping[str, PropValue] = {}
    said: str = ""
    """The value as it is shown again: “450 l”."""
    extra: Extra | None = None

    @property
    def words(self) -> str:
        """The row a person picks."""
        name = self.extra.name if self.extra else self.kind.name if self.kind else ""
        return f"{name}, {self.said}" if self.said else name


def understood(
    text: str, catalogue: Catalogue, system: units.System = "metric", into_vessel: bool = False
) -> list[tuple[Asked, ...]]:
    """What a line may mean, best first: each a row of one thing or more.

    `into_vessel`: whether there is a vessel for extras to go into; they can always follow a vessel in the line.
    """
    text = text.strip()
    alone = [(one,) for one in _ones(text, catalogue, system, into_vessel)]
    if alone or "," not in text:
        return alone
    row: list[Asked] = []
    for piece in (p.strip() for p in text.split(",") if p.strip()):
        found = _ones(piece, catalogue, system, into_vessel or any(_vessel(one) for one in row))
        if not found or len(row) >= MOST_PIECES:
            return []
        row.append(found[0])
    return [tuple(row)] if row else []


def _vessel(one: Asked) -> bool:
    return one.kind is not None and one.kind.body in ("store", "cylinder")


def _ones(text: str, catalogue: Catalogue, system: units.System, into_vessel: bool) -> list[Asked]:
    """Kinds and extras that a piece of the line may name."""
    kinds = ranked(text, catalogue)
    extras = [Asked(None, extra=e) for e in EXTRAS if into_vessel and text and _fits(text, f"{e.name} {e.words}")]
    if kinds or extras:
        return [*extras, *(Asked(kind) for kind in kinds)]
    given = _VALUE.match(text)
    if given is None:
        return []
    out = []
    for kind in ranked(given[1], catalogue):
        read = _read(kind, given[2], given[3] or "", system)
        if read is not None:
            spec, value = read
            watts = spec.unit == "W" and system == "metric"
            said = units.show(value / 1000, "kW") if watts else units.show(value, spec.unit, system)
            out.append(Asked(kind, {spec.name: value}, said))
    return out


def ranked(words: str, catalogue: Catalogue) -> list[Kind]:
    """Kinds that the words may mean, best first: they begin the name, are words of it or of its synonyms, or are held
    in it somehow. All of them for no words."""
    wanted = words.lower().split()
    if not wanted:
        return list(catalogue)

    def rank(kind: Kind) -> int:
        name, others = (re.findall(r"[^\s,]+", " ".join(texts).lower()) for texts in ((kind.name,), kind.synonyms))
        if name[: len(wanted)] == wanted:
            return 0
        if kind.name.lower().startswith(words.lower()):
            return 1
        if all(any(have.startswith(w) for have in name) for w in wanted):
            return 2
        return 3 if all(any(have.startswith(w) for have in (*name, *others)) for w in wanted) else 4

    return sorted(catalogue.find(words), key=rank)


def _fits(text: str, words: str) -> bool:
    """Whether each word typed begins a word of these."""
    have = words.lower().split()
    return all(any(w.startswith(typed) for w in have) for typed in text.lower().split())


def _read(kind: Kind, number: str, unit: str, system: units.System) -> tuple[PropSpec, float] | None:
    """The property that a typed value means: its own main figure for a bare number, else the first that takes the
    unit. None when there is none."""
    specs = [(spec, bare) for name, bare in MAIN if (spec := kind.prop(name)) is not None]
    if unit:
        more = [(spec, spec.unit) for spec in kind.props if spec.kind == "number" and spec.unit]
        specs += [pair for pair in more if pair[0] not in [spec for spec, _ in specs]]
    for spec, bare in specs:
        imperial = system == "imperial"
        text = f"{number} {unit}" if unit else number if imperial else f"{number} {bare}"
        try:
            value = float(f"{units.parse(text, spec.unit, system):.12g}")
            check_property(kind, spec.name, value)
            return spec, value
        except LoopwrightError:
            continue
    return None
