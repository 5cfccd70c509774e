"""Deleting as a hand means it: a tee whose branch goes, goes too, and its pipe is whole again.

Owns this one edit over `edits.delete`. Knows nothing of pointers.
"""

from __future__ import annotations

from collections.abc import Collection

from loopwright.catalogue import Catalogue
from loopwright.sheet import edits
from loopwright.sheet.values import End, Sheet


def remove(sheet: Sheet, ids: Collection[str], catalogue: Catalogue) -> Sheet:
    """The sheet without these things, and without tees that only led to them.

    A tee goes when its branch lost its pipe to this edit and the two pipes through it are of one size and material, so
    that they become one. Raises SheetError as `delete` does.
    """
    after = edits.delete(sheet, ids, catalogue)
    for part_id, part in sheet.parts.items():
        kind = catalogue[part.kind]
        if part_id not in after.parts or part.locked or kind.id != "tee" or kind.through is None:
            continue
        branch = next(port.name for port in kind.ports if port.name not in kind.through)
        lost = End(part_id, branch) in sheet.taken and End(part_id, branch) not in after.taken
        through = [after.taken.get(End(part_id, name)) for name in kind.through]
        if not lost or None in through:
            continue
        one, two = (after.pipes[str(key)] for key in through)
        if one is not two and (one.size, one.material) == (two.size, two.material):
            after = edits.delete(after, {part_id}, catalogue)
    return after
