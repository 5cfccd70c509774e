"""The arrays of several networks as those of one whose parts share nothing.

Owns where each of them stands in the whole. Knows nothing of who asks for its steps (`abreast`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from loopwright.engineering.arrays import Arrays
from loopwright.engineering.fluid import Fluid, Several


class Slot(NamedTuple):
    """Where one of several networks stands: its branches, pressure nodes, temperature nodes, emitter cells."""

    b: slice
    p: slice
    n: slice
    emitters: slice


def _slices(counts: Sequence[int]) -> list[slice]:
    ends = np.cumsum([0, *counts]).tolist()
    return [slice(a, b) for a, b in pairwise(ends)]


def side_by_side(members: Sequence[Arrays]) -> tuple[Arrays, list[Slot]]:
    """Networks as one whose parts share nothing, and where each stands in it. Its `net` is that of the first."""
    b, p, n = (_slices([getattr(a, k) for a in members]) for k in ("B", "Np", "Nt"))
    emitters = _slices([len(a.emitter_flat) for a in members])
    B, K = b[-1].stop, max(a.K for a in members)

    def rows(name: str, fill: Any, wider: int = 0) -> np.ndarray:
        first = getattr(members[0], name)
        out = np.full((B, K + wider), fill, dtype=first.dtype)
        for a, at in zip(members, b, strict=True):
            out[at, : a.K + wider] = getattr(a, name)
        return out

    def ended(name: str, by: Sequence[slice] | None = None) -> np.ndarray:
        shift = [0] * len(members) if by is None else [s.start for s in by]
        return np.concatenate(
            [getattr(a, name) + at if at else getattr(a, name) for a, at in zip(members, shift, strict=True)]
        )

    def blocks(name: str, down: Sequence[slice], along: Sequence[slice]) -> np.ndarray:
        out = np.zeros((down[-1].stop, along[-1].stop))
        for a, i, j in zip(members, down, along, strict=True):
            out[i, j] = getattr(a, name)
        return out

    f = _slices([a.F for a in members])
    links = np.zeros((B, max(a.links.shape[1] for a in members)), dtype=int)
    for a, at, nodes in zip(members, b, n, strict=True):
        links[at] = nodes.start
        links[at, : a.links.shape[1]] += a.links
    real, last, Qn, UX = rows("real", False), ended("last"), rows("Qn", 0.0), rows("UX", 0.0)
    coil_node = rows("coil_node", 0)
    for at, nodes in zip(b, n, strict=True):
        coil_node[at] += nodes.start
    plain: dict[str, Any] = {
        k: ended(k)
        for k in (
            "count", "I", "area", "seg_bore", "seg_length", "seg_k", "seg_rough", "check", "opening", "pump0", "pump1",
            "pump2", "Cn", "Sn", "T_fix", "boil_N", "is_fixed", "is_layer", "conduct", "layer_loss", "layer_room",
        )
    }  # fmt: skip
    padded: dict[str, Any] = {
        k: rows(k, fill)
        for k, fill in (
            ("C", 1.0), ("UA", 0.0), ("Q", 0.0), ("n", 1.3), ("dTn", 50.0), ("room", 20.0), ("boil", 1e9), ("dz", 0.0),
            ("coil_link", 0),
        )
    }  # fmt: skip
    whole = replace(
        members[0], members=tuple(members),
        B=B, K=K, Np=p[-1].stop, Nt=n[-1].stop, F=f[-1].stop, rows=np.arange(B), real=real, last=last,
        is_last=np.arange(K)[None, :] >= last[:, None], up=rows("up", 0.0, 1), Qn=Qn, UX=UX, coil_node=coil_node,
        pa=ended("pa", p), pb=ended("pb", p), ref=ended("ref", p), ta=ended("ta", n), tb=ended("tb", n),
        fixed=ended("fixed", n), lo=ended("lo", n), hi=ended("hi", n), seg_branch=ended("seg_branch", b), links=links,
        inc=blocks("inc", p, b), O=blocks("O", b, n), V=blocks("V", f, b), node_names=(), inlets=(),
        any_pump=any(a.any_pump for a in members), any_check=any(a.any_check for a in members),
        any_emitter=any(a.any_emitter for a in members), any_coil=any(a.any_coil for a in members),
        any_pad=not bool(real.all()), coil_cells=np.nonzero(UX > 0.0), coil_flat=np.flatnonzero(UX > 0.0),
        emitter_cells=np.nonzero(Qn > 0.0), emitter_flat=np.flatnonzero(Qn > 0.0), fluid=_fluid_of(members),
        part_b=np.repeat(np.arange(len(members)), [a.B for a in members]),
        part_p=np.repeat(np.arange(len(members)), [a.Np for a in members]),
        part_n=np.repeat(np.arange(len(members)), [a.Nt for a in members]), **plain, **padded,
    )  # fmt: skip
    return whole, [Slot(*x) for x in zip(b, p, n, emitters, strict=True)]


def _fluid_of(members: Sequence[Arrays]) -> Fluid:
    first = members[0].fluid
    if all(a.fluid is first for a in members) and not isinstance(first, Several):
        return first
    branches = [f for a in members for f in a.fluid.by_branch(a.B)]
    nodes = [f for a in members for f in a.fluid.by_node(a.Nt)]
    return Several(branches, nodes)
