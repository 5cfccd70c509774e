"""A net turned into numpy arrays, once per condition.

Owns shapes and index maps. B branches, K cells (padded at the b end), S segments, Np pressure nodes, Nt temperature
nodes (joints, then layers of stores), F faces between layers.
"""

# ruff: noqa: N815  (units and index letters keep their case in names)
from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import networkx as nx
import numpy as np

from loopwright.engineering import friction, water
from loopwright.engineering.fluid import Fluid
from loopwright.engineering.layout import Joined, Layout, Rings, joined, layout, rings
from loopwright.engineering.net import Net, WaterLine
from loopwright.engineering.water import GRAVITY

WATER_W_MK = 0.63  # conductivity of water about 50 degC, handbook


@dataclass(frozen=True)
class Arrays:
    """Arrays of a net. Signs run from a to b. Index arrays end in the plain names used by `network`."""

    net: Net
    B: int
    K: int
    Np: int
    Nt: int
    F: int
    rows: np.ndarray
    real: np.ndarray  # (B, K) bool
    is_last: np.ndarray  # (B, K) bool: the last real cell, and pads
    last: np.ndarray  # (B,)
    count: np.ndarray
    pa: np.ndarray
    pb: np.ndarray
    ta: np.ndarray
    tb: np.ndarray
    I: np.ndarray  # noqa: E741  (B,) sum of L/A
    area: np.ndarray
    C: np.ndarray
    UA: np.ndarray
    Q: np.ndarray
    Qn: np.ndarray
    n: np.ndarray
    dTn: np.ndarray
    room: np.ndarray
    boil: np.ndarray
    dz: np.ndarray
    up: np.ndarray  # (B, K+1) +1 where the b side of a face is higher, -1 lower, 0 level
    UX: np.ndarray
    coil_node: np.ndarray  # (B, K)
    coil_cells: tuple[np.ndarray, ...]
    coil_link: np.ndarray
    links: np.ndarray  # (B, R)
    seg_branch: np.ndarray
    seg_bore: np.ndarray
    seg_length: np.ndarray
    seg_k: np.ndarray
    seg_rough: np.ndarray
    check: np.ndarray
    opening: np.ndarray
    pump0: np.ndarray
    pump1: np.ndarray
    pump2: np.ndarray
    inc: np.ndarray  # (Np, B)
    ref: np.ndarray
    Cn: np.ndarray
    Sn: np.ndarray
    T_fix: np.ndarray
    boil_N: np.ndarray  # (Nt,)
    node_names: tuple[str, ...]  # joint or store of each temperature node
    fixed: np.ndarray
    is_fixed: np.ndarray
    is_layer: np.ndarray
    O: np.ndarray  # noqa: E741  (B, Nt)
    V: np.ndarray  # (F, B)
    lo: np.ndarray
    hi: np.ndarray
    conduct: np.ndarray
    layer_loss: np.ndarray
    layer_room: np.ndarray
    # ends in evolving stores: (branch, at its b end, first layer, layers, first face, layer of the tapping)
    inlets: tuple[tuple[int, bool, int, int, int, int], ...]
    any_pump: bool
    any_check: bool
    any_emitter: bool
    any_coil: bool
    any_pad: bool
    emitter_cells: tuple[np.ndarray, ...]
    emitter_flat: np.ndarray  # the same in a raveled (B, K)
    coil_flat: np.ndarray
    fluid: Fluid
    # which of the networks solved side by side: of branches, pressure nodes, temperature nodes
    part_b: np.ndarray
    part_p: np.ndarray
    part_n: np.ndarray
    members: tuple[Arrays, ...] = ()  # those networks, if it is several

    @cached_property
    def layout(self) -> Layout:
        """Where the terms of a step stand in its matrix."""
        return layout(self)

    @cached_property
    def rings(self) -> Rings:
        """Its loops, where it stands alone."""
        return rings(self)

    @cached_property
    def joined(self) -> Joined:
        """The part of it that ends led to another layer need anew."""
        return joined(self)

    @cached_property
    def bores(self) -> friction.Bores:
        """The pipes of all segments as friction takes them."""
        return friction.bores(self.seg_bore, self.seg_length, self.seg_rough)


def boiling_at(line: WaterLine, height_m: float) -> float:
    """Boiling temperature at a height in a water, degC. Above the line the pressure falls below the atmosphere's."""
    pressure = line.pressure_Pa + water.raw_density_kg_m3(90.0) * GRAVITY * (line.height_m - height_m)
    return float(water.boiling_C(min(max(pressure, 1e4), 1e6)))


def arrays(net: Net) -> Arrays:
    """Build the arrays of a net."""
    br = net.branches
    B, K = len(br), max(len(b.cells) for b in br)
    nn = len(net.nodes)
    places = [x.name for x in net.nodes] + [s.name for s in net.stores]
    p_index = {name: i for i, name in enumerate(places)}
    store_of = {s.name: s for s in net.stores}
    first_layer: dict[str, int] = {}
    Nt = nn
    for s in net.stores:
        first_layer[s.name] = Nt
        Nt += len(s.layers_C)

    def t_index(end) -> int:
        store = store_of.get(end.place)
        return p_index[end.place] if store is None else first_layer[end.place] + store.layer_at(net.height_of(end))

    z = {b.name: (net.height_of(b.a), net.height_of(b.b)) for b in br}
    real = np.array([[k < len(b.cells) for k in range(K)] for b in br])
    count = real.sum(axis=1)
    last = count - 1

    def cells(name: str, pad: float) -> np.ndarray:
        return np.array([[getattr(c, name) for c in b.cells] + [pad] * (K - len(b.cells)) for b in br], dtype=float)

    dz = cells("rise_m", 0.0)
    boil = np.full((B, K), 1e9)
    centre = np.zeros((B, K + 2))
    for i, b in enumerate(br):
        low, high = z[b.name]
        foot = low
        centre[i, 0], centre[i, len(b.cells) + 1 :] = low, high
        for k, c in enumerate(b.cells):
            centre[i, k + 1] = foot + 0.5 * c.rise_m
            boil[i, k] = boiling_at(net.line, foot + 0.5 * c.rise_m) if c.boil_C is None else c.boil_C
            foot += c.rise_m
    step = np.diff(centre, axis=1)
    up = np.where(np.abs(step) > 1e-9, np.sign(step), 0.0)

    coil_node = np.array(
        [[0 if c.coil_to is None else t_index(c.coil_to) for c in b.cells] + [0] * (K - len(b.cells)) for b in br]
    )
    UX = cells("coil_W_K", 0.0)
    per = [sorted({int(coil_node[i, k]) for k in range(K) if UX[i, k] > 0.0}) for i in range(B)]
    R = max(map(len, per))
    links = np.zeros((B, R), dtype=int)
    coil_link = np.zeros((B, K), dtype=int)
    for i, nodes in enumerate(per):
        links[i, : len(nodes)] = nodes
        for k in range(K):
            if UX[i, k] > 0.0:
                coil_link[i, k] = nodes.index(int(coil_node[i, k]))

    seg = [(i, s) for i, b in enumerate(br) for s in b.segments]
    areas = [[0.25 * np.pi * s.bore_m**2 for s in b.segments] for b in br]
    inertia = [
        sum(s.length_m / a for s, a in zip(b.segments, ar, strict=True)) for b, ar in zip(br, areas, strict=True)
    ]
    pa, pb = (np.array([p_index[e.place] for e in ends]) for ends in ([b.a for b in br], [b.b for b in br]))
    Np = len(p_index)
    rows = np.arange(B)
    inc = np.zeros((Np, B))
    np.add.at(inc, (pb, rows), 1.0)
    np.add.at(inc, (pa, rows), -1.0)
    graph = nx.Graph()
    graph.add_nodes_from(range(Np))
    graph.add_edges_from(zip(pa.tolist(), pb.tolist(), strict=True))
    ref = np.array(sorted(min(part) for part in nx.connected_components(graph)))

    Cn, Sn = np.zeros(Nt), np.zeros(Nt)
    T_fix, is_fixed = np.full(Nt, net.room_C), np.zeros(Nt, dtype=bool)
    layer_loss, layer_room = np.zeros(Nt), np.full(Nt, net.room_C)
    boil_N = np.full(Nt, 1e9)
    node_names = [x.name for x in net.nodes]
    O = np.zeros((B, Nt))  # noqa: E741
    lo: list[int] = []
    hi: list[int] = []
    conduct: list[float] = []
    V: list[np.ndarray] = []
    inlets: list[tuple[int, bool, int, int, int, int]] = []
    for i, x in enumerate(net.nodes):
        Cn[i], Sn[i] = max(x.heat_J_K, 1.0), x.source_W
        boil_N[i] = boiling_at(net.line, x.height_m)
        if x.fixed_C is not None:
            is_fixed[i], T_fix[i] = True, x.fixed_C
    for s in net.stores:
        count_l, base = len(s.layers_C), first_layer[s.name]
        height = (s.top_m - s.base_m) / count_l
        span = slice(base, base + count_l)
        T_fix[span], is_fixed[span] = s.layers_C, not s.evolving
        Cn[span] = s.volume_m3 / count_l * 988.0 * 4181.0
        Sn[span] = s.source_W if s.source_W else 0.0
        layer_loss[span], layer_room[span] = s.loss_W_K / count_l, s.room_C
        feet = s.base_m + height * np.arange(count_l)
        boil_N[span] = [boiling_at(net.line, float(foot + 0.5 * height)) for foot in feet]
        node_names += [s.name] * count_l
        entries = []
        for i, b in enumerate(br):
            for end, sign in ((b.a, 1.0), (b.b, -1.0)):
                if end.place == s.name:
                    O[i, span] += sign * np.clip(net.height_of(end) - feet, 0.0, height)
                    entries.append((i, s.layer_at(net.height_of(end)), -sign))
                    if s.evolving:
                        inlets.append((i, end is b.b, base, count_l, len(lo), entries[-1][1]))
        for j in range(count_l - 1):
            row = np.zeros(B)
            for i, layer, sign in entries:
                if layer <= j:
                    row[i] += sign
            V.append(row)
            lo.append(base + j)
            hi.append(base + j + 1)
            conduct.append(WATER_W_MK * s.volume_m3 / (s.top_m - s.base_m) / height)
    is_layer = np.arange(Nt) >= nn
    pumps = [b.pump for b in br]
    return Arrays(
        net=net, B=B, K=K, Np=Np, Nt=Nt, F=len(lo), rows=rows, real=real, last=last, count=count,
        is_last=np.arange(K)[None, :] >= last[:, None], pa=pa, pb=pb,
        ta=np.array([t_index(b.a) for b in br]), tb=np.array([t_index(b.b) for b in br]),
        I=np.array(inertia), area=np.array([min(a) for a in areas]),
        C=np.maximum(cells("heat_J_K", 1.0), 1.0), UA=cells("loss_W_K", 0.0), Q=cells("source_W", 0.0),
        Qn=cells("emitter_W", 0.0), n=cells("emitter_n", 1.3), dTn=cells("emitter_dT_K", 50.0),
        room=cells("room_C", net.room_C), boil=boil, dz=dz, up=up, UX=UX, coil_node=coil_node,
        coil_cells=np.nonzero(UX > 0.0), coil_link=coil_link, links=links,
        seg_branch=np.array([i for i, _ in seg]), seg_bore=np.array([s.bore_m for _, s in seg]),
        seg_length=np.array([s.length_m for _, s in seg]), seg_k=np.array([s.k for _, s in seg]),
        seg_rough=np.array([s.roughness_m for _, s in seg]),
        check=np.array([b.check for b in br]), opening=np.array([b.opening_Pa for b in br]),
        pump0=np.array([p.shutoff_Pa if p else 0.0 for p in pumps]),
        pump1=np.array([p.linear if p else 0.0 for p in pumps]),
        pump2=np.array([p.square if p else 0.0 for p in pumps]),
        inc=inc, ref=ref, Cn=Cn, Sn=Sn, T_fix=T_fix, boil_N=boil_N,
        node_names=tuple(node_names), fixed=np.nonzero(is_fixed)[0], is_fixed=is_fixed,
        is_layer=is_layer, O=O, V=np.array(V).reshape(len(lo), B),
        lo=np.array(lo, dtype=int), hi=np.array(hi, dtype=int), conduct=np.array(conduct),
        layer_loss=layer_loss, layer_room=layer_room,
        inlets=tuple(inlets), any_pump=any(pumps), any_check=any(b.check for b in br),
        any_emitter=bool(np.any(cells("emitter_W", 0.0) > 0.0)), any_coil=bool(np.any(UX > 0.0)),
        any_pad=not bool(real.all()), emitter_cells=np.nonzero(cells("emitter_W", 0.0) > 0.0),
        emitter_flat=np.flatnonzero(cells("emitter_W", 0.0) > 0.0), coil_flat=np.flatnonzero(UX > 0.0), fluid=net.fluid,
        part_b=np.zeros(B, dtype=int), part_p=np.zeros(Np, dtype=int), part_n=np.zeros(Nt, dtype=int),
    )  # fmt: skip
