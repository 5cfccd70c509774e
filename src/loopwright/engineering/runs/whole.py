"""Every water of a house as one network in time: pumped and gravity, coils, plates and draw-offs together.

Owns the joining of waters into one `Net` with evolving stores, each with its own boiling line, and where the parts of
the drawing lie in it. Knows nothing of time, controls or schedules. Conventions are those of `drawn`, save that pipes
and vessels lose heat, plates pass heat, and valves may move.

A draw-off is a branch from the tap back to where its cold water comes in, whose flow is imposed; that place is held at
the temperature of cold water. So hot water needs no equations of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

from loopwright.catalogue import Behaviour
from loopwright.engineering.arrays import Arrays, arrays, boiling_at
from loopwright.engineering.drawn import JOINT_J_K
from loopwright.engineering.drawn_branch import Held, Laid, branch_of, place_name
from loopwright.engineering.drawn_parts import (
    WATER_J_L_K,
    Asked,
    Charge,
    Heat,
    drawn_fluid,
    figure,
    is_store,
    line_of,
    pump_curve,
    store_of,
)
from loopwright.engineering.fluid import WATER, Fluid, Several
from loopwright.engineering.net import Branch, Cell, End, Net, Node, Pump, Segment, Store, WaterLine
from loopwright.engineering.reduction import Run, circulating
from loopwright.engineering.runs.floors import Slab, slab_of
from loopwright.engineering.runs.given import assumed
from loopwright.engineering.water import ATMOSPHERE_PA
from loopwright.errors import FigureError
from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.views import NORMAL, Ask, passing
from loopwright.waterways.waters import Water, water_of, waters

FLOOR_SET = "mixing set"
"""Way of a warm floor's own mixing set: it lets in no more hot water than the floor takes."""


@dataclass(frozen=True)
class Pumped:
    """A pump in a branch, by number, and its curve."""

    part: str
    branch: int
    curve: Pump


@dataclass(frozen=True)
class Moving:
    """A way that something moves: its branch by number and its coefficient when wide open."""

    part: str
    way: str
    does: Behaviour
    branch: int
    k: float


@dataclass(frozen=True)
class Draw:
    """A tap's hot side: its branch by number, from the tap to its cold water."""

    part: str
    branch: int


@dataclass(frozen=True)
class Whole:
    """All waters of a drawing as one network. Branches are counted as in `net.branches`."""

    ways: Waterways
    net: Net
    A: Arrays
    waters: tuple[Water, ...]
    runs: Mapping[int, Run]
    pipes: Mapping[str, tuple[int, Laid]]
    at: Mapping[str, tuple[int, int]]
    """Branch and cell of each source and emitter."""
    pumps: tuple[Pumped, ...]
    moving: tuple[Moving, ...]
    draws: tuple[Draw, ...]
    moving_segment: Mapping[int, int]
    """By branch: the segment without length whose loss coefficient is that of what moves in it."""
    layers: Mapping[str, slice]
    """Temperature nodes of each store, bottom first."""
    notes: tuple[str, ...]
    slabs: Mapping[str, tuple[Slab, int]] = field(default_factory=dict)
    """Warm floors by part, each with its temperature node."""

    def layer_at(self, store: str, height_m: float) -> int:
        """Temperature node of a store at a height on the sheet."""
        s = next(s for s in self.net.stores if s.name == store)
        return self.layers[store].start + s.layer_at(min(s.top_m, max(s.base_m, height_m)))


@dataclass
class _Made:
    """What has been put together so far. `lower_m`: how far fires are set down, on pipes that much longer."""

    lower_m: float = 0.0

    branches: list[Branch] = field(default_factory=list)
    nodes: dict[str, Node] = field(default_factory=dict)
    stores: dict[str, Store] = field(default_factory=dict)
    node_water: dict[str, WaterLine] = field(default_factory=dict)
    runs: dict[int, Run] = field(default_factory=dict)
    pipes: dict[str, tuple[int, Laid]] = field(default_factory=dict)
    at: dict[str, tuple[int, int]] = field(default_factory=dict)
    pumps: list[Pumped] = field(default_factory=list)
    moving: list[Moving] = field(default_factory=list)
    draws: list[Draw] = field(default_factory=list)
    slabs: dict[str, Slab] = field(default_factory=dict)
    taken: list[Water] = field(default_factory=list)
    fluids: list[Fluid] = field(default_factory=list)

    def copy(self) -> _Made:
        """The same in lists of its own."""
        new = _Made(self.lower_m)
        for name, value in vars(self).items():
            setattr(new, name, value if isinstance(value, float) else value.copy())
        return new


Profile = Callable[[str, int], Iterable[float]]
"""Temperatures of a store's layers, bottom first, from its part and the number of layers."""


def whole(
    ways: Waterways,
    profile: Profile,
    *,
    layers: int = 20,
    cold_C: float = 10.0,
    wanted: Callable[[Water], bool] = lambda _: True,
    needed: Callable[[Water], bool] = lambda _: False,
    lower_m: float = 0.0,
) -> Whole:
    """The waters of a drawing that are `wanted`, as one network.

    A water that cannot be computed is left out and noted, unless it is `needed`: then FigureError says what is
    missing. Also FigureError if nothing can go round at all.
    """
    asked = Asked(
        ways, NORMAL, Ask.RUNNING, Charge.FULL, {s.part: Heat(1.0) for s in ways.sources}, plates=True, lossy=True
    )
    made = _Made(lower_m=lower_m)
    for water in waters(ways):
        if not wanted(water):
            continue
        before = made.copy()
        try:
            _add_water(asked, made, water, cold_C)
        except FigureError as bad:
            if needed(water):
                raise
            made = before
            if water.sources or water.regime not in ("undefined", "mains"):
                asked.suppose(f"Left out of the run: {bad.what[0].lower()}{bad.what[1:].rstrip('.')}")
    if not made.branches:
        raise FigureError(
            "There is nothing on this sheet in which water can go round", do="Draw a source and its pipes"
        )
    count = {name: layers if ways.kind(name).body in ("store", "cylinder") else 4 for name in made.stores}
    stores = [_evolving(asked, s, tuple(profile(s.name, count[s.name]))) for s in made.stores.values()]
    walls = _walls(ways, made)
    fluid = WATER if all(f is WATER for f in made.fluids) else Several(made.fluids)
    nodes, room = (*made.nodes.values(), *walls), figure("room", "celsius")
    net = Net(tuple(made.branches), nodes, tuple(stores), WaterLine(10.0), room, fluid)
    A = arrays(net)
    return _finished(asked, made, net, A)


def _finished(asked: Asked, made: _Made, net: Net, A: Arrays) -> Whole:
    names = [n.name for n in net.nodes]
    boil_N, spans, at = A.boil_N.copy(), {}, len(net.nodes)
    heights = {n.name: [n.height_m] for n in net.nodes}
    for s in net.stores:
        count = len(s.layers_C)
        spans[s.name] = slice(at, at + count)
        step = (s.top_m - s.base_m) / count
        heights[s.name] = [s.base_m + (i + 0.5) * step for i in range(count)]
        at += count
    row = 0
    for name, rows in heights.items():
        line = made.node_water.get(name)
        boil_N[row : row + len(rows)] = [1e9 if line is None else boiling_at(line, h) for h in rows]
        row += len(rows)
    first, segments = 0, {}
    affected = {p.branch for p in made.pumps} | {m.branch for m in made.moving}
    for i, branch in enumerate(net.branches):
        if i in affected:
            segments[i] = first + len(branch.segments) - 1
        first += len(branch.segments)
    slabs = {part: (slab, names.index(slab.node)) for part, slab in made.slabs.items()}
    loss = A.layer_loss.copy()
    for slab, node in slabs.values():
        loss[node] = slab.to_room_W_K
    return Whole(
        asked.ways, net, replace(A, boil_N=boil_N, layer_loss=loss), tuple(made.taken), made.runs, made.pipes, made.at,
        tuple(made.pumps), tuple(made.moving), tuple(made.draws), segments, spans, tuple(asked.assumed), slabs,
    )  # fmt: skip


# -- one water ----------------------------------------------------------------------------------------------------


def _add_water(asked: Asked, made: _Made, water: Water, cold_C: float) -> None:
    ways = asked.ways
    taps, cold = _taps(ways, water)
    extra = [Run(tap, cold, (), 1) for tap in taps] if cold else []
    kept = {p for run in extra for p in (run.u, run.v)}
    view = passing(ways, Ask.RUNNING, NORMAL)
    found = circulating(
        ways,
        view,
        water.elements,
        lambda keys, place: place in kept or _drives(ways, keys, place),
        extra=extra,
        kept=kept,
    )
    if not found:
        return
    line = _line(asked, water)
    held = {cold} if cold else set()
    for run in found:
        if run.steps:
            _add_branch(asked, made, run, line)
        for place in (run.u, run.v):
            _add_place(asked, made, place, line, cold_C if place in held else None)
    for run in extra:
        if run in found:
            _add_draw(asked, made, run)
    for run in found:
        for key, _ in run.steps:
            e = ways.elements[key]
            if e.does is Behaviour.COIL and ways.kind(e.part).body and e.part not in made.stores:
                made.stores[e.part] = store_of(asked, e.part)
                owner = water_of(ways, ("body", e.part))
                if owner is not None:
                    made.node_water[e.part] = _line(asked, owner)
    fluid, supposed = drawn_fluid(ways, water)
    if supposed:
        asked.suppose(supposed)
    made.fluids += [fluid] * (len(made.branches) - len(made.fluids))
    made.taken.append(water)


def _taps(ways: Waterways, water: Water) -> tuple[list[Place], Place | None]:
    """Hot ports of the taps of a water that are piped, and where its cold water comes in."""
    piped: set[Place] = {("port", *key) for p in ways.sheet.pipes.values() for key in (p.a_key, p.b_key)}
    taps = [
        p for p in sorted(water.places)
        if p[0] == "port" and p[2] == "hot" and p in piped and ways.has_tag(p[1], "outlet")
    ]  # fmt: skip
    mains = [p for p in sorted(water.places) if p[0] == "port" and p in piped and ways.has_tag(p[1], "mains")]
    if mains:
        return taps, mains[0]
    if water.feeds and water.fluid == "domestic":
        body = water.feeds[0]
        outlets = [e.other(body) for e in ways.links[body] if e.other(body) in water.places and e.other(body) in piped]
        return taps, outlets[0] if outlets else None
    return taps, None


def _drives(ways: Waterways, keys: Iterable[Key], place: Place) -> bool:
    return is_store(ways, place) or any(
        ways.elements[k].does in (Behaviour.PUMP, Behaviour.SOURCE, Behaviour.COIL) for k in keys
    )


def _line(asked: Asked, water: Water) -> WaterLine:
    """Where the pressure of a water is known; mains water by the pressure of its main."""
    ways = asked.ways
    mains = [p for p in sorted(water.places) if p[0] == "port" and ways.has_tag(p[1], "mains")]
    if not mains:
        return line_of(asked, water)
    bar = ways.number(mains[0][1], "pressure_bar")
    if bar is None:
        bar = assumed("mains", "bar")
        asked.suppose(f"The mains pressure is taken as {bar:g} bar")
    return WaterLine(ways.at[mains[0]][1], ATMOSPHERE_PA + 1e5 * bar)


def _add_place(asked: Asked, made: _Made, place: Place, line: WaterLine, held_C: float | None) -> None:
    ways, name = asked.ways, place_name(asked, place)
    if is_store(ways, place):
        if name not in made.stores:
            made.stores[name] = store_of(asked, name)
        made.node_water[name] = line
        return
    litres = (ways.number(place[1], "volume_l") or 0.0) if place[0] == "body" else 0.0
    made.nodes[name] = Node(name, ways.at[place][1], JOINT_J_K + WATER_J_L_K * litres, fixed_C=held_C)
    made.node_water[name] = line


def _add_branch(asked: Asked, made: _Made, run: Run, line: WaterLine) -> None:
    ways, number = asked.ways, len(made.branches)
    keys = [key for key, _ in run.steps]
    branch, laid, held = branch_of(asked, run, f"{number} {' '.join(keys[0][1:])}")
    branch = _upright(ways, branch, run, held, made.lower_m)
    low = ways.at[run.u][1] if not is_store(ways, run.u) else float(branch.a.height_m or 0.0)
    made.pipes.update({x.pipe: (number, x) for x in laid})
    made.slabs.update({h.part: slab_of(asked, h.part) for h in held if ways.has_tag(h.part, "underfloor")})
    floor_at = {h.cell: made.slabs[h.part] for h in held if h.part in made.slabs}
    cells, foot = [], low
    for i, cell in enumerate(branch.cells):
        cell = floor_at[i].cell(cell) if i in floor_at else cell
        cells.append(replace(cell, boil_C=boiling_at(line, foot + 0.5 * cell.rise_m)))
        foot += cell.rise_m
    segments = branch.segments
    elements = [ways.elements[k] for k in keys]
    pumps = [e.part for e in elements if e.does is Behaviour.PUMP]
    ways_moved = [e for e in elements if _moves(ways, e)]
    floors = [h.part for h in held if ways.has_tag(h.part, "underfloor") and ways.value(h.part, "mixing_built_in")]
    if pumps or ways_moved or floors:
        narrow = min(segments, key=lambda s: s.bore_m)
        segments = (*segments, Segment(narrow.bore_m, 0.0, 0.0, narrow.roughness_m))
    made.branches.append(replace(branch, cells=tuple(cells), segments=segments))
    made.runs[number] = run
    made.pumps += [Pumped(p, number, _curve(asked, p)) for p in pumps]
    made.moving += [
        Moving(e.part, e.key[2], e.does, number, max(e.way.loss_k if e.way else 0.0, 1.0)) for e in ways_moved
    ]
    made.at.update({h.part: (number, h.cell) for h in held})
    if floors:
        made.moving.append(Moving(floors[0], FLOOR_SET, Behaviour.THERMAL, number, 5.0))


def _curve(asked: Asked, part: str) -> Pump:
    """The curve of a pump; that of a solar circuit as it is set when it is filled, by the collectors' surface."""
    ways, curve = asked.ways, pump_curve(asked, part)
    water = next((w for w in waters(ways) if part in w.parts), None)
    area = sum(ways.number(s.part, "absorber_m2") or 0.0 for s in water.sources if s.stops == "sun") if water else 0.0
    if area <= 0.0:
        return curve
    flow = area * assumed("collector", "l_h_m2") / 3600.0
    asked.suppose(f"{ways.name(part)} is set to {3600.0 * flow:.0f} l/h")
    return Pump(curve.shutoff_Pa, -curve.shutoff_Pa / (1.05 * flow), 0.0)


def _upright(ways: Waterways, branch: Branch, run: Run, held: list[Held], lower_m: float) -> Branch:
    """The branch with the water above a source's heating surface, inside the source, at the source's own temperature.

    Where water moves that changes nothing; where it stands, the source's own column is warm and helps it start.
    """
    cells = list(branch.cells)
    ahead = {ways.elements[key].part: on for key, on in run.steps if ways.elements[key].does is Behaviour.SOURCE}
    for x in held:
        if x.part not in ahead:
            continue
        source = ways.source_of[x.part]
        rise = ways.at[source.hot][1] - source.height_m
        beside = x.cell + 1 if ahead[x.part] else x.cell - 1
        rise = rise if ahead[x.part] else -rise
        cells[x.cell] = replace(cells[x.cell], rise_m=cells[x.cell].rise_m + rise)
        cells[beside] = replace(cells[beside], rise_m=cells[beside].rise_m - rise)
        if lower_m > 0.0 and source.stops == "fire":
            cells[x.cell - 1] = replace(cells[x.cell - 1], rise_m=cells[x.cell - 1].rise_m - lower_m)
            cells[x.cell + 1] = replace(cells[x.cell + 1], rise_m=cells[x.cell + 1].rise_m + lower_m)
            first, *rest = branch.segments
            branch = replace(branch, segments=(replace(first, length_m=first.length_m + 2.0 * lower_m), *rest))
    return replace(branch, cells=tuple(cells))


def _moves(ways: Waterways, element: Element) -> bool:
    return element.does in (Behaviour.THERMAL, Behaviour.POWERED)


def _add_draw(asked: Asked, made: _Made, run: Run) -> None:
    ways, number = asked.ways, len(made.branches)
    a, b = place_name(asked, run.u), place_name(asked, run.v)
    rise = ways.at[run.v][1] - ways.at[run.u][1]
    made.branches.append(
        Branch(
            f"{number} draw {run.u[1]}", End(a), End(b), (Cell(rise_m=rise, heat_J_K=200.0),), (Segment(0.015, 0.5),)
        )
    )
    made.runs[number] = run
    made.draws.append(Draw(run.u[1], number))


# -- vessels and plates -------------------------------------------------------------------------------------------


def _evolving(asked: Asked, store: Store, layers: tuple[float, ...]) -> Store:
    """The store with layers in motion, and its casing's loss."""
    lagging = asked.ways.number(store.name, "insulation_mm") or 0.0
    tall = store.top_m - store.base_m
    wide = math.sqrt(4.0 * store.volume_m3 / (math.pi * tall))
    surface = math.pi * wide * tall + 0.5 * math.pi * wide**2
    u = assumed("casing", "fittings_factor") / (
        assumed("casing", "film_m2K_W") + lagging / 1000.0 / assumed("casing", "w_mK")
    )
    return replace(store, layers_C=layers, evolving=True, loss_W_K=u * surface, room_C=figure("room", "celsius"))


def _walls(ways: Waterways, made: _Made) -> list[Node]:
    """The metal of plate exchangers, piece by piece, that both their waters touch; and the slabs of warm floors."""
    names = dict.fromkeys(
        c.coil_to.place
        for b in made.branches
        for c in b.cells
        if c.coil_to is not None and c.coil_to.place not in made.stores
    )
    slabs = {slab.node: slab.heat_J_K for slab in made.slabs.values()}
    metal = assumed("plate", "j_per_k")
    return [Node(name, 0.0, slabs.get(name, metal)) for name in names if name not in made.nodes]


def charged(ways: Waterways, charge: Charge) -> Profile:
    """Stores as `Charge` says: at design temperature, or their lower half at what comes back from the house."""

    def profile(part: str, count: int) -> list[float]:
        if ways.kind(part).body not in ("store", "cylinder"):
            return [40.0] * count
        design = ways.number(part, "design_temp_c")
        if design is None:
            raise FigureError(f"{ways.name(part)}: design temperature is missing", where=f"{part}, design_temp_c")
        cold = design if charge is Charge.FULL else min(design, figure("cold_side", "celsius"))
        return [cold if i < count // 2 else design for i in range(count)]

    return profile


__all__ = ["Draw", "Held", "Moving", "Pumped", "Whole", "charged", "whole"]
