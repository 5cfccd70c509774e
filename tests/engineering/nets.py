"""Networks for the tests: single loops with closed forms, and invented but plausible ones from a seed."""

from __future__ import annotations

import numpy as np

from loopwright.engineering import water
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Pump, Segment, Store, WaterLine

CU28, CU22 = 0.0262, 0.0202


def run(length_m: float, bore_m: float = CU28, k: float = 0.0) -> Segment:
    return Segment(bore_m, length_m, k, 1.5e-6)


def pipe_cell(rise_m: float, litres: float = 1.0) -> Cell:
    return Cell(rise_m=rise_m, heat_J_K=4200.0 * litres)


def loop(
    power_W: float = 8000.0, height_m: float = 3.0, bore_m: float = CU28, length_m: float = 12.0, k: float = 8.0,
    cooler_C: float = 50.0, check: bool = False,
) -> Net:  # fmt: skip
    """A fired riser between the bottom and the top of a column held at one temperature: the bare gravity loop."""
    store = Store("column", 0.0, height_m, 1.0, (cooler_C,))
    half = 0.5 * height_m
    riser = Branch(
        "riser", End("column", 0.0), End("column", height_m),
        (pipe_cell(0.0), Cell(heat_J_K=60e3, source_W=power_W), pipe_cell(half), pipe_cell(half)),
        (run(length_m, bore_m, k),), check=check,
    )  # fmt: skip
    return Net((riser,), (), (store,), WaterLine(height_m + 3.0), cooler_C)


def radiator_loop(power_W: float = 6000.0, nominal_W: float = 8000.0, height_m: float = 3.0) -> Net:
    """A stove below, a radiator above, two risers: everything free, only the room is given."""
    return Net(
        (
            Branch("flow", End("stove"), End("top"), (pipe_cell(0.0), Cell(heat_J_K=60e3, source_W=power_W),
                   pipe_cell(height_m)), (run(6.0, k=5.0),)),
            Branch("return", End("top"), End("stove"), (pipe_cell(0.0), Cell(heat_J_K=30e3, emitter_W=nominal_W),
                   pipe_cell(-height_m)), (run(6.0, k=5.0),)),
        ),
        (Node("stove", 0.0), Node("top", height_m)), (), WaterLine(height_m + 2.0),
    )  # fmt: skip


def ladder(seed: int, power_W: float | None = None, pipe_loss: float = 0.0) -> Net:
    """A two-pipe ladder: a stove at the foot, radiators between flow and return at several heights."""
    rng = np.random.default_rng(seed)
    rungs = int(rng.integers(2, 6))
    heights = np.sort(rng.uniform(0.8, 5.0, rungs))
    power = float(rng.uniform(2e3, 9e3)) if power_W is None else power_W
    share = rng.uniform(0.6, 1.4, rungs)
    nominal = 1.3 * power * share / share.sum()
    nodes, branches = [Node("f0", 0.3), Node("r0", 0.0)], []
    branches.append(
        Branch("stove", End("r0"), End("f0"), (pipe_cell(0.1), Cell(heat_J_K=70e3, source_W=power), pipe_cell(0.2)),
               (run(2.0, 0.0262, 4.0),))
    )  # fmt: skip
    for i, h in enumerate(heights, 1):
        f, r, low_f, low_r = f"f{i}", f"r{i}", f"f{i - 1}", f"r{i - 1}"
        nodes += [Node(f, float(h) + 0.3), Node(r, float(h))]
        before = (0.3, 0.0) if i == 1 else (float(heights[i - 2]) + 0.3, float(heights[i - 2]))
        up = float(h) + 0.3 - before[0]
        down = float(h) - before[1]
        far = float(rng.uniform(0.5, 3.0))
        loss = pipe_loss * (up + far)
        third = Cell(rise_m=up / 3, heat_J_K=1500.0, loss_W_K=loss / 3)
        branches.append(Branch(f"up{i}", End(low_f), End(f), (third,) * 3, (run(up + far, 0.0262, 2.0),)))
        back = Cell(rise_m=-down / 3, heat_J_K=1500.0, loss_W_K=loss / 3)
        branches.append(Branch(f"down{i}", End(r), End(low_r), (back,) * 3, (run(down + far, 0.0262, 2.0),)))
        branches.append(
            Branch(f"rung{i}", End(f), End(r), (pipe_cell(-0.15, 0.3),
                   Cell(heat_J_K=25e3, emitter_W=float(nominal[i - 1])), pipe_cell(-0.15, 0.3)),
                   (run(float(rng.uniform(1, 6)), 0.0202, float(rng.uniform(4, 12))),))
        )  # fmt: skip
    return Net(tuple(branches), tuple(nodes), (), WaterLine(float(heights[-1]) + 3.0))


def stove_and_store(seed: int) -> Net:
    """A stove below a layered store of fixed temperatures, with or without a heat-leak radiator above."""
    rng = np.random.default_rng(seed)
    base, tall = float(rng.uniform(0.2, 2.0)), float(rng.uniform(1.2, 2.0))
    cold, hot = np.sort(rng.uniform(20.0, 70.0, 2))
    store = Store("store", base, base + tall, 0.8, tuple(float(t) for t in np.linspace(cold, hot, 10)))
    top, low = base + 0.9 * tall, base + 0.1 * tall
    power = float(rng.uniform(2e3, 15e3))
    nodes = [Node("out", 0.6), Node("in", 0.1)]
    branches = [
        Branch("stove", End("in"), End("out"), (pipe_cell(0.1), Cell(heat_J_K=70e3, source_W=power), pipe_cell(0.4)),
               (run(1.5, k=4.0),)),
        Branch("flow", End("out"), End("store", top), (pipe_cell((top - 0.6) / 2),) * 2, (run(5.0, k=4.0),)),
        Branch("return", End("store", low), End("in"), (pipe_cell((0.1 - low) / 2),) * 2, (run(5.0, k=4.0),)),
    ]  # fmt: skip
    if rng.random() < 0.6:
        h = top + float(rng.uniform(0.5, 2.5))
        half = 0.5 * (h - 0.6)
        nodes.append(Node("leak top", h))
        branches += [
            Branch("leak up", End("out"), End("leak top"), (pipe_cell(half),) * 2, (run(6.0, CU22, 3.0),)),
            Branch("leak", End("leak top"), End("in"), (pipe_cell(0.0), Cell(heat_J_K=25e3, emitter_W=1800.0),
                   pipe_cell(0.1 - h)), (run(7.0, CU22, 9.0),)),
        ]  # fmt: skip
    return Net(tuple(branches), tuple(nodes), (store,), WaterLine(top + 4.0))


def local_loss_flow(power_W, height_m, bore_m, k, cooler_C):
    """Closed form m^3 = rho (rho_c - rho_h)... solved by bracketing with the real density: local losses only."""
    from scipy.optimize import brentq

    area = 0.25 * np.pi * bore_m**2

    def gap(m):
        hot = water.temperature_at_enthalpy_C(water.enthalpy_J_kg(cooler_C) + power_W / m)
        drive = water.GRAVITY * height_m * (water.density_kg_m3(cooler_C) - water.density_kg_m3(hot))
        return drive - k * m * m / (2 * water.density_kg_m3(hot) * area**2)

    low = power_W / (water.enthalpy_J_kg(105.0) - water.enthalpy_J_kg(cooler_C))
    return brentq(gap, low, 5.0)


def pumped(seed: int) -> Net:
    """A pump and a boiler feeding two to five radiators in parallel on two floors, or a store among them."""
    rng = np.random.default_rng(1000 + seed)
    count = int(rng.integers(2, 6))
    power = float(rng.uniform(3e3, 12e3))
    pump = Pump(float(rng.uniform(8e3, 40e3)), 0.0, -float(rng.uniform(2e4, 2e5)))
    nodes = [Node("f", 1.0), Node("r", 0.8)]
    branches = [
        Branch("boiler", End("r"), End("f"), (pipe_cell(-0.3), Cell(heat_J_K=60e3, source_W=power), pipe_cell(0.5)),
               (run(float(rng.uniform(4, 12)), float(rng.choice([CU22, CU28])), 6.0),), pump=pump)
    ]  # fmt: skip
    for i in range(count):
        high = float(rng.uniform(0.5, 4.0))
        nominal = float(rng.uniform(0.9, 1.6)) * power / count
        branches.append(
            Branch(f"rad{i}", End("f"), End("r"), (pipe_cell(high - 1.0, 0.5),
                   Cell(heat_J_K=25e3, emitter_W=nominal), pipe_cell(0.8 - high, 0.5)),
                   (run(float(rng.uniform(4, 20)), float(rng.choice([0.0136, CU22])), float(rng.uniform(8, 30))),))
        )  # fmt: skip
    stores: tuple[Store, ...] = ()
    if rng.random() < 0.5:
        stores = (Store("store", 0.2, 1.8, 0.3, tuple(np.linspace(40.0, 60.0, 8))),)
        branches += [
            Branch("charge", End("f"), End("store", 1.7), (pipe_cell(0.7),), (run(6.0, CU22, 6.0),)),
            Branch("draw", End("store", 0.3), End("r"), (pipe_cell(0.5),), (run(6.0, CU22, 6.0),)),
        ]  # fmt: skip
    return Net(tuple(branches), tuple(nodes), stores, WaterLine(9.0))
