"""Loops of sources and sinks on small drawn sheets, and by lot against networkx."""

from __future__ import annotations

import networkx as nx
import pytest

from loopwright import draw
from loopwright.waterways import Waterways
from loopwright.waterways.loops import Loop, blockers, loop_to, loops, sinks_reached
from loopwright.waterways.paths import against
from loopwright.waterways.views import Ask, passing
from waterways.drawn import TAPPINGS, base, ladder, sink_of, source_of, stove_and_radiator, way, ways_of
from waterways.test_graph import random_sheet

ALL = (Ask.OPEN, Ask.FIXED, Ask.SELF_ACTING, Ask.REST, Ask.IDLE, Ask.RUNNING)


def stopped(ways: Waterways, loop: Loop, ask: Ask):
    """What does not let a loop through in its direction."""
    return against(ways, passing(ways, ask), loop.steps)


def found(ways: Waterways, ask: Ask, sink: str = "rad"):
    return loop_to(ways, source_of(ways), sink_of(ways, sink), ask)


@pytest.mark.parametrize(
    ("kind", "props", "passed_by", "cost"),
    [
        (None, {}, ALL, 0),
        ("isolating_valve", {}, {Ask.OPEN, Ask.REST, Ask.IDLE, Ask.RUNNING}, 1),
        ("isolating_valve", {"open": False}, {Ask.OPEN}, 1),
        ("thermostatic_radiator_valve", {}, {Ask.OPEN, Ask.REST, Ask.IDLE, Ask.RUNNING}, 1),
        ("motorised_2port", {"rest": "open"}, {Ask.OPEN, Ask.REST, Ask.IDLE, Ask.RUNNING}, 1),
        ("motorised_2port", {"rest": "shut"}, {Ask.OPEN, Ask.RUNNING}, 100),
        ("motorised_2port", {"rest": "as_left"}, {Ask.OPEN, Ask.IDLE, Ask.RUNNING}, 100),
        ("pump", {}, {Ask.OPEN, Ask.IDLE, Ask.RUNNING}, 100),
        ("pump", {"against": True}, {Ask.OPEN, Ask.IDLE}, 100),
        ("flap_valve", {}, {Ask.OPEN, Ask.SELF_ACTING, Ask.REST, Ask.IDLE, Ask.RUNNING}, 1),
        ("flap_valve", {"against": True}, {Ask.OPEN}, 1),
        ("check_valve", {}, {Ask.OPEN, Ask.IDLE, Ask.RUNNING}, 1),
        ("check_valve", {"against": True}, {Ask.OPEN}, 1),
    ],
)
def test_what_stands_in_the_flow_decides_in_which_views_there_is_a_loop(kind, props, passed_by, cost):
    ways = ways_of(stove_and_radiator(*([(kind, "X", props)] if kind else [])))
    assert {ask for ask in ALL if found(ways, ask)} == set(passed_by)
    loop = found(ways, Ask.OPEN)
    assert loop.cost == pytest.approx(cost, abs=0.1)
    assert [e.part for e in blockers(ways, loop)] == (["X"] if kind else [])


def test_legs_run_with_the_flow_from_the_stove_and_back_to_it():
    ways = ways_of(stove_and_radiator(("flap_valve", "C1", {})))
    loop = found(ways, Ask.SELF_ACTING)
    walk = [loop.source.hot]
    for key, forward in loop.flow_leg:
        element = ways.elements[key]
        assert walk[-1] == (element.a if forward else element.b)
        walk.append(element.b if forward else element.a)
    assert walk[-1] == ("port", "rad", "flow") and (way("C1"), True) in loop.flow_leg
    walk = [("port", "rad", "return")]
    for key, forward in loop.return_leg:
        element = ways.elements[key]
        assert walk[-1] == (element.a if forward else element.b)
        walk.append(element.b if forward else element.a)
    assert walk[-1] == loop.source.cold
    assert not stopped(ways, loop, Ask.SELF_ACTING) and stopped(ways, loop, Ask.FIXED)


def with_flap_rung(facing: str) -> Waterways:
    """Stove and radiator, flow and return joined by a cross pipe; the only flap stands in the radiator's return."""
    d = draw.sheet("Flap in the return")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    rad = d.add("radiator", "rad", x_m=5.0, height_m=2.0)
    up, down = d.add("tee", "up", x_m=2.0, height_m=2.5), d.add("tee", "down", x_m=2.0, height_m=0.2)
    flap = d.add("flap_valve", "C1", x_m=3.0, height_m=0.2)
    d.pipe(stove["flow"], up["left"])
    d.pipe(up["right"], rad["flow"])
    d.pipe(up["branch"], down["branch"])
    first, last = ("a", "b") if facing == "home" else ("b", "a")
    d.pipe(rad["return"], flap[first])
    d.pipe(flap[last], down["right"])
    d.pipe(down["left"], stove["return"])
    return ways_of(d)


def test_a_self_acting_loop_needs_its_flap_to_face_home():
    assert found(with_flap_rung("home"), Ask.SELF_ACTING) is not None
    assert found(with_flap_rung("away"), Ask.SELF_ACTING) is None
    assert found(with_flap_rung("away"), Ask.OPEN) is not None


def test_of_two_ways_round_the_one_that_faces_right_is_taken_though_it_is_longer():
    for faces_back, longer in ((True, "C2"), (False, "C1")):
        d = draw.sheet("Two flaps side by side")
        stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
        rad = d.add("radiator", "rad", x_m=8.0, height_m=2.0)
        split, join = d.add("tee", "S", x_m=2.0, height_m=2.5), d.add("tee", "J", x_m=6.0, height_m=2.5)
        near = d.add("flap_valve", "C1", x_m=4.0, height_m=2.5, mirror=faces_back)
        far = d.add("flap_valve", "C2", x_m=4.0, height_m=3.5)
        union = d.add("union", "U", x_m=5.0, height_m=3.5)
        a, b = ("b", "a") if faces_back else ("a", "b")
        d.pipe(stove["flow"], split["left"])
        d.pipe(split["right"], near[a])
        d.pipe(near[b], join["left"])
        d.pipe(split["branch"], far["a"])
        d.pipe(far["b"], union["a"])
        d.pipe(union["b"], join["branch"])
        d.pipe(join["right"], rad["flow"])
        d.pipe(rad["return"], stove["return"])
        ways = ways_of(d)
        loop = found(ways, Ask.SELF_ACTING)
        assert loop is not None and way(longer) in loop.keys


def test_emitters_in_series_lie_on_one_loop_and_each_has_its_own():
    d = draw.sheet("Series")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    one, two = (d.add("radiator", n, x_m=x, height_m=2.0) for n, x in (("one", 3.0), ("two", 6.0)))
    d.pipe(stove["flow"], one["flow"])
    d.pipe(one["return"], two["flow"])
    d.pipe(two["return"], stove["return"])
    ways = ways_of(d)
    first, second = found(ways, Ask.FIXED, "one"), found(ways, Ask.FIXED, "two")
    assert sink_of(ways, "two").key in first.keys and sink_of(ways, "one").key in second.keys
    assert first.keys | {sink_of(ways, "one").key} == second.keys | {sink_of(ways, "two").key}


def test_emitters_in_parallel_have_a_loop_each_that_leaves_the_other_out():
    ways = ways_of(ladder(2))
    first, second = found(ways, Ask.FIXED, "rad0"), found(ways, Ask.FIXED, "rad1")
    assert sink_of(ways, "rad1").key not in first.keys and sink_of(ways, "rad0").key not in second.keys


def test_both_ends_on_one_pipe_make_a_loop_with_the_pipe_between_left_out():
    d = draw.sheet("One pipe")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    rad = d.add("radiator", "rad", x_m=4.0, height_m=2.0)
    one, two = (d.add("tee", n, x_m=x, height_m=1.0) for n, x in (("one", 3.0), ("two", 5.0)))
    d.pipe(stove["flow"], one["left"])
    d.pipe(one["right"], two["left"], id="between")
    d.pipe(two["right"], stove["return"])
    d.pipe(one["branch"], rad["flow"])
    d.pipe(rad["return"], two["branch"])
    loop = found(ways_of(d), Ask.FIXED)
    assert loop is not None and ("pipe", "between") not in loop.keys


def stove_store_radiator(shared: bool) -> Waterways:
    """A stove on a store; the radiator on the store's own tappings, or teed on the stove's pair."""
    d = draw.sheet("Store")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    store = d.store("store", x_m=5.0, height_m=0.0, tappings=TAPPINGS)
    rad = d.add("radiator", "rad", x_m=8.0, height_m=2.0)
    if not shared:
        d.pipe(stove["flow"], store["hot"])
        d.pipe(store["cold"], stove["return"])
        d.pipe(store["load flow"], rad["flow"])
        d.pipe(rad["return"], store["load return"])
        return ways_of(d)
    up, down = d.add("tee", "up", x_m=3.0, height_m=1.3), d.add("tee", "down", x_m=3.0, height_m=0.2)
    d.pipe(stove["flow"], up["left"])
    d.pipe(up["right"], store["hot"])
    d.pipe(store["cold"], down["right"])
    d.pipe(down["left"], stove["return"])
    d.pipe(up["branch"], rad["flow"])
    d.pipe(rad["return"], down["branch"])
    return ways_of(d)


def test_a_store_is_a_sink_and_no_leg_passes_it():
    apart, shared = stove_store_radiator(False), stove_store_radiator(True)
    assert found(apart, Ask.FIXED, "store") is not None and found(apart, Ask.OPEN, "rad") is None
    assert found(shared, Ask.FIXED, "store") is not None and found(shared, Ask.FIXED, "rad") is not None


def test_no_leg_passes_another_sources_waterway():
    d = draw.sheet("Two in series")
    stove = d.add("boiler_stove", "stove", x_m=0.0, height_m=0.0)
    boiler = d.add("boiler_oil", "boiler", x_m=4.0, height_m=0.0)
    rad = d.add("radiator", "rad", x_m=8.0, height_m=2.0)
    d.pipe(stove["flow"], boiler["return"])
    d.pipe(boiler["flow"], rad["flow"])
    d.pipe(rad["return"], stove["return"])
    assert found(ways_of(d), Ask.OPEN) is None


def test_loops_of_the_base_system():
    ways = base()
    stove = {(w.sink.part, w.sink.sort) for w in loops(ways, source_of(ways), Ask.FIXED)}
    assert stove == {("leak", "emitter"), ("store", "body")}
    boiler = loops(ways, source_of(ways, "boiler"), Ask.RUNNING)
    assert [(w.sink.part, w.sink.sort, w.sink.coil.name) for w in boiler] == [("store", "coil", "boiler")]
    assert not loops(ways, source_of(ways, "boiler"), Ask.REST)
    solar = loops(ways, source_of(ways, "collector"), Ask.RUNNING)
    assert [w.sink.coil.name for w in solar] == ["solar"]


@pytest.mark.parametrize("rungs", [4, 16, 40])
def test_a_ladder_of_radiators_gives_one_loop_a_radiator_and_no_more(rungs):
    # its cycles number k (k - 1) / 2 and more; its loops are one a sink, each twice its own distance long
    ways = ways_of(ladder(rungs))
    every = loops(ways, source_of(ways), Ask.FIXED)
    assert [w.sink.part for w in every] == [f"rad{k}" for k in range(rungs)]
    lengths = [sum(k[0] == "pipe" for k, _ in w.steps) for w in every]
    assert lengths == [2 * (k + 2) for k in range(rungs - 1)] + [2 * rungs]


def undirected(ways: Waterways, ask: Ask, source: str, walls: set) -> nx.Graph:
    """Places and elements that pass, other sources and walls taken out."""
    view = passing(ways, ask)
    others = {s.key for s in ways.sources if s.part != source}
    keep = [n for n in ways.graph if (n in ways.at and n not in walls) or (n in view and view[n] and n not in others)]
    return ways.graph.subgraph(keep)


@pytest.mark.parametrize("seed", range(60))
@pytest.mark.parametrize("ask", [Ask.OPEN, Ask.FIXED])
def test_a_loop_exists_if_and_only_if_source_and_sink_share_a_block(seed, ask):
    # networkx biconnected_components on the graph of places and elements (Menger)
    ways = random_sheet(seed)
    walls = {("body", "store")}
    source = source_of(ways)
    blocks = list(nx.biconnected_components(undirected(ways, ask, "stove", walls)))
    together = set().union(*(b for b in blocks if source.key in b and len(b) > 2))
    hit = {w.sink.key for w in loops(ways, source, ask)}
    assert {s.key for s in ways.sinks if s.sort == "emitter"} & hit == {s.key for s in ways.sinks} & together - walls
    body = sink_of(ways, "store")
    graph = undirected(ways, ask, "stove", set())
    shared = any({source.key, body.key} <= b for b in nx.biconnected_components(graph) if len(b) > 2)
    assert (body.key in hit) == shared
    assert {s.key for s in sinks_reached(ways, source, ask)} >= hit


def directed_loop(ways: Waterways, ask: Ask, source, sink) -> bool:
    """Whether some way round passes every element in its direction: by listing simple paths (networkx)."""
    view, graph = passing(ways, ask), nx.DiGraph()
    walls = {("body", "store")} - {sink.key}
    for key, e in ways.elements.items():
        if key in (source.key, sink.key) or {e.a, e.b} & walls or key in {s.key for s in ways.sources}:
            continue
        if view[key] & 1:
            nx.add_path(graph, [e.a, key, e.b])
        if view[key] & 2:
            nx.add_path(graph, [e.b, (key, "back"), e.a])
    graph.add_nodes_from([source.hot, source.cold, *sink.ends])
    pairs = [(sink.ends[0], sink.ends[-1]), (sink.ends[-1], sink.ends[0])]
    for inlet, outlet in pairs:
        for path in nx.all_simple_paths(graph, source.hot, inlet):
            used = set(path) - ({inlet} if inlet == outlet else set())
            used |= {(n, "back") for n in path} | {n[0] for n in path if n[-1] == "back"}
            rest = graph.subgraph(set(graph) - used)
            if outlet in rest and source.cold in rest and nx.has_path(rest, outlet, source.cold):
                return True
    return False


@pytest.mark.parametrize("ask", [Ask.SELF_ACTING, Ask.RUNNING])
def test_loops_with_one_way_elements_are_those_that_listing_every_path_finds(ask):
    # the reference lists all simple paths, which the program never does: small sheets only
    hits = 0
    for seed in range(120):
        ways = random_sheet(seed)
        source = source_of(ways)
        for sink in ways.sinks:
            loop = loop_to(ways, source, sink, ask)
            assert (loop is not None) == directed_loop(ways, ask, source, sink), (seed, sink.part)
            if loop is not None:
                hits += 1
                assert not stopped(ways, loop, ask)
    assert hits >= 10


def test_a_source_has_one_loop_a_sink():
    ways = stove_store_radiator(True)
    every = loops(ways, source_of(ways), Ask.FIXED)
    assert [loop.sink.sort for loop in every] == ["emitter", "body"]
    assert loop_to(ways, source_of(ways), sink_of(ways, "store"), Ask.FIXED) in every
