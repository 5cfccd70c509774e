"""Waters and regimes of small sheets, and what parts them."""

from __future__ import annotations

import msgspec
import networkx as nx
import pytest

from loopwright import draw
from loopwright.catalogue import Behaviour
from loopwright.catalogue.reader import Catalogue
from loopwright.waterways import Waterways
from loopwright.waterways.graph import PARTING
from loopwright.waterways.waters import water_of, waters
from waterways.drawn import CATALOGUE, TAPPINGS, base, stove_and_radiator, ways_of


def house(*more: str, regime: str = "") -> draw.Drawing:
    """A boiler and a store, with a tee in the flow for whatever the regime needs, and more on a cross in the return."""
    d = draw.sheet("House")
    boiler = d.add("boiler_oil", "boiler", x_m=1.0, height_m=0.0)
    store = d.store("store", x_m=5.0, height_m=0.0, tappings=TAPPINGS)
    tee = d.add("tee", "T", x_m=2.5, height_m=1.3)
    cross = d.add("cross", "X", x_m=2.5, height_m=0.2)
    d.pipe(boiler["flow"], tee["left"])
    d.pipe(tee["right"], store["hot"])
    arms = list(cross.ends)
    d.pipe(store["cold"], arms[0])
    d.pipe(arms[1], boiler["return"])
    if regime == "vented":
        cistern = d.add("feed_expansion_cistern", "cistern", x_m=2.5, height_m=5.0)
        d.pipe(tee["branch"], cistern["vent"])
        d.pipe(cistern["feed"], arms[2])
        arms.pop(2)
    for kind, arm in zip(more, arms[2:]):
        part = d.add(kind, kind, x_m=2.0, height_m=-1.0)
        d.pipe(arm, part["b"] if kind in ("filling_loop", "disconnector") else part.ends[0])
        if kind in ("filling_loop", "disconnector"):
            main = d.add("mains_supply", "mains", x_m=0.0, height_m=-1.0)
            d.pipe(main["a"], part["a"])
    return d


@pytest.mark.parametrize(
    ("drawing", "regime", "mixed"),
    [
        (house(regime="vented"), "vented", False),
        (house("expansion_vessel"), "sealed", False),
        (house("relief_valve"), "sealed", False),
        (house("expansion_vessel", "filling_loop"), "sealed", False),
        (house(), "undefined", False),
        (house("drain_cock"), "undefined", False),
        (house("expansion_vessel", regime="vented"), "vented", True),
        (house("filling_loop", regime="vented"), "vented", True),
        (house("relief_valve", regime="vented"), "vented", False),  # a relief valve in vented water is no mixture
    ],
    ids=["vented", "vessel", "relief", "filled", "bare", "drain", "vented+vessel", "vented+filling", "vented+relief"],
)
def test_regime_of_a_boilers_water(drawing, regime, mixed):
    ways = ways_of(drawing)
    water = water_of(ways, ways.source_of["boiler"].hot)
    assert (water.regime, water.mixed, water.fluid) == (regime, mixed, "heating")
    assert [s.part for s in water.sources] == ["boiler"]


def test_a_filling_loop_without_its_hose_mixes_nothing():
    d = house("filling_loop", regime="vented")
    part = d.sheet.parts["filling_loop"]
    off = msgspec.structs.replace(part, props={**part.props, "hose_fitted": False})
    sheet = msgspec.structs.replace(d.done(), parts={**d.sheet.parts, part.id: off})
    ways = Waterways(sheet, CATALOGUE)
    assert not water_of(ways, ways.source_of["boiler"].hot).mixed


@pytest.mark.parametrize("device", ["filling_loop", "disconnector"])
def test_a_filling_device_does_not_join_the_mains_to_the_heating(device):
    ways = ways_of(house("expansion_vessel", device))
    heating, mains = water_of(ways, ways.source_of["boiler"].hot), water_of(ways, ("port", "mains", "a"))
    assert heating is not mains and mains.regime == "mains" and mains.fluid == "domestic"
    assert [e.part for e in heating.fillings] == [device]


@pytest.mark.parametrize("prop", ["vessel_built_in", "relief_built_in"])
def test_a_vessel_or_a_relief_valve_inside_the_boiler_seals_its_water(prop):
    d = draw.sheet("Packaged")
    d.add("boiler_built_in_pump", "boiler", x_m=1.0, height_m=0.0, **{prop: True})
    ways = ways_of(d)
    assert water_of(ways, ways.source_of["boiler"].hot).regime == "sealed"


def test_a_solar_circuit_with_a_drain_down_vessel():
    def solar(vessel: bool):
        d = draw.sheet("Drain-down")
        panel = d.add("solar_collector", "collector", x_m=5.0, height_m=6.0)
        pot = d.add("drain_down_vessel", "pot", x_m=3.0, height_m=3.0)
        tee = d.add("tee", "T", x_m=4.0, height_m=2.0)
        d.pipe(panel["flow"], pot["flow_in"])
        d.pipe(pot["return_out"], tee["left"])
        d.pipe(tee["right"], panel["return"])
        if vessel:
            d.pipe(tee["branch"], d.add("expansion_vessel_solar", "EV", x_m=4.0, height_m=1.0)["a"])
        ways = ways_of(d)
        return water_of(ways, ways.source_of["collector"].hot)

    assert (solar(False).regime, solar(False).mixed, solar(False).fluid) == ("drain-down", False, "solar")
    assert (solar(True).regime, solar(True).mixed) == ("drain-down", True)


def test_tap_water_from_the_mains_and_from_a_cistern():
    d = draw.sheet("Taps")
    main, basin = d.add("mains_supply", "main", x_m=0.0, height_m=0.0), d.add("basin", "basin", x_m=3.0, height_m=1.0)
    d.pipe(main["a"], basin["cold"])
    cistern = d.add("cold_water_cistern", "cwc", x_m=5.0, height_m=5.0)
    bath = d.add("bath", "bath", x_m=6.0, height_m=1.0)
    d.pipe(cistern["feed"], bath["cold"])
    ways = ways_of(d)
    first, second = water_of(ways, ("port", "basin", "cold")), water_of(ways, ("port", "bath", "cold"))
    assert (first.regime, first.fluid, second.regime, second.fluid) == ("mains", "domestic", "vented", "domestic")
    assert water_of(ways, ("body", "cwc")) is None


def test_a_water_fed_by_a_cistern_and_the_mains_is_mains():
    d = house(regime="vented")
    arm = next(end for end in d["X"].ends if end not in d.sheet.taken)
    d.pipe(arm, d.add("mains_supply", "main", x_m=0.0, height_m=-1.0)["a"])
    ways = ways_of(d)
    assert water_of(ways, ways.source_of["boiler"].hot).regime == "mains"


def two_feeds() -> Catalogue:
    """The kinds, and a cistern with a second outlet."""
    kind = CATALOGUE["feed_expansion_cistern"]
    port = next(p for p in kind.ports if p.name == "feed")
    feed = next(w for w in kind.ways if w.name == "feed")
    twin = msgspec.structs.replace(
        kind,
        ports=(*kind.ports, msgspec.structs.replace(port, name="feed_2", at=(0.2, 0.0))),
        ways=(*kind.ways, msgspec.structs.replace(feed, name="feed_2", b="feed_2")),
    )
    return Catalogue(twin if k.id == kind.id else k for k in CATALOGUE)


def test_two_waters_fed_from_one_cistern_stay_two():
    catalogue = two_feeds()
    d = draw.sheet("Two stoves", catalogue=catalogue)
    cistern = d.add("feed_expansion_cistern", "cistern", x_m=3.0, height_m=5.0)
    for name, x, feed, vent in (("one", 1.0, "feed", "vent"), ("two", 6.0, "feed_2", "vent_2")):
        stove = d.add("boiler_stove", name, x_m=x, height_m=0.0)
        d.pipe(cistern[feed], stove["return"])
        d.pipe(stove["flow"], cistern[vent])
    ways = Waterways(d.done(), catalogue)
    one, two = (water_of(ways, ways.source_of[name].hot) for name in ("one", "two"))
    assert one is not two and not one.places & two.places
    for water in (one, two):
        assert water.regime == "vented" and water.feeds == (("body", "cistern"),) and water.cisterns == {"cistern"}
        assert len(water.vent_ends) == 1
    assert {e.key[2] for w in (one, two) for e in w.vent_ends} == {"vent", "vent_2"}


def test_a_coil_and_a_plate_part_two_waters():
    ways = base()
    by_source = {s.part: w.number for w in waters(ways) for s in w.sources}
    assert len(set(by_source.values())) == 3
    assert water_of(ways, ("body", "store")).number == by_source["stove"]


def test_waters_are_components_of_what_is_left_when_the_parting_elements_are_taken_out():
    # networkx connected_components on the graph of places and elements, built here from the elements alone
    for ways in (base(), ways_of(house("expansion_vessel", "filling_loop")), ways_of(stove_and_radiator())):
        graph = nx.Graph()
        graph.add_nodes_from(p for p in ways.at if p not in ways.bodies("cistern"))
        for key, element in ways.elements.items():
            if element.does not in PARTING and not {element.a, element.b} & set(ways.bodies("cistern")):
                nx.add_path(graph, [element.a, key, element.b])
        pieces = [{p for p in piece if p not in ways.elements} for piece in nx.connected_components(graph)]
        found = [set(w.places) for w in waters(ways)]
        assert all(places in pieces for places in found)
        lonely = [p for p in pieces if p not in found]
        assert all(len(p) == 1 for p in lonely)  # a port that nothing is piped to is nobody's water
        for w in waters(ways):
            assert all(water_of(ways, p) is w for p in w.places)


def test_vessels_reliefs_and_feeds_of_the_base_system():
    found = {(w.regime, w.fluid): w for w in waters(base()) if w.sources}
    assert found["sealed", "heating"].vessels == ("EV1",) and found["sealed", "solar"].vessels == ("EV2",)
    assert [e.part for e in found["sealed", "heating"].reliefs] == ["SV1"]
    stove = found["vented", "heating"]
    assert {e.key[2] for e in stove.vent_ends} == {"vent", "vent_2"} and stove.cisterns == {"cistern"}
    assert all(e.does is Behaviour.AIR_GAP for e in stove.vent_ends)
