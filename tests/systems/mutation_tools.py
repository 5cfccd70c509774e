"""Edits that several kinds of mutation share, and how a mutant is put together.

Owns no kinds and no reasons.
"""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from mutations import Mutant
from reasons import Must, Verdict, must
from trade import CATALOGUE, Trade

from loopwright.draw import Drawing
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import End, Sheet

Edit = Callable[[], Sheet]
CAN_CLOSE = {"solid-fuel/vent-can-close", "solid-fuel/feed-can-close", "vent-and-feed/vent-can-close"}
VENTS = {
    "solid-fuel/no-open-vent",
    "solid-fuel/sealed-water",
    "vent-and-feed/vent-can-close",
    "vent-and-feed/feed-and-vent-combined",
    "vent-and-feed/vent-dips",
    "vent-and-feed/vent-too-small",
    "vent-and-feed/vent-shared",
    "vent-and-feed/no-discharge-over-cistern",
    "tapping/vent-not-top",
    "gravity-loop/dips",
    "sealed/no-relief",
    "sealed/no-vessel",
}
"""What may be said of a water that has lost a vent: each of these looks at the way up that is left."""


def capped(sheet: Sheet, before: Sheet) -> Sheet:
    """Every port that the edit left open, capped."""
    drawing = Drawing(sheet, CATALOGUE)
    for end in before.taken:
        part = sheet.parts.get(end.part)
        if part is None or end in sheet.taken:
            continue
        port = ports_of(part, CATALOGUE)[end.port]
        if not port.optional:
            drawing.cap(end)
    return drawing.done()


def taken_away(sheet: Sheet, *ids: str) -> Sheet:
    """The sheet without some parts or pipes, what they leave open capped."""
    return capped(edits.delete(sheet, ids, CATALOGUE), sheet)


def without_links(sheet: Sheet, ids: set[str]) -> Sheet:
    """The sheet without some control links."""
    return edits.delete(sheet, ids, CATALOGUE) if ids else sheet


def one(label: str, name: str, place: str, edit: Edit, verdict: Callable[[], Verdict]) -> Mutant:
    """A mutant."""
    return Mutant(label, name, place, edit, verdict)


def said(*musts: Must, may: set[str] | None = None) -> Callable[[], Verdict]:
    """A verdict that needs no working out."""
    return lambda: Verdict(musts, frozenset(may or ()))


def all_ids(t: Trade) -> list[str]:
    """Every part and pipe: a finding may name any of them."""
    return [*t.sheet.parts, *t.sheet.pipes]


def set_to(label: str, name: str, sheet: Sheet, part: str, prop: str, to: object, rule: str, *more: str) -> Mutant:
    """One property of one part set so that one rule must say so."""
    return one(
        label,
        name,
        f"{part}.{prop}",
        lambda: edits.set_property(sheet, part, prop, to, CATALOGUE),  # type: ignore[arg-type]
        said(must(rule, part), may=set(more)),
    )


def exchanged(sheet: Sheet, part: str, one_port: str, two_port: str) -> Sheet:
    """Two pipes of a part exchanged at it: each now ends where the other did."""
    other = {one_port: two_port, two_port: one_port}

    def end(old: End) -> End:
        return End(old.part, other.get(old.port, old.port)) if old.part == part else old

    pipes = {k: msgspec.structs.replace(p, a=end(p.a), b=end(p.b)) for k, p in sheet.pipes.items()}
    return msgspec.structs.replace(sheet, pipes=pipes)
