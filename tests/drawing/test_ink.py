"""Pipes, hops, stores and parts as they are told to a plotter that writes down what it hears."""

from __future__ import annotations

from itertools import combinations
from math import dist

import pytest
from shapely.geometry import LineString, Polygon

from barn import CATALOGUE, kiln_barn
from loopwright.drawing.ink import draw_hops, draw_part, draw_pipe
from loopwright.drawing.look import SERVICES, Look
from loopwright.drawing.plan import plan_pipe, plan_sheet
from loopwright.drawing.scene import draw_sheet
from loopwright.drawing.store import bands, draw_store, hatch_lines, jacket_points, shell_points
from loopwright.sheet.crossings import Hop
from loopwright.sheet.values import Coil, End, Part, Pipe, Sheet, Tapping
from recorded import RecordPlotter

LOOK = Look()
PIPE = Pipe(id="p", a=End("a", "x"), b=End("b", "y"))


def pipe_calls(service, points, hops=(), state=""):
    plot = RecordPlotter()
    plan = plan_pipe(PIPE, points, service, hops)
    draw_pipe(plot, LOOK, plan, state)
    draw_hops(plot, LOOK, plan, state)
    return plot


@pytest.mark.parametrize("service", SERVICES)
def test_runs_carry_the_dash_of_their_service(service):
    look = SERVICES[service]
    lines = pipe_calls(service, [(0, 0), (2, 0), (2, 2)]).named("line")
    runs = [c for c in lines if len(c[1]) == 2 and c[2] == look.token]
    assert len(runs) == 2 and all(c[3] == look.mm and c[4] == look.dash for c in runs)
    corners = [c for c in lines if len(c[1]) > 2 and c[2] == look.token]
    assert len(corners) == 1 and corners[0][4] == ()
    assert any(c[2] == "paper" for c in lines) == look.cased


def test_the_ink_of_a_pipe_is_one_unbroken_line():
    lines = [c[1] for c in pipe_calls("flow", [(0, 0), (2, 0), (2, 2), (3, 2)]).named("line")]
    ends = sorted((p for line in lines for p in (line[0], line[-1])), key=lambda p: p)
    loose = [p for p in ends if sum(dist(p, q) < 0.01 for q in ends) == 1]
    assert sorted(loose) == [(0.0, 0.0), (300.0, -200.0)]


def test_a_hop_leaves_a_gap_in_its_riser_and_bulges_right():
    hop = Hop(0, (1.0, 1.0), True, "q")
    lines = pipe_calls("return", [(1, 0), (1, 2)], (hop,)).named("line")
    straight = [c[1] for c in lines if c[4]]
    assert all(not (min(a[1], b[1]) < -100.0 < max(a[1], b[1])) for a, b in straight)
    arcs = [c for c in lines if len(c[1]) > 2]
    assert [c[2] for c in arcs] == ["paper", "ret"] and all(c[4] == () for c in arcs)
    assert max(x for x, _ in arcs[1][1]) > 100.0 and min(x for x, _ in arcs[1][1]) == pytest.approx(100.0)


def test_hops_close_together_become_one_long_hop():
    near = tuple(Hop(0, (1.0, z), True, "q") for z in (1.0, 1.03, 1.06))
    arcs = [c for c in pipe_calls("flow", [(1, 0), (1, 2)], near).named("line") if len(c[1]) > 2 and c[2] == "flow"]
    assert len(arcs) == 1


def test_idle_pipes_are_thin_pale_and_without_arrows():
    plain, idle = pipe_calls("flow", [(0, 0), (2, 0)]), pipe_calls("flow", [(0, 0), (2, 0)], state="idle")
    assert plain.named("area") and not idle.named("area")
    assert idle.named("line")[0][3] < plain.named("line")[0][3]


def test_arrows_follow_the_water():
    forth, back = (plan_pipe(PIPE, [(0, 0), (2, 0)], "flow", (), turned).arrows[0] for turned in (False, True))
    assert forth.step == (1.0, 0.0) and back.step == (-1.0, 0.0)


@pytest.mark.parametrize("kind", [k.id for k in CATALOGUE if k.body not in ("store", "cylinder")])
@pytest.mark.parametrize(("turn", "mirror"), [(0, False), (1, False), (2, True), (3, True)])
def test_symbols_meet_their_ports(kind, turn, mirror):
    """Ink reaches every port that must be piped: a pipe drawn to it would not end in the air."""
    spec = CATALOGUE[kind]
    part = Part(id="x", kind=kind, x_m=1.0, height_m=2.0, turn=0 if spec.large else turn, mirror=mirror)
    sheet = Sheet(parts={"x": part})
    plan = plan_sheet(sheet, CATALOGUE).parts["x"]
    plot = RecordPlotter()
    draw_part(plot, LOOK, plan)
    if plan.dot:
        assert plot.named("area")
        return
    ink = [LineString(c[1] if c[0] == "line" else [*c[1], c[1][0]]) for c in plot.calls if c[0] in ("line", "area")]
    assert ink
    for spec_port, at in zip(spec.ports, plan.ports):
        if not spec_port.optional and spec_port.role != "vent" and "outlet" not in spec.tags:
            # an open mouth over a cistern ends in the air on purpose
            assert min(line.distance(LineString([at, at]).centroid) for line in ink) <= 4.0, spec_port.name


def test_inside_a_store_nothing_leaves_the_shell():
    shell, jacket = Polygon(shell_points(23.5, 145.0)), Polygon(jacket_points(23.5, 145.0, 8.0))
    assert jacket.buffer(2.1).contains(shell)
    layers = [Polygon(b) for b in bands(23.5, 145.0, 6)]
    assert sum(p.area for p in layers) == pytest.approx(shell.area, rel=0.01)
    assert all(shell.buffer(0.01).contains(p) for p in layers)
    hatch = [LineString(h) for h in hatch_lines(23.5, 145.0, 8.0)]
    assert len(hatch) > 20
    assert all(jacket.buffer(0.01).contains(h) and not h.intersects(shell) for h in hatch)


def test_three_coils_that_share_heights_keep_apart():
    """A coil of the sun below and left, one of the boiler above and right, hot water through nearly all of the body."""
    places = (("A", 0.15, "left"), ("B", 0.6, "left"), ("C", 0.83, "right"), ("D", 1.33, "right"))
    places += (("E", 0.39, "right"), ("F", 1.47, "right"))
    taps = tuple(Tapping(letter=a, height_m=z, side=side, purpose="coil") for a, z, side in places)
    coils = (
        Coil(name="sun", bottom_m=0.15, top_m=0.6, lower="A", upper="B"),
        Coil(name="boiler", bottom_m=0.83, top_m=1.33, lower="C", upper="D"),
        Coil(name="water", bottom_m=0.42, top_m=1.44, lower="E", upper="F"),
    )
    part = Part(id="s", kind="heat_store", x_m=0, height_m=0, tappings=taps, coils=coils)
    plan = plan_sheet(Sheet(parts={"s": part}), CATALOGUE).stores["s"]
    for one, two in combinations(plan.coils, 2):
        assert LineString(one.points).distance(LineString(two.points)) > 1.0, f"{one.name} touches {two.name}"


def test_coils_stay_inside_and_apart():
    sheet, services = kiln_barn()
    store = plan_sheet(sheet, CATALOGUE, services).stores["store"]
    shell = Polygon([(x + store.base[0], y + store.base[1]) for x, y in shell_points(store.radius, store.height)])
    solar, water = (LineString(c.points) for c in store.coils)
    assert shell.buffer(0.6).contains(solar) and shell.buffer(0.6).contains(water)
    assert not solar.intersects(water)
    assert [c.service for c in store.coils] == ["solar_flow", "hot"]


def test_a_store_shows_its_layers_by_temperature():
    sheet, services = kiln_barn()
    plan = plan_sheet(sheet, CATALOGUE, services, {"store": [20.0, 50.0, 80.0]}).stores["store"]
    plot = RecordPlotter()
    draw_store(plot, LOOK, plan)
    tints = [c[2] for c in plot.named("area") if str(c[2]).startswith("#")]
    assert len(tints) == 3 and len(set(tints)) == 3


def test_every_part_pipe_and_store_is_drawn_once():
    sheet, services = kiln_barn()
    plan = plan_sheet(sheet, CATALOGUE, services)
    plot = RecordPlotter()
    draw_sheet(plot, LOOK, plan)
    groups = [c[2] for c in plot.named("push")]
    assert groups.count("pipe") == len(sheet.pipes)
    assert groups.count("part") + groups.count("store") == len(sheet.parts)
    assert plot.named("push").__len__() == plot.named("pop").__len__()
    for words in ("Stove", "Heat store 250 l", "A", "N", "P1", "Living room", "First floor +2.60"):
        assert words in plot.words()


def test_a_tank_within_the_store_is_a_vessel_with_two_tails():
    taps = (
        Tapping(letter="A", height_m=1.3, side="right", purpose="coil"),
        Tapping(letter="B", height_m=0.2, side="left", purpose="coil"),
    )
    tank = Coil(name="Hot water tank", bottom_m=0.3, top_m=1.2, lower="B", upper="A", purpose="tank")
    part = Part(id="s", kind="heat_store", x_m=0, height_m=0, tappings=taps, coils=(tank,))
    store = plan_sheet(Sheet(parts={"s": part}), CATALOGUE).stores["s"]
    (coil,) = store.coils
    shell = Polygon(shell_points(store.radius, store.height))
    assert shell.contains(Polygon(coil.vessel))
    assert coil.points[0] == store.tappings[1].shell and coil.points[-1] == store.tappings[0].shell
    plot = RecordPlotter()
    draw_store(plot, LOOK, store)
    assert any(call[2] == "water" for call in plot.named("area"))
