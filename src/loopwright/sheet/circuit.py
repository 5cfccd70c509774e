"""A whole circuit by one of its pipes: everything the water of that pipe runs through up to the vessels.

Owns what a hand means by "the whole circuit". It is a question about the drawing, not about what flows when: for
that there are the waterways.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loopwright.catalogue import Behaviour, Catalogue, Kind
from loopwright.sheet.values import End, Sheet

if TYPE_CHECKING:
    import networkx as nx

ENDS = frozenset({"store", "cylinder", "cistern", "header"})
"""Bodies of water at which a circuit ends."""
_APART = frozenset({Behaviour.RELIEF, Behaviour.AIR_GAP, Behaviour.GUARD, Behaviour.SEAL, Behaviour.COIL})


def circuit_of(sheet: Sheet, pipe_id: str, catalogue: Catalogue) -> frozenset[str]:
    """The pipe, all pipes its water reaches, and the parts it runs through.

    Vessels at its ends are left out, and one whose coil it runs through too.
    """
    import networkx as nx  # heavy, and no window needs it before its first check

    graph: nx.Graph = nx.Graph()
    for pipe in sheet.pipes.values():
        graph.add_edge(("pipe", pipe.id), pipe.a)
        graph.add_edge(("pipe", pipe.id), pipe.b)
    for part in sheet.parts.values():
        kind = catalogue[part.kind]
        graph.add_edges_from((End(part.id, coil.lower), End(part.id, coil.upper)) for coil in part.coils)
        if kind.body in ENDS:
            continue
        for group in _joined(kind):
            node = ("part", part.id, min(group))
            graph.add_edges_from((node, End(part.id, port)) for port in group)
    if ("pipe", pipe_id) not in graph:
        return frozenset()
    found = nx.node_connected_component(graph, ("pipe", pipe_id))
    return frozenset(node[1] for node in found if not isinstance(node, End))


def _joined(kind: Kind) -> list[set[str]]:
    """The ports of a kind in groups that one water runs through."""
    import networkx as nx

    inside: nx.Graph = nx.Graph()
    ports = {port.name for port in kind.ports}
    inside.add_nodes_from(ports)
    inside.add_edges_from((way.a, way.b) for way in kind.ways if way.does not in _APART)
    return [group & ports for group in nx.connected_components(inside) if group & ports]
