"""One run of a drawing as a branch of the flow network: its bores and losses, its heights, its cells.

Owns the walk along a run. Knows nothing of which runs there are nor of how the network is solved.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

from loopwright.catalogue import Behaviour
from loopwright.engineering.drawn_parts import (
    WATER_J_L_K,
    Asked,
    Side,
    emitter_cell,
    figure,
    is_store,
    opening_Pa,
    pump_curve,
    side_name,
    source_cell,
    tubing,
)
from loopwright.engineering.net import Branch, Cell, End, Pump, Segment
from loopwright.engineering.pipes import Tube, heat_loss_W_m, loss_k, tube
from loopwright.engineering.reduction import Run
from loopwright.errors import FigureError
from loopwright.sheet.geometry import bends, developed_length_m
from loopwright.sheet.values import Pipe
from loopwright.waterways.graph import Element, Key, Place, Waterways
from loopwright.waterways.views import BOTH

LEAST_J_K = 200.0  # heat of a stretch with next to no water in it


@dataclass(frozen=True)
class Laid:
    """A pipe of the drawing in the network. `sign`: +1 where its end a comes first along the branch."""

    pipe: str
    branch: str
    sign: int
    cell: int
    bore_m: float
    length_m: float
    k: float
    roughness_m: float


@dataclass(frozen=True)
class Held:
    """A cell that stands for a part: a source or an emitter."""

    part: str
    branch: str
    cell: int


@dataclass
class _Walk:
    """What has been passed so far."""

    name: str = ""
    cells: list[Cell] = field(default_factory=list)
    rise_m: float = 0.0
    heat_J_K: float = 0.0
    loss_W_K: float = 0.0
    stretches: list[tuple[float, float, float, float]] = field(default_factory=list)
    """Bore, length, K, roughness, of pipes and coils in order."""
    fittings: list[tuple[int, float]] = field(default_factory=list)
    """Number of stretches before a fitting, and its K."""
    pumps: list[Pump] = field(default_factory=list)
    opening_Pa: float = 0.0
    laid: list[Laid] = field(default_factory=list)
    held: list[Held] = field(default_factory=list)
    bare: bool = False
    """Whether pipes that state no lagging have none: those of emitters, which run in the rooms they warm."""

    def flush(self) -> None:
        """End the stretch of plain pipe."""
        room = figure("room", "celsius")
        stored = max(self.heat_J_K, LEAST_J_K)
        self.cells.append(Cell(rise_m=self.rise_m, heat_J_K=stored, loss_W_K=self.loss_W_K, room_C=room))
        self.rise_m = self.heat_J_K = self.loss_W_K = 0.0


def place_name(asked: Asked, place: Place) -> str:
    """Name of a place as a joint or store of the network."""
    return place[1] if is_store(asked.ways, place) else " ".join(place[1:])


def height_at(asked: Asked, place: Place, beside: Place) -> float:
    """Height of a place; that of a body is its tapping's, `beside`, held within the body."""
    if place[0] != "body" or not is_store(asked.ways, place):
        return asked.ways.at[place][1]
    base, top = asked.ways.body_range(place[1])
    return min(top, max(base, asked.ways.at[beside][1]))


def branch_of(asked: Asked, run: Run, name: str) -> tuple[Branch, list[Laid], list[Held]]:
    """The branch of an oriented run, and where its pipes and parts lie in it."""
    ways, walk = asked.ways, _Walk(name)
    walk.bare = warms(ways, run)
    for key, ahead in run.steps:
        _pass(asked, walk, ways.elements[key], ahead, name)
    walk.flush()
    one_way = any(ways.elements[k].does is Behaviour.ONE_WAY for k, _ in run.steps)
    pump = None
    if walk.pumps:
        pump = Pump(sum(p.shutoff_Pa for p in walk.pumps), 0.0, sum(p.square for p in walk.pumps))
    firing = any(asked.heats[h.part].watts > 0.0 for h in walk.held if h.part in asked.heats)
    leak = any(ways.has_tag(h.part, "heat_leak") for h in walk.held)
    branch = Branch(
        name, _end(asked, run.u, run.steps[0], True), _end(asked, run.v, run.steps[-1], False), tuple(walk.cells),
        _segments(asked, run, walk), check=one_way and run.flags != BOTH, opening_Pa=walk.opening_Pa, pump=pump,
        should_carry=bool(walk.pumps) or firing or leak,
    )  # fmt: skip
    return branch, walk.laid, walk.held


def _end(asked: Asked, place: Place, step: tuple[Key, bool], first: bool) -> End:
    if not is_store(asked.ways, place):
        return End(place_name(asked, place))
    beside = asked.ways.elements[step[0]].other(place)
    return End(place_name(asked, place), height_at(asked, place, beside))


def _pass(asked: Asked, walk: _Walk, element: Element, ahead: bool, name: str) -> None:
    """Walk through one pipe or way."""
    ways = asked.ways
    start, stop = (element.a, element.b) if ahead else (element.b, element.a)
    low, high = height_at(asked, start, stop), height_at(asked, stop, start)
    if "body" in (start[0], stop[0]):  # water that leaves a vessel also enters one: half of both at each end
        walk.fittings.append((len(walk.stretches), 0.5 * (loss_k("entry") + loss_k("exit"))))
    match element.does:
        case Behaviour.PIPE:
            _pipe(asked, walk, element, ahead, name)
            walk.rise_m += high - low
            return
        case Behaviour.SOURCE:
            source = ways.source_of.get(element.part)
            cell = source_cell(asked, source) if source else None
            if source is not None and cell is not None:
                _split(walk, element.part, name, cell, source.height_m - low, high - source.height_m)
            else:
                walk.rise_m += high - low
        case Behaviour.EMITTER:
            sink = next(s for s in ways.sinks if s.key == element.key)
            _split(walk, element.part, name, emitter_cell(asked, sink), sink.height_m - low, high - sink.height_m)
        case Behaviour.COIL:
            _coil(asked, walk, element, ahead, high - low)
        case Behaviour.PUMP if asked.condition.power and ahead and element.part not in asked.condition.stopped:
            walk.pumps.append(pump_curve(asked, element.part))
            walk.rise_m += high - low
        case Behaviour.PUMP:
            walk.fittings.append((len(walk.stretches), figure("pump_standing", "k")))
            walk.rise_m += high - low
        case _:
            if element.does is Behaviour.ONE_WAY:
                walk.opening_Pa += opening_Pa(asked, element.part, element.way is not None and element.way.gravity_ok)
            walk.rise_m += high - low
    k = joint_k(asked.ways, element)
    if k:
        walk.fittings.append((len(walk.stretches), k))


def _split(walk: _Walk, part: str, name: str, cell: Cell, before_m: float, after_m: float) -> None:
    """A cell with no height of its own at its thermal centre, the heights before and after it in plain pipe."""
    walk.rise_m += before_m
    walk.flush()
    walk.held.append(Held(part, name, len(walk.cells)))
    walk.cells.append(cell)
    walk.rise_m += after_m


def joint_k(ways: Waterways, element: Element) -> float:
    """K of a way: its own, or a tee's share: straight through both arms makes one run, arm and branch one turn."""
    if element.way is None:
        return 0.0
    kind = ways.sheet.parts[element.part].kind
    if kind == "tee":
        arm = 0.5 * loss_k("tee_run")
        return arm if element.way.name in ("left", "right") else loss_k("tee_branch") - arm
    if kind == "cross":
        return 0.5 * loss_k("tee_branch")
    return element.way.loss_k


def pipe_tube(asked: Asked, pipe_id: str) -> Tube:
    """The tube of a pipe; an unlisted or missing size says which pipe."""
    pipe = asked.ways.sheet.pipes[pipe_id]
    try:
        return tube(pipe.size, pipe.material)
    except FigureError as bad:
        raise FigureError(f"Pipe {pipe_id}: {bad.what}", where=f"{pipe_id}, size", do=bad.do) from None


def loss_W_mK(made: Tube, lagging_mm: float) -> float:
    """Heat that a metre of pipe loses for each kelvin above the room, taken at a usual water temperature."""
    warm, room = figure("pipe_loss", "celsius"), figure("room", "celsius")
    return heat_loss_W_m(made, warm, room, lagging_mm) / (warm - room)


def warms(ways: Waterways, run: Run) -> bool:
    """Whether a run has an emitter in it: such pipes lie in the room that it warms."""
    return any(ways.elements[k].does is Behaviour.EMITTER for k, _ in run.steps)


def lagging_mm(pipe: Pipe, bare: bool) -> float:
    """Lagging of a pipe: its own, none where it is `bare` in a warmed room, else what the trade puts on."""
    if pipe.insulation_mm is not None:
        return pipe.insulation_mm
    return 0.0 if bare else figure("pipe_loss", "lagging_mm")


def _lagging_mm(asked: Asked, walk: _Walk, pipe: Pipe) -> float:
    usual = lagging_mm(pipe, walk.bare)
    if usual and pipe.insulation_mm is None:
        asked.suppose(f"Pipes that state no lagging are taken as lagged {usual:g} mm thick, those of emitters as bare")
    return usual


def _pipe(asked: Asked, walk: _Walk, element: Element, ahead: bool, name: str) -> None:
    pipe = asked.ways.pipe(element.key)
    if pipe.joint:
        return
    made = pipe_tube(asked, pipe.id)
    length = developed_length_m(asked.ways.sheet, pipe, asked.ways.catalogue)
    k = bends(asked.ways.sheet, pipe, asked.ways.catalogue) * loss_k("bend")
    walk.stretches.append((made.bore_m, length, k, made.roughness_m))
    walk.heat_J_K += length * (made.litres_per_m * WATER_J_L_K + made.wall_heat_J_mK)
    if asked.lossy:
        walk.loss_W_K += length * loss_W_mK(made, _lagging_mm(asked, walk, pipe))
    walk.laid.append(Laid(pipe.id, name, 1 if ahead else -1, len(walk.cells), made.bore_m, length, k, made.roughness_m))


def _coil(asked: Asked, walk: _Walk, element: Element, ahead: bool, rise_m: float) -> None:
    """A coil of a vessel in pieces, each against the layer it lies in. A plate's or a fire's own coil is plain pipe."""
    ways, part = asked.ways, element.part
    coil = next((c for c in ways.sheet.parts[part].coils if element.key[2] == f"coil {c.name}"), None)
    if coil is None:
        if ways.has_tag(part, "plate") and asked.plates:
            _plate(asked, walk, element, ahead, rise_m)
            return
        side = asked.sides.get((part, element.key[2]))
        if side is not None:
            _facing(asked, walk, element, side, rise_m)
            return
        if ways.has_tag(part, "plate"):
            asked.suppose(f"{ways.name(part)} passes no heat")
        walk.rise_m += rise_m
        return
    made, count = tubing(asked, part, coil), round(figure("coil_pieces", "count"))
    walk.stretches.append((made.bore_m, made.length_m, 0.0, 1.5e-6))
    base, top = ways.body_range(part)
    stored = WATER_J_L_K * (coil.content_l or 0.0) / count
    for i in range(count):
        share = (i + 0.5) / count if ahead else 1.0 - (i + 0.5) / count  # a coil's own way is from its lower end
        height = ways.sheet.parts[part].height_m + coil.bottom_m + share * (coil.top_m - coil.bottom_m)
        walk.rise_m += rise_m / count * (0.5 if i == 0 else 1.0)
        walk.flush()
        walk.cells.append(
            Cell(heat_J_K=stored, coil_W_K=made.ua_W_K / count, coil_to=End(part, min(top, max(base, height))))
        )
    walk.rise_m += rise_m / count * 0.5


def _facing(asked: Asked, walk: _Walk, element: Element, side: Side, rise_m: float) -> None:
    """One side of a plate exchanger against what the other side is known to be."""
    walk.rise_m += 0.5 * rise_m
    walk.flush()
    walk.held.append(Held(element.part, walk.name, len(walk.cells)))
    stored = WATER_J_L_K * (asked.ways.number(element.part, "content_l") or 1.0) / 2.0
    beyond = End(side_name(element.part, element.key[2]), 0.5)
    walk.cells.append(Cell(heat_J_K=stored, coil_W_K=side.ua_W_K, coil_to=beyond))
    walk.rise_m += 0.5 * rise_m


def _plate(asked: Asked, walk: _Walk, element: Element, ahead: bool, rise_m: float) -> None:
    """One side of a plate exchanger in pieces, each against a wall that the other side meets the other way round.

    Each side has twice the conductance of the whole; the two run against each other, in a row of pieces.
    """
    part, count = element.part, round(figure("coil_pieces", "count"))
    ua = asked.number(part, "ua_w_k", "heat passed per degree")
    stored = WATER_J_L_K * (asked.ways.number(part, "content_l") or 1.0) / 2.0 / count
    hot = element.key[2] == "primary"
    for i in range(count):
        piece = i if ahead else count - 1 - i
        piece = piece if hot else count - 1 - piece
        walk.rise_m += rise_m / count * (0.5 if i == 0 else 1.0)
        walk.flush()
        walk.cells.append(
            Cell(heat_J_K=stored, coil_W_K=2.0 * ua / count, coil_to=End(f"wall {piece + 1} of {part}", 0.0))
        )
    walk.rise_m += rise_m / count * 0.5


def _segments(asked: Asked, run: Run, walk: _Walk) -> tuple[Segment, ...]:
    """Stretches of one bore together, each fitting at the smaller bore beside it, a reducer where the bore changes."""
    stretches = walk.stretches or [_borrowed(asked, run)]
    total: dict[tuple[float, float], list[float]] = {}

    def add(bore: float, rough: float, length: float, k: float) -> None:
        held = total.setdefault((bore, rough), [0.0, 0.0])
        held[0] += length
        held[1] += k

    for bore, length, k, rough in stretches:
        add(bore, rough, length, k)
    for before, k in walk.fittings:
        beside = stretches[max(0, before - 1) : before + 1] or stretches[-1:]
        narrow = min(beside, key=lambda s: s[0])
        add(narrow[0], narrow[3], 0.0, k)
    for one, two in pairwise(stretches):
        if abs(one[0] - two[0]) > 1e-6:
            narrow = min(one, two, key=lambda s: s[0])
            add(narrow[0], narrow[3], 0.0, loss_k("reducer"))
    return tuple(Segment(bore, length, k, rough) for (bore, rough), (length, k) in total.items())


def _borrowed(asked: Asked, run: Run) -> tuple[float, float, float, float]:
    """A run within one part has the bore of the widest pipe at that part, and the distance between its ends."""
    ways = asked.ways
    parts = {place[1] for key, _ in run.steps for place in (ways.elements[key].a, ways.elements[key].b)}
    pipes = [p for p in ways.sheet.pipes.values() if {p.a.part, p.b.part} & parts and not p.joint]
    if not pipes:
        raise FigureError(
            f"{', '.join(map(ways.name, sorted(parts)))}: there is no pipe to take a bore from",
            where=", ".join(sorted(parts)),
            do="Pipe it",
        )
    wide = max((pipe_tube(asked, p.id) for p in pipes), key=lambda t: t.bore_m)
    (x0, z0), (x1, z1) = ways.at[run.u], ways.at[run.v]
    return wide.bore_m, max(0.05, ((x1 - x0) ** 2 + (z1 - z0) ** 2) ** 0.5), 0.0, wide.roughness_m
