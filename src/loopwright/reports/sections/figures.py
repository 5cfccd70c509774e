"""Figures with their equations, inputs and sources. Owns the tables; computes nothing itself."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.engineering.figures import Figure, Gap
from loopwright.engineering.figures import figures as compute
from loopwright.reports.matter import Matter
from loopwright.reports.model import Block, Cell, Column, Data, Heading, Section, Table, Words
from loopwright.reports.words import capital, rough, sign
from loopwright.waterways.views import NORMAL, POWER_CUT

COLUMNS = (
    Column(key="figure", title="Figure", share=2.3),
    Column(key="value", title="Value", share=1.2, tone="strong"),
    Column(key="equation", title="Equation and inputs", share=3.6, tone="quiet"),
    Column(key="source", title="Source", share=1.9, tone="quiet"),
)


def figures(matter: Matter) -> Iterator[Section]:
    """A table a circuit, source and vessel. The flow is worked out only where that was asked for."""
    matter.step("figures")
    found = list(compute(matter.ways, NORMAL if matter.asked.computed else None))
    if matter.asked.computed:
        matter.step("figures of a power cut")
        seen = set(found)
        found += [f for f in compute(matter.ways, POWER_CUT) if f not in seen]
    groups: dict[str, list[Figure | Gap]] = {}
    for figure in found:
        groups.setdefault(figure.group, []).append(figure)
    blocks: list[Block] = []
    if not matter.asked.computed:
        blocks.append(Words("Flows and temperatures were not worked out for this report.", "quiet"))
    for group, members in groups.items():
        blocks.append(Heading(group))
        blocks.append(Table(columns=COLUMNS, rows=tuple(_row(f) for f in members)))
    matter.record(
        Data(
            "figures",
            ("group", "name", "value", "unit", "equation", "inputs", "source", "about", "note", "missing"),
            tuple(_data(f) for f in found),
        )
    )
    yield Section(key="figures", title="Figures", aside="* an input that was not given", blocks=tuple(blocks))


def _row(figure: Figure | Gap) -> tuple[Cell, ...]:
    if isinstance(figure, Gap):
        return figure.name, "not assessed", f"{figure.missing} is missing", ""
    inputs = [f"{i.name} {rough(i.value, i.unit)}{'*' if i.assumed else ''}" for i in figure.inputs]
    said = (
        figure.equation
        + (f"; {'; '.join(inputs)}" if inputs else "")
        + (f". {capital(figure.note).rstrip('.')}." if figure.note else "")
    )
    return figure.name, rough(figure.value, figure.unit), said, figure.source


def _data(figure: Figure | Gap) -> tuple[str | int | float | bool | None, ...]:
    about = " ".join(figure.about)
    if isinstance(figure, Gap):
        return figure.group, figure.name, None, "", "", "", "", about, "", figure.missing
    inputs = "; ".join(
        f"{i.name} {i.value:.6g} {sign(i.unit)}{' (assumed)' if i.assumed else ''}" for i in figure.inputs
    )
    return (
        figure.group, figure.name, figure.value, figure.unit, figure.equation, inputs, figure.source, about,
        figure.note, "",
    )  # fmt: skip
