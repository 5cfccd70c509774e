"""Water pushed backwards through an idle circuit: a sheet that lets it, and sheets that do not.

A check valve at each pump of circuits that share pipe: link-up handbooks, as the rule's page names them.
"""

from __future__ import annotations

import pytest
from circuit_sheets import ADVICE, found, house, line, radiators_on, said, sound, stove_on

from loopwright import draw

SLUG = "circuit/backflow-through-idle-circuit"
TAPS = {
    "top": 1.6,
    "bottom": 0.1,
    "s1": {"height_m": 1.5, "side": "right"},
    "r1": {"height_m": 0.3, "side": "right"},
    "s2": {"height_m": 1.3, "side": "right"},
    "r2": {"height_m": 0.5, "side": "right"},
}


def zones(*, checks: str = "", valve: str = "") -> draw.Drawing:
    """Two radiator zones off one pair of pipes, each with its pump, and perhaps a check valve or a zone valve."""
    s, store = house(taps=TAPS)
    stove_on(s, store, "top", "bottom")
    flow, back = s.add("tee", "F", x_m=6, height_m=2), s.add("tee", "B", x_m=6, height_m=0.4)
    line(s, store["s1"], flow["left"])
    line(s, back["left"], store["r1"])
    for number, port in ((1, "right"), (2, "branch")):
        pump = s.add("pump", f"P{number}", x_m=7, height_m=2.0 + number)
        stops = [flow[port], pump]
        if checks:
            stops.append(s.add(checks, f"C{number}", x_m=7.5, height_m=2.0 + number))
        if valve:
            stops.append(s.add("motorised_2port", f"M{number}", x_m=7.8, height_m=2.0 + number, rest=valve))
        radiator = s.add("radiator", f"R{number}", x_m=9, height_m=2.0 + number)
        line(s, *stops, radiator["flow"])
        line(s, radiator["return"], back[port])
    return s


def test_two_zones_on_one_pair_of_pipes():
    assert found(zones(), SLUG) == [(ADVICE, "P1"), (ADVICE, "P2")]


@pytest.mark.parametrize("with_", [{"checks": "check_valve"}, {"checks": "anti_gravity_check"}, {"valve": "shut"}])
def test_a_check_or_a_valve_that_shuts_keeps_it_back(with_):
    assert sound(zones(**with_), SLUG)


def test_a_valve_that_rests_open_keeps_nothing_back():
    assert len(found(zones(valve="open"), SLUG)) == 2


def test_circuits_that_meet_only_in_the_store():
    s, store = house(taps=TAPS)
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "s1", "r1", id="R1")
    radiators_on(s, store, "s2", "r2", id="R2")
    assert sound(s, SLUG)


def test_one_pump_alone_is_not_asked():
    s, store = house(taps=TAPS)
    radiators_on(s, store, "s1", "r1")
    assert said(s, SLUG) == []
