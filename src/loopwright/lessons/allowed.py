"""What a learner changed that the lesson does not allow.

Owns the comparison of an answer with its start. Knows no goal. Course of pipes, small fittings' places, tees and caps
are always free; what they make of the water is judged by the rules.
"""

from __future__ import annotations

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.lessons.lesson import EVERYTHING, Allowed
from loopwright.sheet.values import Part, Pipe, Sheet

ALWAYS = frozenset({"tee", "cross", "cap"})
_PIPE_FIELDS = {
    "size": "size", "material": "material", "extra_length_m": "extra length", "extra_bends": "extra bends",
    "insulation_mm": "lagging",
}  # fmt: skip


class Outside(msgspec.Struct, frozen=True):
    """A change beyond the lesson: the part or pipe, and what was done, in words."""

    id: str
    said: str


def _any(names: tuple[str, ...], name: str) -> bool:
    return EVERYTHING in names or name in names


def outside(start: Sheet, sheet: Sheet, allowed: Allowed, catalogue: Catalogue) -> tuple[Outside, ...]:
    """Every change that is not allowed, in the order of the sheet."""
    if allowed.anything:
        return ()
    out: list[Outside] = []
    for part in start.parts.values():
        new = sheet.parts.get(part.id)
        name = part.name or part.id
        if new is None:
            if part.kind not in ALWAYS and not _any(allowed.remove, part.id):
                out.append(Outside(part.id, f"{name} was taken out. It is to stay in this lesson."))
            continue
        out += [Outside(part.id, f"{name}: {words}") for words in _changes(part, new, allowed, catalogue)]
    for part in sheet.parts.values():
        if part.id not in start.parts and part.kind not in ALWAYS and not _any(allowed.place, part.kind):
            kind = catalogue[part.kind].name.lower()
            out.append(Outside(part.id, f"{part.name or part.id}: a {kind} is not for this lesson."))
    for pipe in start.pipes.values():
        laid = sheet.pipes.get(pipe.id)
        same = laid is not None and {pipe.a, pipe.b} == {laid.a, laid.b}  # ids are used again
        if laid is not None and same and not _any(allowed.pipes, pipe.id):
            out += [Outside(pipe.id, f"Pipe {pipe.id}: its {word} is to stay.") for word in _pipe_changes(pipe, laid)]
    if not allowed.links and start.links != sheet.links:
        gone = set(start.parts) - set(sheet.parts)
        kept = {
            key: link
            for key, link in start.links.items()
            if not gone & {link.sensor.partition("/")[0], link.target, link.second.partition("/")[0]}
        }
        if kept != dict(sheet.links):
            out.append(Outside("", "Control links are to stay as they are in this lesson."))
    if start.limits != sheet.limits:
        out.append(Outside("", "Limits of the sheet are to stay as they are."))
    return tuple(out)


def _changes(old: Part, new: Part, allowed: Allowed, catalogue: Catalogue) -> list[str]:
    words = []
    if old.kind != new.kind and not (_any(allowed.remove, old.id) and _any(allowed.place, new.kind)):
        words.append(f"it is to stay a {catalogue[old.kind].name.lower()}.")
    moved = abs(old.x_m - new.x_m) > 1e-6 or abs(old.height_m - new.height_m) > 1e-6
    if moved and catalogue[old.kind].large and not _any(allowed.move, old.id):
        words.append("it is to stay where it stands.")
    free = (*allowed.change.get(old.id, ()), *allowed.change.get(EVERYTHING, ()))
    if old.kind == new.kind:
        for prop in catalogue[old.kind].props:
            if old.props.get(prop.name) != new.props.get(prop.name) and not _any(free, prop.name):
                words.append(f"its {prop.label[:1].lower()}{prop.label[1:]} is to stay.")
    if (old.tappings, old.coils) != (new.tappings, new.coils) and not _any(allowed.tappings, old.id):
        words += _stub_changes(old, new, allowed)
    return words


def _stub_changes(old: Part, new: Part, allowed: Allowed) -> list[str]:
    """Tappings and coils changed that are not free one by one, as "store/flow" or "store/solar"."""
    free = {n.partition("/")[2] for n in allowed.tappings if n.partition("/")[0] == old.id}
    ends = {e for c in (*old.coils, *new.coils) if c.name in free for e in (c.lower, c.upper)}
    out = []
    for tapping in old.tappings:
        mine = {tapping.letter, tapping.name} & free or tapping.letter in ends
        if not mine and new.tapping(tapping.letter) != tapping:
            out.append(f"its tapping “{tapping.name or tapping.letter}” is to stay.")
    coils = {c.name: c for c in new.coils}
    out += [f"its coil “{c.name}” is to stay." for c in old.coils if c.name not in free and coils.get(c.name) != c]
    known = {t.letter for t in old.tappings}
    if any(t.letter not in known for t in new.tappings):
        out.append("no further tapping is for this lesson.")
    return out


def _pipe_changes(old: Pipe, new: Pipe) -> list[str]:
    return [word for field, word in _PIPE_FIELDS.items() if getattr(old, field) != getattr(new, field)]


def locked(sheet: Sheet, allowed: Allowed) -> Sheet:
    """The starting sheet with a lock on every part that the lesson lets nobody move, change or take out."""
    if allowed.anything:
        return sheet
    parts = {}
    for part in sheet.parts.values():
        free = (
            part.kind in ALWAYS
            or _any(allowed.remove, part.id)
            or _any(allowed.move, part.id)
            or any(n in (EVERYTHING, part.id) or n.startswith(f"{part.id}/") for n in allowed.tappings)
            or part.id in allowed.change
            or EVERYTHING in allowed.change
        )
        parts[part.id] = part if free or part.locked else msgspec.structs.replace(part, locked=True)
    return msgspec.structs.replace(sheet, parts=parts)
