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
    """One number about a sheet. `about` are ids of the parts and pipes it concerns.

    `topic` is one of `TOPICS`, to list like with like. `quantity` is the name without its subject, so that figures of
    one quantity compare and sort by value; empty: the name itself. `page` names the Help page of its computation (see
    `engineering.pages`), and `valid` says in words within what limits the equation holds.
    """

    group: str
    name: str
    about: tuple[str, ...]
    value: float
    unit: str
    equation: str
    inputs: tuple[Input, ...] = ()
    source: str = ""
    note: str = ""
    topic: str = ""
    quantity: str = ""
    page: str = ""
    valid: str = ""


class Gap(msgspec.Struct, frozen=True, kw_only=True):
    """A figure that cannot be made, and what is missing. `prop` is the property to state, where it is one."""

    group: str
    name: str
    about: tuple[str, ...]
    missing: str
    topic: str = ""
    page: str = ""
    prop: str = ""


TOPICS = ("stores", "hot water", "waters", "discharge", "heat balance", "fires", "pumps", "pipes")
"""Topics in the order in which people read them."""
