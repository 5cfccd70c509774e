"""What a figure is: a value that a person may trust because the equation, inputs and source stand beside it."""

from __future__ import annotations

import msgspec


class Input(msgspec.Struct, frozen=True):
    """A quantity that went into a figure. `assumed` marks a default that loopwright filled in."""

    name: str
    value: float
    unit: str
    assumed: bool = False


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """One number about a sheet. `about` are ids of the parts and pipes it concerns."""

    group: str
    name: str
    about: tuple[str, ...]
    value: float
    unit: str
    equation: str
    inputs: tuple[Input, ...] = ()
    source: str = ""
    note: str = ""


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """A figure that cannot be made, and what is missing."""

    group: str
    name: str
    about: tuple[str, ...]
    missing: str
