"""The steps of the order of work as data: stages, titles, and what comes before what with its reason.

Owns the reading of `resources/order/steps.toml` and its soundness. Knows no sheet.
"""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Literal

import msgspec

from loopwright.resources import resource_root

NO_SOURCE = "common practice, no source"
"""What is said of a reason that no published page bears out."""


class After(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A step that comes first, and why. `facts` are keys of resources/sources.toml; none: common practice."""

    step: str
    why: str
    by: Literal["near", "part", "any"] = "near"
    """Which jobs of the step it means: those of the same water or part, of the same part, or every one."""
    facts: tuple[str, ...] = ()


class Step(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """One sort of job. `title` and `how` may hold {subject}, {list} and {figure}."""

    key: str
    stage: str
    title: str
    how: str = ""
    facts: tuple[str, ...] = ()
    after: tuple[After, ...] = ()


class Stage(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A part of the whole work. `by_place`: its jobs are listed floor by floor."""

    key: str
    name: str
    by_place: bool = False


class Steps(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The whole table, in the order of the file."""

    stage: tuple[Stage, ...]
    step: tuple[Step, ...]


@cache
def steps() -> Steps:
    """The table that ships."""
    path = resource_root() / "order" / "steps.toml"
    return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), Steps)


@cache
def rank_of_step() -> dict[str, int]:
    """Place of each step in the table."""
    return {step.key: number for number, step in enumerate(steps().step)}
