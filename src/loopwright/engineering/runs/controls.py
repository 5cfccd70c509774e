"""Controls as linked on the sheet: what each senses, when it switches, and what that means for what it drives.

Owns sensors, switching differences and how several links on one thing go together. Knows nothing of flow. Links that
run something (above, below, on a difference) are alternatives: any of them runs it. A programmer allows, a link that
stops or shuts forbids. Without power nothing runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from loopwright.engineering.network import State
from loopwright.engineering.runs.whole import Whole
from loopwright.sheet.values import ControlLink
from loopwright.waterways.graph import Place, Waterways

RUNS = ("runs_above", "runs_below", "difference", "opens_above")
FORBIDS = ("stops_above", "shuts_above")
FLUE_C = 180.0  # a flue pipe over a fire, well above any setting; cold it has the room's temperature
USUAL_HYSTERESIS_K = 5.0


@dataclass(frozen=True)
class Now:
    """What sensors feel: the network's state, rooms by emitter, fires that burn."""

    state: State
    rooms: Mapping[str, float]
    burning: frozenset[str]


Sense = Callable[[Now], float]


@dataclass
class Switch:
    """A link with its memory."""

    link: ControlLink
    sense: Sense | None
    second: Sense | None
    on_at: float
    off_at: float
    on: bool = False
    felt: float = 0.0
    """What it felt when it last looked, degC or K."""

    def _feel(self, sense: Sense, now: Now) -> float:
        return sense(now) - (self.second(now) if self.second is not None else 0.0)

    def look(self, now: Now) -> None:
        """Switch on or off by what is felt now."""
        if self.sense is None:
            return
        felt = self.felt = self._feel(self.sense, now)
        rising = self.link.does != "runs_below"
        if self.on:
            past = felt < self.off_at if rising else felt > self.off_at
            if past and not (self.link.manual_reset and self.link.does in FORBIDS):
                self.on = False
        elif felt > self.on_at if rising else felt < self.on_at:
            self.on = True

    def passed(self, now: Now) -> float | None:
        """Where between the last look and now it would switch, as a share of the time, by a straight line."""
        if self.sense is None or (self.on and self.link.manual_reset and self.link.does in FORBIDS):
            return None
        rising = (self.link.does != "runs_below") != self.on
        return share_passed(self.felt, self._feel(self.sense, now), self.off_at if self.on else self.on_at, rising)


def share_passed(was: float, now: float, at: float, rising: bool) -> float | None:
    """Where a straight line from `was` to `now` passes `at` in the sense asked, as a share; None if it does not."""
    if (now <= at or was > at) if rising else (now >= at or was < at):
        return None
    return (at - was) / (now - was)


class Controls:
    """All links of a sheet."""

    def __init__(self, whole: Whole) -> None:
        self.switches: dict[str, list[Switch]] = {}
        self.timed: dict[str, list[ControlLink]] = {}
        self.notes: list[str] = []
        for link in whole.ways.sheet.links.values():
            device = whole.ways.sheet.parts.get(link.sensor)
            if link.does == "schedule" or (device is not None and device.kind == "programmer"):
                self.timed.setdefault(link.target, []).append(link)
                continue
            made = switch_of(whole, link)
            if made.sense is None:
                self.notes.append(f"Link {link.id} is left out: where its sensor sits cannot be told from the drawing")
                continue
            self.switches.setdefault(link.target, []).append(made)

    def look(self, now: Now) -> None:
        """Let every link switch."""
        for switches in self.switches.values():
            for switch in switches:
                switch.look(now)

    def passed(self, now: Now) -> list[float]:
        """Where between the last look and now links would switch, as shares of the time between."""
        found = (s.passed(now) for switches in self.switches.values() for s in switches)
        return [share for share in found if share is not None]

    def wants(self, target: str, clock: bool, otherwise: bool = True) -> bool:
        """Whether a target should run (or stand open). `clock`: what a programmer says; `otherwise`: with no link."""
        switches = self.switches.get(target, ())
        if target in self.timed and not clock:
            return False
        if any(s.on for s in switches if s.link.does in FORBIDS):
            return False
        runs = [s for s in switches if s.link.does in RUNS]
        if not runs:
            return otherwise or bool(switches) or target in self.timed
        return any(s.on for s in runs)

    def linked(self, target: str) -> bool:
        """Whether anything drives it."""
        return target in self.switches or target in self.timed


def switch_of(whole: Whole, link: ControlLink) -> Switch:
    """A link with its settings: its own, else its device's, else usual ones."""
    ways = whole.ways
    device = link.sensor.partition("/")[0]

    def of(name: str) -> float | None:
        return ways.number(device, name) if device in ways.sheet.parts and ways.has_tag(device, "sensor") else None

    second = None
    if link.does == "difference":
        on = link.setting_c if link.setting_c is not None else 8.0
        off = link.off_c if link.off_c is not None else min(4.0, 0.5 * on)
        second = sense_of(whole, link.second, link.target)
        first = sense_of(whole, link.sensor, link.target)
        return Switch(link, first if second is not None else None, second, on, off)
    setting = link.setting_c if link.setting_c is not None else of("setting_c")
    setting = 60.0 if setting is None else setting
    wide = link.hysteresis_k if link.hysteresis_k is not None else of("hysteresis_k")
    wide = USUAL_HYSTERESIS_K if wide is None else wide
    if link.does == "runs_below":
        on, off = (setting - wide, setting) if link.off_c is None else (setting, link.off_c)
    else:
        on, off = setting, setting - wide if link.off_c is None else link.off_c
    return Switch(link, sense_of(whole, link.sensor, link.target), None, on, off)


# -- where sensors sit --------------------------------------------------------------------------------------------


def sense_of(whole: Whole, sensor: str, target: str) -> Sense | None:
    """What a sensor feels, or None where the drawing does not tell.

    A pocket feels its layer, a source its own water, a pipe thermostat the nearest pipe, a flue thermostat the nearest
    fire, a room thermostat the rooms of what it drives, any other device the nearest vessel.
    """
    ways = whole.ways
    part, _, pocket = sensor.partition("/")
    if pocket:
        tapping = ways.sheet.parts[part].tapping(pocket) if part in ways.sheet.parts else None
        if tapping is None or part not in whole.layers:
            return None
        return _layer(whole, part, ways.sheet.parts[part].height_m + tapping.height_m)
    if part in whole.at:
        b, k = whole.at[part]
        return lambda now: float(now.state.T[b, k])
    if part not in ways.sheet.parts:
        return None
    if part in whole.layers:
        base, top = ways.body_range(part)
        return _layer(whole, part, 0.5 * (base + top))
    kind = ways.sheet.parts[part].kind
    if kind == "room_thermostat":
        rooms = rooms_served(whole, target)
        return (lambda now: _mean(now.rooms, rooms)) if rooms else None
    if kind == "flue_thermostat":
        fires = sorted(ways.fires, key=lambda f: _far(ways, part, f.hot))
        name = fires[0].part if fires else ""
        return (lambda now: FLUE_C if name in now.burning else 20.0) if fires else None
    if kind == "pipe_thermostat" or (kind == "temperature_sensor" and not whole.layers):
        return _nearest_pipe(whole, part)
    return _nearest_vessel(whole, part)


def _mean(rooms: Mapping[str, float], names: tuple[str, ...]) -> float:
    air = [rooms[r] for r in names if r in rooms]
    return sum(air) / len(air) if air else 20.0


def _layer(whole: Whole, store: str, height_m: float) -> Sense:
    node = whole.layer_at(store, height_m)
    return lambda now: float(now.state.N[node])


def _far(ways: Waterways, part: str, place: Place) -> float:
    here, (x, z) = ways.sheet.parts[part], ways.at[place]
    return (here.x_m - x) ** 2 + (here.height_m - z) ** 2


def _nearest_vessel(whole: Whole, part: str) -> Sense | None:
    here = whole.ways.sheet.parts[part]
    if not whole.layers:
        return None
    store = min(whole.layers, key=lambda name: abs(whole.ways.sheet.parts[name].x_m - here.x_m))
    return _layer(whole, store, here.height_m)


def _nearest_pipe(whole: Whole, part: str) -> Sense | None:
    from shapely.geometry import LineString, Point  # heavy, and only a sensor on a pipe needs it

    here = whole.ways.sheet.parts[part]
    at, best = Point(here.x_m, here.height_m), None
    for pipe_id, (branch, laid) in whole.pipes.items():
        pipe = whole.ways.sheet.pipes[pipe_id]
        line = LineString([whole.ways.at["port", *pipe.a_key], *pipe.points, whole.ways.at["port", *pipe.b_key]])
        far = line.distance(at)
        if best is None or far < best[0]:
            best = (far, branch, laid.cell)
    if best is None:
        return None
    _, b, k = best
    return lambda now: float(now.state.T[b, k])


def rooms_served(whole: Whole, target: str) -> tuple[str, ...]:
    """Emitters in the same circuit as a part: joined to it by water without passing a vessel or a source."""
    import networkx as nx  # heavy, and only a room thermostat needs it

    ends = {i: (run.u, run.v) for i, run in whole.runs.items()}
    part_of = {i: {whole.ways.elements[k].part for k, _ in run.steps} for i, run in whole.runs.items()}
    sources = {s.part for s in whole.ways.sources}
    graph: nx.Graph = nx.Graph()
    for i, (u, v) in ends.items():
        if part_of[i] & sources:
            continue
        graph.add_node(i)
        for place in (u, v):
            if place[0] != "body":
                graph.add_edge(i, place)
    mine = {i for i, parts in part_of.items() if target in parts}
    reach: set[object] = set()
    for i in mine & set(graph):
        reach |= nx.node_connected_component(graph, i)
    emitters = {s.part for s in whole.ways.sinks if s.sort == "emitter"}
    return tuple(p for p, (b, _) in whole.at.items() if b in reach | mine and p in emitters)
