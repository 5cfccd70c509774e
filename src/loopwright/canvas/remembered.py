"""Plans remembered with what they were made of: an undo and a redo ask for the same two in turn.

Owns the memory. Refuses to know how a plan is made.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Plan = TypeVar("Plan")
AGO = 2
"""So many plans are remembered of each thing."""


class Same:
    """A record that equals itself alone: quicker to compare than all that is in it."""

    __slots__ = ("record",)

    def __init__(self, record: object) -> None:
        self.record = record

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and self.record is other.record

    def __hash__(self) -> int:
        return id(self.record)


class Remembered(Generic[Plan]):
    """The last plans of each thing by its id."""

    def __init__(self) -> None:
        self._known: dict[str, tuple[tuple[Hashable, Plan], ...]] = {}

    def plan(self, key: str, made_of: Hashable, make: Callable[[], Plan]) -> Plan:
        """The plan of a thing, the very same as before where it was made of the same."""
        known = self._known.get(key, ())
        for one in known:
            if one[0] == made_of:
                return one[1]
        made = make()
        self._known[key] = ((made_of, made), *known[: AGO - 1])
        return made

    def forget(self, key: str) -> None:
        """The thing is gone."""
        self._known.pop(key, None)
