"""The drawing read as water: a simple graph of places and elements.

Every pipe and every way is a node of degree two between two places, so that a condition is a filter on nodes, a cut is
a set of valves, and parallel ways stay apart. Owns the graph and the facts of its parts. Knows no rules and no pixels.
"""

from __future__ import annotations

from collections.abc import Mapping, Set
from copy import copy
from functools import cached_property
from typing import TYPE_CHECKING

import msgspec

from loopwright.catalogue import Behaviour, Catalogue, Kind, WaySpec
from loopwright.sheet.ports import Port, inner_place, number, ports_of, size_of, value
from loopwright.sheet.values import Coil, Part, Pipe, Point, PropValue, Sheet
from loopwright.waterways.keeping import kept

if TYPE_CHECKING:
    import networkx as nx

    from loopwright.waterways.skeleton import Skeleton

Place = tuple[str, ...]
"""("port", part, name), ("inner", part, name) or ("body", part)."""
Key = tuple[str, ...]
"""("way", part, name) or ("pipe", id)."""

PARTING = frozenset({Behaviour.RELIEF, Behaviour.AIR_GAP, Behaviour.GUARD, Behaviour.SEAL})
"""What parts two waters."""


class Element(msgspec.Struct, frozen=True):
    """A pipe or a way between two places. a -> b is its own direction."""

    key: Key
    does: Behaviour
    a: Place
    b: Place
    part: str = ""
    pipe: str = ""
    way: WaySpec | None = None

    @property
    def id(self) -> str:
        """The part or the pipe that it is, or is a way of."""
        return self.key[1]

    @property
    def port(self) -> Place:
        """The end of a way that is a port: of one between a port and a body, where a pipe comes to it."""
        return self.a if self.a[0] == "port" else self.b

    def other(self, place: Place) -> Place:
        """The place at the other end."""
        return self.b if place == self.a else self.a


class Source(msgspec.Struct, frozen=True):
    """A heat source: its element, its two plenums and its ports."""

    part: str
    stops: str
    """What ends its heat: “fire” nothing does, “residual” its switch but for some heat left over, “switched”, “sun”."""
    key: Key
    hot: Place
    cold: Place
    flow_ports: tuple[Place, ...]
    return_ports: tuple[Place, ...]
    height_m: float
    """Thermal centre, or the middle of its waterway."""

    @property
    def stays_hot(self) -> bool:
        """Whether it gives heat when nothing wants any: a fire, or one with heat left over once it is stopped."""
        return self.stops in ("fire", "residual")


class Sink(msgspec.Struct, frozen=True):
    """What takes heat. `ends` are its two places; a body has one."""

    part: str
    sort: str
    """“emitter”, “coil” of a vessel, “plate” (a side of an exchanger), or “body” of a store or cylinder."""
    key: Key
    ends: tuple[Place, ...]
    height_m: float
    coil: Coil | None = None


class Beyond(msgspec.Struct, frozen=True):
    """What the waterways of one system must know of the rest of its sheet."""

    links: bool = False
    """Whether the sheet shows control links at all."""
    unnamed: frozenset[str] = frozenset()
    """Kinds of large parts without a name that stand in this system and in another."""


class Waterways:
    """The graph of water of one sheet, or of one system of it. Everything derived is cached; a sheet never changes."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue, beyond: Beyond | None = None) -> None:
        self.sheet, self.catalogue = sheet, catalogue
        self.beyond = beyond or Beyond(links=bool(sheet.links))
        self.elements: dict[Key, Element] = {}
        self.at: dict[Place, Point] = {}
        self.ports: dict[str, Mapping[str, Port]] = {}
        self.cache: dict[object, object] = {}
        self.kinds: dict[str, Kind] = {part.id: catalogue[part.kind] for part in sheet.parts.values()}
        for part in sheet.parts.values():
            self._add_part(part)
        for pipe in sheet.pipes.values():
            ends = ("port", *pipe.a_key), ("port", *pipe.b_key)
            self._add(Element(("pipe", pipe.id), Behaviour.PIPE, *ends, pipe=pipe.id))
        self.links: dict[Place, list[Element]] = {place: [] for place in self.at}
        for element in self.elements.values():
            self.links[element.a].append(element)
            if element.b != element.a:
                self.links[element.b].append(element)

    def under(self, sheet: Sheet) -> Waterways:
        """These waterways for a sheet that differs from theirs in nothing the water knows; what is kept is shared."""
        twin = copy(self)
        twin.sheet = sheet
        return twin

    def _add(self, element: Element) -> None:
        self.elements[element.key] = element

    def _add_part(self, part: Part) -> None:
        kind = self.catalogue[part.kind]
        ports = self.ports[part.id] = ports_of(part, self.catalogue)
        for port in ports.values():
            self.at["port", part.id, port.name] = port.at
        for name in kind.inner:
            self.at["inner", part.id, name] = inner_place(part, kind, name)
        body: Place = ("body", part.id)
        if kind.body:
            self.at[body] = (part.x_m, part.height_m + size_of(part, kind)[1] / 2)

        def place(name: str) -> Place:
            if name == "body":
                return body
            return ("inner" if name in kind.inner else "port", part.id, name)

        for way in kind.ways:
            self._add(Element(("way", part.id, way.name), way.does, place(way.a), place(way.b), part.id, way=way))
        coil_ends = {letter for coil in part.coils for letter in (coil.lower, coil.upper)}
        if kind.body:
            for tap in part.tappings:
                if tap.letter in ports and tap.letter not in coil_ends:
                    key: Key = ("way", part.id, f"tapping {tap.letter}")
                    self._add(Element(key, Behaviour.FREE, ("port", part.id, tap.letter), body, part.id))
            for coil in part.coils:
                if coil.lower in ports and coil.upper in ports:
                    key, lower, upper = ("way", part.id, f"coil {coil.name}"), coil.lower, coil.upper
                    ends: tuple[Place, Place] = ("port", part.id, lower), ("port", part.id, upper)
                    self._add(Element(key, Behaviour.COIL, *ends, part.id))

    @cached_property
    def moves(self) -> dict[Place, tuple[tuple[Key, Place, int], ...]]:
        """Per place: each element there, where it leads, and the bit of its passing flag for going that way."""
        return {
            place: tuple((e.key, e.b, 1) if e.a == place else (e.key, e.a, 2) for e in links)
            for place, links in self.links.items()
        }

    @cached_property
    def by_part(self) -> dict[str, list[Element]]:
        """The ways of each part that has any, in the order of its kind."""
        out: dict[str, list[Element]] = {}
        for element in self.elements.values():
            if element.part:
                out.setdefault(element.part, []).append(element)
        return out

    @cached_property
    def _order(self) -> dict[Key, int]:
        return {key: number for number, key in enumerate(self.elements)}

    def between(self, places: Set[Place]) -> list[Element]:
        """Elements with both ends among some places, in the order of the sheet."""
        found = {e.key: e for p in places for e in self.links[p] if e.a in places and e.b in places}
        return [found[key] for key in sorted(found, key=self._order.__getitem__)]

    @kept
    def doing(self, *sorts: Behaviour) -> tuple[Element, ...]:
        """Elements of the given behaviours, in the order of the sheet."""
        return tuple(e for e in self.elements.values() if e.does in sorts)

    @kept
    def keys_doing(self, *sorts: Behaviour) -> frozenset[Key]:
        """Keys of the elements of the given behaviours."""
        return frozenset(e.key for e in self.doing(*sorts))

    # -- the networkx graph -------------------------------------------------------------------------------------

    @cached_property
    def graph(self) -> nx.Graph:
        """The frozen graph; nodes carry `element` (element nodes) or `at` (place nodes)."""
        import networkx as nx  # heavy, and no window needs it before its first check

        graph: nx.Graph = nx.Graph()
        graph.add_nodes_from((place, {"at": at}) for place, at in self.at.items())
        for element in self.elements.values():
            graph.add_node(element.key, element=element)
            graph.add_edge(element.a, element.key)
            graph.add_edge(element.key, element.b)
        return nx.freeze(graph)

    @cached_property
    def skeleton(self) -> Skeleton:
        """Series runs merged into chains."""
        from loopwright.waterways.skeleton import Skeleton

        return Skeleton(self)

    # -- facts of parts -----------------------------------------------------------------------------------------

    def kind(self, part_id: str) -> Kind:
        """The kind of a part."""
        return self.kinds[part_id]

    def value(self, part_id: str, name: str) -> PropValue:
        """A property as typed, else its default, else None."""
        return value(self.sheet.parts[part_id], self.kinds[part_id], name)

    def number(self, part_id: str, name: str) -> float | None:
        """A numeric property, or None when it is not known."""
        return number(self.sheet.parts[part_id], self.kinds[part_id], name)

    def typed(self, part_id: str, name: str) -> bool:
        """Whether a person gave the property (a default may never make a danger)."""
        return name in self.sheet.parts[part_id].props

    @kept
    def tagged(self, *tags: str) -> tuple[Part, ...]:
        """Parts whose kind has any of the tags, in the order of the sheet."""
        return tuple(p for p in self.sheet.parts.values() if not set(tags).isdisjoint(self.kinds[p.id].tags))

    def has_tag(self, part_id: str, tag: str) -> bool:
        """Whether the part's kind has the tag; a pipe, with no part, has none."""
        return bool(part_id) and tag in self.kinds[part_id].tags

    def name(self, part_id: str) -> str:
        """What people call a part: its name, else its id."""
        part = self.sheet.parts.get(part_id)
        return (part.name or part.id) if part else part_id

    def coil_of(self, element: Element) -> Coil | None:
        """The coil of a vessel that an element is the tube of; None for any other way."""
        coils = self.sheet.parts[element.part].coils if element.part else ()
        return next((coil for coil in coils if element.key[2] == f"coil {coil.name}"), None)

    def pipe(self, key: Key) -> Pipe:
        """The pipe of a pipe element."""
        return self.sheet.pipes[key[1]]

    @cached_property
    def _body_roles(self) -> tuple[tuple[Place, str], ...]:
        return tuple((("body", part_id), kind.body) for part_id, kind in self.kinds.items() if kind.body)

    def bodies(self, *roles: str) -> list[Place]:
        """Bodies of the given roles, all when none is given."""
        return [place for place, role in self._body_roles if not roles or role in roles]

    def body_range(self, part_id: str) -> tuple[float, float]:
        """Base and top of a body on the sheet, in metres."""
        part = self.sheet.parts[part_id]
        return part.height_m, part.height_m + size_of(part, self.kinds[part_id])[1]

    def share(self, part_id: str, height_m: float) -> float:
        """A sheet height as a share of the body's height (0 base, 1 top)."""
        base, top = self.body_range(part_id)
        return (height_m - base) / (top - base)

    # -- sources and sinks --------------------------------------------------------------------------------------

    @cached_property
    def sources(self) -> tuple[Source, ...]:
        """Every heat source with a water side, immersions excepted."""
        out = []
        for part in self.sheet.parts.values():
            kind = self.catalogue[part.kind]
            if kind.source is None or "immersion" in kind.tags:
                continue
            hot: Place = ("inner", part.id, kind.source.hot)
            cold: Place = ("inner", part.id, kind.source.cold)
            key = next(e.key for e in self.by_part[part.id] if e.does is Behaviour.SOURCE)
            flows, returns = (
                tuple(("port", part.id, p.name) for p in kind.ports if p.role in roles)
                for roles in (("source_flow", "solar_flow"), ("source_return", "solar_return"))
            )
            centre = self.number(part.id, "thermal_centre_m")
            middle = (self.at[hot][1] + self.at[cold][1]) / 2
            stops = str(self.value(part.id, "stops") or kind.source.stops)
            height = part.height_m + centre if centre is not None else middle
            out.append(Source(part.id, stops, key, hot, cold, flows, returns, height))
        return tuple(out)

    @property
    def fires(self) -> tuple[Source, ...]:
        """Sources that cannot be switched off."""
        return tuple(s for s in self.sources if s.stops == "fire")

    @cached_property
    def sinks(self) -> tuple[Sink, ...]:
        """Emitters, coils of vessels, plate sides, and store and cylinder bodies."""
        out = []
        for element in self.elements.values():
            if element.does is Behaviour.EMITTER:
                base, top = self.body_range(element.part)
                out.append(Sink(element.part, "emitter", element.key, (element.a, element.b), (base + top) / 2))
            elif element.does is Behaviour.COIL:
                part = self.sheet.parts[element.part]
                kind = self.catalogue[part.kind]
                if kind.source is not None:
                    continue  # a cooling coil of the source itself
                coil, ends = self.coil_of(element), (element.a, element.b)
                if coil:
                    height = part.height_m + (coil.bottom_m + coil.top_m) / 2
                    out.append(Sink(part.id, "coil", element.key, ends, height, coil))
                else:
                    height = (self.at[element.a][1] + self.at[element.b][1]) / 2
                    out.append(Sink(part.id, "plate", element.key, ends, height))
        for body in self.bodies("store", "cylinder"):
            base, top = self.body_range(body[1])
            out.append(Sink(body[1], "body", body, (body,), (base + top) / 2))
        return tuple(out)

    @cached_property
    def source_of(self) -> dict[str, Source]:
        """Source by part id."""
        return {s.part: s for s in self.sources}
