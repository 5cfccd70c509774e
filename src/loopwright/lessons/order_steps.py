"""The steps of the order of work as data: stages, titles, and what comes before what with its reason.

Owns the reading of `resources/order/steps.toml` and its soundness. Knows no sheet.
"""

from __future__ import annotations

from functools import cache
from typing import Literal

import msgspec

from loopwright.errors import LessonError
from loopwright.plain import read_toml
from loopwright.resources import resource_root
from loopwright.rules.registry import facts

TABLE = "steps.toml"
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
    """The table that ships. Raises LessonError with its place where it is broken."""
    _, data = read_toml(resource_root() / "order" / TABLE, LessonError, "The order of work")
    try:
        found = msgspec.convert(data, Steps)
    except msgspec.ValidationError as bad:
        raise LessonError("The order of work cannot be read", where=f"{TABLE}: {bad}", do="Mend that key") from None
    stages, known = {stage.key for stage in found.stage}, [step.key for step in found.step]
    for step in found.step:
        named = [("stage", step.stage, step.stage in stages)]
        named += [("step", after.step, after.step in known) for after in step.after]
        named += [("source", key, key in facts()) for key in (*step.facts, *(k for a in step.after for k in a.facts))]
        for sort, key, there in named:
            if not there:
                where = f"{TABLE}, step {step.key}"
                raise LessonError(f"There is no {sort} “{key}”", where=where, do="Mend its name, or add it")
        if known.count(step.key) > 1:
            raise LessonError(f"Two steps are called “{step.key}”", where=TABLE, do="Call one of them something else")
    return found


@cache
def rank_of_step() -> dict[str, int]:
    """Place of each step in the table."""
    return {step.key: number for number, step in enumerate(steps().step)}


def checked(key: str) -> str:
    """The key of a step, if the table has it. Raises LessonError."""
    if key not in rank_of_step():
        raise LessonError(
            f"A job is of the step “{key}”, which is none", where=TABLE, do="Add it there, or mend its name"
        )
    return key
