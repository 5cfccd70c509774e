"""The waterways of a sheet, a system at a time, so that an edit leaves those of the other systems as they are.

Owns which waterways are made anew. What joins parts to a system is `sheet/systems.py`; no question about the water of
one system is answered by another, save what `Beyond` says.
"""

from __future__ import annotations

from collections import Counter
from functools import cached_property

from loopwright.catalogue import Catalogue
from loopwright.sheet.systems import parted
from loopwright.sheet.values import Sheet
from loopwright.waterways.graph import Beyond, Waterways


class Systems:
    """The waterways of each system of a sheet. A system equal to one of `before` keeps its waterways, with all that
    was found out about them."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue, before: Systems | None = None) -> None:
        self.sheet, self.catalogue = sheet, catalogue
        systems = parted(sheet)
        known = {}
        if before is not None and before.catalogue is catalogue:
            known = {next(iter(ways.sheet.parts)): ways for ways in before.each}
        each = []
        for system, beyond in zip(systems, _beyond(sheet, systems, catalogue)):
            ways = known.get(next(iter(system.parts)))
            if ways is None or ways.beyond != beyond or ways.sheet != system:
                ways = Waterways(system, catalogue, beyond)
            each.append(ways)
        self.each: tuple[Waterways, ...] = tuple(each)

    @cached_property
    def whole(self) -> Waterways:
        """The waterways of the whole sheet; of a sheet that is one system, the same ones."""
        if len(self.each) == 1:
            return self.each[0].under(self.sheet)
        return Waterways(self.sheet, self.catalogue)


def _beyond(sheet: Sheet, systems: tuple[Sheet, ...], catalogue: Catalogue) -> list[Beyond]:
    """What each system must know of the others."""
    unnamed = [
        {part.kind for part in system.parts.values() if not part.name and catalogue[part.kind].large}
        for system in systems
    ]
    owners = Counter(kind for kinds in unnamed for kind in kinds)
    return [Beyond(bool(sheet.links), frozenset(kind for kind in kinds if owners[kind] > 1)) for kinds in unnamed]
