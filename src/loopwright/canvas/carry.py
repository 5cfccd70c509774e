"""What a changed sheet takes over from the one before it, until it is known better: services of pipes, places
of words.

Owns these two guesses. Refuses to know scenes and surveys.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.drawing.labels import Label
from loopwright.sheet.values import Sheet


def carried_labels(
    words: Iterable[Label], old: Sheet, new: Sheet, moved: Collection[str], lost: Collection[str]
) -> tuple[Label, ...]:
    """Labels with those of moved parts moved along and those of `lost` things left out."""
    out: list[Label] = []
    for label in words:
        owner = label.owner.partition("/")[0]
        if owner in lost:
            continue
        if owner in moved and owner in old.parts:
            a, b = old.parts[owner], new.parts[owner]
            dx, dy = (b.x_m - a.x_m) * 100, -(b.height_m - a.height_m) * 100
            leader = tuple((x + dx, y + dy) for x, y in label.leader)
            label = msgspec.structs.replace(label, at=(label.at[0] + dx, label.at[1] + dy), leader=leader)
        out.append(label)
    return tuple(out)


def carried_services(sheet: Sheet, known: Mapping[str, str], catalogue: Catalogue) -> dict[str, str]:
    """Services of the pipes that are still there; a new pipe takes that of a pipe beyond one of its
    fittings."""
    out = {k: known[k] for k in sheet.pipes if k in known}
    for key, pipe in sheet.pipes.items():
        if key not in out:
            fittings = [e.part for e in (pipe.a, pipe.b) if not catalogue[sheet.parts[e.part].kind].large]
            near = (known.get(p.id) for part in fittings for p in sheet.pipes_of(part) if p.id != key)
            found = next((s for s in near if s and s != "unknown"), None)
            out[key] = found or "unknown"  # said, so that it is not asked again at every move
    return out
