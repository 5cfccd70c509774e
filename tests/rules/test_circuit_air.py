"""Air traps and drains: a sheet that breaks each rule, and one that does not.

Textbook: a vent at every high point where the flow turns down. Water at 0.5 m/s or faster carries air on (copper tube
design sheet). Stove manual: a drain cock at the lowest point.
"""

from __future__ import annotations

import pytest
from circuit_sheets import ADVICE, FAULT, found, line, sound

from loopwright import draw


def hump(kind: str | None = None, *, power_kw: float = 3.0, at: str = "top") -> draw.Drawing:
    """A sealed boiler and a radiator; the flow climbs over a door frame at 3 m and falls to the radiator's pipe."""
    s = draw.sheet("Hump")
    boiler = s.add("boiler_gas", "boiler", x_m=0, height_m=0, power_kw=power_kw)
    radiator = s.add("radiator", "R1", x_m=7, height_m=0, output_w=1500)
    pump = s.add("pump", "P", x_m=3, height_m=-0.5, turn=2)
    if kind is None:
        s.pipe(boiler["flow"], radiator["flow"], size="22", via=[(2, 0.7), (2, 3), (4, 3), (4, 0.55)], id="over")
    else:
        tee = s.add("tee", "T", x_m=3, height_m=3 if at == "top" else 0.7)
        via = [(2, 0.7), (2, 3)] if at == "top" else [(2, 0.7)]
        s.pipe(boiler["flow"], tee["left"], size="22", via=via)
        s.pipe(tee["right"], radiator["flow"], size="22", via=[(3.5, 3), (4.5, 3), (4.5, 0.55)])
        line(s, tee["branch"], s.add(kind, "vent", x_m=3, height_m=4)["a"])
    line(s, radiator["return"], pump, boiler["return"])
    return s


def test_a_pipe_over_a_door_frame_traps_air():
    assert found(hump(), "circuit/air-trap") == [(FAULT, "over")]


@pytest.mark.parametrize("kind", ["air_vent_auto", "air_vent_manual"])
def test_an_air_vent_at_the_top_lets_it_out(kind):
    assert sound(hump(kind), "circuit/air-trap")


def test_an_air_vent_below_the_hump_does_not():
    assert [severity for severity, _ in found(hump("air_vent_auto", at="low"), "circuit/air-trap")] == [FAULT]


def test_fast_water_carries_air_on():
    # 20 kW at 20 K is 0.239 kg/s, in 22 mm copper (bore 20.2 mm) 0.76 m/s by continuity
    assert found(hump(power_kw=20), "circuit/air-trap") == [(ADVICE, "over")]


def test_a_pipe_that_rises_to_a_radiator_is_sound():
    s = draw.sheet("Rising")
    boiler, radiator = s.add("boiler_gas", "boiler", x_m=0, height_m=0), s.add("radiator", "R1", x_m=7, height_m=3)
    pump = s.add("pump", "P", x_m=3, height_m=-0.5, turn=2)
    s.pipe(boiler["flow"], radiator["flow"], via=[(5, 0.7)])
    line(s, radiator["return"], pump, boiler["return"])
    assert sound(s, "circuit/air-trap")


def drained(height_m: float | None, kind: str = "boiler_stove") -> draw.Drawing:
    """A source and a radiator, a drain cock on the return at a height, or none."""
    s = draw.sheet("Drain")
    source, radiator = s.add(kind, "source", x_m=0, height_m=0), s.add("radiator", "R1", x_m=6, height_m=3)
    line(s, source["flow"], radiator["flow"])
    if height_m is None:
        line(s, radiator["return"], source["return"])
    else:
        tee = s.add("tee", "T", x_m=2, height_m=height_m + 0.3)
        line(s, radiator["return"], (tee, "right", "left"), source["return"])
        line(s, tee["branch"], s.add("drain_cock", "DC", x_m=2, height_m=height_m)["a"])
    return s


@pytest.mark.parametrize(
    ("height", "kind", "wanted"),
    [
        (0.0, "boiler_stove", []),
        (2.0, "boiler_stove", [(FAULT, "source")]),
        (None, "boiler_stove", [(FAULT, "source")]),
        (None, "boiler_oil", [(ADVICE, "source")]),
        (2.0, "boiler_oil", []),
    ],
)
def test_a_stove_drains_at_or_below_its_return(height, kind, wanted):
    assert found(drained(height, kind), "circuit/no-drain") == wanted
