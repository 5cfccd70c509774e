"""Which way water moves: one linear solve on the skeleton with one-way elements, never a search for cycles.

Gives the sign of the flow only, never an amount. Resistance of a chain is its number of elements, spread a little so that
no bridge balances; each driver is an electromotive force of one. One-way chains that come out backwards are shut and the
solve repeated; the problem is convex, so the answer is unique.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Key, Place, Waterways
from loopwright.waterways.views import BACK, BOTH, FORWARD, NORMAL, Ask, Condition, Passing, passing

UNDECIDED = 1e-6
_ROUNDS = 24


def trace(ways: Waterways, passes: Passing, drivers: Mapping[Key, float]) -> dict[Key, float]:
    """Signed flow of every moving element (positive a -> b), for drivers given as forces along a -> b.

    Cisterns are cut: a vent spilling over one is not joined to its feed. Elements that stand still are left out.
    """
    skeleton = ways.skeleton
    walls = set(ways.bodies("cistern"))
    flags = skeleton.passes(passes)
    open_chains = [c for c in skeleton.chains if flags[c.index] and c.u != c.v and not {c.u, c.v} & walls]
    index: dict[Place, int] = {}
    for chain in open_chains:
        for place in (chain.u, chain.v):
            index.setdefault(place, len(index))
    if not open_chains:
        return {}
    n, m = len(index), len(open_chains)
    u = np.array([index[c.u] for c in open_chains])
    v = np.array([index[c.v] for c in open_chains])
    spread = 1.0 + 0.013 * np.modf(np.arange(m) * 0.6180339887)[0]
    conduct = 1.0 / (np.array([len(c.steps) for c in open_chains]) * spread)
    force = np.array([sum(drivers.get(k, 0.0) * (1 if f else -1) for k, f in c.steps) for c in open_chains])
    way = np.array([flags[c.index] for c in open_chains])
    shut = np.zeros(m, dtype=bool)
    flow = np.zeros(m)
    seen: set[bytes] = set()
    for _ in range(_ROUNDS):
        g = np.where(shut, 1e-12, conduct)
        matrix = np.zeros((n, n))
        np.add.at(matrix, (u, u), g)
        np.add.at(matrix, (v, v), g)
        np.add.at(matrix, (u, v), -g)
        np.add.at(matrix, (v, u), -g)
        matrix[np.diag_indices(n)] += 1e-9
        right = np.zeros(n)
        np.add.at(right, u, -g * force)
        np.add.at(right, v, g * force)
        head = np.linalg.solve(matrix, right)
        flow = g * (head[u] - head[v] + force)
        push = head[u] - head[v] + force
        wrong = ((way == FORWARD) & (push < -UNDECIDED)) | ((way == BACK) & (push > UNDECIDED))
        state = wrong.tobytes()
        if (wrong == shut).all() or state in seen:
            break
        seen.add(state)
        shut = wrong
    flow = np.where(shut, 0.0, flow)
    out: dict[Key, float] = {}
    for chain, q in zip(open_chains, flow):
        if abs(q) > UNDECIDED:
            for key, forward in chain.steps:
                out[key] = float(q) if forward else -float(q)
    return out


def drivers_in(ways: Waterways, condition: Condition = NORMAL) -> dict[Key, float]:
    """What moves water under a condition: running pumps, and fires by buoyancy where a sink lies above them."""
    out: dict[Key, float] = {}
    for element in ways.elements.values():
        if element.does is Behaviour.PUMP and condition.power and element.part not in condition.stopped:
            out[element.key] = 1.0
    for source in ways.sources:
        if source.stops in ("fire", "residual") and source.part not in condition.out:
            out[source.key] = 0.2
    return out


def moving(ways: Waterways, condition: Condition = NORMAL) -> dict[Key, float]:
    """Signed flow of what moves under a condition: running view with power, rest view without."""
    ask = Ask.RUNNING if condition.power else Ask.REST
    passes = dict(passing(ways, ask, condition))
    if condition.power:  # a standing pump beside its flap must not stop buoyancy from being shown
        for key, element in ways.elements.items():
            if element.does is Behaviour.PUMP and passes[key] == BOTH:
                passes[key] = FORWARD
    return trace(ways, passes, drivers_in(ways, condition))
