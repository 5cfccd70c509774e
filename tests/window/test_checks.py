"""The survey in two stages: the same in the end, said while it is pending, dropped by an edit."""

from __future__ import annotations

import threading

import pytest

from loopwright.engineering.steady import steady
from loopwright.rules.registry import all_rules
from loopwright.sheet import edits
from loopwright.survey import Survey, survey, survey_of
from loopwright.waterways.systems import Systems
from loopwright.window.checking import Kept, checker, computed_rules, second_stage, summary
from loopwright.window.checks import Checks
from loopwright.window.jobs import Stopped
from loopwright.window.main import MainWindow


@pytest.fixture
def gravity(small):
    """A sheet whose flow is soon solved: a stove on its store."""
    return small


@pytest.fixture(scope="module")
def kept_whole() -> list[Survey]:
    return []


@pytest.fixture
def whole(gravity, catalogue, kept_whole) -> Survey:
    """All rules asked at once, once for all tests."""
    if not kept_whole:
        kept_whole.append(survey(gravity, catalogue, computed=True))
    return kept_whole[0]


def test_the_staged_survey_is_the_one_made_at_once(gravity, catalogue, whole):
    kept = Kept(catalogue)
    first = checker(kept)(gravity)
    assert first == survey(gravity, catalogue)
    assert {a.rule for a in first.answers} == set(all_rules())
    second = second_stage(kept, lambda: False)(gravity)
    assert second == whole
    assert {a.rule for a in second.answers} == set(all_rules(computed=True))


def test_no_rule_is_asked_twice_for_the_same_waterways(gravity, catalogue, monkeypatch):
    systems = Systems(gravity, catalogue)
    survey_of(systems)
    asked = [set(ways.cache["said"]) for ways in systems.each]
    monkeypatch.setattr("loopwright.survey.Case", lambda _ways: pytest.fail("a rule was asked again"))
    assert survey_of(systems) == survey_of(systems)
    assert asked == [{rule.check for rule in all_rules().values()}] * len(systems.each)


def test_the_second_stage_stops_between_rules_once_overtaken(gravity, catalogue):
    asked = []
    with pytest.raises(Stopped):
        second_stage(Kept(catalogue), lambda: bool(asked.append(1)) or len(asked) > 3)(gravity)
    assert len(asked) == 4


def test_the_closing_sentence_says_what_is_pending(gravity, catalogue, whole):
    said = summary(survey(gravity, catalogue), gravity, 3)
    assert said.endswith("3 rules still working out the flow.")
    assert summary(whole, gravity, 1).endswith("1 rule still working out the flow.")
    assert "still" not in summary(whole, gravity)


def test_an_edit_drops_the_second_stage(qtbot, gravity, catalogue, monkeypatch):
    """The first sheet's second stage is held until another sheet was asked about; only the other's answer comes."""
    gate, running = threading.Event(), threading.Event()
    made = Checks(catalogue, rest_ms=0)
    plain = made._compute

    def held(sheet):
        running.set()
        assert gate.wait(10)
        return plain(sheet)

    made.flow._check = held
    told: list[tuple[str, int]] = []
    made.answered.connect(lambda sheet, _survey, pending: told.append((sheet.title, pending)))
    other = edits.set_title(gravity, "Other")
    made.ask(gravity)
    qtbot.waitUntil(running.is_set, timeout=5000)
    made.ask(other)
    gate.set()
    qtbot.waitUntil(lambda: told[-1:] == [("Other", 0)], timeout=10_000)
    more = computed_rules()
    assert told == [(gravity.title, more), ("Other", more), ("Other", 0)]
    made.close()


def test_the_window_shows_the_first_stage_and_then_the_whole(
    qtbot, gravity, whole, catalogue, memory, answers, tmp_path
):
    window = MainWindow(catalogue, memory, rest_ms=0, staged=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(window, before_close_func=lambda w: w.shut_down())
    said: list[str] = []
    window.desk.surveyed.connect(lambda _survey: said.append(window.findings.said.text()))
    window.document.open(gravity, None)
    qtbot.waitUntil(lambda: len(said) > 1, timeout=10_000)
    assert "still working out the flow" in said[0] and "still" not in said[-1]
    assert window.survey == whole
    assert sorted(f.number for f in window.findings.model.findings) == [f.number for f in whole.findings]


def test_a_flow_under_way_is_given_up_and_leaves_no_answer(catalogue, gravity, whole):
    """In the middle of a computation, not only between two rules: the thread is free soon after an edit."""
    kept = Kept(catalogue)
    survey_of(kept.systems(gravity))
    steady.cache_clear()  # the whole survey has left its answers there
    asked = []
    with pytest.raises(Stopped):
        second_stage(kept, lambda: bool(asked.append(1)) or len(asked) > 150)(gravity)
    assert len(asked) == 151, "more often than there are rules"
    assert second_stage(kept, lambda: False)(gravity) == whole
