"""What the properties panel is told: a subject with rows, each with a label, a value and the edit that sets it.

Owns these records. Refuses to know what is chosen and which widgets show it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal

from loopwright.window.document import Edit


@dataclass(frozen=True)
class Row:
    """One property of what is chosen. `edit` makes the edit that sets a new value."""

    key: str
    label: str
    edit: Callable[[object], Edit]
    value: object = None
    sort: Literal["number", "text", "choice", "flag"] = "text"
    unit: str = ""
    help: str = ""
    hint: str = ""
    usual: tuple[float, float] | None = None
    """The usual range, in `unit`."""
    choices: tuple[tuple[object, str], ...] = ()
    assumed: bool = False
    """The value is the catalogue's; nobody typed it."""
    mixed: bool = False
    """The chosen things differ in it."""
    blank: bool = True
    """May be left empty: not stated, or back to what the catalogue assumes."""


@dataclass(frozen=True)
class Subject:
    """What the panel is about: a heading, its rows, and the vessel whose tappings are listed."""

    key: str
    title: str
    aside: str = ""
    rows: tuple[Row, ...] = ()
    vessel: str = ""
    words: str = ""
    groups: tuple[tuple[str, tuple[Row, ...]], ...] = field(default=())
