"""What differs between two sheets: parts, pipes, tappings and the rest, added, removed, changed or moved.

A part is the same part by its id; one that lost its id, by its kind and its place in the drawing graph. Owns the
matching and the list of changes. Refuses to judge: which findings are new is asked of the survey elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Literal

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.sheet.values import Part, Pipe, Sheet

Sort = Literal["added", "removed", "changed", "moved"]
What = Literal[
    "part", "tapping", "coil", "pipe", "control link", "floor", "limit", "fact", "note", "dimension", "sheet"
]
NEAR_M = 0.75
"""Within this a part of the same kind, with none of its neighbours known, counts as the same one."""
MOVES = frozenset({"x", "height", "turn", "mirrored", "side", "corners", "bottom", "top"})
"""Fields that say where a thing is. A thing that differs in these alone has moved."""


class Field(msgspec.Struct, frozen=True):
    """One value that differs, as people read it. An empty string stands for none."""

    name: str
    before: str
    after: str


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that differs. `before` and `after` are its ids in the two sheets; empty where it is not there."""

    sort: Sort
    what: What
    before: str
    after: str
    name: str
    """What people call it."""
    fields: tuple[Field, ...] = ()

    @property
    def words(self) -> str:
        """The change in one line."""
        told = "; ".join(
            f"{f.name} {f.before or 'none'} → {f.after or 'none'}" if self.sort in ("changed", "moved") else f.name
            for f in self.fields
        )
        return f"{self.name}: {told}" if told else self.name


class Differences(msgspec.Struct, frozen=True, kw_only=True):
    """All that differs, and which part and pipe of the new sheet each of the old one is."""

    changes: tuple[Change, ...]
    same: Mapping[str, str]
    """Old id to new id of parts and pipes that are in both."""

    def of(self, sort: Sort) -> list[Change]:
        """The changes of one sort."""
        return [c for c in self.changes if c.sort == sort]


def compare(old: Sheet, new: Sheet, catalogue: Catalogue) -> Differences:
    """What differs between an older and a newer sheet, in the order of the newer one."""
    parts = match_parts(old, new)
    pipes = _match_pipes(old, new, parts)
    changes = [
        *_heads(old, new),
        *_floors(old, new),
        *_parts(old, new, parts, catalogue),
        *_pipes(old, new, parts, pipes, catalogue),
        *_links(old, new, parts),
        *_mapped("limit", old.limits, new.limits),
        *_mapped("fact", old.facts, new.facts),
        *_records("note", {n.id: n for n in old.notes}, {n.id: n for n in new.notes}),
        *_records("dimension", {d.id: d for d in old.dimensions}, {d.id: d for d in new.dimensions}),
    ]
    return Differences(changes=tuple(changes), same={**parts, **pipes})


# -- which is which ---------------------------------------------------------------------------------------------------


def match_parts(old: Sheet, new: Sheet) -> dict[str, str]:
    """Old part id to new part id: by id and kind, then by name and kind, then by neighbours, then by place."""
    found = {i: i for i, part in old.parts.items() if i in new.parts and new.parts[i].kind == part.kind}
    left = [p for p in old.parts.values() if p.id not in found]
    free = {p.id: p for p in new.parts.values() if p.id not in set(found.values())}
    for part in list(left):
        twins = [p for p in free.values() if part.name and (p.kind, p.name) == (part.kind, part.name)]
        if len(twins) == 1:
            found[part.id] = twins[0].id
            del free[twins[0].id]
            left.remove(part)
    while left and free:
        best: tuple[int, float, str, str] | None = None
        for part in left:
            around = {(e.port, found.get(o.part), o.port) for e, o in _ends(old, part.id) if o.part in found}
            for twin in free.values():
                if twin.kind != part.kind:
                    continue
                shared = len(around & {(e.port, o.part, o.port) for e, o in _ends(new, twin.id)})
                apart = abs(twin.x_m - part.x_m) + abs(twin.height_m - part.height_m)
                if shared or apart <= NEAR_M:
                    best = max(best or (-1, 0.0, "", ""), (shared, -apart, part.id, twin.id))
        if best is None:
            break
        found[best[2]] = best[3]
        del free[best[3]]
        left = [p for p in left if p.id != best[2]]
    return found


def _ends(sheet: Sheet, part: str) -> Iterator[tuple[Any, Any]]:
    for pipe in sheet.pipes_of(part):
        if pipe.a.part == part:
            yield pipe.a, pipe.b
        if pipe.b.part == part:
            yield pipe.b, pipe.a


def _match_pipes(old: Sheet, new: Sheet, parts: Mapping[str, str]) -> dict[str, str]:
    def ends(pipe: Pipe, names: Mapping[str, str] | None) -> frozenset[tuple[str, str]]:
        return frozenset(((names or {}).get(e.part, e.part if names is None else ""), e.port) for e in (pipe.a, pipe.b))

    by_ends = {ends(pipe, None): pipe.id for pipe in new.pipes.values()}
    found: dict[str, str] = {}
    for pipe in old.pipes.values():
        twin = by_ends.get(ends(pipe, parts))
        if twin is not None and twin not in found.values():
            found[pipe.id] = twin
    taken = set(found.values())
    for pipe in old.pipes.values():
        if pipe.id not in found and pipe.id in new.pipes and pipe.id not in taken:
            twin_ends = {e.part for e in (new.pipes[pipe.id].a, new.pipes[pipe.id].b)}
            if {parts.get(e.part, "") for e in (pipe.a, pipe.b)} & twin_ends:
                found[pipe.id] = pipe.id
                taken.add(pipe.id)
    return found


# -- what differs -----------------------------------------------------------------------------------------------------


def _heads(old: Sheet, new: Sheet) -> Iterator[Change]:
    fields = list(_fields({"title": old.title}, {"title": new.title}))
    fields += _fields(msgspec.structs.asdict(old.block), msgspec.structs.asdict(new.block))
    if fields:
        yield Change(sort="changed", what="sheet", before="", after="", name="Title block", fields=tuple(fields))


def _floors(old: Sheet, new: Sheet) -> Iterator[Change]:
    before, after = {f.name: f.height_m for f in old.levels}, {f.name: f.height_m for f in new.levels}
    for name in dict.fromkeys((*after, *before)):
        if before.get(name) == after.get(name):
            continue
        sort: Sort = "added" if name not in before else "removed" if name not in after else "moved"
        fields = tuple(_fields({"height": _m(before.get(name))}, {"height": _m(after.get(name))}))
        yield Change(sort=sort, what="floor", before=name, after=name, name=name, fields=fields)


def _parts(old: Sheet, new: Sheet, same: Mapping[str, str], catalogue: Catalogue) -> Iterator[Change]:
    back = {n: o for o, n in same.items()}
    for part in new.parts.values():
        name = called(part, catalogue)
        if part.id not in back:
            yield Change(sort="added", what="part", before="", after=part.id, name=name)
            continue
        was = old.parts[back[part.id]]
        yield from _one(
            "part",
            was.id,
            part.id,
            name,
            {**_place(was), **_said(was, catalogue)},
            {**_place(part), **_said(part, catalogue)},
        )
        yield from _inside("tapping", was, part, name)
        yield from _inside("coil", was, part, name)
    for part in old.parts.values():
        if part.id not in same:
            yield Change(sort="removed", what="part", before=part.id, after="", name=called(part, catalogue))


def _inside(what: Literal["tapping", "coil"], was: Part, part: Part, owner: str) -> Iterator[Change]:
    def listed(one: Part) -> dict[str, dict[str, str]]:
        if what == "tapping":
            return {
                t.letter: {
                    "height": _m(t.height_m), "side": t.side, "purpose": _plain(t.purpose), "size": t.size,
                    "name": t.name, "spreads its inflow": "yes" if t.layering else "",
                }
                for t in one.tappings
            }  # fmt: skip
        return {
            c.name: {
                "bottom": _m(c.bottom_m), "top": _m(c.top_m), "lower end": c.lower, "upper end": c.upper,
                "purpose": _plain(c.purpose), "area": _number(c.area_m2), "content": _number(c.content_l),
            }
            for c in one.coils
        }  # fmt: skip

    before, after = listed(was), listed(part)
    word = "tapping {}" if what == "tapping" else "{} coil"
    for key in dict.fromkeys((*after, *before)):
        name = f"{owner}, {word.format(key)}"
        ids = (f"{was.id}/{key}" if key in before else "", f"{part.id}/{key}" if key in after else "")
        if key in before and key in after:
            yield from _one(what, *ids, name, before[key], after[key])
        else:
            there = after.get(key) or before.get(key) or {}
            fields = tuple(
                Field(f"{n} {v}", "", "") for n, v in there.items() if v and n in ("height", "size", "bottom", "top")
            )
            sort: Sort = "added" if key in after else "removed"
            yield Change(sort=sort, what=what, before=ids[0], after=ids[1], name=name, fields=fields)


def _pipes(
    old: Sheet, new: Sheet, parts: Mapping[str, str], same: Mapping[str, str], catalogue: Catalogue
) -> Iterator[Change]:
    back = {n: o for o, n in same.items()}
    for pipe in new.pipes.values():
        name = piped(pipe, new, catalogue)
        if pipe.id not in back:
            yield Change(sort="added", what="pipe", before="", after=pipe.id, name=name, fields=_sized(pipe))
            continue
        was = old.pipes[back[pipe.id]]
        before, after = _pipe(was, old, catalogue), _pipe(pipe, new, catalogue)
        if {(parts.get(e.part), e.port) for e in (was.a, was.b)} == {(e.part, e.port) for e in (pipe.a, pipe.b)}:
            before.pop("runs from"), after.pop("runs from")
        bends = (was.points, pipe.points)
        if bends[0] != bends[1] and bends[0] != bends[1][::-1]:
            before["corners"], after["corners"] = (_corners(p) for p in bends)
        yield from _one("pipe", was.id, pipe.id, name, before, after)
    for pipe in old.pipes.values():
        if pipe.id not in same:
            name = piped(pipe, old, catalogue)
            yield Change(sort="removed", what="pipe", before=pipe.id, after="", name=name, fields=_sized(pipe))


def _links(old: Sheet, new: Sheet, parts: Mapping[str, str]) -> Iterator[Change]:
    def moved(place: str) -> str:
        owner, slash, letter = place.partition("/")
        return f"{parts.get(owner, owner)}{slash}{letter}"

    before = {
        key: msgspec.structs.replace(
            link, sensor=moved(link.sensor), target=moved(link.target), second=moved(link.second)
        )
        for key, link in old.links.items()
    }
    yield from _records("control link", before, dict(new.links))


def _records(what: What, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    for key in dict.fromkeys((*new, *old)):
        fields = tuple(_fields(_flat(old.get(key)), _flat(new.get(key))))
        sort: Sort = "added" if key not in old else "removed" if key not in new else "changed"
        if sort != "changed":
            fields = tuple(Field(f"{f.name} {f.after or f.before}", "", "") for f in fields if f.name != "id")
        if fields:
            ids = (key if key in old else "", key if key in new else "")
            yield Change(sort=sort, what=what, before=ids[0], after=ids[1], name=f"{what} {key}", fields=fields)


def _mapped(what: What, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Change]:
    for key in dict.fromkeys((*new, *old)):
        if old.get(key) != new.get(key):
            sort: Sort = "added" if key not in old else "removed" if key not in new else "changed"
            field = Field("value", _plain(old.get(key)), _plain(new.get(key)))
            yield Change(sort=sort, what=what, before=key, after=key, name=f"{what} {key}", fields=(field,))


def _one(
    what: What, before: str, after: str, name: str, old: Mapping[str, str], new: Mapping[str, str]
) -> Iterator[Change]:
    fields = tuple(_fields(old, new))
    if fields:
        sort: Sort = "moved" if all(f.name in MOVES for f in fields) else "changed"
        yield Change(sort=sort, what=what, before=before, after=after, name=name, fields=fields)


def _fields(old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterator[Field]:
    for name in dict.fromkeys((*new, *old)):
        was, now = _plain(old.get(name)), _plain(new.get(name))
        if was != now:
            yield Field(name.replace("_", " "), was, now)


# -- how people read it -----------------------------------------------------------------------------------------------


def called(part: Part, catalogue: Catalogue) -> str:
    """What people call a part: its name, else its kind with its id."""
    return part.name or f"{catalogue[part.kind].name} {part.id}"


def piped(pipe: Pipe, sheet: Sheet, catalogue: Catalogue) -> str:
    """What people call a pipe: from where to where."""
    return "Pipe " + _runs(pipe, sheet, catalogue)


def _runs(pipe: Pipe, sheet: Sheet, catalogue: Catalogue) -> str:
    ends = []
    for end in (pipe.a, pipe.b):
        part = sheet.parts[end.part]
        tapping = part.tapping(end.port)
        ends.append(f"{called(part, catalogue)} {end.port if tapping else _plain(end.port)}".strip())
    return " to ".join(ends)


def _place(part: Part) -> dict[str, str]:
    return {
        "x": _m(part.x_m),
        "height": _m(part.height_m),
        "turn": f"{90 * part.turn}°" if part.turn else "",
        "mirrored": "yes" if part.mirror else "",
    }


def _said(part: Part, catalogue: Catalogue) -> dict[str, str]:
    kind = catalogue[part.kind]
    units = {p.name: (p.label or p.name.replace("_", " "), p.unit) for p in kind.props}
    out = {"name": part.name, "there already": "yes" if part.existing else ""}
    for name, value in sorted(part.props.items()):
        label, unit = units.get(name, (name.replace("_", " "), ""))
        out[label] = f"{_plain(value)} {unit}".strip()
    return out


def _pipe(pipe: Pipe, sheet: Sheet, catalogue: Catalogue) -> dict[str, str]:
    return {
        "runs from": _runs(pipe, sheet, catalogue),
        "size": pipe.size,
        "material": pipe.material,
        "insulation": "" if pipe.insulation_mm is None else f"{pipe.insulation_mm:g} mm",
        "extra length": _m(pipe.extra_length_m) if pipe.extra_length_m else "",
        "extra bends": str(pipe.extra_bends or ""),
        "laid to rise towards": {"": "", "a": "its first end", "b": "its second end"}[pipe.graded],
        "service": pipe.service,
        "bypass": "yes" if pipe.bypass else "",
        "joint": "yes" if pipe.joint else "",
    }


def _sized(pipe: Pipe) -> tuple[Field, ...]:
    return () if pipe.joint else (Field(f"{pipe.size} {pipe.material}", "", ""),)


def _corners(points: tuple[tuple[float, float], ...]) -> str:
    return ", ".join(f"({x:.2f}, {z:.2f})" for x, z in points) or "straight"


def _flat(record: Any) -> dict[str, Any]:
    if record is None:
        return {}
    out: dict[str, Any] = {}
    for name, value in msgspec.structs.asdict(record).items():
        if isinstance(value, msgspec.Struct):
            out.update({f"{name} {key}": inner for key, inner in _flat(value).items()})
        else:
            out[name] = value
    return out


def _m(value: float | None) -> str:
    return "" if value is None else f"{value:.2f} m"


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _plain(value: Any) -> str:
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return f"{value:g}"
    return str(value).replace("_", " ")
