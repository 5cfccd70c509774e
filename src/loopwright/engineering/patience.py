"""Whether anybody still waits for a long computation: asked at every step of the flow network.

Owns the question and who answers it. Where nobody was named, every computation is wanted to its end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_overtaken: ContextVar[Callable[[], bool] | None] = ContextVar("overtaken", default=None)


class GivenUp(BaseException):
    """Nobody waits any more. No `Exception`: what turns errors into answers must not make an answer of this."""


@contextmanager
def while_wanted(overtaken: Callable[[], bool]) -> Iterator[None]:
    """Computations within raise `GivenUp` at their next step once `overtaken` says that nobody waits for them."""
    token = _overtaken.set(overtaken)
    try:
        yield
    finally:
        _overtaken.reset(token)


def ask() -> None:
    """Ask whether to go on. Raises GivenUp."""
    overtaken = _overtaken.get()
    if overtaken is not None and overtaken():
        raise GivenUp
