"""How the layers of a store fill while its sources run: twenty layers, marched minute by minute.

Owns a plain march for playing: each source sends its water in at its own tapping, or warms the layers along its coil.
Water warmer than the layer it enters rises, colder water sinks, and either stirs what it passes on the way. Loads and
losses stand still. Knows nothing of lessons. Layers are listed bottom to top, degC.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np

from loopwright.engineering.plumes import settling_layer
from loopwright.rules.circuits import Circuit, flow_c, source_circuits
from loopwright.rules.registry import Case

LAYERS = 20
RISE_K = 20.0
"""What water gains as it passes a source: common practice for a pumped or a gravity circuit, no source."""
SUN_W_M2 = 500.0
"""Heat of a collector at its best hour: common practice, no source."""
WH_PER_LITRE_K = 1.163
STEP_S = 30.0


class Filling(msgspec.Struct, frozen=True, kw_only=True):
    """A store filling: layers (bottom to top, degC) at each of `minutes`."""

    store: str
    minutes: tuple[float, ...]
    layers_c: tuple[tuple[float, ...], ...]


def fill(
    case: Case,
    store: str,
    *,
    minutes: float = 60.0,
    start_c: float = 15.0,
    only: Sequence[str] = (),
    every: float = 2.0,
) -> Filling | None:
    """The store filled by its sources (`only` those named) from cold; None if its volume is not known.

    A source that sends a fixed temperature warms its water to that at most; a fire sends what its power makes.
    """
    litres = case.ways.number(store, "volume_l")
    if litres is None or litres <= 0.0:
        return None
    circuits = [c for c in source_circuits(case) if c.store == store and (not only or c.subject in only)]
    layers = np.full(LAYERS, start_c)
    times, frames = [0.0], [tuple(layers)]
    steps = round(minutes * 60.0 / STEP_S)
    for step in range(1, steps + 1):
        for circuit in circuits:
            _run(case, circuit, layers, litres / LAYERS)
        now = step * STEP_S / 60.0
        if now - times[-1] >= every - 1e-9 or step == steps:
            times.append(now)
            frames.append(tuple(float(round(t, 2)) for t in layers))
    return Filling(store=store, minutes=tuple(times), layers_c=tuple(frames))


def _power_w(case: Case, part: str) -> float:
    ways = case.ways
    if ways.has_tag(part, "collector"):
        return SUN_W_M2 * (ways.number(part, "absorber_m2") or 0.0)
    return 1000.0 * (ways.number(part, "power_kw") or 0.0)


def _layer(share: float) -> int:
    return min(LAYERS - 1, max(0, int(share * LAYERS - 1e-9)))


def _run(case: Case, circuit: Circuit, layers: np.ndarray, litres: float) -> None:
    """One step of one source, in place."""
    watts = _power_w(case, circuit.subject)
    limit = flow_c(case, circuit.subject) if circuit.source is None or circuit.source.stops != "fire" else None
    top = 95.0 if limit is None else limit
    if circuit.coil is not None:
        _coil(layers, _layer(circuit.leave_f), _layer(circuit.enter_f), watts, top - 5.0, litres)
        return
    into, out = _layer(circuit.enter_f), _layer(circuit.leave_f)
    taken = layers[out]
    sends = min(taken + RISE_K, top)
    if sends <= taken + 0.5:
        return
    flow = watts * STEP_S / 3600.0 / (WH_PER_LITRE_K * RISE_K)  # litres in this step
    share = min(1.0, flow / litres)
    settled = settling_layer(layers, into, float(sends))
    if settled != into:  # the plume stirs what it passes
        low, high = sorted((settled, into))
        layers[low : high + 1] = layers[low : high + 1].mean()
    old = layers.copy()
    if into > out:
        layers[into] += share * (sends - old[into])
        for i in range(out, into):
            layers[i] += share * (old[i + 1] - old[i])
    elif into < out:
        layers[into] += share * (sends - old[into])
        for i in range(into + 1, out + 1):
            layers[i] += share * (old[i - 1] - old[i])
    else:
        layers[into] += share * (sends - old[into])
    _settle(layers)


def _coil(layers: np.ndarray, low: int, high: int, watts: float, top: float, litres: float) -> None:
    """Heat shared along a coil, as much as each layer is cooler than what the coil sends."""
    room = np.clip(top - layers[low : high + 1], 0.0, None)
    if room.sum() < 0.5:
        return
    gain = watts * STEP_S / 3600.0 / (WH_PER_LITRE_K * litres) * room / room.sum()
    layers[low : high + 1] += np.minimum(gain, room)
    _settle(layers)


def _settle(layers: np.ndarray) -> None:
    """Warm water under cold mixes with it, until none is left so (pool adjacent violators)."""
    pools: list[list[float]] = []
    for t in layers:
        pools.append([float(t), 1.0])
        while len(pools) > 1 and pools[-2][0] > pools[-1][0] + 1e-9:
            b, a = pools.pop(), pools.pop()
            pools.append([(a[0] * a[1] + b[0] * b[1]) / (a[1] + b[1]), a[1] + b[1]])
    layers[:] = np.concatenate([np.full(int(n), t) for t, n in pools])
