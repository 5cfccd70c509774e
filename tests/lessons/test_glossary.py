"""The glossary: every word has one plain meaning, and the words of rules, lessons and the catalogue are known.

What the words mean is common practice, no source.
"""

from __future__ import annotations

import json
import re
import tomllib

import pytest
from click.testing import CliRunner

from loopwright.catalogue import standard_catalogue
from loopwright.cli import cli
from loopwright.lessons.glossary import GlossaryError, glossary, lookup, meaning, search, terms, terms_in
from loopwright.resources import resource_root
from loopwright.rules.registry import all_rules, page

CATALOGUE = standard_catalogue()
LESSONS = sorted((resource_root() / "lessons").glob("*.toml"))
TRADE_WORDS = """
heat leak; open vent; cold feed; gravity loop; check valve; flap valve; dip; hump; loading unit; mains inlet;
mixing valve; sealed water; relief valve; expansion vessel; filling loop; coil; tapping; pocket; drain cock; interlock;
immersion heater; high limit; tundish; thermostat; circuit; pump; head; backflow; cistern; turn-over; scald; manifold;
header; cut-out; discharge pipe; bypass; collector; radiator; union; lockshield; unvented cylinder; power cut; slumber;
circulating height; layers; precharge; neutral point; pumping over; stagnation; water line; vented system
"""
"""Words that the titles of the rules and the lessons lean on."""

PLAIN_TITLES = {
    "Water running too fast",
    "Part under more pressure than it can bear",
    "Too little heat for the house",
}
"""Titles of rules that need no word of the trade."""


def words_of(value: object) -> list[str]:
    """Every text in a lesson, however deep."""
    if isinstance(value, str):
        return [value]
    if isinstance(value, dict):
        return [w for v in value.values() for w in words_of(v)]
    return [w for v in value for w in words_of(v)] if isinstance(value, list) else []


def test_each_word_has_one_meaning_said_in_one_sentence() -> None:
    words = [re.sub("-", " ", w.casefold()) for t in terms() for w in t.words]
    assert len(words) == len(set(words)) == len(glossary())
    assert [t.name.casefold() for t in terms()] == sorted(t.name.casefold() for t in terms())
    for term in terms():
        assert term.says.endswith(".") and term.says[0].isupper() and len(term.says) < 140
        assert set(term.kinds) <= {k.id for k in CATALOGUE}
        assert not term.page or term.page in all_rules() or page(term.page)


@pytest.mark.parametrize("word", [w.strip() for w in TRADE_WORDS.replace("\n", " ").split(";")])
def test_a_trade_word_is_explained(word: str) -> None:
    found = lookup(word)
    assert found is not None and word.split()[0][:4].casefold() in " ".join((*found.words, found.says)).casefold()


@pytest.mark.parametrize("kind", list(CATALOGUE), ids=lambda k: k.id)
def test_every_kind_is_found_by_its_name_and_by_the_glossary_s_words(kind: object) -> None:
    assert lookup(kind.name, CATALOGUE) is not None  # type: ignore[attr-defined]
    for term in terms():
        if kind.id in term.kinds:  # type: ignore[attr-defined]
            for word in term.words:
                assert kind in search(CATALOGUE, word), word


def test_the_words_of_rules_are_explained() -> None:
    # each title names at least one thing of the trade, and the glossary or the catalogue knows it
    unknown = []
    for slug in all_rules(computed=True):
        title = re.findall(r"[A-Za-z][\w-]*", page(slug).title)
        pairs = [" ".join(title[k : k + n]) for n in (1, 2, 3) for k in range(len(title) - n + 1)]
        if not any(lookup(pair, CATALOGUE) for pair in pairs):
            unknown.append(page(slug).title)
    assert set(unknown) <= PLAIN_TITLES


def test_the_words_of_lessons_are_explained() -> None:
    assert LESSONS
    names = {w.casefold() for k in CATALOGUE for w in (k.name, *k.synonyms)} | set(glossary())
    texts = {p.name: " ".join(words_of(tomllib.loads(p.read_text(encoding="utf-8")))) for p in LESSONS}
    assert all(terms_in(text) for text in texts.values()), [name for name, text in texts.items() if not terms_in(text)]
    every = " ".join(texts.values()).casefold()
    used = [name for name in names if name in every and re.search(rf"(?<!\w){re.escape(name)}s?(?!\w)", every)]
    assert len(used) > 50
    assert [name for name in used if lookup(name, CATALOGUE) is None] == []


def test_spelling_plural_and_capitals_do_not_matter() -> None:
    leak = lookup("heat leak")
    assert leak is not None
    assert lookup("Heat-Leaks") is leak is lookup("  heat   LEAK ") is lookup("dump radiator")
    assert lookup("closed system") is lookup("sealed systems")
    assert lookup("cross-connections") is lookup("cross connection")
    assert lookup("tea") is None
    plunge = lookup("kitchen taps", CATALOGUE)
    assert plunge is not None and plunge.kinds == ("sink",)


def test_a_word_that_is_not_there_is_refused_with_what_is_near() -> None:
    with pytest.raises(GlossaryError, match="Perhaps you mean “tundish”"):
        meaning("tundisch")
    with pytest.raises(GlossaryError, match="lists the words"):
        meaning("qqqq")


def test_terms_are_found_in_running_text_longest_first_and_once() -> None:
    text = "The Heat leak has no lockshield; a heat-leak radiator and two open vents. Open vent. Return to the fire."
    found = [(text[f.start : f.end], f.term.name) for f in terms_in(text)]
    assert found == [("Heat leak", "heat leak"), ("lockshield", "lockshield"), ("open vents", "open vent")]
    assert terms_in("a dipper, a preheated vest") == ()


def test_search_finds_by_other_words_what_names_alone_do_not() -> None:
    assert CATALOGUE.find("non-return")[0] == search(CATALOGUE, "non-return")[0]  # names come first
    assert not CATALOGUE.find("manual reset")
    assert [k.id for k in search(CATALOGUE, "manual reset")] == ["high_limit_thermostat"]
    assert {k.id for k in search(CATALOGUE, "emitter")} >= {"radiator", "towel_rail", "underfloor_manifold"}
    assert search(CATALOGUE, "") == CATALOGUE.find("")
    found = search(CATALOGUE, "vessel")
    assert len({k.id for k in found}) == len(found)


def test_the_command_explains_one_word_or_all() -> None:
    run = CliRunner().invoke
    said = run(cli, ["glossary", "dump", "radiators"]).output
    assert "An emitter on a fire's gravity loop that nothing can shut." in said and "Heat-leak radiator" in said
    assert "loopwright rules solid-fuel/no-heat-leak" in said
    every = run(cli, ["glossary"]).output
    assert all(t.says.split()[-1] in every for t in terms()) and max(map(len, every.splitlines())) <= 100
    assert len(json.loads(run(cli, ["glossary", "--format", "json"]).output)) == len(terms())
    assert isinstance(run(cli, ["glossary", "tea"]).exception, GlossaryError)
