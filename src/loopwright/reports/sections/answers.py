"""Every rule's answer, by theme. Owns the table: answers alike of one rule share a line."""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.reports.matter import Matter, wording
from loopwright.reports.model import Cell, Column, Data, Mark, Section, Table
from loopwright.reports.sections.findings import page_title
from loopwright.reports.words import listed
from loopwright.rules.findings import Answer, Outcome
from loopwright.rules.registry import THEMES

_ORDER = (Outcome.FINDING, Outcome.COVERED, Outcome.NOT_ASSESSED, Outcome.PASS, Outcome.NOT_APPLICABLE)


def answers(matter: Matter) -> Iterator[Section]:
    """A line a rule and answer."""
    given = matter.survey.answers
    themes: dict[str, list[Answer]] = {}
    for answer in given:
        themes.setdefault(answer.rule.split("/")[0], []).append(answer)
    titles = wording("words")["themes"]
    rows: list[tuple[Cell, ...]] = []
    for theme in (*THEMES, *(t for t in themes if t not in THEMES)):
        if theme in themes:
            rows.append((titles.get(theme, theme),))
            rows += _rows(matter, themes[theme])
    matter.record(
        Data(
            "answers",
            ("rule", "title", "outcome", "subject", "because", "number"),
            tuple(
                (a.rule, page_title(a.rule), str(a.outcome), a.subject, a.because, _number(a))
                for a in given
            ),
        )
    )  # fmt: skip
    yield Section(
        key="answers",
        title="Every rule’s answer",
        aside=f"{len({a.rule for a in given})} rules",
        blocks=(
            Table(
                columns=(
                    Column(key="rule", title="Rule", share=3.0, tone="strong"),
                    Column(key="outcome", title="Answer", share=1.5, worded=True),
                    Column(key="about", title="About", share=2.0),
                    Column(key="because", title="Because", share=3.1, tone="quiet"),
                ),
                rows=tuple(rows),
            ),
        ),
    )


def _rows(matter: Matter, given: list[Answer]) -> Iterator[tuple[Cell, ...]]:
    rules: dict[str, list[Answer]] = {}
    for answer in given:
        rules.setdefault(answer.rule, []).append(answer)
    for slug, said in rules.items():
        title = page_title(slug)
        alike: dict[tuple[Outcome, str], list[Answer]] = {}
        for answer in said:
            if answer.finding is None:
                alike.setdefault((answer.outcome, answer.because), []).append(answer)
        lines: list[tuple[Outcome, Cell, str, str]] = [
            (a.outcome, Mark(a.finding.severity.word, str(a.finding.number), open=a.finding.number in matter.settled),
             matter.name(a.subject), a.finding.message)
            for a in said if a.finding is not None
        ]  # fmt: skip
        for (outcome, because), same in alike.items():
            about = listed([n for n in matter.named([a.subject for a in same]) if n], 5)
            if outcome is Outcome.NOT_APPLICABLE:
                because = "nothing there to look at"
            lines.append((outcome, _word(outcome), about, because))
        for k, (_, word, about, because) in enumerate(sorted(lines, key=lambda line: _ORDER.index(line[0]))):
            yield (title if k == 0 else "", word, about, because)


def _number(answer: Answer) -> int | None:
    return answer.finding.number if answer.finding else None


def _word(outcome: Outcome) -> Cell:
    if outcome is Outcome.PASS:
        return "✓ passes"
    if outcome is Outcome.NOT_ASSESSED:
        return Mark("not assessed", "?", open=True)
    return str(outcome)
