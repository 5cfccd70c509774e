"""Two revisions held against each other: text, JSON, HTML and PDF say the same, and git can call it."""

from __future__ import annotations

import io
import json
from html import unescape
from pathlib import Path

import pytest
from pypdf import PdfReader

from loopwright import reports
from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.reports.comparison import held_against, lines
from loopwright.reports.comparison_report import report
from typed import typed

CATALOGUE = standard_catalogue()
FAULTY = Path(__file__).parents[2] / "samples" / "faulty"
OLD, NEW = FAULTY / "small-cistern.loopwright", FAULTY / "valve-on-feed.loopwright"


@pytest.fixture(scope="module")
def found():
    return held_against(load(OLD, CATALOGUE), load(NEW, CATALOGUE), CATALOGUE)


def test_findings_are_new_gone_or_as_before(found):
    assert [f.rule for f in found.appeared] == ["solid-fuel/feed-can-close"]
    assert [f.rule for f in found.gone] == ["vent-and-feed/cistern-too-small"]
    same = held_against(found.new, found.new, CATALOGUE)
    assert same.verdict == "Nothing differs." and not same.appeared and len(same.kept) == 1


def test_text_names_each_change(found):
    said = list(lines(found))
    assert " + Stop valve V1" in said
    assert " ~ Cistern: Room for expansion 10 l → 45 l" in said


def test_html_and_pdf_hold_every_change_and_finding(found):
    made = report(found, CATALOGUE)
    page = unescape(reports.html(made))
    pdf = " ".join(" ".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(reports.pdf(made))).pages)
    for words in ("Stop valve V1", "Room for expansion", "10 l", "45 l", found.appeared[0].todo):
        assert words in page and words.replace("’", "'") in pdf.replace("’", "'")
    assert {t.name for t in made.tables} == {"changes", "findings"}


def test_the_command_line_exits_by_what_is_new_and_git_may_call_it(tmp_path):
    worse = typed("compare", OLD, NEW, "--format", "json")
    assert worse.returncode == 1
    assert json.loads(worse.stdout)["findings_new"][0]["rule"] == "solid-fuel/feed-can-close"
    assert typed("compare", NEW, NEW).returncode == 0
    git = typed("compare", "--git", "job.loopwright", OLD, "0" * 40, "100644", NEW, "1" * 40, "100644")
    assert (
        git.returncode == 0 and git.stdout.startswith("loopwright job.loopwright\n") and "Stop valve V1" in git.stdout
    )
    added = typed("compare", "--git", "job.loopwright", "/dev/null", ".", ".", NEW, "1" * 40, "100644")
    assert added.returncode == 0 and " + Stove" in added.stdout
    assert (
        typed("compare", OLD).returncode == 2 and typed("compare", OLD, NEW, "-o", tmp_path / "c.doc").returncode == 2
    )
    out = tmp_path / "c.html"
    assert typed("compare", OLD, NEW, "-o", out).returncode == 1 and out.read_text(encoding="utf-8").startswith("<!")
