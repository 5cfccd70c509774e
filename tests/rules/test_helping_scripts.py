"""The scripts that help whoever writes a rule say what is so. Our own words, no source."""

from __future__ import annotations

import pytest
from fire_sheets import ON_LEAK, fire
from held import TABLE, Recorder, with_entries
from keep import keep
from tried import said

from loopwright.files.reader import load
from loopwright.reports import examples

VALVE = "gravity-loop/isolating-valve"


def test_keep_writes_both_examples_with_the_titles_of_the_page(tmp_path, monkeypatch):
    monkeypatch.setattr("keep.path_of", lambda slug, which: tmp_path / f"{which}.loopwright")
    wrong = fire()
    wrong.insert("leak_flow", "isolating_valve", "V", at=ON_LEAK)
    keep(VALVE, wrong=wrong, right=fire())
    for which in ("wrong", "right"):
        assert load(tmp_path / f"{which}.loopwright").title == load(examples.path_of(VALVE, which)).title


def test_keep_refuses_what_the_rule_does_not_call_wrong(tmp_path, monkeypatch):
    monkeypatch.setattr("keep.path_of", lambda slug, which: tmp_path / f"{which}.loopwright")
    with pytest.raises(ValueError, match="does not call the wrong one wrong"):
        keep(VALVE, wrong=fire(), right=fire())


def test_tried_tells_what_is_offered_and_when_a_rule_has_no_repair():
    offered = "Take the isolating valve between the feed-and-expansion cistern and Leak out: offered"
    assert said(VALVE, examples.path_of(VALVE, "wrong")) == [offered], "the part goes by the words of the finding"
    assert "finds nothing" in said(VALVE, examples.path_of(VALVE, "right"))[0]


def test_the_table_of_what_holds_which_rule_is_written_back_as_it_is():
    assert with_entries(Recorder(), []) == TABLE.read_text(encoding="utf-8")
