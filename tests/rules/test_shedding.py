"""How a fire sheds its heat: the cooling coil.

Cooling water runs from the public main or a cistern, past no valve that can shut; a check valve lets it through one
way: log-boiler manuals, as the rules' pages name them.
"""

from __future__ import annotations

import pytest
from fire_sheets import answer, fire
from vented import CATALOGUE, sealed_sheet

from loopwright.rules.cooling import cooling_lacks
from loopwright.rules.registry import Case
from loopwright.waterways import Waterways


def lacks(*, check: str = "", coil_first: bool = False, past_coil: bool = False) -> str | None:
    """What the cooling of a log boiler lacks: main, check valve, discharge valve and coil in either order."""
    s = sealed_sheet(kind="log_boiler", source="log")
    log = s["log"]
    main = s.add("mains_supply", "mains", x_m=-3.0, height_m=0.4, pressure_bar=3.0)
    valve = s.add("thermal_discharge_valve", "TD", x_m=-1.0, height_m=0.4)
    gap = s.add("tundish", "TU", x_m=-1.5, height_m=-0.2)
    last = main["a"]
    if check:
        part = s.add("check_valve", "C", x_m=-2.4, height_m=0.4)
        s.pipe(last, part["a" if check == "forward" else "b"], via=[])
        last = part["b" if check == "forward" else "a"]
    if past_coil:  # the coil hangs on the supply by one end and never runs
        tee = s.add("tee", "T", x_m=-1.8, height_m=0.4)
        s.pipe(last, tee["left"], via=[])
        s.pipe(tee["branch"], log["cooling_in"], via=[])
        last = tee["right"]
    stops = [log["cooling_in"], log["cooling_out"]], [valve["in"], valve["out"]]
    for enter, leave in (stops if coil_first else stops[::-1])[: 1 if past_coil else 2]:
        s.pipe(last, enter, via=[])
        last = leave
    s.pipe(last, gap["in"], via=[])
    ways = Waterways(s.done(), CATALOGUE)
    return cooling_lacks(Case(ways), ways.source_of["log"])


@pytest.mark.parametrize("coil_first", [False, True])
@pytest.mark.parametrize("check", ["", "forward"])
def test_cooling_water_from_the_main_is_sound(check, coil_first):
    assert lacks(check=check, coil_first=coil_first) is None


@pytest.mark.parametrize("coil_first", [False, True])
def test_no_cooling_water_runs_backwards_through_a_check_valve(coil_first):
    assert lacks(check="backwards", coil_first=coil_first) is not None


def test_a_coil_on_a_dead_end_cools_nothing():
    assert lacks(past_coil=True) is not None


def test_the_makers_own_leak_takes_the_place_of_the_general_figure():
    """The general least is 1.0 kW with a store (sf.leak.kw.min_dhw); one maker asks for 0.45 kW (sf.leak.area)."""
    assert answer(fire(leak_w=600)).step != 2
    assert answer(fire(leak_w=600, leak_kw=0.45)).step == 2
