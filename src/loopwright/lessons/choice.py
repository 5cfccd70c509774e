"""Which parts a lesson means: an id, or a choice by kind or tag.

Owns the words of a choice. Knows no condition.
"""

from __future__ import annotations

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import Sheet
from loopwright.waterways.graph import Key, Place, Sink, Source, Waterways
from loopwright.waterways.naming import called as spoken


def is_choice(name: str) -> bool:
    """Whether a name is a choice of parts, not an id."""
    return name.startswith(("kind:", "tag:"))


def chosen(sheet: Sheet, catalogue: Catalogue, name: str) -> list[str]:
    """Ids of the parts meant, in the order of the sheet."""
    out: list[str] = []
    for word in name.split("|"):
        sort, _, key = word.partition(":")
        for part in sheet.parts.values():
            kind = catalogue[part.kind]
            hit = part.kind == key if sort == "kind" else key in kind.tags if sort == "tag" else part.id == word
            if hit and part.id not in out:
                out.append(part.id)
    return out


def sources_of(ways: Waterways, name: str) -> list[Source]:
    """The sources meant."""
    return [ways.source_of[p] for p in chosen(ways.sheet, ways.catalogue, name) if p in ways.source_of]


def sinks_of(ways: Waterways, name: str) -> list[Sink]:
    """The sinks meant: an emitter, all coils and the body of a vessel, or one coil as "store/coil name"."""
    part, _, coil = name.partition("/")
    parts = chosen(ways.sheet, ways.catalogue, part)
    return [s for s in ways.sinks if s.part in parts and (not coil or (s.coil is not None and s.coil.name == coil))]


def ways_of(ways: Waterways, name: str) -> list[Key]:
    """Elements of the parts meant, or of the pipe of that id."""
    if name in ways.sheet.pipes:
        return [("pipe", name)]
    parts = chosen(ways.sheet, ways.catalogue, name)
    return [e.key for p in parts for e in ways.by_part.get(p, ())]


def places_of(ways: Waterways, name: str) -> list[Place]:
    """Places of the parts meant: ports, inner places and body. "part/port" is one port or tapping, by its name."""
    part, _, port = name.partition("/")
    out: list[Place] = []
    for found in chosen(ways.sheet, ways.catalogue, part):
        if port:
            letters = {t.letter for t in ways.sheet.parts[found].tappings if port in (t.letter, t.name)} | {port}
            out += [("port", found, n) for n in ways.ports[found] if n in letters]
        else:
            out += [p for p in ways.at if p[1] == found]
    return out


def called(ways: Waterways, name: str) -> str:
    """What people call the parts meant: names of parts that are there, the kind's name for a choice that found none."""
    part, _, stub = name.partition("/")
    words = []
    for word in part.split("|"):
        sort, _, key = word.partition(":")
        if sort == "kind":
            words.append(ways.catalogue[key].name.lower())
        elif sort == "tag":
            words.append(key.replace("_", " "))
        else:
            words.append(spoken(ways, word))
    said = " or ".join(words)
    if not is_choice(part):
        vessel = ways.sheet.parts.get(part)
        tapping = next((t for t in vessel.tappings if stub in (t.letter, t.name)), None) if vessel and stub else None
        return f"“{tapping.name or tapping.letter}” of {said}" if tapping else said
    found = chosen(ways.sheet, ways.catalogue, part)
    return spoken(ways, found[0]) if len(found) == 1 else f"the {said}"
