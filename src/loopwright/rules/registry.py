"""The registry of rules: one function a rule, one line to register it. Its page is found by its slug.

A rule is a function of a `Case` that yields `Finding`, `Missing` or `Sound`; yielding nothing means not applicable.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from typing import Literal

import msgspec

from loopwright.errors import LoopwrightError
from loopwright.plain import read_page
from loopwright.resources import resource_root
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways
from loopwright.waterways.keeping import kept
from loopwright.waterways.naming import called

Said = Finding | Missing | Sound
Check = Callable[["Case"], Iterator[Said]]
THEMES = (
    "solid-fuel",
    "gravity-loop",
    "vent-and-feed",
    "order",
    "sealed",
    "tapping",
    "circuit",
    "domestic",
    "discharge",
    "underfloor",
    "solar",
    "control",
    "sizing",
)


class Fact(msgspec.Struct, frozen=True):
    """A published figure and how far it is to be trusted: seen, recalled, or practice."""

    key: str
    says: str
    source: str
    confidence: Literal["seen", "recalled", "practice"]
    value: float | list[float] | str | None = None
    unit: str = ""
    computed: bool = False
    doubt: bool = False
    formula: str = ""


@cache
def facts() -> dict[str, Fact]:
    """Every published figure by key."""
    data = tomllib.loads((resource_root() / "sources.toml").read_text(encoding="utf-8"))
    return {key: msgspec.convert({"key": key, **table}, Fact) for key, table in data.items() if isinstance(table, dict)}


def published(key: str, *, last: bool = False) -> float:
    """A published figure by its key, which no sheet may set otherwise. `last`: the upper end of a range."""
    fact = facts().get(key)
    if fact is None:
        raise KeyError(f"no limit {key}: add it to resources/sources.toml, and to limits.toml if a sheet may set it")
    value = fact.value[-1 if last else 0] if isinstance(fact.value, list) else fact.value
    if not isinstance(value, int | float):
        raise KeyError(f"{key} has no plain number")
    return float(value)


class Case:
    """What a rule may look at: the sheet, its waterways, and limits (a sheet may set stricter ones)."""

    def __init__(self, ways: Waterways) -> None:
        self.ways = ways

    @property
    def sheet(self) -> Sheet:
        """The sheet under survey."""
        return self.ways.sheet

    @property
    def cache(self) -> dict[object, object]:
        """What is kept of it: with the waterways, so that every case of them shares it."""
        return self.ways.cache

    @kept
    def limit(self, key: str, *, last: bool = False) -> float:
        """A limit by the key of its source; the sheet's own figure if it has one. `last`: the upper end of a range."""
        own = self.sheet.limits.get(key)
        return published(key, last=last) if own is None else own

    def name(self, ident: str) -> str:
        """What people call a part or a pipe in a sentence."""
        return called(self.ways, ident)

    def lacks(self, subject: str, part: str, prop: str, words: str) -> Missing:
        """The answer for a subject that a datum of a part, or of a pipe or link, is missing."""
        return Missing(subject, f"{self.name(part)}: {words} is missing", part, prop)

    def unanswered(self, subject: str, part: str, prop: str, words: str) -> Missing:
        """The answer for a subject that a question about a part, in words, has no answer yet."""
        return Missing(subject, f"{self.name(part)}: {words} is not answered", part, prop)


class Rule(msgspec.Struct, frozen=True):
    """A registered rule. `yields_to` are slugs that silence it on the same subject or a shared culprit.

    A `computed` rule solves the flow, which takes a second and more: it is asked only when somebody wants it.
    """

    slug: str
    check: Check
    kinds: str
    yields_to: tuple[str, ...] = ()
    rank: int = 0
    computed: bool = False

    @property
    def theme(self) -> str:
        """The theme, the part before the slash."""
        return self.slug.split("/")[0]


_RULES: dict[str, Rule] = {}
_SLUG = re.compile(r"[a-z0-9-]+/[a-z0-9-]+")


def rule(slug: str, *, about: str, yields_to: tuple[str, ...] = (), computed: bool = False) -> Callable[[Check], Check]:
    """Register a rule. `about` says what its subject is, in words; `computed` that it solves the flow."""

    def register(check: Check) -> Check:
        if slug in _RULES:
            raise ValueError(f"rule {slug} is registered twice")
        if not _SLUG.fullmatch(slug) or slug.split("/")[0] not in THEMES:
            raise ValueError(f"rule {slug}: a slug is theme/name-in-small-letters, with a theme of {', '.join(THEMES)}")
        _RULES[slug] = Rule(slug, check, about, yields_to, computed=computed)
        return check

    return register


Sharper = Callable[["Case", tuple[Said, ...]], Iterator[Said]]
_SHARPER: dict[str, Sharper] = {}
_SHARPENED: dict[str, Rule] = {}


def sharpens(slug: str) -> Callable[[Sharper], Sharper]:
    """Register what the solved flow adds to a rule of the graph: a function of the case and of what the rule said.

    It answers instead of the rule wherever rules that solve the flow are asked, and only there.
    """

    def register(sharper: Sharper) -> Sharper:
        if slug in _SHARPER:
            raise ValueError(f"rule {slug} is sharpened twice")
        _SHARPER[slug] = sharper
        return sharper

    return register


def _sharpened(found: Rule) -> Rule:
    """The rule with the solved flow's answer, one value as long as the program runs."""
    if found.slug not in _SHARPENED:
        sharper = _SHARPER[found.slug]
        plain = found.check
        _SHARPENED[found.slug] = msgspec.structs.replace(found, check=lambda case: sharper(case, tuple(plain(case))))
    return _SHARPENED[found.slug]


def all_rules(*, computed: bool = False) -> dict[str, Rule]:
    """Every rule by slug, by theme then by page order; those that solve the flow only if `computed`."""
    from loopwright.rules import themes  # registers them

    if computed:
        themes.load_solving()
    asked = {slug: found for slug, found in _RULES.items() if computed or not found.computed}
    if computed:
        asked = {slug: _sharpened(found) if slug in _SHARPER else found for slug, found in asked.items()}
    return dict(sorted(asked.items(), key=lambda item: THEMES.index(item[1].theme)))


class Page(msgspec.Struct, frozen=True):
    """A rule's page: front matter and Markdown."""

    slug: str
    title: str
    severity: Literal["danger", "fault", "advice"]
    sources: tuple[str, ...]
    view: str
    text: str
    when: str = ""
    """The condition in which the fault tells, in the words of `replay`; empty where it tells at all times."""


@cache
def page(slug: str) -> Page:
    """The page of a rule. Raises LoopwrightError when there is none."""
    path = resource_root() / "rules" / f"{slug}.md"
    if not _SLUG.fullmatch(slug) or not path.is_file():
        if slug in _RULES:
            raise LoopwrightError(
                f"The rule {slug} has no page",
                where=f"resources/rules/{slug}.md",
                do="Write it as the others are",
            )
        raise LoopwrightError(f"There is no rule “{slug}”", do="`loopwright rules` lists them")
    head, text = read_page(path, f"The page of the rule {slug}", "title", "severity")
    unknown = [key for key in head.get("sources", ()) if key not in facts()]
    if unknown:
        raise LoopwrightError(
            f"The page of the rule {slug} names the source {unknown[0]}, which is none",
            where=path.name,
            do="Add it to resources/sources.toml, or mend its key",
        )
    return Page(
        slug=slug,
        title=head["title"],
        severity=head["severity"],
        sources=tuple(head.get("sources", ())),
        view=str(head.get("view", "")),
        text=text,
        when=str(head.get("when", "")),
    )


__all__ = [
    "Case",
    "Fact",
    "Finding",
    "Missing",
    "Page",
    "Rule",
    "Severity",
    "Sound",
    "all_rules",
    "facts",
    "page",
    "published",
    "rule",
    "sharpens",
]
