"""The words of the trade: what each means, which words mean the same, and where they stand in a text.

Owns the reading of `resources/glossary.toml` and the looking up. Knows no window: it says what a tooltip would say.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType

import msgspec

from loopwright.catalogue import Catalogue, Kind
from loopwright.errors import LoopwrightError
from loopwright.resources import resource_root


class GlossaryError(LoopwrightError):
    """A word that the glossary does not have."""


class Term(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One meaning. `words[0]` is the usual word. `kinds` are ids of kinds of part, `page` the slug of a rule.

    A `common` word means other things too, and is never lit in running text.
    """

    words: tuple[str, ...]
    says: str
    kinds: tuple[str, ...] = ()
    page: str = ""
    common: bool = False

    @property
    def name(self) -> str:
        """The usual word."""
        return self.words[0]


class Found(msgspec.Struct, frozen=True):
    """A term in a text: its characters from `start` up to `end`."""

    start: int
    end: int
    term: Term


class _Table(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    term: tuple[Term, ...]


@cache
def terms() -> tuple[Term, ...]:
    """Every term, by the alphabet of its usual words."""
    path = resource_root() / "glossary.toml"
    return msgspec.convert(tomllib.loads(path.read_text(encoding="utf-8")), _Table).term


@cache
def glossary() -> Mapping[str, Term]:
    """Term by each of its words, in small letters and with spaces for hyphens."""
    return MappingProxyType({_plain(word): term for term in terms() for word in term.words})


def lookup(word: str, catalogue: Catalogue | None = None) -> Term | None:
    """The term of a word, in any spelling of capitals and hyphens, singular or plural.

    With a catalogue, words for its kinds of part are known too, explained by the kind's own help. None for a word that
    nobody explains.
    """
    known = glossary()
    for form in _forms(_plain(word)):
        if form in known:
            return known[form]
    if catalogue is None:
        return None
    by_word = _words_of_kinds(catalogue)
    kind = next((by_word[form] for form in _forms(_plain(word)) if form in by_word), None)
    if kind is None:
        return None
    return Term(words=(kind.name, *kind.synonyms), says=kind.help, kinds=(kind.id,))


@cache
def _words_of_kinds(catalogue: Catalogue) -> Mapping[str, Kind]:
    return {_plain(w): kind for kind in reversed(list(catalogue)) for w in (kind.name, *kind.synonyms)}


def meaning(word: str, catalogue: Catalogue | None = None) -> Term:
    """The term of a word. Raises GlossaryError, with words that are spelt alike, when there is none."""
    found = lookup(word, catalogue)
    if found is not None:
        return found
    near = difflib.get_close_matches(_plain(word), list(glossary()), n=3, cutoff=0.6)
    names = list(dict.fromkeys(glossary()[w].name for w in near))
    do = (
        f"Perhaps you mean {' or '.join(f'“{name}”' for name in names)}"
        if names
        else "`loopwright glossary` lists the words"
    )
    raise GlossaryError(f"The glossary has no word “{word}”", do=do)


def search(catalogue: Catalogue, words: str) -> list[Kind]:
    """Kinds of part that somebody who types these words may mean: by their own names first, then by the glossary.

    A term answers when one of its words holds every word that was typed.
    """
    found = catalogue.find(words)
    wanted = _plain(words).split()
    if not wanted:
        return found
    seen = {kind.id for kind in found}
    for term in terms():
        if term.kinds and any(all(w in _plain(word) for w in wanted) for word in term.words):
            for kind_id in term.kinds:
                if kind_id in catalogue and kind_id not in seen:
                    seen.add(kind_id)
                    found.append(catalogue[kind_id])
    return found


def terms_in(text: str) -> tuple[Found, ...]:
    """Terms in a text, the longest words first where they overlap, each term once; common words are left out."""
    out: list[Found] = []
    seen: set[str] = set()
    for match in _pattern().finditer(text):
        term = lookup(match[0])
        if term is not None and term.name not in seen:
            seen.add(term.name)
            out.append(Found(match.start(), match.end(), term))
    return tuple(out)


@cache
def _pattern() -> re.Pattern[str]:
    words = sorted((w for term in terms() if not term.common for w in term.words), key=len, reverse=True)
    alike = (r"[\s-]".join(re.escape(piece) for piece in re.split(r"[\s-]", word)) for word in words)
    return re.compile(rf"(?<![\w-])(?:{'|'.join(alike)})(?:e?s)?(?![\w-])", re.IGNORECASE)


def _plain(word: str) -> str:
    return " ".join(re.sub(r"[-‐–_]", " ", word.casefold()).split())


def _forms(word: str) -> tuple[str, ...]:
    """A word as it is, and what it may be the plural of."""
    forms = [word]
    if word.endswith("ies"):
        forms.append(word[:-3] + "y")
    if word.endswith("es"):
        forms.append(word[:-2])
    if word.endswith("s"):
        forms.append(word[:-1])
    return tuple(forms)
