"""What each behaviour lets through in each view, and under conditions.

The table is the project's own definition of its views: common practice, no source.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from loopwright import draw
from loopwright.catalogue import Behaviour
from loopwright.waterways.views import NORMAL, POWER_CUT, Ask, Condition, closable, gravity_ok, is_kept, passing
from waterways.drawn import CATALOGUE, base, way, ways_of

NO, FORWARD, BOTH = 0, 1, 3
VIEWS = (Ask.OPEN, Ask.FIXED, Ask.SELF_ACTING, Ask.REFILL, Ask.REST, Ask.IDLE, Ask.RUNNING)
# kind, way, properties:                            open   fixed self  refill rest   idle   running
TABLE = [
    ("isolating_valve", "valve", {}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("isolating_valve", "valve", {"open": False}, (BOTH, NO, NO, NO, NO, NO, NO)),
    ("stop_valve", "valve", {}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("motorised_2port", "valve", {"rest": "shut"}, (BOTH, NO, NO, NO, NO, NO, BOTH)),
    ("motorised_2port", "valve", {"rest": "open"}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("motorised_2port", "valve", {"rest": "as_left"}, (BOTH, NO, NO, NO, NO, BOTH, BOTH)),
    ("motorised_3port", "common", {}, (BOTH, BOTH, BOTH, BOTH, BOTH, BOTH, BOTH)),
    ("motorised_3port", "to_a", {"rest": "a"}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("motorised_3port", "to_b", {"rest": "a"}, (BOTH, NO, NO, NO, NO, NO, BOTH)),
    ("motorised_3port", "to_b", {"rest": "mid"}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("motorised_3port", "to_a", {"rest": "as_left"}, (BOTH, NO, NO, NO, NO, BOTH, BOTH)),
    ("thermostatic_radiator_valve", "valve", {}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("mixing_valve", "hot", {}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("flap_valve", "valve", {}, (BOTH, NO, FORWARD, FORWARD, FORWARD, FORWARD, FORWARD)),
    ("check_valve", "valve", {}, (BOTH, NO, NO, NO, NO, FORWARD, FORWARD)),
    ("check_valve", "valve", {"opening_pa": 40.0}, (BOTH, NO, FORWARD, FORWARD, FORWARD, FORWARD, FORWARD)),
    ("check_valve", "valve", {"opening_pa": 2000.0}, (BOTH, NO, NO, NO, NO, FORWARD, FORWARD)),
    ("anti_gravity_check", "valve", {}, (BOTH, NO, NO, NO, NO, FORWARD, FORWARD)),
    ("pump", "pump", {}, (BOTH, NO, NO, NO, NO, BOTH, FORWARD)),
    ("loading_unit_4_flap", "flap", {}, (BOTH, NO, FORWARD, FORWARD, FORWARD, FORWARD, FORWARD)),
    ("loading_unit_4_flap", "thermal", {}, (BOTH, NO, NO, NO, BOTH, BOTH, BOTH)),
    ("loading_unit_4_flap", "through", {}, (BOTH,) * 7),
    ("tee", "left", {}, (BOTH,) * 7),
    ("boiler_stove", "heat", {}, (BOTH,) * 7),
    ("radiator", None, {}, (BOTH,) * 7),
    ("relief_valve", "relief", {}, (NO,) * 7),
    ("feed_expansion_cistern", "vent", {}, (NO,) * 7),
    ("feed_expansion_cistern", "feed", {}, (BOTH,) * 7),
    ("filling_loop", "fill", {}, (NO,) * 7),
    ("expansion_vessel", "seal", {}, (NO,) * 7),
]


def one(kind, props):
    d = draw.sheet("One part")
    d.add(kind, "X", x_m=1.0, height_m=1.0, **props)
    return ways_of(d)


@pytest.mark.parametrize(("kind", "name", "props", "wanted"), TABLE, ids=lambda v: v if isinstance(v, str) else None)
def test_what_each_way_lets_through(kind, name, props, wanted):
    ways = one(kind, props)
    names = [k[2] for k in ways.elements] if name is None else [name]
    for each in names:
        assert tuple(passing(ways, ask)[way("X", each)] for ask in VIEWS) == wanted, each


def test_the_table_holds_every_behaviour():
    shown = {w.does for kind, name, _, _ in TABLE for w in CATALOGUE[kind].ways if name in (None, w.name)}
    assert shown | {Behaviour.PIPE, Behaviour.COIL} == set(Behaviour)


def test_pipes_tappings_and_coils_always_pass():
    ways = base()
    for ask in VIEWS:
        for key, element in ways.elements.items():
            if element.pipe or element.does is Behaviour.COIL or key[-1].startswith("tapping"):
                assert passing(ways, ask)[key] == BOTH


def test_what_certainly_passes_is_part_of_what_may_pass():
    ways = base()
    order = (Ask.FIXED, Ask.SELF_ACTING, Ask.REST, Ask.IDLE, Ask.OPEN)
    for sure, possible in pairwise(order):
        for key, flags in passing(ways, sure).items():  # (nothing is drawn shut here)
            assert flags & passing(ways, possible)[key] == flags


def test_a_tied_valve_is_closable_way_by_way_and_its_common_leg_is_not():
    ways = one("motorised_3port", {})
    assert [closable(ways, ways.elements[way("X", n)]) for n in ("common", "to_a", "to_b")] == [False, True, True]


@pytest.mark.parametrize(
    ("kind", "name", "wanted"),
    [
        ("pump", "pump", True),
        ("relief_valve", "relief", True),
        ("flap_valve", "valve", True),
        ("tee", "left", False),
        ("boiler_stove", "heat", False),
        ("isolating_valve", "valve", True),
        ("lockshield_valve", "valve", True),
    ],
)
def test_what_can_be_shut(kind, name, wanted):
    ways = one(kind, {})
    assert closable(ways, ways.elements[way("X", name)]) is wanted


def test_a_check_opens_by_buoyancy_if_its_stated_pressure_is_below_100_pa_a_metre():
    # 100 Pa a metre: density of water at 75 and 55 degC differs by 10.85 kg/m3 (IAPWS-IF97): 106 Pa
    ways = one("check_valve", {"opening_pa": 80.0})
    element = ways.elements[way("X")]
    assert not gravity_ok(ways, element, 0.5) and gravity_ok(ways, element, 1.0)
    silent = one("check_valve", {})
    assert not gravity_ok(silent, silent.elements[way("X")], 10.0)


def test_a_shut_valve_shuts_in_every_view_and_nothing_else_changes():
    ways = base()
    shut = Condition(shut=frozenset({"TV1"}))
    for ask in VIEWS:
        plain, held = passing(ways, ask), passing(ways, ask, shut)
        assert held[way("TV1")] == NO
        assert {k for k in plain if plain[k] != held[k]} <= {way("TV1")}


def test_shutting_a_part_that_has_nothing_to_shut_changes_nothing():
    ways = base()
    held = Condition(shut=frozenset({"T", "store", "P1"}))
    assert passing(ways, Ask.REST, held) == passing(ways, Ask.REST)


def test_a_stopped_pump_passes_nothing_running_and_what_a_power_cut_passes():
    ways = base()
    stopped = Condition(stopped=frozenset({"P2"}))
    assert passing(ways, Ask.RUNNING)[way("P2", "pump")] == FORWARD
    assert passing(ways, Ask.RUNNING, stopped)[way("P2", "pump")] == NO
    assert passing(ways, Ask.RUNNING, stopped)[way("P1", "pump")] == FORWARD
    assert passing(ways, Ask.RUNNING, POWER_CUT)[way("P1", "pump")] == NO
    assert passing(ways, Ask.IDLE, stopped)[way("P2", "pump")] == BOTH


def test_a_view_is_kept_and_a_copy_of_it_is_not():
    ways = base()
    view = passing(ways, Ask.OPEN)
    assert passing(ways, Ask.OPEN) is view and is_kept(ways, view) and not is_kept(ways, dict(view))


def test_conditions_in_words():
    assert NORMAL.words == "Normal running"
    assert POWER_CUT.words == "Power cut"
    both = Condition(stopped=frozenset({"P2", "P1"}), shut=frozenset({"V1"}), out=frozenset({"stove"}))
    assert both.words == "P1 stopped, P2 stopped, V1 shut, stove out"
