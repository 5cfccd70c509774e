"""Pairs of legs against networkx: maximum flow with node capacities, blocks, and minimum-cost flow."""

from __future__ import annotations

import random
from itertools import pairwise

import networkx as nx
import pytest

from loopwright.waterways.paths import pair_of_legs
from loopwright.waterways.skeleton import Chain

HOT, COLD = ("hot",), ("cold",)


class Web:
    """Junctions and chains as a skeleton has them, with no sheet behind them."""

    def __init__(self, edges):
        self.chains = [Chain(i, u, v, ((("way", "p", str(i)), True),), (u, v)) for i, (u, v) in enumerate(edges)]
        self.links = {}
        for chain in self.chains:
            self.links.setdefault(chain.u, []).append(chain)
            if chain.v != chain.u:
                self.links.setdefault(chain.v, []).append(chain)


def random_web(seed):
    """Up to 12 junctions and 22 chains, parallel ones and rings among them; whole costs; some walls and shut chains."""
    rng = random.Random(seed)
    places = [HOT, COLD, *[(str(i),) for i in range(rng.randint(3, 10))]]
    edges = [tuple(rng.choices(places, k=2)) for _ in range(rng.randint(4, 22))]
    web = Web(edges)
    cost = [rng.randint(1, 9) for _ in edges]
    flags = [rng.choices([3, 1, 0], [8, 1, 1])[0] for _ in edges]
    inner = places[2:]
    ends = tuple(rng.sample(inner, rng.choice([1, 2])))
    walls = set(rng.sample([p for p in inner if p not in ends], rng.choice([0, 0, 1])))
    drop = {rng.randrange(len(edges))}
    return web, flags, cost, ends, walls, drop


def split_graph(web, flags, cost, ends, walls, drop):
    """The node-split flow graph, each chain and each place carrying one leg."""
    graph = nx.DiGraph()
    for place in web.links:
        if place not in walls or place in ends:
            graph.add_edge((place, "in"), (place, "out"), capacity=1 if place not in ends else 0, weight=0)
    for chain in web.chains:
        if chain.index in drop or not flags[chain.index] or chain.u == chain.v:
            continue
        if {chain.u, chain.v} & (walls - set(ends)):
            continue
        for u, v in ((chain.u, chain.v), (chain.v, chain.u)):
            if v in (HOT, COLD):
                continue
            middle = ("chain", chain.index, u)
            graph.add_edge((u, "out"), middle, capacity=1, weight=cost[chain.index])
            graph.add_edge(middle, (v, "in"), capacity=1, weight=0)
    for start in (HOT, COLD):
        graph.add_edge("source", (start, "out"), capacity=1, weight=0)
    for end in ends:
        graph.add_edge((end, "in"), "target", capacity=2 // len(ends), weight=0)
    return graph


def ask(case):
    web, flags, cost, ends, walls, drop = case
    return pair_of_legs(web, flags, cost, HOT, COLD, ends, drop=drop, walls=walls)


@pytest.mark.parametrize("seed", range(240))
def test_two_legs_exist_if_and_only_if_two_units_flow_and_cost_what_the_cheapest_flow_costs(seed):
    # Menger 1927; networkx maximum_flow_value and min_cost_flow are the reference
    case = random_web(seed)
    web, _, cost, ends, walls, drop = case
    graph = split_graph(*case)
    found = ask(case)
    most = nx.maximum_flow_value(graph, "source", "target")
    assert (found is not None) == (most == 2)
    if found is None:
        return
    graph.nodes["source"]["demand"], graph.nodes["target"]["demand"] = -2, 2
    assert found[0] == nx.cost_of_flow(graph, nx.min_cost_flow(graph))
    out, back = walk(web, HOT, found[1]), walk(web, COLD, [(k, not f) for k, f in reversed(found[2])])
    assert len(set(out) | set(back)) == len(out) + len(back) - (len(ends) == 1)
    assert {out[-1], back[-1]} == set(ends)
    assert not (set(out[1:-1]) | set(back[1:-1])) & ({HOT, COLD, *ends} | walls)
    used = [int(k[2]) for k, _ in (*found[1], *found[2])]
    assert not set(used) & drop and sum(cost[i] for i in used) == found[0]


def walk(web, start, steps):
    """Places of a leg, sought outwards; fails if a step does not begin where the last one ended."""
    places = [start]
    for key, forward in steps:
        chain = web.chains[int(key[2])]
        u, v = (chain.u, chain.v) if forward else (chain.v, chain.u)
        assert places[-1] == u
        places.append(v)
    return places


@pytest.mark.parametrize("seed", range(240, 360))
def test_a_sink_between_two_ends_has_legs_if_and_only_if_it_shares_a_block_with_the_source(seed):
    # two vertices of a block of more than two lie on a common cycle (Menger); networkx biconnected_components
    web, flags, cost, ends, walls, drop = random_web(seed)
    if len(ends) != 2:
        ends = tuple(p for p in web.links if p not in (HOT, COLD))[:2]
        if len(ends) < 2:
            pytest.skip("too small a web")
    walls = walls - set(ends)
    graph = nx.Graph()
    for chain in web.chains:
        if chain.index not in drop and flags[chain.index] and not {chain.u, chain.v} & walls:
            nx.add_path(graph, [chain.u, ("chain", chain.index), chain.v])
    nx.add_path(graph, [HOT, "source", COLD])
    nx.add_path(graph, [ends[0], "sink", ends[1]])
    together = any({"source", "sink"} <= block for block in nx.biconnected_components(graph))
    assert (ask((web, flags, cost, ends, walls, drop)) is not None) == together


def test_a_cheap_first_leg_gives_way_when_both_legs_need_its_place():
    # the figure by which Suurballe's method is taught: the shortest way alone leaves no second one
    a, b, x, y = (("a",), ("b",), ("x",), ("y",))
    edges = [(HOT, x), (x, y), (y, a), (HOT, y), (COLD, x), (x, b)]
    web = Web(edges)
    found = pair_of_legs(web, [3] * 6, [1, 1, 1, 9, 1, 9], HOT, COLD, (a, b), drop=set(), walls=set())
    assert found is not None
    assert walk(web, HOT, found[1]) == [HOT, y, a] and found[0] == 9 + 1 + 1 + 9


def test_a_barred_entry_is_only_barred_from_that_side():
    a, b = ("a",), ("b",)
    web = Web([(HOT, a), (COLD, b), (HOT, b), (COLD, a)])
    cost = [1, 1, 5, 5]
    plain = pair_of_legs(web, [3] * 4, cost, HOT, COLD, (a, b), drop=set(), walls=set())
    turned = pair_of_legs(web, [3] * 4, cost, HOT, COLD, (a, b), drop=set(), walls=set(), barred={(0, HOT)})
    same = pair_of_legs(web, [3] * 4, cost, HOT, COLD, (a, b), drop=set(), walls=set(), barred={(0, a)})
    assert plain is not None and turned is not None and same is not None
    assert (plain[0], turned[0], same[0]) == (2, 10, 2)


@pytest.mark.parametrize("rungs", [50, 100, 200])
def test_the_work_on_a_ladder_grows_with_its_length_and_not_with_its_cycles(rungs):
    top, bottom = [HOT, *[("t", str(i)) for i in range(rungs)]], [COLD, *[("b", str(i)) for i in range(rungs)]]
    edges = [*pairwise(top), *pairwise(bottom), *zip(top[1:-1], bottom[1:-1])]
    web = Counted(edges)
    flags, cost = [3] * len(edges), [1] * len(edges)
    found = pair_of_legs(web, flags, cost, HOT, COLD, (top[-1], bottom[-1]), drop=set(), walls=set())
    assert found is not None and found[0] == 2 * rungs
    assert web.looks <= 2 * 2 * 2 * (rungs + 1)  # each place twice (arriving, leaving) for each of two legs


class Counted(Web):
    """Counts how often the chains at a place are looked up."""

    def __init__(self, edges):
        super().__init__(edges)
        self.looks, links = 0, self.links
        web = self

        class Links(dict):
            def get(self, *args):
                web.looks += 1
                return super().get(*args)

        self.links = Links(links)
