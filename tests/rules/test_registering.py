"""Whoever adds a rule or a page and forgets a piece is told which, and where it belongs. Our own words, no source."""

from __future__ import annotations

import pytest

from loopwright.errors import LoopwrightError
from loopwright.plain import read_page
from loopwright.rules import registry
from loopwright.rules.registry import Case, all_rules, page, rule


@pytest.fixture
def written(monkeypatch, tmp_path):
    """Writes the page of a rule into a folder of resources of its own."""
    registry.facts()  # those that ship
    monkeypatch.setattr(registry, "resource_root", lambda: tmp_path)
    page.cache_clear()
    (tmp_path / "rules" / "circuit").mkdir(parents=True)

    def write(text: str) -> str:
        (tmp_path / "rules" / "circuit" / "open-end.md").write_text(text, encoding="utf-8")
        return "circuit/open-end"

    yield write
    page.cache_clear()


def test_a_rule_without_a_page_names_the_file_to_write(written):
    assert "circuit/open-end" in all_rules()
    with pytest.raises(LoopwrightError, match=r"has no page.*resources/rules/circuit/open-end\.md"):
        page("circuit/open-end")
    with pytest.raises(LoopwrightError, match="There is no rule"):
        page("circuit/nothing-of-the-kind")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("# A title", r"has no head.*open-end\.md.*\+\+\+"),
        ('+++\ntitle = "No end\n+++\n', r"not TOML.*open-end\.md"),
        ('+++\ntitle = "One"\n+++\nText.\n', r"lacks severity"),
        ('+++\ntitle = "A"\nseverity = "fault"\nsources = ["sf.nothing"]\n+++\nText.', r"sf\.nothing.*sources\.toml"),
    ],
)
def test_a_broken_page_says_what_is_wrong_with_it(written, text, words):
    slug = written(text)
    with pytest.raises(LoopwrightError, match=words):
        page(slug)


def test_three_plus_signs_within_a_line_are_text(tmp_path):
    path = tmp_path / "page.md"
    path.write_text('+++\ntitle = "a +++ b"\n+++\n\nMore +++ words.\n', encoding="utf-8")
    assert read_page(path, "It", "title") == ({"title": "a +++ b"}, "More +++ words.")


@pytest.mark.parametrize("slug", ["no-theme", "pipes/too-thin", "circuit/Open End"])
def test_a_slug_is_a_known_theme_and_a_plain_name(slug):
    with pytest.raises(ValueError, match="theme/name"):
        rule(slug, about="nothing")(lambda case: iter(()))


def test_a_limit_that_is_none_says_where_limits_are_kept():
    from loopwright.catalogue import standard_catalogue
    from loopwright.sheet.values import Sheet
    from loopwright.waterways import Waterways

    with pytest.raises(KeyError, match=r"sf\.nothing.*sources\.toml"):
        Case(Waterways(Sheet(), standard_catalogue())).limit("sf.nothing")
