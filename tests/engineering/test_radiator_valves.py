"""Thermostatic radiator valves at rest.

Sources: the band of 2 K, EN 215; a radiator's output by EN 442, Q = Qn (dT / 50 K)^1.3 on the mean of flow and return;
the heat balance of a room by arithmetic.
"""

from __future__ import annotations

import sys
from functools import cache
from pathlib import Path

import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.engineering.circulation import Circulation, circulations
from loopwright.engineering.figures.flow_figures import flow_figures
from loopwright.engineering.radiator_valves import at_rest, valves_in
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
import others

RATED = {"R1": 3600.0, "R2": 2400.0}


@cache
def boiler() -> tuple[Waterways, Circulation]:
    ways = Waterways(others.log_boiler().b.done(), standard_catalogue())
    got = next(g for _, g in circulations(ways) if isinstance(g, Circulation) and "R1" in g.drawn.at_cell)
    return ways, got


def loss_W_K(part: str) -> float:
    """Water of 70 degC that comes back at 60 in a room of 20: 45 K; the room then stands 21 K over -3 and 2 free."""
    return RATED[part] * (45.0 / 50.0) ** 1.3 / 21.0


def test_each_valve_stands_where_its_room_asks():
    ways, got = boiler()
    rest = at_rest(ways, got)
    assert set(rest) == {"R1", "R2"}
    for x in rest.values():
        assert x.room_C == pytest.approx(20.0 - 2.0 * x.opening, abs=0.35)
        assert 0.0 < x.opening < 1.0


def test_the_room_and_the_radiator_are_in_balance():
    ways, got = boiler()
    for part, x in at_rest(ways, got).items():
        assert x.output_W == pytest.approx(loss_W_K(part) * (x.room_C + 3.0 - 2.0), rel=0.01)
        arrives = got.through(part).inlet_C
        leaves = arrives - x.output_W / (x.flow_kg_s * 4190.0)
        mean = 0.5 * (arrives + leaves) - x.room_C
        assert x.output_W == pytest.approx(RATED[part] * (mean / 50.0) ** 1.3, rel=0.05)


def test_a_valve_lets_through_less_than_it_would_wide_open():
    ways, got = boiler()
    for part, x in at_rest(ways, got).items():
        assert x.flow_kg_s < 0.5 * got.through(part).flow_kg_s
        assert x.output_W < -got.through(part).heat_W


def test_in_great_cold_a_valve_stands_wide_open():
    """At -60 degC the rooms would take nearly four times the design heat: no valve throttles, and they stay cool."""
    ways, got = boiler()
    for x in at_rest(ways, got, outdoor_C=-60.0).values():
        assert x.opening == 1.0 and x.room_C < 18.0


def test_the_figures_tell_it():
    ways, got = boiler()
    told = [f for f in flow_figures(ways, NORMAL) if "valve at rest" in f.name]
    assert len(told) == len(valves_in(ways, got)) == 2
    assert {f.about[0]: f.value for f in told} == pytest.approx({p: x.output_W for p, x in at_rest(ways, got).items()})
