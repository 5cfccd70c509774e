"""What each pipe carries, for every pipe of the base system and some small ones."""

from __future__ import annotations

from fnmatch import fnmatch

import msgspec
import pytest

from loopwright import draw
from loopwright.waterways import Waterways
from loopwright.waterways.services import SERVICES, feed_runs, run_from, services, vent_runs
from waterways.drawn import CATALOGUE, TAPPINGS, base, base_sheet, stove_and_radiator, way, ways_of

# by id, or by the parts at the ends for a pipe without a name of its own; first match holds
WANTED = {
    "stove_vent": "vent",
    "store_vent": "vent",
    "feed": "feed",
    "overflow": "discharge",
    "stove_flow": "flow",
    "store_flow": "flow",
    "riser": "flow",
    "leak_flow": "flow",
    "leak_return": "return",
    "return_*": "return",
    "boiler_flow_*": "flow",
    "boiler_return_*": "return",
    "vessel_branch": "return",
    "fill_branch": "return",
    "fill_supply": "cold",
    "SVT-SV1": "flow",
    "AVT2-AV2": "flow",
    "DCT-DC1": "return",
    "SV?-*end": "discharge",
    "solar_flow_*": "solar_flow",
    "solar_return_*": "solar_return",
    "AVT-AV1": "solar_flow",
    "SVT2-SV2": "solar_return",
    "EVT2-EV2": "solar_return",
    "DCT2-DC2": "solar_return",
    "rad_flow_*": "flow",
    "rad_return": "return",
    "P1-BT1": "flow",
    "BT1-*": "flow",
    "BV1-BT2": "return",
    "C1-RT1": "flow",
    "RT1-*": "flow",
    "TV?-R?": "flow",
    "R?-RT2": "return",
    "RT2-BT2": "return",
    "floor_flow_*": "flow",
    "floor_return": "return",
    "hot_*": "hot",
    "cold_*": "cold",
    "potable_branch": "cold",
    "main-SV0": "cold",
    "SV0-RV1": "cold",
    "RV1-CT1": "cold",
    "loft_main-*": "cold",
    "loft_stop-*": "cold",
    "store-drain": "unknown",  # a drain of the store is neither flow nor return
}


@pytest.mark.parametrize("pipe", sorted(base_sheet().pipes))
def test_every_pipe_of_the_base_system(pipe):
    record = base_sheet().pipes[pipe]
    names = (pipe, f"{record.a.part}-{record.b.part}")
    wanted = [service for pattern, service in WANTED.items() if any(fnmatch(n, pattern) for n in names)]
    assert wanted, f"{names} is in no row"
    assert services(base())[pipe] == wanted[0]


def test_services_are_of_the_known_ones_and_cover_every_pipe():
    found = services(base())
    assert found.keys() == base_sheet().pipes.keys() and set(found.values()) <= set(SERVICES)


def test_a_service_that_a_person_fixed_holds():
    sheet = base_sheet()
    fixed = msgspec.structs.replace(sheet.pipes["riser"], service="vent")
    ways = Waterways(msgspec.structs.replace(sheet, pipes={**sheet.pipes, "riser": fixed}), CATALOGUE)
    assert services(ways)["riser"] == "vent" and services(ways)["store_flow"] == "flow"


def test_names_of_tappings_are_not_believed():
    d = draw.sheet("Names")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    store = d.store(
        "store",
        x_m=5.0,
        height_m=0.0,
        tappings={
            "flow": {"height_m": 0.2, "purpose": "source_flow"},
            "return": {"height_m": 1.2, "purpose": "source_return"},
        },
    )
    d.pipe(stove["flow"], store["return"], id="out")
    d.pipe(store["flow"], stove["return"], id="home")
    assert services(ways_of(d)) == {"out": "flow", "home": "return"}


def test_loads_on_their_own_tappings_are_named_by_the_emitter():
    d = draw.sheet("Load")
    store = d.store("store", x_m=2.0, height_m=0.0, tappings=TAPPINGS)
    rad = d.add("radiator", "rad", x_m=6.0, height_m=2.0)
    d.pipe(store["load flow"], rad["flow"], id="out")
    d.pipe(rad["return"], store["load return"], id="home")
    assert services(ways_of(d)) == {"out": "flow", "home": "return"}


def test_a_pipe_between_two_sources_in_series_shows_the_hotter_service():
    d = draw.sheet("Series")
    one, two = (d.add("boiler_oil", n, x_m=x, height_m=0.0) for n, x in (("one", 0.0), ("two", 4.0)))
    rad = d.add("radiator", "rad", x_m=8.0, height_m=2.0)
    d.pipe(one["flow"], two["return"], id="between")
    d.pipe(two["flow"], rad["flow"], id="out")
    d.pipe(rad["return"], one["return"], id="home")
    assert services(ways_of(d)) == {"between": "flow", "out": "flow", "home": "return"}


def test_runs_end_at_the_first_junction():
    ways = base()
    assert vent_runs(ways)[way("cistern", "vent")] == (("pipe", "stove_vent"),)
    assert vent_runs(ways)[way("cistern", "vent_2")] == (("pipe", "store_vent"),)
    assert feed_runs(ways) == {way("cistern", "feed"): (("pipe", "feed"),)}


def test_a_run_passes_fittings_in_line():
    ways = ways_of(stove_and_radiator(("union", "U", {}), ("isolating_valve", "V1", {})))
    run = run_from(ways, ("port", "stove", "flow"), way("stove", "flow"))
    assert [k for k in run if k[0] == "way"] == [("way", "U", CATALOGUE["union"].ways[0].name), way("V1")]
    assert len(run) == 5
