"""A flow network as plain frozen values: branches, joints, stores, and the water line that sets the boiling point.

Owns the description and its sanity. Knows nothing of drawings (another module builds it) nor of how it is solved.
Heights are metres in one frame for the whole net; flow counts from end `a` to end `b`.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from loopwright.engineering.fluid import WATER, Fluid
from loopwright.engineering.water import ATMOSPHERE_PA
from loopwright.errors import FigureError

HEIGHT_TOLERANCE_M = 1e-6
COLDEST_C, HOTTEST_C = 0.0, 150.0  # of water that is held: what its properties are known for
LEAST_RESISTANCE = 1e-6  # lengths over bore and coefficients of a way: less is none


@dataclass(frozen=True)
class Segment:
    """A run of one bore with the fittings that belong to it."""

    bore_m: float
    length_m: float
    k: float = 0.0
    roughness_m: float = 1.5e-6


@dataclass(frozen=True)
class Cell:
    """A stretch of a branch at one temperature, its own outlet's.

    `rise_m` from the a side to the b side. `heat_J_K` water and metal. An emitter gives `emitter_W` at
    `emitter_dT_K`; a coil hands `coil_W_K` to the layer of `coil_to`. `boil_C` overrides the water line's.
    """

    rise_m: float = 0.0
    heat_J_K: float = 2000.0
    source_W: float = 0.0
    loss_W_K: float = 0.0
    room_C: float = 20.0
    emitter_W: float = 0.0
    emitter_n: float = 1.3
    emitter_dT_K: float = 50.0
    coil_W_K: float = 0.0
    coil_to: End | None = None
    boil_C: float | None = None

    @property
    def plain(self) -> bool:
        """Whether it is a stretch of pipe and nothing more."""
        return self.source_W == 0.0 and self.emitter_W == 0.0 and self.coil_W_K == 0.0


@dataclass(frozen=True)
class End:
    """Where a branch ends: a joint by its name, or a store by its name and the tapping's height."""

    place: str
    height_m: float | None = None


@dataclass(frozen=True)
class Pump:
    """Head of a running pump, Pa: `shutoff_Pa + linear m + square m |m|`, m in kg/s; the last two not positive."""

    shutoff_Pa: float
    linear: float = 0.0
    square: float = 0.0


@dataclass(frozen=True)
class Branch:
    """A chain of pipe and elements between two ends; `cells` and `segments` in order from a to b."""

    name: str
    a: End
    b: End
    cells: tuple[Cell, ...]
    segments: tuple[Segment, ...]
    check: bool = False
    opening_Pa: float = 0.0
    pump: Pump | None = None
    should_carry: bool = False

    @property
    def source_W(self) -> float:
        """Heat that its cells are given, W."""
        return sum(cell.source_W for cell in self.cells)

    @property
    def rise_m(self) -> float:
        """How much higher end b lies than end a, m."""
        return sum(cell.rise_m for cell in self.cells)

    def with_source(self, power_W: float) -> Branch:
        """The same branch with its sources scaled to `power_W` in all (on the middle cell if it had none)."""
        now = self.source_W
        if now > 0.0:
            return replace(self, cells=tuple(replace(c, source_W=c.source_W * power_W / now) for c in self.cells))
        middle = len(self.cells) // 2
        return replace(
            self,
            cells=tuple(replace(c, source_W=power_W) if i == middle else c for i, c in enumerate(self.cells)),
        )

    def finer(self, pieces: int) -> Branch:
        """The same branch with its plain stretches in so many cells each; elements stay whole."""
        cells: list[Cell] = []
        for cell in self.cells:
            if cell.plain:
                part = replace(
                    cell,
                    rise_m=cell.rise_m / pieces,
                    heat_J_K=cell.heat_J_K / pieces,
                    loss_W_K=cell.loss_W_K / pieces,
                )
                cells += [part] * pieces
            else:
                cells.append(cell)
        return replace(self, cells=tuple(cells))

    def reversed(self) -> Branch:
        """The same water with a and b exchanged. Refused for a pump or a check, which have a direction."""
        if self.pump or self.check:
            raise FigureError("A branch with a pump or a check valve has a direction", where=self.name)
        cells = tuple(replace(c, rise_m=-c.rise_m) for c in reversed(self.cells))
        return replace(self, a=self.b, b=self.a, cells=cells, segments=tuple(reversed(self.segments)))


@dataclass(frozen=True)
class Node:
    """A joint: its height, the heat of its water and metal, and a fixed temperature if something holds it."""

    name: str
    height_m: float
    heat_J_K: float = 400.0
    source_W: float = 0.0
    fixed_C: float | None = None


@dataclass(frozen=True)
class Store:
    """A store: one water column of equal layers, bottom to top. Fixed layers for a steady answer, or evolving."""

    name: str
    base_m: float
    top_m: float
    volume_m3: float
    layers_C: tuple[float, ...]
    evolving: bool = False
    loss_W_K: float = 0.0
    room_C: float = 20.0
    source_W: tuple[float, ...] = ()

    def layer_at(self, height_m: float) -> int:
        """Index of the layer at a height, the upper of two at their boundary, ends included."""
        count = len(self.layers_C)
        share = (height_m - self.base_m) / (self.top_m - self.base_m)
        return min(count - 1, max(0, math.floor(share * count + 1e-9)))


@dataclass(frozen=True)
class WaterLine:
    """Where the absolute pressure of still water is known: an open cistern's line, or a charge at a height."""

    height_m: float
    pressure_Pa: float = ATMOSPHERE_PA


@dataclass(frozen=True)
class Net:
    """The whole network. `room_C` is the temperature of everything before the fire is lit, `fluid` what fills it."""

    branches: tuple[Branch, ...]
    nodes: tuple[Node, ...] = ()
    stores: tuple[Store, ...] = ()
    line: WaterLine = field(default_factory=lambda: WaterLine(10.0))
    room_C: float = 20.0
    fluid: Fluid = WATER

    def __post_init__(self) -> None:
        _check_net(self)

    def height_of(self, end: End) -> float:
        """Height of an end, m."""
        for node in self.nodes:
            if node.name == end.place:
                return node.height_m
        if end.height_m is None:
            raise FigureError("An end at a store needs the height of its tapping", where=end.place)
        return end.height_m

    def finer(self, pieces: int = 3) -> Net:
        """The same network with every stretch of plain pipe in so many cells."""
        return replace(self, branches=tuple(b.finer(pieces) for b in self.branches))

    def with_branch(self, branch: Branch) -> Net:
        """The same net with the branch of that name exchanged."""
        return replace(self, branches=tuple(branch if b.name == branch.name else b for b in self.branches))


def _refuse(what: str, where: str, do: str = "") -> None:
    raise FigureError(what, where=where, do=do)


def _figures(of: object, where: str) -> None:
    """Refuse what is no number, or without end, among the figures of a value."""
    for name, x in vars(of).items():
        if isinstance(x, float):
            if not math.isfinite(x):
                _refuse(f"A figure is missing or has no end ({name})", where)
        elif isinstance(x, tuple) and x and isinstance(x[0], float) and not all(map(math.isfinite, x)):
            _refuse(f"A figure is missing or has no end ({name})", where)


def _liquid(t_C: float | None) -> bool:
    return t_C is None or COLDEST_C <= t_C <= HOTTEST_C


def _check_net(net: Net) -> None:
    names = [n.name for n in net.nodes] + [s.name for s in net.stores]
    if len(set(names)) != len(names) or len({b.name for b in net.branches}) != len(net.branches):
        _refuse("Two joints, stores or branches of a network carry one name", "flow network")
    if not net.branches:
        _refuse("There is no water way to compute", "flow network")
    _figures(net, "flow network")
    _figures(net.line, "water line")
    if net.line.pressure_Pa <= 0.0 or net.room_C > HOTTEST_C:
        _refuse("Water stands under pressure above nil, and is filled at 150 °C at most", "flow network")
    for x in net.nodes:
        _figures(x, x.name)
        if x.heat_J_K < 0.0 or not _liquid(x.fixed_C):
            _refuse("A joint holds no less heat than nil, and water within 0 and 150 °C", x.name)
    stores = {s.name: s for s in net.stores}
    for s in net.stores:
        _figures(s, s.name)
        if not (s.layers_C and s.top_m > s.base_m and s.volume_m3 > 0.0 and s.loss_W_K >= 0.0):
            _refuse("A store needs layers, a height and a volume, and no loss below nil", s.name)
        if s.source_W and len(s.source_W) != len(s.layers_C):
            _refuse("A store's sources must be given for every layer", s.name)
        if not all(map(_liquid, s.layers_C)):
            _refuse("A store holds water within 0 and 150 °C", s.name)
    for b in net.branches:
        if not b.cells or not b.segments:
            _refuse("A branch needs at least one cell and one length of pipe", b.name)
        for part in (b, *b.segments, *b.cells, *((b.pump,) if b.pump else ())):
            _figures(part, b.name)
        for p in b.segments:
            if not (p.bore_m > 0.0 and p.length_m >= 0.0 and p.k >= 0.0 and 0 <= p.roughness_m <= 0.05 * p.bore_m):
                _refuse("A pipe needs a bore, and neither length nor loss below nil", b.name)
        if b.pump and (b.pump.shutoff_Pa < 0.0 or b.pump.linear > 0.0 or b.pump.square > 0.0):
            _refuse("A pump curve must fall with flow", b.name, "Flatten the part that rises near shut-off")
        if b.opening_Pa < 0.0:
            _refuse("A check valve opens at no pressure below nil", b.name)
        for c in b.cells:
            if min(c.heat_J_K, c.emitter_W, c.loss_W_K, c.coil_W_K) < 0.0:
                _refuse("A cell has a figure that is missing or below nil", b.name)
            if c.emitter_W > 0.0 and not (c.emitter_dT_K > 0.0 and c.emitter_n >= 0.0):
                _refuse(
                    "An emitter needs a temperature difference above nil, and an exponent that is none below", b.name
                )
            if c.coil_W_K > 0.0 and c.coil_to is None:
                _refuse("A coil must say which store it lies in", b.name)
        ends = [b.a, b.b] + [c.coil_to for c in b.cells if c.coil_to is not None]
        for end in ends:
            if end.place not in names:
                _refuse(f"The end “{end.place}” is not a joint or store of the network", b.name)
            if end.place in stores:
                s, h = stores[end.place], net.height_of(end)
                if not s.base_m - HEIGHT_TOLERANCE_M <= h <= s.top_m + HEIGHT_TOLERANCE_M:
                    _refuse(f"A tapping at {h:g} m lies outside its store", b.name)
        gap = net.height_of(b.b) - net.height_of(b.a) - b.rise_m
        if not abs(gap) <= HEIGHT_TOLERANCE_M:
            _refuse(f"The rises of a branch miss the height between its ends by {gap:.4f} m", b.name)
    _check_rings(net, names)


def _check_rings(net: Net, names: list[str]) -> None:
    """Refuse a ring in which nothing resists: no flow round it is more right than another."""
    leads = {name: name for name in names}

    def root(name: str) -> str:
        while leads[name] != name:
            leads[name] = name = leads[leads[name]]
        return name

    for b in net.branches:
        falls = b.pump is not None and b.pump.linear < 0.0  # the square alone is flat at rest
        if falls or sum(p.length_m / p.bore_m + p.k for p in b.segments) > LEAST_RESISTANCE:
            continue
        first, second = root(b.a.place), root(b.b.place)
        if first == second:
            _refuse(
                "Nothing resists the flow round a ring of pipes", b.name, "Give one of its pipes a length or a fitting"
            )
        leads[first] = second
