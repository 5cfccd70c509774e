"""Answers kept by the waterways they are about, so that everybody who asks the same is told the same at once.

Owns the one way to keep an answer. Refuses to know what is asked: a sheet never changes, so an answer holds as long as
its waterways are kept.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec, Protocol, TypeVar, cast


class Keeps(Protocol):
    """Waterways, or what stands for them."""

    @property
    def cache(self) -> dict[object, object]:
        """Answers by question."""


K = TypeVar("K", bound=Keeps)
P = ParamSpec("P")
T = TypeVar("T")


def kept(question: Callable[Concatenate[K, P], T]) -> Callable[Concatenate[K, P], T]:
    """Answer a question once for the same waterways and the same further arguments, which must be hashable.

    The answer is shared: nobody may change it, and it may be no iterator.
    """

    @wraps(question)
    def answer(of: K, *args: P.args, **kwargs: P.kwargs) -> T:
        memo = (question, args, *kwargs.items())
        cache = of.cache
        if memo not in cache:
            cache[memo] = question(of, *args, **kwargs)
        return cast(T, cache[memo])

    return answer
