"""What a person asks for in a line of words: a kind of part, with values (“heat store 450 l”), or several in a row
(“stop valve, reducing valve, check valve”), and what belongs into a vessel (“solar coil 1.2 m2”).

Owns reading the line. Refuses to know where on the sheet it goes, and what a window shows of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Literal, NamedTuple

from loopwright import units
from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import LoopwrightError
from loopwright.sheet.change import check_property
from loopwright.sheet.values import PropValue

_VALUE = r"(\d+(?:\.\d+)?)\s*([^\d\s,.][^\s,]*)?"
_VALUES = re.compile(rf"^(.*?\S)\s+({_VALUE}(?:\s+{_VALUE})*)$")
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
OF_EXTRA = {
    "coil": (("area_m2", "m²"), ("content_l", "l")),
    "pocket": (("height_m", "m"),),
    "tapping": (("height_m", "m"),),
}
"""What can be said of an extra; a bare number means the first."""
MOST_PIECES, LONGEST = 12, 300


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
    """The values as they are shown again: “450 l”."""
    extra: Extra | None = None

    @property
    def words(self) -> str:
        """The row a person picks."""
        name = self.extra.name if self.extra else self.kind.name if self.kind else ""
        return f"{name}, {self.said}" if self.said else name


Find = Callable[[str], list[Kind]]
"""Kinds that hold the words, in any order; all of them for no words."""


def understood(
    text: str,
    catalogue: Catalogue,
    system: units.System = "metric",
    into_vessel: bool = False,
    find: Find | None = None,
) -> list[tuple[Asked, ...]]:
    """What a line may mean, best first: each a row of one thing or more.

    `into_vessel`: whether there is a vessel for extras to go into; they can always follow a vessel in the line. `find`
    is how kinds are found, in place of the catalogue's own way.
    """
    find = find or catalogue.find
    text = " ".join(text[:LONGEST].split())
    alone: list[tuple[Asked, ...]] = [(one,) for one in _ones(text, find, system, into_vessel)]
    if alone or "," not in text:
        return alone
    row: list[Asked] = []
    for piece in (p.strip() for p in text.split(",") if p.strip()):
        found = _ones(piece, find, system, into_vessel or any(_vessel(one) for one in row))
        if not found or len(row) >= MOST_PIECES:
            return []
        row.append(found[0])
    return [tuple(row)] if row else []


def _vessel(one: Asked) -> bool:
    return one.kind is not None and one.kind.body in ("store", "cylinder")


def _ones(text: str, find: Find, system: units.System, into_vessel: bool) -> list[Asked]:
    """Kinds and extras that a piece of the line may name."""
    found = _named(text, find, into_vessel)
    given = _VALUES.match(text)
    if found or given is None:
        return found
    pairs = re.findall(_VALUE, given[2])
    return [full for one in _named(given[1], find, into_vessel) if (full := _valued(one, pairs, system))]


def _named(words: str, find: Find, into_vessel: bool) -> list[Asked]:
    extras = [Asked(None, extra=e) for e in EXTRAS if into_vessel and words and _fits(words, f"{e.name} {e.words}")]
    return [*extras, *(Asked(kind) for kind in ranked(words, find))]


def ranked(words: str, find: Find) -> list[Kind]:
    """Kinds that the words may mean, best first: they begin the name, are words of it or of its synonyms, or are held
    in it somehow. All of them for no words."""
    wanted = words.lower().split()
    if not wanted:
        return find("")

    def rank(kind: Kind) -> int:
        name, others = (re.findall(r"[^\s,]+", " ".join(texts).lower()) for texts in ((kind.name,), kind.synonyms))
        if name[: len(wanted)] == wanted:
            return 0
        if kind.name.lower().startswith(words.lower()):
            return 1
        if all(any(have.startswith(w) for have in name) for w in wanted):
            return 2
        return 3 if all(any(have.startswith(w) for have in (*name, *others)) for w in wanted) else 4

    return sorted(find(words), key=rank)


def _fits(text: str, words: str) -> bool:
    """Whether each word typed begins a word of these."""
    have = words.lower().split()
    return all(any(w.startswith(typed) for w in have) for typed in text.lower().split())


def _valued(one: Asked, pairs: list[tuple[str, str]], system: units.System) -> Asked | None:
    """The thing with the values typed behind it: a bare number is its main figure, another the first property that
    takes its unit. None where one of them means nothing."""
    props: dict[str, PropValue] = {}
    said = []
    for number, unit in pairs:
        for name, own, bare in _specs(one, bool(unit)):
            text = f"{number} {unit or ('' if system == 'imperial' else bare)}"
            try:
                value = float(f"{units.parse(text, own, system):.12g}")
                if one.kind is not None:
                    check_property(one.kind, name, value)
            except LoopwrightError:
                continue
            if name not in props:
                props[name] = value
                said.append(f"{number} {unit}" if unit else f"{number}{units.sign_of(bare, system)}")
                break
        else:
            return None
    return one._replace(props=props, said=" ".join(said))


def _specs(one: Asked, every: bool) -> list[tuple[str, str, str]]:
    """(property, its unit, the unit of a bare number) in the order they are tried; `every`: those with a unit too that
    are not the main figure."""
    if one.extra is not None:
        return [(name, unit, unit) for name, unit in OF_EXTRA[one.extra.sort]]
    assert one.kind is not None
    main = [(spec.name, spec.unit, bare) for name, bare in MAIN if (spec := one.kind.prop(name)) is not None]
    rest = [(s.name, s.unit, s.unit) for s in one.kind.props if every and s.kind == "number" and s.unit]
    return [*main, *(more for more in rest if more[0] not in [name for name, _, _ in main])]
