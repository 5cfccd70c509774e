"""One step of the network: its derivatives, its books, and steady ends against closed forms and scipy."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import gammainc

from loopwright.engineering import books, coils, friction, network, steady, stepping, water
from loopwright.engineering.arrays import arrays, boiling_at
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Pump, Store, WaterLine
from loopwright.engineering.newton import newton
from loopwright.errors import FigureError

from . import nets, reference


def coil_net(flow_head_Pa: float = 2000.0, evolving: bool = True) -> Net:
    """A pumped source heating a store through a coil that lies in three layers."""
    store = Store("store", 0.0, 1.5, 0.3, (20.0, 30.0, 40.0, 50.0, 60.0), evolving, 2.0)
    down = tuple(Cell(rise_m=-0.3, heat_J_K=2000.0, coil_W_K=150.0, coil_to=End("store", h)) for h in (0.8, 0.5, 0.2))
    return Net(
        (
            Branch("boiler", End("low"), End("high"), (nets.pipe_cell(0.3), Cell(heat_J_K=30e3, source_W=5000.0),
                   nets.pipe_cell(0.6)), (nets.run(6.0, nets.CU22, 5.0),), pump=Pump(flow_head_Pa, -1e3, -2e4)),
            Branch("coil", End("high"), End("low"), down, (nets.run(8.0, nets.CU22, 3.0),)),
        ),
        (Node("low", 0.0), Node("high", 0.9)), (store,),
    )  # fmt: skip


def trial(A, seed):
    """A random state, with flows at rest, about the exchange flow, and large; layers inverted; some cells boiling."""
    rng = np.random.default_rng(seed)
    m = rng.choice([0.0, 2e-4, -2e-4, 0.03, -0.03], A.B)
    N = np.where(A.is_fixed, A.T_fix, rng.uniform(25, 90, A.Nt))
    T = np.where(A.real, rng.uniform(20, 100, (A.B, A.K)), N[A.tb][:, None])
    T[0, 1] = A.boil[0, 1] + 2.0
    return network.State(T, m, rng.uniform(-50, 50, A.Np), N)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("build", [lambda: nets.ladder(1), lambda: nets.stove_and_store(1), coil_net])
def test_newton_follows_differences(build, seed):
    # a Newton update d must turn every residual r into (1 - eps) r after eps d: central differences
    A = arrays(build())
    s = trial(A, seed)
    old = trial(A, seed + 10)
    lagged = network.lag(A, old)

    def residuals(x):
        L = network.linearise(A, x, old, 30.0, lagged)
        R = L.R.copy()
        R[A.fixed] = x.N[A.fixed] - A.T_fix[A.fixed]
        mass = L.mass.copy()
        mass[A.ref] = x.p[A.ref]
        return L.M, L.E * A.real, mass, R

    d = newton(A, s, old, 30.0, lagged)
    before = residuals(s)
    miss = []  # by step size: curvature spoils long steps, rounding short ones
    for eps in np.logspace(-5, -10, 11):
        up, down = residuals(network.moved(s, d, eps)), residuals(network.moved(s, d, -eps))
        miss.append(
            [
                np.max(np.abs((plus - minus) / (2 * eps) + r)) / max(np.max(np.abs(r)), 1e-3)
                for r, plus, minus in zip(before, up, down, strict=True)
            ]
        )
    assert np.all(np.min(miss, axis=0) < 1e-5)


def test_bare_loop_by_local_losses_only(deviation):
    # closed form: g H (rho_cold - rho_hot) = K m^2/(2 rho A^2), hot from Q = m dh; root by scipy
    for power, height, k in ((3000.0, 1.0, 20.0), (8000.0, 3.0, 40.0), (15000.0, 6.0, 80.0)):
        net = nets.loop(power, height, length_m=0.0, k=k)
        net = net.with_branch(hot_riser(net.branches[0], height))
        want = nets.local_loss_flow(power, height, nets.CU28, k, 50.0)
        deviation("flow, local losses only", "closed form", steady.steady(net).flow_kg_s("riser"), want, 5e-4)


def hot_riser(branch, height):
    """The same riser with all its cells after the source, so that friction is that of the hot water alone."""
    source, pipe = branch.cells[1], nets.pipe_cell(height / 2)
    return replace(branch, cells=(source, pipe, pipe))


@pytest.mark.parametrize("power", [500.0, 3000.0, 12000.0])
def test_bare_loop_with_friction(power):
    # scalar root of the same balance with Darcy friction, bracketed by scipy
    height, length, k = 2.0, 14.0, 6.0
    net = nets.loop(power, height, nets.CU22, length, k)
    net = net.with_branch(hot_riser(net.branches[0], height))

    def gap(m):
        hot = water.temperature_at_enthalpy_C(water.enthalpy_J_kg(50.0) + power / m)
        rho, mu = water.density_kg_m3(hot), water.viscosity_Pa_s(hot)
        loss, _ = friction.loss_and_slope(m, nets.CU22, length, k, 1.5e-6, rho, mu)
        return water.GRAVITY * height * (water.density_kg_m3(50.0) - rho) - loss

    want = brentq(gap, power / (4190 * 55), 1.0)
    assert steady.steady(net).flow_kg_s("riser") == pytest.approx(want, rel=1e-3)


def test_laminar_loop_follows_the_closed_form(deviation):
    # m^2 = pi g rho drho D^4 H / (128 mu L): the laminar loop, properties at the hot end; e0 costs up to 0.3 %
    power, height, bore, length = 100.0, 2.0, 0.010, 10.0
    net = nets.loop(power, height, bore, length, 0.0)
    net = net.with_branch(hot_riser(net.branches[0], height))
    answer = steady.steady(net)
    m, hot = answer.flow_kg_s("riser"), answer.cells_C("riser")[-1]
    rho, mu = water.density_kg_m3(hot), water.viscosity_Pa_s(hot)
    drive = water.GRAVITY * height * (water.density_kg_m3(50.0) - rho)
    want = drive * np.pi * rho * bore**4 / (128 * mu * length)
    deviation("flow of the laminar loop", "closed form", m, want, 0.005)
    assert power / (m * 4180.0) == pytest.approx(hot - 50.0, rel=1e-2)


REFERENCED = {f"stove and store {i}": lambda i=i: nets.stove_and_store(i) for i in range(16)}
REFERENCED |= {f"ladder {i}": lambda i=i: nets.ladder(i) for i in (2, 3, 5, 6, 8, 9, 11, 12)}
REFERENCED |= {
    "bare loop": nets.loop,
    "radiator loop": nets.radiator_loop,
    "thin loop": lambda: nets.loop(2000.0, 1.0, nets.CU22),
}
PUMPED = {f"pumped {i}": lambda i=i: nets.pumped(i) for i in range(12)}


@pytest.mark.parametrize("name", [*REFERENCED, *PUMPED])
def test_against_scipy_on_a_separately_written_residual(name, deviation):
    # the reference's own physics: sharp upwinding, friction by `fluids`, water by `iapws`, root by scipy
    net = (REFERENCED | PUMPED)[name]()
    answer = steady.steady(net)
    s = answer.ending.state
    assert np.min(np.abs(s.m)) > 1.5e-3, "still branches are not for the sharp reference"
    rng = np.random.default_rng(3)
    m0 = s.m * (1 + rng.uniform(-0.05, 0.05, s.m.shape))
    N0 = s.N + rng.uniform(-1, 1, s.N.shape)
    m, N, left = reference.solve(net, m0, N0, s.p)
    assert left < 1e-6, "the reference did not converge"
    joints = len(net.nodes)
    sort = "pumped networks" if name in PUMPED else "gravity loops"
    row = int(np.argmax(np.abs(m - s.m)))
    scale = np.max(np.abs(m))
    deviation(f"flow, {sort}, of the largest", "scipy root, iapws, fluids", scale + (s.m - m)[row], scale, 0.01)
    if joints:
        row = int(np.argmax(np.abs(N - s.N[:joints])))
        deviation(f"temperature, {sort}", "scipy root, iapws, fluids", float(s.N[row]), float(N[row]), 0.3, "K")


def test_coil_in_the_network_follows_ntu():
    # Kays and London: the outlet of a coil met layer by layer, 1 - exp(-NTU) in each (see test_emitters_coils)
    net = coil_net(evolving=False)
    answer = steady.steady(net)
    m = answer.flow_kg_s("coil")
    inlet = answer.node_C("high")
    store = net.stores[0]
    layers = [store.layers_C[store.layer_at(h)] for h in (0.8, 0.5, 0.2)]
    want = coils.through_layers(m, inlet, [150.0] * 3, layers)
    assert answer.cells_C("coil")[-1] == pytest.approx(want.outlet_C, abs=0.02)
    assert want.heat_to_store_W == pytest.approx(5000.0, rel=2e-3)


def test_pump_against_its_curve():
    # scalar root of head against friction at 20 degC, by scipy
    pump = Pump(15e3, -5e3, -1e5)
    cells = (nets.pipe_cell(1.0), nets.pipe_cell(1.0))
    net = Net(
        (
            Branch("out", End("low"), End("high"), cells, (nets.run(10, nets.CU22, 6.0),), pump=pump),
            Branch("back", End("high"), End("low"), (nets.pipe_cell(-2.0),), (nets.run(10, nets.CU22, 6.0),)),
        ),
        (Node("low", 0.0), Node("high", 2.0)),
    )

    def gap(m):
        loss, _ = friction.loss_and_slope(
            m, nets.CU22, 20.0, 12.0, 1.5e-6, water.density_kg_m3(20.0), water.viscosity_Pa_s(20.0)
        )
        return 15e3 - 5e3 * m - 1e5 * m * m - loss

    assert steady.steady(net).flow_kg_s("out") == pytest.approx(brentq(gap, 1e-3, 2.0), rel=1e-6)


def test_a_check_held_shut_does_not_leak():
    # a hot column would drive the loop backwards through the check
    net = nets.loop(power_W=0.0, cooler_C=80.0, check=True)
    shut = replace(net, room_C=20.0)
    cold = replace(shut.branches[0], cells=tuple(replace(c, loss_W_K=5.0) for c in shut.branches[0].cells))
    answer = steady.steady(shut.with_branch(replace(cold, should_carry=True)))
    assert abs(answer.flow_kg_s("riser")) < 1e-5
    assert answer.outcome == "stalled"
    assert answer.ending.stalls[0].by_check
    assert answer.ending.stalls[0].drive_Pa < 0.0


def test_a_spring_check_needs_its_opening_pressure():
    free = steady.steady(nets.loop(check=True)).flow_kg_s("riser")
    net = nets.loop(check=True)
    drive_Pa = 100.0  # about 3 m at 20 K: less is left for friction
    sprung = steady.steady(net.with_branch(replace(net.branches[0], opening_Pa=drive_Pa))).flow_kg_s("riser")
    assert 0.0 < sprung < free


def test_heads_round_a_loop_balance():
    # public table of circulating pressures for gravity heating: 113 Pa/m at 80/60 degC, 161 at 80/50, 2 %
    height = 3.0
    net = nets.loop(height_m=height, cooler_C=60.0, length_m=12.0)
    net = net.with_branch(hot_riser(net.branches[0], height))
    for power in (2000.0, 8000.0, 20000.0):
        answer = steady.steady(net.with_branch(net.branches[0].with_source(power)))
        h = books.heads(answer.arrays, answer.ending.state, [("riser", 1)])
        assert h.drive_Pa == pytest.approx(h.loss_Pa, abs=2e-3)
        assert h.pump_Pa == 0.0
        hot = answer.cells_C("riser")[-1]
        # the table's own arithmetic, g (rho_60 - rho_hot) a metre, with its printed 113 Pa/m at 80 degC as anchor
        assert h.drive_Pa / height == pytest.approx(
            water.GRAVITY * (water.density_kg_m3(60.0) - water.density_kg_m3(hot)), rel=1e-4
        )
    assert water.GRAVITY * (water.density_kg_m3(60.0) - water.density_kg_m3(80.0)) == pytest.approx(113, rel=0.02)
    assert water.GRAVITY * (water.density_kg_m3(50.0) - water.density_kg_m3(80.0)) == pytest.approx(161, rel=0.02)


def test_books_close_over_a_run_in_time():
    # first law over a run: heat put in = stored + emitted + lost, to 1e-5
    net = nets.stove_and_store(1)
    store = replace(net.stores[0], evolving=True, loss_W_K=3.0)
    A = arrays(replace(net, stores=(store,)))
    s = network.start_at(A, 20.0)
    put = gap = 0.0
    for _ in range(60):
        new, ok = stepping.advance(A, s, 30.0)
        assert ok
        book = books.balance(A, new, s, 30.0)
        put += 30.0 * book.source_W
        gap += 30.0 * book.gap_W
        assert book.continuity_kg_s < 1e-12
        s = new
    assert abs(gap) < 1e-5 * put


def test_half_the_step_gives_the_same_run():
    A = arrays(nets.stove_and_store(2))
    s = network.start_at(A, 20.0)
    coarse, fine = stepping.run_for(A, s, 3600.0, 30.0), stepping.run_for(A, s, 3600.0, 15.0)
    assert np.max(np.abs(coarse.m - fine.m)) < 0.02 * np.max(np.abs(fine.m))
    assert np.max(np.abs(coarse.T - fine.T)) < 0.5


def test_a_store_alone_cools_by_its_loss():
    # no flow: the exponential of standing loss, implicit Euler at 60 s over two hours
    store = Store("store", 0.0, 1.5, 0.3, (60.0,) * 5, True, 3.0)
    A = arrays(Net((Branch("stub", End("store", 0.0), End("end"), (Cell(),), (nets.run(0.1),)),),
                   (Node("end", 0.0),), (store,), room_C=60.0))  # fmt: skip
    s = stepping.run_for(A, network.start_at(A, 60.0), 7200.0, 60.0)
    capacity = 0.3 * 988.0 * 4181.0
    assert s.N[A.is_layer].mean() == pytest.approx(20 + 40 * np.exp(-3.0 * 7200 / capacity), abs=0.02)


def charged(tapping_m: float, layers: int = 10, start_C: float = 20.0, hot_C: float = 60.0, pipe_m: float = 0.02):
    """A store pumped full of hot water from a joint held at `hot_C`, taken out at the bottom; all level."""
    store = Store("store", 0.0, 2.0, 0.2, (start_C,) * layers, True)
    rise = tapping_m
    return Net(
        (
            Branch("in", End("hot"), End("store", tapping_m), (Cell(rise_m=rise, heat_J_K=4200.0),),
                   (nets.run(pipe_m, k=1.0),), pump=Pump(500.0, -5e3), check=True),
            Branch("out", End("store", 0.0), End("hot"), (Cell(heat_J_K=4200.0),), (nets.run(pipe_m, k=1.0),)),
        ),
        (Node("hot", 0.0, fixed_C=hot_C),), (store,), room_C=start_C,
    )  # fmt: skip


def test_charging_follows_the_chain_of_mixed_cells():
    # exact step answer of N mixed cells in series (analytic): T_i = T0 + dT P(i, t m/M_cell), P the lower
    # regularised incomplete gamma function; from the top down
    A = arrays(charged(2.0))
    s = network.start_at(A, 20.0)
    passed, dt = 0.0, 2.0
    while passed < 0.1 * 988.0:  # half the store
        s, ok = stepping.advance(A, s, dt)
        assert ok
        passed += dt * s.m[0]
    cells = passed / (0.2 * 988.0 / 10)
    for i in range(1, 11):
        want = 20.0 + 40.0 * gammainc(i, cells)
        assert s.N[A.is_layer][10 - i] == pytest.approx(want, abs=0.7)


def test_hot_water_entering_low_rises_to_its_own_layer():
    net = charged(0.5)
    store = replace(net.stores[0], layers_C=(20.0,) * 5 + (40.0,) * 3 + (70.0,) * 2)
    A = arrays(replace(net, stores=(store,)))
    s = network.start_at(A, 20.0)
    s = replace(s, N=np.where(A.is_fixed, 60.0, s.N))
    before, put = s.N[A.is_layer].sum(), 0.0
    for _ in range(20):  # about one layer's content: upwind layers smear more than that
        new, ok = stepping.advance(A, s, 10.0)
        assert ok
        book = books.balance(A, new, s, 10.0)
        put += -book.fixed_W * 10.0
        s = new
    layers = s.N[A.is_layer]
    assert layers[7] > 45.0, "the water at 60 degC lies under the layers at 70"
    assert layers[0] == pytest.approx(20.0, abs=0.5), "the bottom stays cold"
    assert layers[9] == pytest.approx(70.0, abs=1.0), "the top is not stirred"
    # first law over the run: what the held joint gave is in the layers and in the two pipes
    stored = (layers.sum() - before) * 0.02 * 988.0 * 4181.0 + 4200.0 * (s.T.sum() - 40.0)
    assert stored == pytest.approx(put, rel=1e-5)


def test_boiling_follows_the_water_line():
    assert boiling_at(WaterLine(5.0), 5.0) == pytest.approx(99.97, abs=0.01)
    assert boiling_at(WaterLine(15.0), 5.0) > 118.0


def test_a_net_that_cannot_be_is_refused():
    good = nets.loop()
    with pytest.raises(FigureError, match="rises"):
        good.with_branch(replace(good.branches[0], cells=(Cell(rise_m=1.0),)))
    with pytest.raises(FigureError, match="nowhere"):
        good.with_branch(replace(good.branches[0], b=End("nowhere")))
    with pytest.raises(FigureError, match="tapping"):
        good.with_branch(replace(good.branches[0], b=End("column", 9.0)))
    with pytest.raises(FigureError, match="fall"):
        good.with_branch(replace(good.branches[0], pump=Pump(1e3, 5.0)))
    with pytest.raises(FigureError):
        good.with_branch(replace(good.branches[0], cells=(Cell(rise_m=float("nan")),)))
    with pytest.raises(FigureError, match="no water way"):
        Net(())
