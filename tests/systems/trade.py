"""A plain reading of a sheet, as a fitter would trace it with a finger: what joins what, and what still does when
something stands in a pipe.

Written apart from the program's own waterways, on networkx alone, so that a test never asks the program what the
program ought to say. Owns no judgement: `reasons` has that. That two edges lie on one simple cycle if and only if they
share a biconnected component is textbook graph theory (Hopcroft and Tarjan 1973).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import cached_property

import networkx as nx

from loopwright.catalogue import Behaviour, standard_catalogue
from loopwright.sheet.ports import number, ports_of, value
from loopwright.sheet.values import Part, Sheet

CATALOGUE = standard_catalogue()
Node = tuple[str, ...]
Passes = Callable[["Link"], int]
ALWAYS = (Behaviour.PIPE, Behaviour.FREE, Behaviour.SOURCE, Behaviour.EMITTER, Behaviour.COIL)
SHUT, FORWARD, BOTH = 0, 1, 3


class Link:
    """A pipe or a way: its two ends, what it does, and the part or pipe it belongs to."""

    def __init__(self, owner: str, name: str, a: Node, b: Node, does: Behaviour, flap: bool = False) -> None:
        self.node: Node = ("link", owner, name)
        self.owner, self.a, self.b, self.does, self.flap = owner, a, b, does, flap


def open_to_all(link: Link) -> int:
    """Every valve open; seats, gaps and diaphragms shut."""
    parting = (Behaviour.RELIEF, Behaviour.AIR_GAP, Behaviour.GUARD, Behaviour.SEAL)
    return SHUT if link.does in parting else BOTH


def never_shuts(link: Link) -> int:
    """What nobody and nothing can shut."""
    return BOTH if link.does in ALWAYS else SHUT


def refills(link: Link) -> int:
    """What cold water passes by its own weight: whatever never shuts, and a light flap the way it opens."""
    if link.does is Behaviour.ONE_WAY:
        return FORWARD if link.flap else SHUT
    return never_shuts(link)


def pumps_run(link: Link) -> int:
    """Everything open, pumps and checks along their arrow."""
    if link.does in (Behaviour.PUMP, Behaviour.ONE_WAY):
        return FORWARD
    return open_to_all(link)


def pushed_out(link: Link) -> int:
    """What hot water passes on its way to an expansion vessel: a standing pump and a check along its arrow too."""
    if link.does is Behaviour.PUMP:
        return BOTH
    return FORWARD if link.does is Behaviour.ONE_WAY else never_shuts(link)


class Trade:
    """A sheet traced by hand. `shut` are pipes in which something stands."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.links: list[Link] = []
        for part in sheet.parts.values():
            self._part(part)
        for pipe in sheet.pipes.values():
            self.links.append(
                Link(
                    pipe.id,
                    "pipe",
                    ("port", pipe.a.part, pipe.a.port),
                    ("port", pipe.b.part, pipe.b.port),
                    Behaviour.PIPE,
                )
            )
        self.at: dict[Node, list[Link]] = {}
        for link in self.links:
            for node in {link.a, link.b}:
                self.at.setdefault(node, []).append(link)

    def _part(self, part: Part) -> None:
        kind = CATALOGUE[part.kind]

        def node(name: str) -> Node:
            if name == "body":
                return ("body", part.id)
            return ("inner" if name in kind.inner else "port", part.id, name)

        for way in kind.ways:
            self.links.append(Link(part.id, way.name, node(way.a), node(way.b), way.does, way.gravity_ok))
        ends = {letter for coil in part.coils for letter in (coil.lower, coil.upper)}
        for tap in part.tappings:
            if kind.body and tap.purpose != "sensor" and tap.letter not in ends:
                self.links.append(
                    Link(part.id, f"tap {tap.letter}", ("port", part.id, tap.letter), ("body", part.id), Behaviour.FREE)
                )
        for coil in part.coils:
            self.links.append(
                Link(
                    part.id,
                    f"coil {coil.name}",
                    ("port", part.id, coil.lower),
                    ("port", part.id, coil.upper),
                    Behaviour.COIL,
                )
            )

    # parts by what they are

    def tagged(self, *tags: str) -> list[str]:
        """Parts of any of these sorts."""
        return [p.id for p in self.sheet.parts.values() if set(tags) & set(CATALOGUE[p.kind].tags)]

    def prop(self, part: str, name: str) -> object:
        """A property typed, or its default."""
        record = self.sheet.parts[part]
        return value(record, CATALOGUE[record.kind], name)

    def figure(self, part: str, name: str) -> float | None:
        """A number typed, or its default."""
        record = self.sheet.parts[part]
        return number(record, CATALOGUE[record.kind], name)

    def body(self, *sorts: str) -> list[Node]:
        """Bodies of stores, cylinders, cisterns, headers."""
        return [("body", p.id) for p in self.sheet.parts.values() if CATALOGUE[p.kind].body in sorts]

    def sources(self, *stops: str) -> list[str]:
        """Heat sources by what stops them; all of them when none is named."""
        out = []
        for part in self.sheet.parts.values():
            kind = CATALOGUE[part.kind]
            if kind.source is not None and "immersion" not in kind.tags and self.heart(part.id) is not None:
                how = str(self.prop(part.id, "stops") or kind.source.stops)
                if not stops or how in stops:
                    out.append(part.id)
        return out

    def heart(self, part: str) -> Link | None:
        """The waterway of a source past its heating surface."""
        return next((x for x in self.links if x.owner == part and x.does is Behaviour.SOURCE), None)

    def plenums(self, source: str) -> tuple[Node, Node]:
        """Hot and cold water of a source."""
        spec = CATALOGUE[self.sheet.parts[source].kind].source
        assert spec is not None
        return ("inner", source, spec.hot), ("inner", source, spec.cold)

    @cached_property
    def cisterns(self) -> list[Node]:
        """Bodies of cisterns: no water is traced across them."""
        return self.body("cistern")

    @cached_property
    def taken(self) -> set[Node]:
        """Ports that hold a pipe."""
        return {
            ("port", part, port)
            for p in self.sheet.pipes.values()
            for part, port in ((p.a.part, p.a.port), (p.b.part, p.b.port))
        }

    @cached_property
    def vent_mouths(self) -> set[Node]:
        """Where a pipe ends over a cistern."""
        return {
            ("port", b[1], name)
            for b in self.cisterns
            for name, port in ports_of(self.sheet.parts[b[1]], CATALOGUE).items()
            if port.role == "vent" and ("port", b[1], name) in self.taken
        }

    @cached_property
    def outlets(self) -> set[Node]:
        """Where cisterns feed."""
        return {
            node
            for b in self.cisterns
            for link in self.at.get(b, ())
            if link.does is Behaviour.FREE and (node := self.beyond(link, b)) in self.taken
        }

    @staticmethod
    def beyond(link: Link, node: Node) -> Node:
        """The other end."""
        return link.b if node == link.a else link.a

    def pushed(self, link: Link) -> int:
        """What hot water passes on its way to a vessel; a valve locked open too."""
        locked = link.does is Behaviour.HAND and self.prop(link.owner, "locked_open") is True
        return BOTH if locked else pushed_out(link)

    # tracing

    def reach(
        self,
        starts: Iterable[Node],
        passes: Passes,
        *,
        shut: Collection[str] = (),
        drop: Collection[Node] = (),
        walls: Collection[Node] | None = None,
    ) -> set[Node]:
        """Every place that water gets to. `shut` are pipes and parts taken for shut, `drop` single ways."""
        stop = set(self.cisterns if walls is None else walls)
        seen = set(starts)
        todo = list(seen)
        while todo:
            here = todo.pop()
            if here in stop:
                continue
            for link in self.at.get(here, ()):
                if link.owner in shut or link.node in drop:
                    continue
                flags = passes(link)
                if flags & (1 if link.a == here else 2):
                    there = self.beyond(link, here)
                    if there not in seen:
                        seen.add(there)
                        todo.append(there)
        return seen

    def _ring(self, source: str, passes: Passes, shut: Collection[str], body: Node | None) -> set[Node]:
        """Everything on some simple cycle with a source's heart, other vessels left out."""
        heart = self.heart(source)
        assert heart is not None
        out = {x for x in (*self.body("store", "cylinder"), *self.cisterns) if x != body}
        others = {h.node for s in self.sources() if s != source and (h := self.heart(s))}
        graph: nx.Graph = nx.Graph()
        for link in self.links:
            if link.owner in shut or link.node in others or link.a in out or link.b in out or not passes(link):
                continue
            graph.add_edge(link.a, link.node)
            graph.add_edge(link.node, link.b)
        if heart.node not in graph:
            return set()
        for part in nx.biconnected_components(graph.subgraph(nx.node_connected_component(graph, heart.node))):
            if heart.node in part and len(part) > 2:
                return set(part)
        return set()

    def emitters_on(self, source: str, passes: Passes, shut: Collection[str] = ()) -> dict[str, float]:
        """kW by emitter that the source's water can go round through. Floors and fans shed nothing by themselves."""
        ring = self._ring(source, passes, shut, None)
        for body in self.body("store", "cylinder"):  # a store after the emitter, in series
            ring = ring | self._ring(source, passes, shut, body)
        out = {}
        for link in self.links:
            if link.does is Behaviour.EMITTER and link.node in ring:
                tags = CATALOGUE[self.sheet.parts[link.owner].kind].tags
                if not {"underfloor", "plate", "fan"} & set(tags):
                    out[link.owner] = (self.figure(link.owner, "output_w") or 0.0) / 1000
        return out

    def vessels_on(self, source: str, passes: Passes, shut: Collection[str] = ()) -> set[str]:
        """Stores and cylinders that take the source's heat: entered direct, or by a coil."""
        ring = self._ring(source, passes, shut, None)
        out = {x.owner for x in self.links if x.does is Behaviour.COIL and x.node in ring and x.owner != source}
        for body in self.body("store", "cylinder"):
            if body in self._ring(source, passes, shut, body):
                out.add(body[1])
        return out

    def run_of(self, node: Node) -> set[str]:
        """Pipes and two-port fittings from a place to the next tee, vessel or part of three ports."""
        out: set[str] = set()
        came: Link | None = None
        here = node
        while True:
            onward = [x for x in self.at.get(here, ()) if x is not came and x.does is not Behaviour.AIR_GAP]
            if len(onward) != 1 or (onward[0].owner in out and onward[0].does is Behaviour.PIPE):
                return out
            link = onward[0]
            if link.does is not Behaviour.PIPE:
                kind = CATALOGUE[self.sheet.parts[link.owner].kind]
                if kind.large or len(kind.ports) != 2:
                    return out
            out.add(link.owner)
            came, here = link, self.beyond(link, here)
