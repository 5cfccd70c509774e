"""Everything the sections of a report draw upon, worked out once: the sheet, its survey, its plan and its names.

Owns the names of parts, pipes and ends in a report. Refuses to know sections.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from datetime import date
from functools import cache, cached_property
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.drawing.flags import flags_of
from loopwright.drawing.look import SERVICES
from loopwright.drawing.plan import SheetPlan, plan_sheet
from loopwright.drawing.plans import Flag
from loopwright.engineering.runs.result import Run
from loopwright.files.fingerprint import fingerprint
from loopwright.reports.decisions import Decisions, read
from loopwright.reports.model import Data, Paper
from loopwright.resources import resource_root
from loopwright.sheet.values import End, Part, Pipe, Sheet, Signature
from loopwright.survey import Survey, against
from loopwright.waterways import Waterways
from loopwright.waterways.views import Condition


class Asked(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody wants of a report."""

    paper: Paper = "A4"
    computed: bool = False
    tried: tuple[Condition, ...] = ()
    runs: tuple[Run, ...] = ()
    revision: str = ""
    today: date | None = None


class Matter:
    """A sheet and all that is known about it."""

    def __init__(
        self, sheet: Sheet, catalogue: Catalogue, survey: Survey, asked: Asked, step: Callable[[str], None]
    ) -> None:
        self.sheet, self.catalogue, self.survey, self.asked, self.step = sheet, catalogue, survey, asked, step
        self.ways = Waterways(sheet, catalogue)
        self.tables: list[Data] = []

    @cached_property
    def plan(self) -> SheetPlan:
        """What is drawn where."""
        return plan_sheet(self.sheet, self.catalogue, self.survey.services, against=against(self.sheet, self.catalogue))

    @cached_property
    def flags(self) -> tuple[Flag, ...]:
        """A flag a finding."""
        return flags_of(self.survey.findings)

    @cached_property
    def decisions(self) -> Decisions:
        """What was decided about the findings."""
        return read(self.sheet, self.survey.findings)

    @cached_property
    def settled(self) -> frozenset[int]:
        """Numbers of the findings that somebody settled."""
        return frozenset(f.number for f in self.survey.findings if self.decisions.settled(f))

    @cached_property
    def fingerprint(self) -> str:
        """Sixteen hexadecimal digits that tell one drawing from another; decisions about it do not change it."""
        return fingerprint(self.sheet)

    @property
    def signed(self) -> Signature | None:
        """The last signature, if the drawing is as it was then."""
        last = self.sheet.signatures[-1] if self.sheet.signatures else None
        return last if last is not None and last.fingerprint == self.fingerprint else None

    def kind(self, part: Part) -> Kind:
        """The kind of a part."""
        return self.catalogue[part.kind]

    def name(self, key: str) -> str:
        """What people call a part or pipe, as a subject: its name, else its id, with what it is."""
        if key in self.sheet.pipes:
            return f"pipe {key}"
        head, _, letter = key.partition("/")
        part = self.sheet.parts.get(head)
        if part is None:
            return key
        own = part.name or part.id
        return f"{own}, {letter}" if letter else own

    def named(self, keys: Sequence[str]) -> list[str]:
        """Names without repeats."""
        return list(dict.fromkeys(self.name(k) for k in keys))

    def end(self, end: End) -> str:
        """A pipe's end: the part, and its port where it has more than one worth telling apart."""
        part = self.sheet.parts[end.part]
        own = part.name or part.id
        port = self.kind(part).port(end.port)
        if port is None:
            return f"{own}, {end.port}"
        if len(self.kind(part).ports) < 2 or self.kind(part).inline or not (port.label or self.kind(part).large):
            return own
        label = port.label or port.name.replace("_", " ")
        return f"{own}, {label[:1].lower() + label[1:]}"

    def service(self, pipe: Pipe) -> str:
        """What a pipe carries, in the words of the key of lines."""
        look = SERVICES.get(self.survey.services.get(pipe.id, "unknown"), SERVICES["unknown"])
        return look.words

    def record(self, table: Data) -> None:
        """Keep a table for other programs."""
        self.tables.append(table)


@cache
def wording(name: str) -> dict[str, Any]:
    """A page of words that ships with the reports."""
    return tomllib.loads((resource_root() / "reports" / f"{name}.toml").read_text(encoding="utf-8"))


@cache
def cautions() -> tuple[str, tuple[str, ...]]:
    """Heading and sentences of the cautions."""
    data = tomllib.loads((resource_root() / "cautions.toml").read_text(encoding="utf-8"))
    return data["heading"], tuple(data["lines"])
