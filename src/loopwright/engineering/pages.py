"""The Help pages of the computations: equation, symbols, validity, a worked example, source.

Owns finding and reading `resources/computations/*.md`. Knows nothing of the figures that name them.
"""

from __future__ import annotations

import re
from functools import cache

import msgspec

from loopwright.errors import LoopwrightError
from loopwright.plain import read_page
from loopwright.resources import resource_root

ORDER = (
    "flow-network",
    "pump-duty",
    "water",
    "antifreeze",
    "pipe-friction",
    "fittings",
    "pipe-heat-loss",
    "emitters",
    "coils",
    "store",
    "hot-water",
    "expansion",
    "cistern",
    "vessel",
    "discharge",
    "heat-balance",
    "runs",
)
"""Pages in the order in which people read them; others follow by name."""


class ComputationPage(msgspec.Struct, frozen=True):
    """A computation's page: its name, title, where it holds, its source, and the whole as Markdown."""

    name: str
    title: str
    validity: str
    source: str
    text: str

    def section(self, heading: str) -> str:
        """The text under a heading, empty if there is none."""
        found = re.search(rf"^## {re.escape(heading)}\n(.*?)(?=^## |\Z)", self.text, re.MULTILINE | re.DOTALL)
        return found[1].strip() if found else ""


@cache
def page(name: str) -> ComputationPage:
    """The page of a computation. Raises LoopwrightError naming those there are."""
    path = resource_root() / "computations" / f"{name}.md"
    if not re.fullmatch(r"[a-z0-9-]+", name) or not path.is_file():
        raise LoopwrightError(
            f"There is no computation “{name}”",
            where=f"Its page would be resources/computations/{name}.md",
            do=f"There are: {', '.join(names())}",
        )
    head, text = read_page(path, f"The page of the computation {name}", "title", "valid", "source")
    return ComputationPage(name, head["title"], head["valid"], head["source"], text)


@cache
def names() -> tuple[str, ...]:
    """Names of all pages, in reading order."""
    found = {path.stem for path in (resource_root() / "computations").glob("*.md")}
    return (*(n for n in ORDER if n in found), *sorted(found - set(ORDER)))
