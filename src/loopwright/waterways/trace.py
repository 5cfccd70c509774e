"""Which way water moves: a small linear solve with one-way elements on each driven piece of the skeleton.

Never a search for cycles. Gives the sign of the flow only, never an amount. Resistance of a chain is its number of
elements, spread a little so that no bridge balances; each driver is an electromotive force. One-way chains that come
out backwards are shut and the solve repeated; the problem is convex, so the answer is unique.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from loopwright.catalogue import Behaviour
from loopwright.waterways.graph import Key, Place, Source, Waterways
from loopwright.waterways.loops import loops
from loopwright.waterways.skeleton import Chain
from loopwright.waterways.views import BACK, FORWARD, NORMAL, Ask, Condition, Passing, passing

UNDECIDED = 1e-6
_ROUNDS = 64


def trace(ways: Waterways, passes: Passing, drivers: Mapping[Key, float]) -> dict[Key, float]:
    """Signed flow of every moving element (positive a -> b), for drivers given as forces along a -> b.

    Cisterns are cut: a vent spilling over one is not joined to its feed. Elements that stand still are left out.
    """
    skeleton = ways.skeleton
    walls = set(ways.bodies("cistern"))
    flags = skeleton.passes(passes)
    force: dict[int, float] = {}
    for key, drive in drivers.items():
        index = skeleton.chain_of[key]
        along = next(forward for k, forward in skeleton.chains[index].steps if k == key)
        force[index] = force.get(index, 0.0) + (drive if along else -drive)
    open_chains = [c for c in skeleton.chains if flags[c.index] and not {c.u, c.v} & walls]
    out: dict[Key, float] = {}
    for piece in _pieces(open_chains, {i for i, drive in force.items() if drive}):
        for chain, flow in zip(piece, _solve(piece, [flags[c.index] for c in piece], force)):
            if abs(flow) > UNDECIDED:
                out.update((key, flow if forward else -flow) for key, forward in chain.steps)
    return out


def _pieces(chains: Sequence[Chain], driven: set[int]) -> Iterator[list[Chain]]:
    """Connected pieces with a driver in them, chains in order. Nothing moves anywhere else."""
    at: dict[Place, list[Chain]] = {}
    for chain in chains:
        at.setdefault(chain.u, []).append(chain)
        at.setdefault(chain.v, []).append(chain)
    done: set[int] = set()
    for first in chains:
        if first.index not in driven or first.index in done:
            continue
        piece, todo = {first.index: first}, [first]
        while todo:
            chain = todo.pop()
            for other in (*at[chain.u], *at[chain.v]):
                if other.index not in piece:
                    piece[other.index] = other
                    todo.append(other)
        done |= piece.keys()
        yield [piece[index] for index in sorted(piece)]


def _solve(chains: list[Chain], flags: list[int], drive: Mapping[int, float]) -> list[float]:
    """Signed flow u -> v of each chain of one connected piece."""
    index: dict[Place, int] = {}
    for chain in chains:
        index.setdefault(chain.u, len(index))
        index.setdefault(chain.v, len(index))
    n, m = len(index), len(chains)
    u = np.array([index[c.u] for c in chains])
    v = np.array([index[c.v] for c in chains])
    spread = 1.0 + 0.013 * np.modf(np.arange(m) * 0.6180339887)[0]
    conduct = 1.0 / (np.array([len(c.steps) for c in chains]) * spread)
    force = np.array([drive.get(c.index, 0.0) for c in chains])
    way = np.array(flags)
    shut = np.zeros(m, dtype=bool)
    wrong = shut
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
        push = head[u] - head[v] + force
        flow = g * push
        wrong = ((way == FORWARD) & (push < -UNDECIDED)) | ((way == BACK) & (push > UNDECIDED))
        if (wrong == shut).all():
            break
        if wrong.tobytes() in seen:  # going round: turn one at a time, the first first, which always ends (Murty 1974)
            shut = shut.copy()
            shut[np.argmax(wrong != shut)] ^= True
        else:
            seen.add(wrong.tobytes())
            shut = wrong
    return np.where(shut | wrong, 0.0, flow).tolist()


def drivers_in(ways: Waterways, condition: Condition = NORMAL) -> dict[Key, float]:
    """What moves water under a condition: running pumps, and fires by buoyancy where a sink lies above them."""
    out: dict[Key, float] = {}
    for element in ways.elements.values():
        if element.does is Behaviour.PUMP and condition.power and element.part not in condition.stopped:
            out[element.key] = 1.0
    for source in ways.sources:
        if source.stays_hot and source.part not in condition.out and _rises(ways, source):
            out[source.key] = 0.2
    return out


def _rises(ways: Waterways, source: Source) -> bool:
    return any(loop.sink.height_m > source.height_m for loop in loops(ways, source, Ask.OPEN))


def moving(ways: Waterways, condition: Condition = NORMAL) -> dict[Key, float]:
    """Signed flow of what moves under a condition: running view with power, rest view without."""
    ask = Ask.RUNNING if condition.power else Ask.REST
    return trace(ways, passing(ways, ask, condition), drivers_in(ways, condition))
