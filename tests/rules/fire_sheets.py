"""Small vented sheets of one fire: a stove, what takes its heat, its cistern; and where its question stopped."""

from __future__ import annotations

from vented import CATALOGUE

from loopwright import draw
from loopwright.rules.findings import Severity
from loopwright.rules.registry import Case
from loopwright.rules.shedding import Shedding, shedding
from loopwright.sheet.values import Sheet
from loopwright.survey import survey
from loopwright.waterways import Waterways

ON_LEAK, ON_LEAK_RETURN, ON_RETURN, ON_STORE_FLOW = (1.45, 3.552), (3.2, 1.5), (2.95, 0.2), (2.9, 1.72)
"""Places on the pipes leak_flow, leak_return, return_2 and store_flow."""


def fire(
    *,
    kind: str = "boiler_stove",
    leak_w: float | None = 1300.0,
    leak_kind: str = "heat_leak_radiator",
    store: bool = True,
    size: str = "28",
    tank: dict[str, object] | None = None,
    taps: tuple[float, float] = (1.62, 0.10),
    more: dict[str, dict[str, object]] | None = None,
    **props: object,
) -> draw.Drawing:
    """A stove beside a store of 500 l by a gravity pair; a riser to an emitter upstairs.

    The vent leaves the riser, the feed meets the return, both at one cistern; a second vent leaves the store.

    Without `leak_w` the riser goes to the vent alone, without `store` the tees of the pair are capped. Parts: stove,
    store, leak, cistern, tees T, VJ, F, R. Pipes: stove_flow, store_flow, riser, leak_flow, leak_return, stove_vent,
    store_vent, feed, return_3 (store to R), return_2, return_1,
    return_0. `taps` are the heights of the store's flow and return, `more` are further tappings.
    """
    s = draw.sheet("One fire")
    usual = {"power_kw": 8.0, "thermal_centre_m": 0.5, "charge_kwh": 10.0, "burn_time_h": 1.25}
    typed = {**{k: v for k, v in usual.items() if CATALOGUE[kind].prop(k)}, **props}
    stove = s.add(kind, "stove", x_m=1.0, height_m=0.0, name="Stove", **typed)
    cistern = s.add("feed_expansion_cistern", "cistern", x_m=2.45, height_m=5.25, hot_rated=True, float_valve=False)
    high, low = round(0.1 + taps[0], 6), round(0.1 + taps[1], 6)
    t = s.add("tee", "T", x_m=1.7, height_m=1.72, turn=1)
    f = s.add("tee", "F", x_m=2.675, height_m=0.2)
    r = s.add("tee", "R", x_m=3.2, height_m=0.2)
    s.pipe(stove["flow"], t["right"], size, via=[], id="stove_flow")
    s.pipe(cistern["feed"], f["branch"], "22", via=[], id="feed")
    s.pipe(r["left"], f["right"], size, graded="a", id="return_2")
    low_end = s.add("tee", "D", x_m=2.1, height_m=0.2, turn=2)
    s.pipe(f["left"], low_end["left"], size, graded="a", via=[], id="return_1")
    s.pipe(low_end["right"], stove["return"], size, graded="a", via=[], id="return_0")
    cock = s.add("drain_cock", "cock", x_m=2.1, height_m=-0.1)
    s.pipe(low_end["branch"], cock, "15")
    if leak_w is None:
        s.pipe(t["left"], cistern["vent"], "22", via=[(1.7, 6.0), (2.225, 6.0)], graded="b", id="stove_vent")
        s.cap(r["branch"])
    else:
        stated = {} if leak_kind == "fan_convector" else {"output_w": leak_w}
        leak = s.add(leak_kind, "leak", x_m=0.7, height_m=3.0, mirror=True, name="Leak", **stated)
        joint = s.add("tee", "VJ", x_m=1.7, height_m=3.552, turn=3)
        s.pipe(t["left"], joint["left"], size, via=[], id="riser")
        s.pipe(joint["branch"], leak["flow"], size, via=[], id="leak_flow")
        s.pipe(joint["right"], cistern["vent"], "22", via=[(1.7, 6.0), (2.225, 6.0)], graded="b", id="stove_vent")
        s.pipe(leak["return"], r["branch"], size, via=[(3.2, 3.048)], graded="a", id="leak_return")
    if store:
        body = s.store(
            "store",
            x_m=5.0,
            height_m=0.1,
            name="Store",
            tappings={
                "flow": {"height_m": taps[0], "side": "left", "size": size},
                "return": {"height_m": taps[1], "side": "left", "size": size},
                "vent": {"height_m": 1.8, "side": "top", "size": "22"},
                "drain": {"height_m": 0.03, "side": "right", "purpose": "drain", "size": "15"},
                **(more or {}),
            },
            **{"volume_l": 500.0, "body_diameter_m": 0.65, "body_height_m": 1.8, "design_temp_c": 80.0, **(tank or {})},
        )
        s.pipe(
            t["branch"],
            body["flow"],
            size,
            graded="b" if high == 1.72 else "",
            via=[] if high == 1.72 else [(4.0, 1.72), (4.0, high)],
            id="store_flow",
        )
        s.pipe(body["vent"], cistern["vent_2"], "22", via=[(5.0, 6.05), (2.375, 6.05)], graded="b", id="store_vent")
        s.pipe(body["drain"], s.add("drain_cock", "cock_2", x_m=5.75, height_m=0.13, turn=1), "15")
        s.pipe(
            body["return"],
            r["right"],
            size,
            graded="a" if low == 0.2 else "",
            via=[] if low == 0.2 else [(4.0, low), (4.0, 0.2)],
            id="return_3",
        )
    else:
        s.cap(t["branch"])
        s.cap(r["right"])
    return s


def answer(s: draw.Drawing, source: str = "stove") -> Shedding:
    """Where the shedding question stopped for a fire."""
    ways = Waterways(s.done(), CATALOGUE)
    return shedding(Case(ways), ways.source_of[source])


def bad(sheet: Sheet) -> set[tuple[str, Severity]]:
    """Slug and severity of every danger and fault that stands once yields are resolved."""
    return {(f.rule, f.severity) for f in survey(sheet, CATALOGUE).findings if f.severity > Severity.ADVICE}
