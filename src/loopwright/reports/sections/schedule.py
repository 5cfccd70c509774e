"""The schedules: parts with their properties, pipes with what they carry, stores with their tappings.

Owns the tables. Refuses to know rules.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loopwright.catalogue.kinds import PropSpec
from loopwright.reports.buying import order
from loopwright.reports.matter import Matter, wording
from loopwright.reports.model import Block, Cell, Column, Data, Heading, Pair, Section, Table, Words
from loopwright.reports.pictures import store_picture
from loopwright.reports.words import figure, listed, quantity
from loopwright.sheet.geometry import developed_length_m
from loopwright.sheet.ports import lagging_m, number, size_of
from loopwright.sheet.values import Part, Pipe, PropValue

STORE_MM = (66.0, 110.0)


def stores(matter: Matter) -> Iterator[Section]:
    """A section of each store and cylinder, with its tappings and coils."""
    blocks: list[Block] = []
    taps: list[tuple[str | int | float | bool | None, ...]] = []
    coils: list[tuple[str | int | float | bool | None, ...]] = []
    for key in matter.plan.stores:
        part = matter.sheet.parts[key]
        blocks += [Heading(matter.name(key), _store_words(matter, part), key=f"store-{key}")]
        tables: list[Block] = [_tappings(matter, part)]
        if part.coils:
            tables.append(_coils(part))
        blocks.append(Pair((store_picture(matter.plan, key, STORE_MM),), tuple(tables), 0.37))
        taps += [
            (key, t.letter, t.name, t.height_m, t.side, t.purpose, t.size, t.layering, _holds(matter, part, t.letter))
            for t in part.tappings
        ]
        coils += [(key, c.name, c.bottom_m, c.top_m, c.lower, c.upper, c.purpose, c.area_m2, c.content_l)
                  for c in part.coils]  # fmt: skip
    matter.record(
        Data(
            "tappings",
            ("store", "letter", "name", "height_m", "side", "purpose", "size", "layering", "to"),
            tuple(taps),
        )
    )
    matter.record(
        Data("coils", ("store", "name", "bottom_m", "top_m", "lower", "upper", "purpose", "area_m2", "content_l"),
             tuple(coils))
    )  # fmt: skip
    if blocks:
        yield Section(key="stores", title="Store section", blocks=tuple(blocks))


def _store_words(matter: Matter, part: Part) -> str:
    kind = matter.kind(part)
    width, high = size_of(part, kind)
    said = [kind.name.lower()]
    volume = number(part, kind, "volume_l")
    if volume is not None:
        said.append(quantity(volume, "l"))
    said.append(f"{figure(width, 2)} m across, {figure(high, 2)} m high")
    lagging = lagging_m(part, kind)
    if lagging:
        said.append(f"{lagging * 1000:.0f} mm insulation")
    return ", ".join(said)


def _holds(matter: Matter, part: Part, letter: str) -> str:
    """What is joined to a tapping."""
    from loopwright.sheet.values import End

    pipe = matter.sheet.taken.get(End(part.id, letter))
    if pipe is None:
        return ""
    line = matter.sheet.pipes[pipe]
    other = line.other(part.id) if line.a.part != line.b.part else line.b
    return matter.end(other)


def _tappings(matter: Matter, part: Part) -> Table:
    purposes: Mapping[str, str] = wording("words")["purposes"]
    rows: list[tuple[Cell, ...]] = []
    for tap in sorted(part.tappings, key=lambda t: (-t.height_m, t.letter)):
        use = tap.name or purposes.get(tap.purpose, tap.purpose.replace("_", " "))
        to = _holds(matter, part, tap.letter) or {"sensor": "pocket", "capped": "capped"}.get(tap.purpose, "open")
        rows.append((tap.letter, tap.height_m, tap.side, tap.size if tap.purpose != "sensor" else "", use, to))
    return Table(
        columns=(
            Column(key="letter", title="", share=0.35, tone="strong"),
            Column(key="height_m", title="Height", unit="m", share=0.95, places=2, align="right"),
            Column(key="side", title="Side", share=0.75),
            Column(key="size", title="Size", share=0.6),
            Column(key="use", title="For", share=1.9),
            Column(key="to", title="Joined to", share=2.0),
        ),
        rows=tuple(rows),
        note="Heights above the base of the store." + (
            " Layering: what comes in finds its own height." if any(t.layering for t in part.tappings) else ""
        ),
    )  # fmt: skip


def _coils(part: Part) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (c.name, c.bottom_m, c.top_m, f"{c.lower} to {c.upper}", c.area_m2, c.content_l) for c in part.coils
    ]
    return Table(
        columns=(
            Column(key="name", title="Coil", share=1.9, tone="strong"),
            Column(key="bottom_m", title="From", unit="m", share=0.8, places=2, align="right"),
            Column(key="top_m", title="To", unit="m", share=0.8, places=2, align="right"),
            Column(key="ends", title="Tappings", share=1.0),
            Column(key="area_m2", title="Area", unit="m²", share=0.9, align="right"),
            Column(key="content_l", title="Content", unit="l", share=0.95, align="right"),
        ),
        rows=tuple(rows),
    )


def parts(matter: Matter) -> Iterator[Section]:
    """Every part with its properties, joints counted; then every pipe; then what to buy."""
    yield Section(
        key="parts",
        title="Parts",
        aside=f"{len(matter.sheet.parts)} on the sheet",
        blocks=(_parts(matter), Words("Properties marked * were not given; the value is a usual one.", "quiet")),
    )
    yield Section(
        key="pipes",
        title="Pipes",
        aside="lengths as drawn, with what the section cannot show",
        blocks=(_pipes(matter),),
    )
    yield Section(key="to-buy", title="To buy", aside="pipe with 10 % allowance", blocks=tuple(_buying(matter)))


def _parts(matter: Matter) -> Table:
    rows: list[tuple[Cell, ...]] = []
    data: list[tuple[str | int | float | bool | None, ...]] = []
    props: list[tuple[str | int | float | bool | None, ...]] = []
    groups: dict[str, list[Part]] = {}
    for part in matter.sheet.parts.values():
        groups.setdefault(matter.kind(part).group, []).append(part)
    for group in matter.catalogue.groups():
        if group not in groups:
            continue
        rows.append((group,))
        plain: dict[str, list[Part]] = {}
        for part in sorted(groups[group], key=lambda p: (p.kind, p.name or p.id)):
            kind = matter.kind(part)
            said = sorted((s for s in kind.props if _worth(part, s)), key=lambda s: s.name not in part.props)
            told = "; ".join(_property(part, spec) for spec in said)
            data.append((part.id, part.name, part.kind, kind.name, part.x_m, part.height_m, part.existing))
            props += [
                (part.id, spec.name, _given(part, spec), spec.unit, spec.name in part.props)
                for spec in kind.props
                if _given(part, spec) is not None
            ]
            if not kind.large and not part.props and not part.name and group == "Joints":
                plain.setdefault(kind.name, []).append(part)
                continue
            where = f"{figure(part.x_m, 2)} / {figure(part.height_m, 2)}"
            named = (part.name or part.id) + (", existing" if part.existing else "")
            rows.append((named, kind.name, where, told))
        for name, same in plain.items():
            rows.append((f"{len(same)}", name, "", listed([p.id for p in same])))
    matter.record(Data("parts", ("id", "name", "kind", "kind_name", "x_m", "height_m", "existing"), tuple(data)))
    matter.record(Data("properties", ("part", "property", "value", "unit", "given"), tuple(props)))
    return Table(
        columns=(
            Column(key="part", title="Part", share=1.7, tone="strong"),
            Column(key="kind", title="Kind", share=1.9),
            Column(key="place", title="x / height, m", share=1.15),
            Column(key="properties", title="Properties", share=4.6, tone="quiet"),
        ),
        rows=tuple(rows),
    )


def _given(part: Part, spec: PropSpec) -> PropValue:
    return part.props.get(spec.name, spec.default)


def _worth(part: Part, spec: PropSpec) -> bool:
    """Whether a property is worth its ink: what was given, and usual values that say something."""
    found = _given(part, spec)
    return found is not None and found != "" and (spec.name in part.props or found is not False)


def _property(part: Part, spec: PropSpec) -> str:
    found = _given(part, spec)
    mark = "" if spec.name in part.props else "*"
    label = spec.label[:1].lower() + spec.label[1:]
    if isinstance(found, bool):
        return f"{label}: {'yes' if found else 'no'}{mark}"
    if isinstance(found, int | float):
        return f"{label} {quantity(float(found), spec.unit)}{mark}"
    return f"{label} {str(found).replace('_', ' ')}{mark}"


def rise_m(pipe: Pipe, start: tuple[float, float], end: tuple[float, float]) -> float:
    """How much higher end b lies than end a."""
    return round(end[1] - start[1], 4) + 0.0


def _pipes(matter: Matter) -> Table:
    ways = matter.ways
    rows: list[tuple[Cell, ...]] = []
    data: list[tuple[str | int | float | bool | None, ...]] = []
    of_service: dict[str, list[Pipe]] = {}
    for pipe in matter.sheet.pipes.values():
        if not pipe.joint:
            of_service.setdefault(matter.service(pipe), []).append(pipe)
    for service in sorted(of_service):
        rows.append((service,))
        for pipe in of_service[service]:
            long = developed_length_m(matter.sheet, pipe, matter.catalogue)
            rise = rise_m(pipe, ways.at["port", *pipe.a_key], ways.at["port", *pipe.b_key])
            bends = len(pipe.points) + pipe.extra_bends
            more = []
            if pipe.graded:
                more.append(f"graded, rising to {matter.end(pipe.a if pipe.graded == 'a' else pipe.b)}")
            if pipe.insulation_mm:
                more.append(f"{pipe.insulation_mm:g} mm insulation")
            size = f"{pipe.size} {pipe.material}"
            rows.append((pipe.id, matter.end(pipe.a), matter.end(pipe.b), size, long, bends, rise, "; ".join(more)))
            data.append(
                (pipe.id, pipe.a.part, pipe.a.port, pipe.b.part, pipe.b.port, pipe.size, pipe.material,
                 matter.survey.services.get(pipe.id, ""), round(long, 4), bends, rise, pipe.graded,
                 pipe.insulation_mm)
            )  # fmt: skip
    matter.record(
        Data(
            "pipes",
            ("id", "from_part", "from_port", "to_part", "to_port", "size", "material", "service", "length_m", "bends",
             "rise_m", "graded_to_end", "insulation_mm"),
            tuple(data),
        )
    )  # fmt: skip
    longest = max((len(p) for p in matter.sheet.pipes), default=4)
    return Table(
        columns=(
            Column(key="id", title="Pipe", share=min(2.4, 0.35 + 0.105 * longest), tone="strong"),
            Column(key="from", title="From", share=1.9),
            Column(key="to", title="To", share=1.9),
            Column(key="size", title="Size", share=1.05),
            Column(key="length_m", title="Length", unit="m", share=0.95, places=2, align="right"),
            Column(key="bends", title="Bends", share=0.7, align="right"),
            Column(key="rise_m", title="Rise", unit="m", share=0.8, places=2, align="right"),
            Column(key="more", title="", share=1.5, tone="quiet"),
        ),
        rows=tuple(rows),
        note="Rise from the first end to the second; a minus is a fall.",
    )


def _buying(matter: Matter) -> Iterator[Block]:
    bought = order(matter.sheet, matter.catalogue, matter.ways)
    yield Table(
        columns=(
            Column(key="size", title="Pipe", share=1.2, tone="strong"),
            Column(key="title", title="", share=3.0, tone="quiet"),
            Column(key="count", title="Pieces", share=0.8, align="right"),
            Column(key="drawn_m", title="Drawn", unit="m", share=1.0, places=1, align="right"),
            Column(key="order_m", title="To buy", unit="m", share=1.0, places=1, align="right", tone="strong"),
        ),
        rows=tuple((f"{p.size} {p.material}", p.title, p.count, p.drawn_m, p.order_m) for p in bought.pipes),
    )
    yield Table(
        columns=(
            Column(key="count", title="No.", share=0.4, align="right", tone="strong"),
            Column(key="kind", title="Part", share=2.2),
            Column(key="given", title="As given on the sheet", share=4.4, tone="quiet"),
        ),
        rows=tuple((line.count, line.name, "; ".join(line.given)) for line in bought.parts),
    )
    matter.record(
        Data("parts-to-buy", ("count", "kind", "name", "given"),
             tuple((line.count, line.kind, line.name, "; ".join(line.given)) for line in bought.parts))
    )  # fmt: skip
    matter.record(
        Data("pipe-to-buy", ("size", "material", "pipes", "drawn_m", "allowance_percent", "order_m"),
             tuple((p.size, p.material, p.count, p.drawn_m, bought.allowance_percent, p.order_m) for p in bought.pipes))
    )  # fmt: skip
