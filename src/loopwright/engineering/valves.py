"""Valves that mix by temperature, in steady networks: found in a drawing, and set to where they come to rest.

Owns the opening. The solver sees only two resistances; the opening is sought from outside by warm restarts, each from
the flow before it (continuation). A valve in thermal balance has its sensor at what its opening asks for.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from loopwright.engineering.abreast import Steps, remembering, stepwise
from loopwright.engineering.arrays import arrays
from loopwright.engineering.drawn_parts import Asked, figure
from loopwright.engineering.net import Net
from loopwright.engineering.network import State
from loopwright.engineering.outcomes import Answer
from loopwright.engineering.reduction import Run
from loopwright.engineering.steady import REMEMBERED, from_kick, steady
from loopwright.engineering.stepping import grow, run_for
from loopwright.waterways.graph import Key, Place

SEEKS = {"mixing_valve": ("hot", "cold"), "return_valve": ("hot", "cold"), "loading_unit": ("bypass", "thermal")}
"""Ways that let in the warmer and the cooler water, by the tag of the kind."""
LEAST = 0.02
"""Least opening: what a closed way still lets through, as a share of its stroke."""
WITHIN_K = 0.1
TRIES = 14


@dataclass(frozen=True)
class Valve:
    """A mixing valve in a network: its two branches, the joint where the waters meet, and what it seeks there.

    `band_K`: how much warmer than `set_C` the mixed water is once the cooler way is fully open. `k` of its open way.
    """

    part: str
    joint: str
    warm: str
    cool: str
    set_C: float
    band_K: float
    k: float


def found_in(asked: Asked, runs: Mapping[str, Run]) -> tuple[Valve, ...]:
    """The valves of a network that have both their ways in it. Raises FigureError where a setting is missing."""
    ways = asked.ways
    branch_of: dict[Key, str] = {key: name for name, run in runs.items() for key, _ in run.steps}
    out = []
    for part in dict.fromkeys(key[1] for key in branch_of if key[0] == "way"):
        tag = next((t for t in SEEKS if ways.has_tag(part, t)), None)
        if tag is None:
            continue
        warm_key, cool_key = (("way", part, name) for name in SEEKS[tag])
        warm, cool = branch_of.get(warm_key, ""), branch_of.get(cool_key, "")
        meet: Place = ways.elements[warm_key].b
        if not warm or not cool or warm == cool or not all(meet in (runs[b].u, runs[b].v) for b in (warm, cool)):
            continue
        prop, words = ("opens_c", "opening temperature") if tag == "loading_unit" else ("setting_c", "setting")
        band = 0.0 if tag == "mixing_valve" else figure("loading_valve", "band_k")
        way = ways.elements[warm_key].way
        k = way.loss_k if way is not None else 6.0
        out.append(Valve(part, " ".join(meet[1:]), warm, cool, asked.number(part, prop, words), band, k))
    return tuple(out)


def opened(net: Net, valve: Valve, warm_share: float) -> Net:
    """The network with the valve's warmer way open by a share of its stroke, the cooler one by the rest."""
    for name, share in ((valve.warm, warm_share), (valve.cool, 1.0 - warm_share)):
        branch = next(b for b in net.branches if b.name == name)
        more = valve.k * (1.0 / max(share, LEAST) ** 2 - 1.0)
        narrow = min(range(len(branch.segments)), key=lambda i: branch.segments[i].bore_m)
        segments = tuple(replace(s, k=s.k + more) if i == narrow else s for i, s in enumerate(branch.segments))
        net = net.with_branch(replace(branch, segments=segments))
    return net


@stepwise
def at_rest(net: Net, valves: tuple[Valve, ...]) -> Steps[tuple[Net, dict[str, float], Answer]]:
    """The network with its valves where they come to rest, the opening of each one's warmer way, and its answer."""
    final, shares = yield from _rest.steps(net, valves)
    return final, dict(shares), (yield from steady.steps(final))


@partial(remembering, most=REMEMBERED)
def _rest(net: Net, valves: tuple[Valve, ...]) -> Steps[tuple[Net, tuple[tuple[str, float], ...]]]:
    shares = {v.part: 0.5 for v in valves}
    state: State | None = None

    def with_shares() -> Net:
        out = net
        for v in valves:
            out = opened(out, v, shares[v.part])
        return out

    def mixed_C(valve: Valve) -> Steps[float]:
        nonlocal state
        now = with_shares()
        A = arrays(now)
        s, settled, _ = yield from grow.steps(A, (yield from from_kick.steps(A)) if state is None else state)
        state = s if settled else (yield from run_for.steps(A, s, 1800.0, 30.0))
        return float(state.N[[n.name for n in now.nodes].index(valve.joint)])

    for _ in range(3 if len(valves) > 1 else 1):
        before = dict(shares)
        for valve in valves:
            yield from _seek(valve, shares, mixed_C)
        if all(abs(before[p] - shares[p]) < 0.01 for p in shares):
            break
    return with_shares(), tuple(shares.items())


def _seek(valve: Valve, shares: dict[str, float], mixed_C: Callable[[Valve], Steps[float]]) -> Steps[None]:
    """Move one valve to rest: more of the warmer water makes the mixed water warmer, so a bracket closes on it."""

    def over(share: float) -> Steps[float]:
        shares[valve.part] = share
        return float((yield from mixed_C(valve)) - valve.set_C - (1.0 - share) * valve.band_K)

    low, high = 0.0, 1.0
    at_low = yield from over(low)
    if at_low >= 0.0:
        return  # warm enough without any of the warmer water
    at_high = yield from over(high)
    if at_high <= 0.0:
        return  # not warm enough with nothing else
    for _ in range(TRIES):
        share = low + (high - low) * min(0.9, max(0.1, at_low / (at_low - at_high)))
        now = yield from over(share)
        if abs(now) < WITHIN_K:
            return
        if now < 0.0:
            low, at_low, at_high = share, now, 0.5 * at_high
        else:
            high, at_high, at_low = share, now, 0.5 * at_low
