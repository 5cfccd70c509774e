"""The graph and its skeleton: degrees, parallel ways, every element in one chain."""

from __future__ import annotations

import random
from functools import cache

import msgspec
import networkx as nx
import pytest

from loopwright import draw
from loopwright.catalogue import Behaviour
from loopwright.waterways import Waterways
from loopwright.waterways.views import Ask, passing
from waterways.drawn import CATALOGUE, TAPPINGS, base, base_sheet, ladder, stove_and_radiator, way, ways_of


def ring() -> Waterways:
    """A valve whose outlet is piped to its own inlet."""
    d = draw.sheet("Ring")
    valve = d.add("isolating_valve", "V1", x_m=1.0, height_m=1.0)
    d.pipe(valve["a"], valve["b"], via=[(0.5, 1.0), (0.5, 2.0), (1.5, 2.0), (1.5, 1.0)], id="round")
    return ways_of(d)


@cache
def random_sheet(seed: int) -> Waterways:
    """Fittings, a store and a stove thrown down, with pipes between ports drawn by lot."""
    rng = random.Random(seed)
    d = draw.sheet("By lot")
    d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    d.store("store", x_m=4.0, height_m=0.0, tappings=TAPPINGS)
    kinds = ("tee", "tee", "isolating_valve", "pump", "flap_valve", "radiator", "cross", "loading_unit_4_flap")
    for i in range(rng.randint(2, 12)):
        d.add(rng.choice(kinds), f"part{i}", x_m=rng.uniform(0, 9), height_m=rng.uniform(0, 5))
    ends = [end for part in d.sheet.parts for end in d[part].ends]
    rng.shuffle(ends)
    for a, b in zip(ends[::2], ends[1 : rng.randint(2, len(ends)) : 2]):
        d.pipe(a, b)
    return ways_of(d)


@cache
def sheets() -> list[Waterways]:
    drawn = [base(), ring(), ways_of(ladder(6, valve="pump")), ways_of(stove_and_radiator())]
    return [*drawn, *map(random_sheet, range(30))]


@pytest.fixture(scope="module", params=range(34))
def ways(request: pytest.FixtureRequest) -> Waterways:
    return sheets()[request.param]


def test_every_element_is_a_node_between_its_two_places(ways):
    assert nx.is_frozen(ways.graph)
    for key, element in ways.elements.items():
        assert ways.graph.degree(key) == 2 and set(ways.graph[key]) == {element.a, element.b}
        assert ways.graph.nodes[key]["element"] is element
        assert element.other(element.a) == element.b and element.other(element.b) == element.a
    places = set(ways.graph) - set(ways.elements)
    assert places == set(ways.at) and nx.is_bipartite(ways.graph)
    assert all(not ways.graph.has_edge(p, q) for p in places for q in places)


def test_links_say_what_the_graph_says(ways):
    for place, links in ways.links.items():
        assert {e.key for e in links} == set(ways.graph[place]) and len(links) == len(ways.graph[place])


def test_every_element_lies_in_just_one_chain_and_in_order(ways):
    skeleton = ways.skeleton
    seen = [key for chain in skeleton.chains for key, _ in chain.steps]
    assert sorted(seen) == sorted(ways.elements)
    for chain in skeleton.chains:
        here, places = chain.u, [chain.u]
        for key, forward in chain.steps:
            element = ways.elements[key]
            assert here == (element.a if forward else element.b)
            here = element.b if forward else element.a
            places.append(here)
            assert skeleton.chain_of[key] == chain.index
        assert tuple(places) == chain.places and here == chain.v
        assert {chain.u, chain.v} <= skeleton.junctions
        assert not set(chain.places[1:-1]) & skeleton.junctions
        assert all(len(ways.links[p]) == 2 for p in chain.places[1:-1])


def test_a_chain_passes_as_far_as_every_element_of_it_passes(ways):
    for ask in Ask:
        view = passing(ways, ask)
        for chain, flags in zip(ways.skeleton.chains, ways.skeleton.passes(view)):
            along = all(view[k] & (1 if f else 2) for k, f in chain.steps)
            back = all(view[k] & (2 if f else 1) for k, f in chain.steps)
            assert flags == along + 2 * back


def test_what_follows_from_a_changed_copy_of_a_view_is_found_anew():
    ways = ways_of(stove_and_radiator(("isolating_valve", "V1", {})))
    shut = dict(passing(ways, Ask.OPEN))
    shut[way("V1")] = 0
    chain = ways.skeleton.chain_of[way("V1")]
    assert ways.skeleton.passes(passing(ways, Ask.OPEN))[chain] == 3
    assert ways.skeleton.passes(shut)[chain] == 0
    assert ways.skeleton.passes(passing(ways, Ask.OPEN))[chain] == 3


def test_the_skeleton_is_the_same_on_every_run(ways):
    # the order of a set of tuples of words changes from run to run; the order of the sheet does not
    order = {place: i for i, place in enumerate(ways.links)}
    by_junction = [order[c.u] for c in ways.skeleton.chains if c.u != c.v]
    assert by_junction == sorted(by_junction)


def test_a_valve_piped_to_itself_is_a_ring_and_no_bridge():
    ways = ring()
    assert set(ways.elements) == {way("V1"), ("pipe", "round")}
    assert not list(nx.bridges(ways.graph))
    (block,) = nx.biconnected_components(ways.graph)
    assert block == set(ways.graph)
    (chain,) = ways.skeleton.chains
    assert chain.u == chain.v and {k for k, _ in chain.steps} == set(ways.elements)


def test_two_ways_between_the_same_two_tees_stay_apart():
    d = draw.sheet("Side by side")
    left, right = (d.add("tee", name, x_m=x, height_m=1.0) for name, x in (("L", 1.0), ("R", 3.0)))
    flap = d.add("flap_valve", "C1", x_m=2.0, height_m=1.0)
    pump = d.add("pump", "P1", x_m=2.0, height_m=2.0)
    d.pipe(left["right"], flap["a"])
    d.pipe(flap["b"], right["left"])
    d.pipe(left["branch"], pump["a"])
    d.pipe(pump["b"], right["branch"])
    ways = ways_of(d)
    chains = {ways.skeleton.chain_of[way("C1")], ways.skeleton.chain_of[way("P1", "pump")]}
    assert len(chains) == 2
    ends = [{ways.skeleton.chains[i].u, ways.skeleton.chains[i].v} for i in chains]
    assert ends[0] == ends[1] and len(ends[0]) == 2


def test_plenums_bodies_and_ends_of_sinks_are_junctions():
    ways = base()
    wanted = {p for s in ways.sources for p in (s.hot, s.cold)} | set(ways.bodies())
    wanted |= {p for s in ways.sinks for p in s.ends}
    assert wanted <= ways.skeleton.junctions
    assert len(ways.skeleton.chains) < len(ways.elements) / 2


def test_a_coil_joins_its_two_tappings_and_not_the_body():
    ways = base()
    coils = {e.key[2]: e for e in ways.by_part["store"] if e.does is Behaviour.COIL}
    assert set(coils) == {"coil solar", "coil boiler", "coil hot water"}
    part = ways.sheet.parts["store"]
    for coil in part.coils:
        element = coils[f"coil {coil.name}"]
        assert (element.a[2], element.b[2]) == (coil.lower, coil.upper)
        assert not any(e.b == ("body", "store") for p in (element.a, element.b) for e in ways.links[p])
    for tapping in part.tappings:
        if tapping.purpose == "sensor":
            assert ("port", "store", tapping.letter) not in ways.at  # a pocket takes no pipe


def test_shuffling_the_records_changes_no_element():
    sheet, rng = base_sheet(), random.Random(7)
    parts, pipes = list(sheet.parts.items()), list(sheet.pipes.items())
    rng.shuffle(parts)
    rng.shuffle(pipes)
    other = Waterways(msgspec.structs.replace(sheet, parts=dict(parts), pipes=dict(pipes)), CATALOGUE)
    assert other.elements == base().elements and other.at == base().at
    runs = [{frozenset(k for k, _ in c.steps) for c in w.skeleton.chains} for w in (other, base())]
    assert runs[0] == runs[1]


def test_bodies_by_role_and_heights_in_a_body():
    ways = base()
    assert ways.bodies("store") == [("body", "store")] and ways.bodies("cistern") == [("body", "cistern")]
    assert set(ways.bodies()) >= {("body", "store"), ("body", "cistern")}
    low, high = ways.body_range("store")
    assert (low, high) == pytest.approx((0.1, 1.9))
    assert ways.share("store", 1.0) == pytest.approx(0.5)


def test_sources_have_their_plenums_ports_and_thermal_centre():
    stove = base().source_of["stove"]
    assert stove.stops == "fire" and stove in base().fires
    assert stove.flow_ports == (("port", "stove", "flow"),) and stove.return_ports == (("port", "stove", "return"),)
    assert stove.height_m == pytest.approx(0.5)
    assert {s.stops for s in base().sources} == {"fire", "switched", "sun"}
