"""What people call a part or a pipe in a sentence: its own name, else its kind and what it joins.

Owns the words. Knows no rules.
"""

from __future__ import annotations

from collections.abc import Iterable

from loopwright.waterways.graph import Key, Place, Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.services import services

SERVICE_WORDS = {
    "flow": "flow pipe",
    "return": "return pipe",
    "vent": "open vent",
    "feed": "cold feed",
    "cold": "cold water pipe",
    "hot": "hot water pipe",
    "discharge": "discharge pipe",
    "solar_flow": "solar flow pipe",
    "solar_return": "solar return pipe",
}


@kept
def called(ways: Waterways, ident: str) -> str:
    """A part or pipe as it stands in a sentence: “Stove”, “the check valve between Stove and Store”.

    A part without a name goes by its kind; where two would be called alike the id is added. An id of nothing on the
    sheet is given back.
    """
    part = ways.sheet.parts.get(ident)
    if part is not None:
        if part.name:
            return part.name
        words = _of_part(ways, ident)
        if part.kind in ways.beyond.unnamed:
            return f"{words} ({ident})"
        twins = (p for p in ways.sheet.parts.values() if p.kind == part.kind and not p.name and p.id != ident)
        return f"{words} ({ident})" if any(_of_part(ways, p.id) == words for p in twins) else words
    if ident in ways.sheet.pipes:
        words = _of_pipe(ways, ident)
        near = _touching(ways, ident)
        return f"{words} ({ident})" if any(_of_pipe(ways, p) == words for p in near) else words
    return ident


@kept
def _of_part(ways: Waterways, ident: str) -> str:
    kind = ways.kind(ident)
    words = f"the {kind_words(kind.name)}"
    if kind.large:
        return words
    return words + _joining([_nearest(ways, [("port", ident, name)], ident) for name in ways.ports[ident]])


@kept
def _of_pipe(ways: Waterways, ident: str) -> str:
    pipe, service = ways.sheet.pipes[ident], services(ways).get(ident, "")
    words = f"the {SERVICE_WORDS.get(service, 'pipe')}"
    element = ways.elements["pipe", ident]
    if service in ("vent", "feed"):
        owner = _nearest(ways, [element.a, element.b], "", drop=element.key, owners=True)
        return f"{words} of {owner}" if owner else words
    ends = [_nearest(ways, [end], "", drop=element.key) for end in (element.a, element.b)]
    return words + _joining([e or _plain(ways, p.part) for e, p in zip(ends, (pipe.a, pipe.b))])


def _touching(ways: Waterways, ident: str) -> Iterable[str]:
    """Other pipes at the same fittings: those that would be called alike."""
    pipe = ways.sheet.pipes[ident]
    small = (e.part for e in (pipe.a, pipe.b) if not ways.kind(e.part).large)
    return (p.id for part in small for p in ways.sheet.pipes_of(part) if p.id != ident)


def _joining(ends: list[str]) -> str:
    found = list(dict.fromkeys(e for e in ends if e))
    if len(found) >= 2:
        return f" between {found[0]} and {found[1]}"
    return f" at {found[0]}" if found else ""


def _plain(ways: Waterways, part: str) -> str:
    """A part's name, else its bare kind."""
    return ways.sheet.parts[part].name or f"the {kind_words(ways.kind(part).name)}"


def kind_words(name: str) -> str:
    """A kind's name within a sentence: “Boiler, oil” is the oil boiler, “Motorised valve, two ports” the motorised
    valve."""
    head, *tails = name.split(", ")
    adjectives = [t for t in tails if not t.startswith("with ") and t.split(" ")[-1] not in ("ports", "tappings")]
    words = " ".join((*adjectives, head))
    return words if head.split(" ")[0].isupper() and not adjectives else words[:1].lower() + _lowered(words[1:])


def _lowered(words: str) -> str:
    """The rest of a name, its inner capitals lowered where they only began the kind's name."""
    return " ".join(w if w.isupper() else w.lower() for w in words.split(" "))


def _nearest(
    ways: Waterways, starts: list[Place], leaving: str, *, drop: Key | None = None, owners: bool = False
) -> str:
    """The nearest part that people know, from some places outwards, fittings without a name passed.

    `leaving` is the part one comes from, `drop` the pipe. With `owners` only sources and vessels are known.
    """
    seen, ring = set(starts), list(starts)
    while ring:
        known = sorted({p[1] for p in ring if p[0] != "body" and p[1] != leaving and _is_known(ways, p[1], owners)})
        if known:
            return _plain(ways, min(known, key=lambda p: (ways.kind(p).source is None, p)))
        onward: list[Place] = []
        for here in ring:
            if ways.kind(here[1]).body == "cistern":
                continue
            for element in ways.links[here]:
                there = element.other(here)
                if (not leaving or element.part != leaving) and element.key != drop and there not in seen:
                    seen.add(there)
                    onward.append(there)
        ring = onward
    return ""


def _is_known(ways: Waterways, part: str, owners: bool) -> bool:
    kind = ways.kind(part)
    if owners:
        return kind.source is not None or kind.body in ("store", "cylinder")
    return kind.large or (bool(ways.sheet.parts[part].name) and not kind.inline and "cap" not in kind.tags)
