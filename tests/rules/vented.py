"""Small sheets the rules of vents, feeds and sealed water are tried on, and how one rule is asked alone."""

from __future__ import annotations

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.rules.findings import Finding, Missing, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways

CATALOGUE = standard_catalogue()


def asked(sheet: Sheet, slug: str) -> list[Finding | Missing | Sound]:
    """Everything one rule says, before any other rule covers it."""
    return list(all_rules()[slug].check(Case(Waterways(sheet, CATALOGUE))))


def findings(sheet: Sheet, slug: str) -> list[Finding]:
    """The findings of one rule."""
    return [a for a in asked(sheet, slug) if isinstance(a, Finding)]


def only(sheet: Sheet, slug: str) -> Finding:
    """The one finding of a rule."""
    found = findings(sheet, slug)
    assert len(found) == 1, [f.message for f in found]
    return found[0]


def sound(sheet: Sheet, slug: str) -> bool:
    """Whether the rule looked at something and found nothing wrong with it."""
    said = asked(sheet, slug)
    return bool(said) and all(isinstance(a, Sound) for a in said)


def between(sheet: Sheet, one: str, other: str) -> str:
    """The pipe that joins two parts."""
    return next(p.id for p in sheet.pipes.values() if {p.a.part, p.b.part} == {one, other})


def stove_sheet(
    *,
    kind: str = "boiler_stove",
    source: str = "stove",
    vent: str | None = "22",
    feed: str | None = "22",
    vent_top_m: float = 5.95,
    top: str = "22",
    cistern: dict[str, object] | None = None,
    **props: object,
) -> draw.Drawing:
    """A stove on a store by a 28 mm pair; vent off the flow, feed to the return, one cistern (line at 5.25 m).

    Names: stove, store, cistern, flow, return, vent, feed; tees VT on the flow and FT on the return. With
    `vent` or `feed` None the branch of its tee is left free.
    """
    s = draw.sheet("Small vented sheet")
    store = s.store(
        "store",
        x_m=4.0,
        height_m=0.1,
        volume_l=300,
        tappings={
            "in": {"height_m": 1.3, "side": "left"},
            "out": {"height_m": 0.1, "side": "left"},
            "top": {"height_m": 1.5, "side": "top", "size": top},
        },
    )
    boiler = s.add(kind, source, x_m=1.0, height_m=0.0, **props)
    flow = s.pipe(boiler["flow"], store["in"], "28", via=[(2.0, 0.75), (2.0, 1.4)], id="flow")
    back = s.pipe(store["out"], boiler["return"], "28", via=[(2.8, 0.2)], id="return")
    tank = s.add(
        "feed_expansion_cistern",
        "cistern",
        x_m=3.0,
        height_m=5.0,
        **{"hot_rated": True, "float_valve": False, **(cistern or {})},
    )
    joint = s.tee(flow, (2.0, 1.1), "VT", towards="left")
    if vent:
        s.pipe(joint["branch"], tank["vent"], vent, via=[(1.7, 1.1), (1.7, vent_top_m), (2.775, vent_top_m)], id="vent")
    meets = s.tee(back, (2.4, 0.2), "FT", towards="up")
    if feed:
        s.pipe(tank["feed"], meets["branch"], feed, via=[(3.225, 4.6), (2.4, 4.6)], id="feed")
    return s


def sealed_sheet(
    *, kind: str = "boiler_oil", source: str = "boiler", relief: bool = True, vessel: bool = True, **props: object
) -> draw.Drawing:
    """A boiler on a store by a pair, closed: relief valve on the flow, vessel on the return.

    Names: boiler, store, flow, return, SV, EV; tees RT on the flow and ET on the return.
    """
    s = draw.sheet("Small closed sheet")
    store = s.store(
        "store",
        x_m=4.0,
        height_m=0.1,
        volume_l=300,
        tappings={"in": {"height_m": 1.3, "side": "left"}, "out": {"height_m": 0.1, "side": "left"}},
    )
    boiler = s.add(kind, source, x_m=1.0, height_m=0.0, **props)
    flow = s.pipe(boiler["flow"], store["in"], "22", via=[(2.0, 1.0), (2.0, 1.4)], id="flow")
    back = s.pipe(store["out"], boiler["return"], "22", via=[(2.8, 0.2)], id="return")
    if relief:
        joint = s.tee(flow, (2.0, 1.2), "RT", towards="left")
        valve = s.add("relief_valve", "SV", x_m=1.6, height_m=1.7)
        s.pipe(joint["branch"], valve["inlet"], "15", via=[(1.6, 1.2)], id="relief")
    if vessel:
        joint = s.tee(back, (2.4, 0.2), "ET", towards="up")
        tank = s.add("expansion_vessel", "EV", x_m=2.8, height_m=0.6)
        s.pipe(joint["branch"], tank["a"], "15", via=[(2.4, 1.2), (2.8, 1.2)], id="vessel")
    return s
