"""What can be set on what is chosen: rows with a label, a unit, a usual range, the value now and the edit that sets it.

Owns which properties a part, a pipe, a floor and the sheet show. Refuses to know widgets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import cast

from loopwright.catalogue import Catalogue, Kind, PropSpec
from loopwright.sheet import edits
from loopwright.sheet.ports import value as value_of
from loopwright.sheet.sizes import materials, sizes
from loopwright.sheet.values import Level, Part, Pipe, PropValue, Sheet
from loopwright.window.document import Edit
from loopwright.window.rows import Row, Subject
from loopwright.window.written import paper_rows, written

__all__ = ["Row", "Subject", "add_floor", "renamed_floor", "subject", "without_floor"]

VESSEL_FIRST = ("volume_l", "body_diameter_m", "body_height_m", "insulation_mm", "design_temp_c")
"""What stands above a vessel's tappings; the rest stands below them."""
SERVICE_WORDS = {
    "flow": "flow",
    "return": "return",
    "vent": "open vent",
    "feed": "cold feed",
    "cold": "mains cold",
    "hot": "hot water",
    "discharge": "discharge",
    "solar_flow": "solar flow",
    "solar_return": "solar return",
    "unknown": "not known",
}
PURPOSE_WORDS = {
    "any": "not stated",
    "source_flow": "source flow",
    "source_return": "source return",
    "load_flow": "load flow",
    "load_return": "load return",
    "vent": "open vent",
    "feed": "cold feed",
    "drain": "drain",
    "coil": "coil end",
    "sensor": "sensor pocket",
    "immersion": "immersion heater",
    "air_vent": "air vent",
    "relief": "relief valve",
    "capped": "capped",
}


def subject(sheet: Sheet, chosen: frozenset[str], catalogue: Catalogue, services: dict[str, str]) -> Subject:
    """The subject for a selection; the sheet itself when nothing is chosen."""
    found = written(sheet, chosen, catalogue)
    if found is not None:
        return found
    parts = [sheet.parts[i] for i in sorted(chosen) if i in sheet.parts]
    pipes = [sheet.pipes[i] for i in sorted(chosen) if i in sheet.pipes]
    if parts and not pipes:
        return _of_parts(parts, catalogue)
    if pipes and not parts:
        return _of_pipes(pipes, sheet, catalogue, services)
    if parts and pipes:
        return _of_both(parts, pipes, sheet, catalogue, services)
    if len(chosen) > 1:
        return Subject("mixed", "Selection", words=f"{len(chosen)} things chosen. Choose one of them to set it.")
    return _of_sheet(sheet)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def _same(values: Sequence[object]) -> tuple[object, bool]:
    first = values[0]
    alike = all(v == first for v in values)
    return (first if alike else None), not alike


# parts


def _of_parts(parts: list[Part], catalogue: Catalogue) -> Subject:
    kinds = {p.kind for p in parts}
    kind = catalogue[parts[0].kind]
    ids = tuple(p.id for p in parts)
    rows: list[Row] = []
    more: list[Row] = []
    if len(parts) == 1:
        rows, more = _place_rows(parts[0], kind, catalogue)
    vessel = parts[0].id if len(parts) == 1 and kind.body in ("store", "cylinder") else ""
    for spec in _common(kinds, catalogue):
        row = _prop_row(parts, spec, ids, catalogue)
        (rows if not vessel or spec.name in VESSEL_FIRST else more).append(row)
    existing, mixed = _same([p.existing for p in parts])
    more.append(
        Row(
            "existing",
            "Already there",
            lambda v: _each(ids, lambda s, i: edits.set_part(s, i, existing=bool(v))),
            existing,
            "flag",
            mixed=mixed,
            help="Was there before this job",
        )
    )
    groups = (("More", tuple(more)),)
    if len(parts) == 1:
        return Subject(
            f"part/{ids[0]}",
            parts[0].name or kind.name,
            ids[0] if parts[0].name else kind.group.lower(),
            tuple(rows),
            vessel,
            groups=groups,
        )
    title = f"{_count(len(parts), 'part')}, {kind.name.lower()}" if len(kinds) == 1 else _count(len(parts), "part")
    words = "" if len(kinds) == 1 else "Parts of several kinds: what they share can be set here."
    return Subject("parts/" + ",".join(ids), title, "", tuple(rows), words=words, groups=groups)


def _of_both(
    parts: list[Part], pipes: list[Pipe], sheet: Sheet, catalogue: Catalogue, services: dict[str, str]
) -> Subject:
    """A circuit: what its pipes share first, then what its parts share."""
    of_pipes, of_parts = _of_pipes(pipes, sheet, catalogue, services), _of_parts(parts, catalogue)
    rows = [row for row in of_pipes.rows if row.key != "graded"]
    taken = {row.key for row in rows}
    shared = [*of_parts.rows, *(row for _, group in of_parts.groups for row in group)]
    own = ("name", "height_m", "x_m")
    title = f"{_count(len(parts), 'part')} and {_count(len(pipes), 'pipe')}"
    return Subject(
        f"both/{','.join([*(p.id for p in parts), *(p.id for p in pipes)])}",
        title,
        "",
        tuple(rows),
        words=f"Above, what is set on {_count(len(pipes), 'pipe')}; below, on {_count(len(parts), 'part')}.",
        groups=(("Parts", tuple(r for r in shared if r.key not in taken and r.key not in own)),),
    )


def _common(kinds: set[str], catalogue: Catalogue) -> list[PropSpec]:
    """The properties that all of some kinds have alike, in the order of the first."""
    first, *others = sorted(kinds)
    told = [{(s.name, s.label, s.kind, s.unit, tuple(s.choices)) for s in catalogue[k].props} for k in others]
    return [
        s for s in catalogue[first].props if all((s.name, s.label, s.kind, s.unit, tuple(s.choices)) in t for t in told)
    ]


def _place_rows(part: Part, kind: Kind, catalogue: Catalogue) -> tuple[list[Row], list[Row]]:
    """Name and height, and further down the distance."""
    first = [
        Row(
            "name",
            "Name",
            lambda v: lambda s: edits.set_part(s, part.id, name=str(v or "")),
            part.name,
            help="What the part is called on the sheet and in reports",
        ),
        Row(
            "height_m",
            "Height of base" if kind.large else "Height",
            _mover(part.id, "height_m", catalogue),
            part.height_m,
            "number",
            "m",
            "Above the ground floor",
            "above ground",
            blank=False,
        ),
    ]
    return first, [
        Row(
            "x_m",
            "Distance right",
            _mover(part.id, "x_m", catalogue),
            part.x_m,
            "number",
            "m",
            "From the left-hand end of the sheet",
            blank=False,
        )
    ]


def _prop_row(parts: list[Part], spec: PropSpec, ids: tuple[str, ...], catalogue: Catalogue) -> Row:
    value, mixed = _same([value_of(p, catalogue[p.kind], spec.name) for p in parts])
    assumed = all(spec.name not in p.props for p in parts)

    def edit(new: object) -> Edit:
        return _each(ids, lambda s, i: edits.set_property(s, i, spec.name, cast(PropValue, new), catalogue))

    choices = tuple((c, c.replace("_", " ")) for c in spec.choices)
    return Row(
        spec.name,
        spec.label,
        edit,
        value,
        spec.kind,
        spec.unit,
        spec.help,
        "",
        spec.usual,
        choices,
        assumed and spec.default is not None,
        mixed,
    )


def _each(ids: tuple[str, ...], step: Callable[[Sheet, str], Sheet]) -> Edit:
    def edit(sheet: Sheet) -> Sheet:
        for one in ids:
            sheet = step(sheet, one)
        return sheet

    return edit


# pipes


def _of_pipes(pipes: list[Pipe], sheet: Sheet, catalogue: Catalogue, services: dict[str, str]) -> Subject:
    ids = tuple(p.id for p in pipes)

    def setter(name: str) -> Callable[[object], Edit]:
        return lambda v: _each(ids, lambda s, i: edits.set_pipe(s, i, **{name: _filled(name, v)}))

    def row(name: str, label: str, **more) -> Row:
        value, mixed = _same([getattr(p, name) for p in pipes])
        return Row(name, label, setter(name), value, mixed=mixed, **more)

    material = pipes[0].material if len({p.material for p in pipes}) == 1 else ""
    listed = sizes(material) if material in materials() else ()
    found = services.get(pipes[0].id, "unknown")
    inferred = SERVICE_WORDS.get(found, found) if len(pipes) == 1 else "as found"
    service_choices = (
        ("", f"as found: {inferred}" if len(pipes) == 1 else "as found"),
        *((k, v) for k, v in SERVICE_WORDS.items() if k != "unknown"),
    )
    rows = [
        row(
            "size",
            "Size",
            sort="choice",
            choices=tuple((s, _size_words(s)) for s in listed),
            help="Outside diameter for copper and steel; the maker's size for plastic",
        ),
        row("material", "Material", sort="choice", choices=tuple((m, m.replace("_", " ")) for m in materials())),
        row(
            "service",
            "Service",
            sort="choice",
            choices=service_choices,
            help="Found from what the pipe joins; fix it here only where that is wrong",
        ),
        row(
            "extra_length_m",
            "Length unseen",
            sort="number",
            unit="m",
            help="Length towards or away from you, which a section cannot show",
        ),
        row("extra_bends", "Bends unseen", sort="number", help="Bends that the section does not show"),
    ]
    if len(pipes) == 1:
        pipe = pipes[0]
        ends = (
            ("", "no"),
            ("a", f"rises to {pipe.a.part} {pipe.a.port}"),
            ("b", f"rises to {pipe.b.part} {pipe.b.port}"),
        )
        rows.append(
            row(
                "graded",
                "Graded",
                sort="choice",
                choices=ends,
                help="Drawn level but laid to rise 1 in 120 towards one end",
            )
        )
    rows += [
        row("insulation_mm", "Insulation", sort="number", unit="mm", help="Thickness round the pipe"),
        row("bypass", "Bypass", sort="flag", help="Laid as a bypass: short-circuiting here is intended"),
    ]
    if len(pipes) == 1:
        pipe = pipes[0]
        return Subject(
            f"pipe/{pipe.id}",
            f"Pipe, {inferred}",
            pipe.id,
            tuple(rows),
            words=f"From {_end(sheet, pipe.a.part, pipe.a.port)} to {_end(sheet, pipe.b.part, pipe.b.port)}.",
        )
    return Subject("pipes/" + ",".join(ids), _count(len(pipes), "pipe"), "", tuple(rows))


def _filled(name: str, value: object) -> object:
    if value is None:
        return {"extra_length_m": 0.0, "extra_bends": 0}.get(name)
    return int(value) if name == "extra_bends" and isinstance(value, float) else value


def _mover(part_id: str, which: str, catalogue: Catalogue) -> Callable[[object], Edit]:
    def made(value: object) -> Edit:
        def edit(sheet: Sheet) -> Sheet:
            by = float(value) - getattr(sheet.parts[part_id], which)  # type: ignore[arg-type]
            return edits.move(
                sheet, [part_id], by if which == "x_m" else 0.0, by if which == "height_m" else 0.0, catalogue
            )

        return edit

    return made


def _size_words(size: str) -> str:
    return f"{size} mm" if size.replace(".", "").isdigit() else size


def _end(sheet: Sheet, part_id: str, port: str) -> str:
    part = sheet.parts.get(part_id)
    tap = part.tapping(port) if part else None
    named = (part.name if part and part.name else part_id) or part_id
    return f"{named}, {tap.letter}" if tap else f"{named}, {port.replace('_', ' ')}"


# the sheet itself


def _floor_mover(name: str) -> Callable[[object], Edit]:
    def made(value: object) -> Edit:
        height_m = float(cast(float, value))
        return lambda sheet: edits.set_levels(
            sheet, [Level(one.name, height_m) if one.name == name else one for one in sheet.levels]
        )

    return made


def add_floor(sheet: Sheet) -> Sheet:
    """The sheet with one more floor, 2.60 m above the highest."""
    top = max(level.height_m for level in sheet.levels)
    names = {level.name for level in sheet.levels}
    wanted = ("First floor", "Second floor", "Loft", *(f"Floor {n}" for n in range(3, 100)))
    name = next(w for w in wanted if w not in names)
    return edits.set_levels(sheet, [*sheet.levels, Level(name, round(top + 2.6, 3))])


def without_floor(name: str) -> Edit:
    """An edit that takes a floor away."""
    return lambda sheet: edits.set_levels(sheet, [one for one in sheet.levels if one.name != name])


def renamed_floor(old: str, new: str) -> Edit:
    """An edit that gives a floor another name."""
    return lambda sheet: edits.set_levels(
        sheet, [Level(new.strip(), one.height_m) if one.name == old else one for one in sheet.levels]
    )


def _of_sheet(sheet: Sheet) -> Subject:
    rows = (
        Row(
            "title",
            "Title",
            lambda v: lambda s: edits.set_title(s, str(v or "")),
            sheet.title,
            help="What the drawing is called",
        ),
    )
    floors = tuple(
        Row(
            f"level/{level.name}",
            level.name,
            _floor_mover(level.name),
            level.height_m,
            "number",
            "m",
            "Height of the floor above the ground floor",
            blank=False,
        )
        for level in sorted(sheet.levels, key=lambda found: -found.height_m)
    )
    words = f"{_count(len(sheet.parts), 'part')}, {_count(len(sheet.pipes), 'pipe')}."
    groups = (("Floors", floors), ("Title block and paper", paper_rows(sheet)))
    return Subject("sheet", "Sheet", "", rows, words=words, groups=groups)
