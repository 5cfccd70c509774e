"""The size of expansion vessels: a sheet that breaks the rule, and one that does not.

1000 l at 90 degC between 1.0 and 2.5 bar need 83 l of vessel and the reserve of 0.5 %: EN 12828 annex D, arithmetic.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import ADVICE, FAULT, found, line, missing, said, sound

from loopwright import draw

SLUG = "sealed/vessel-too-small"


def sealed(volume_l: float = 110.0, *, store_l: float = 1000.0, second_l: float = 0.0, **vessel: Any) -> draw.Drawing:
    """An oil boiler of 90 degC on a store, everything near one height; relief valve at 3 bar."""
    s = draw.sheet("Sealed")
    store = s.store(
        "store",
        x_m=4,
        height_m=0,
        volume_l=store_l,
        body_height_m=1.9,
        body_diameter_m=0.82,
        design_temp_c=80,
        vented=False,
        tappings={"top": 1.7, "bottom": 0.1},
    )
    boiler = s.add("boiler_oil", "boiler", x_m=0, height_m=0, limit_c=90, content_l=10, vessel_built_in=False)
    sv, relief = (
        s.add("tee", "ST", x_m=1, height_m=0.7),
        s.add("relief_valve", "SV", x_m=1, height_m=1.2, setting_bar=3.0),
    )
    ev = s.add("tee", "ET", x_m=1, height_m=0.2)
    tank = s.add("expansion_vessel", "EV", x_m=1, height_m=-0.3, volume_l=volume_l, **{"precharge_bar": 1.0, **vessel})
    line(s, boiler["flow"], (sv, "left", "right"), store["top"])
    line(s, sv["branch"], relief["inlet"])
    line(s, relief["outlet"], s.add("discharge_point", "DP", x_m=2, height_m=0.9)["in"])
    if second_l:
        other = s.add("tee", "ET2", x_m=2, height_m=0.2)
        line(s, store["bottom"], (other, "right", "left"), (ev, "right", "left"), boiler["return"])
        line(s, other["branch"], s.add("expansion_vessel", "EV2", x_m=2, height_m=-0.3, volume_l=second_l)["a"])
    else:
        line(s, store["bottom"], (ev, "right", "left"), boiler["return"])
    line(s, ev["branch"], tank["a"])
    return s


@pytest.mark.parametrize(("litres", "wanted"), [(110.0, []), (92.0, [(ADVICE, "boiler")]), (50.0, [(FAULT, "boiler")])])
def test_a_vessel_takes_the_whole_store(litres, wanted):
    assert found(sealed(litres), SLUG) == wanted
    if wanted:
        [finding] = said(sealed(litres), SLUG)
        # (0.0357 x 1012 l + 5.1 l)(2.5 + 1)/(2.5 - 1.0)
        assert finding.limit == pytest.approx((0.0357 * 1012 + 5.1) * 3.5 / 1.5, rel=0.01)


def test_vessels_add_up():
    assert sound(sealed(60.0, second_l=60.0), SLUG)


def test_gas_at_the_relief_valves_pressure_leaves_no_room():
    assert found(sealed(precharge_bar=2.6), SLUG) == [(FAULT, "boiler")]


@pytest.mark.parametrize(("litres", "asked"), [(3.0, ["content_l"]), (12.0, [])])
def test_a_coils_content_is_asked_for_only_where_it_matters(litres, asked):
    """A boiler of 10 l on a coil: with the 25 l that a coil holds at most it needs more than 3 l of vessel."""
    s = draw.sheet("By coil")
    store = s.store(
        "store",
        x_m=4,
        height_m=0,
        volume_l=300,
        tappings={"up": 1.0, "down": 0.5},
        coils=({"name": "oil", "bottom_m": 0.5, "top_m": 1.0, "lower": "down", "upper": "up"},),
    )
    boiler = s.add("boiler_oil", "boiler", x_m=0, height_m=0, limit_c=90, content_l=10, vessel_built_in=False)
    sv, relief = (
        s.add("tee", "ST", x_m=1, height_m=0.7),
        s.add("relief_valve", "SV", x_m=1, height_m=1.2, setting_bar=3.0),
    )
    ev = s.add("tee", "ET", x_m=1, height_m=0.2)
    tank = s.add("expansion_vessel", "EV", x_m=1, height_m=-0.3, volume_l=litres, precharge_bar=1.0)
    line(s, boiler["flow"], (sv, "left", "right"), store["up"])
    line(s, sv["branch"], relief["inlet"])
    line(s, store["down"], (ev, "right", "left"), boiler["return"])
    line(s, ev["branch"], tank["a"])
    assert missing(s, SLUG) == asked and found(s, SLUG) == []
    assert sound(s, SLUG) is not bool(asked)
