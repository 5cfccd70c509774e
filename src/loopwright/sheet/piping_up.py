"""Parts piped to the vessel beside them: each free port to the stub, or the coil, that serves such a port.

Owns which stub goes with which port, and where a new one goes. Knows no pointer and no water.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import SheetError
from loopwright.sheet.asked import EXTRAS
from loopwright.sheet.fitting_out import fitted
from loopwright.sheet.joining import connect, inherited_size
from loopwright.sheet.pipework import end_port, route_between
from loopwright.sheet.ports import Port, ports_of, size_of
from loopwright.sheet.values import End, Part, Sheet, TappingSide
from loopwright.sheet.vessels import set_tapping

VESSELS = ("store", "cylinder")
STUBS = {
    "source_flow": ("source_flow", 0.72),
    "source_return": ("source_return", 0.50),
    "emitter_flow": ("load_flow", 0.88),
    "emitter_return": ("load_return", 0.28),
}
"""Purpose of the stub for a port's role, and where a new one is made as a share of the body: a source that can be
switched heats the upper part only, radiators draw from the top (common practice, no source)."""
FIRE = {"source_flow": 0.90, "source_return": 0.07}
"""A fire's two pipes span the whole vessel: it circulates by itself."""
COILS = {"solar_flow": ("solar", "upper"), "solar_return": ("solar", "lower")}
TAPPING = next(extra for extra in EXTRAS if extra.sort == "tapping")


def piped_up(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The sheet with every free flow and return of the parts named piped to the vessel nearest to each. Raises
    SheetError where there is no vessel, no such port, or no coil for the sun."""
    vessels = [part for part in sheet.parts.values() if catalogue[part.kind].body in VESSELS and part.id not in ids]
    parts = [part for key, part in sheet.parts.items() if key in ids and _joins(catalogue[part.kind])]
    if not vessels:
        raise SheetError("There is no store or cylinder to pipe this to", do="Place one first")
    ports = [(part, port) for part in parts for port in _free(sheet, part, catalogue)]
    if not ports:
        raise SheetError("Nothing chosen has a free flow or return", do="Choose a source or an emitter")
    for part, port in ports:
        vessel = min(vessels, key=lambda v: (abs(v.x_m - part.x_m), v.id))
        sheet, stub = _stub(sheet, vessel.id, part, port, catalogue)
        a, b = (End(part.id, port.name), stub) if port.role.endswith("_flow") else (stub, End(part.id, port.name))
        if catalogue[part.kind].source is None:  # an emitter's flow comes from the vessel
            a, b = b, a
        ends = end_port(sheet, a, catalogue), end_port(sheet, b, catalogue)
        corners = route_between(sheet, *ends, catalogue, lettered=True)
        sheet = connect(sheet, a, b, catalogue, points=corners)
    return sheet


def _free(sheet: Sheet, part: Part, catalogue: Catalogue) -> Iterator[Port]:
    """Free ports that have a stub to go to, the flow before the return; second ones of a kind are left out."""
    seen: set[str] = set()
    for port in ports_of(part, catalogue).values():
        known = port.role in STUBS or port.role in COILS
        if known and not port.optional and port.role not in seen and End(part.id, port.name) not in sheet.taken:
            seen.add(port.role)
            yield port


def _stub(sheet: Sheet, vessel_id: str, part: Part, port: Port, catalogue: Catalogue) -> tuple[Sheet, End]:
    """The free stub of a vessel that a port goes to; made where there is none on that side."""
    vessel = sheet.parts[vessel_id]
    if port.role in COILS:
        purpose, end = COILS[port.role]
        for coil in vessel.coils:
            letter = coil.upper if end == "upper" else coil.lower
            if coil.purpose in (purpose, "any") and End(vessel_id, letter) not in sheet.taken:
                return sheet, End(vessel_id, letter)
        raise SheetError(
            f"“{vessel_id}” has no free coil for the sun", do="Add one: A over the vessel, then solar coil"
        )
    purpose, share = STUBS[port.role]
    side: TappingSide = "left" if (part.x_m < vessel.x_m) != vessel.mirror else "right"
    for tapping in vessel.tappings:
        end_here = End(vessel_id, tapping.letter)
        if tapping.purpose == purpose and tapping.side in (side, "top") and end_here not in sheet.taken:
            return sheet, end_here
    kind = catalogue[vessel.kind]
    if _is_fire(catalogue[part.kind]):
        share = FIRE.get(port.role, share)
    sheet = fitted(sheet, vessel_id, TAPPING, catalogue, round(share * size_of(vessel, kind)[1], 2), side)
    stub = End(vessel_id, sheet.parts[vessel_id].tappings[-1].letter)
    size = inherited_size(sheet, End(part.id, port.name), End(part.id, port.name), catalogue)[0]
    return set_tapping(sheet, vessel_id, stub.port, catalogue, purpose=purpose, size=size), stub


def _joins(kind: Kind) -> bool:
    """Whether a kind is piped to a vessel: a heat leak is not, it hangs on the fire's own circuit."""
    return kind.body not in VESSELS and "heat_leak" not in kind.tags


def _is_fire(kind: Kind) -> bool:
    return kind.source is not None and kind.source.stops == "fire"
