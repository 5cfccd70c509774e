"""Judges the conditions of a goal against a sheet, in a learner's words.

Owns what each condition of `goals` means. Every answer says the thing first, then the number, then the limit. Knows
nothing of attempts, hints or score.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import msgspec

from loopwright.lessons import goals
from loopwright.lessons.choice import called, chosen
from loopwright.lessons.findfaults import found_faults
from loopwright.lessons.goals import Condition
from loopwright.lessons.lesson import Lesson
from loopwright.lessons.looking import Look
from loopwright.lessons.measures import MEASURES, measured
from loopwright.lessons.watercourse import JUDGES as WATER
from loopwright.lessons.watercourse import Judged, met, unmet
from loopwright.rules.findings import Outcome, Severity
from loopwright.rules.registry import page
from loopwright.words import capital


def judge(lesson: Lesson, look: Look, start: Look, condition: Condition) -> Judged:
    """One condition. Own words of the lesson come in place of made ones."""
    if isinstance(condition, goals.AnyOf):
        out = _any_of(lesson, look, start, condition)
    elif isinstance(condition, goals.Found):
        out = _found(lesson, look, start, condition)
    elif isinstance(condition, goals.PipesWithin):
        out = _pipes(look, start, condition)
    else:
        check = cast(Callable[[Look, Any], Judged], (_PLAIN | WATER)[type(condition)])
        out = check(look, condition)
    own = condition.words if out.met else condition.unmet if out.state == "unmet" else ""
    return msgspec.structs.replace(out, said=own) if own else out


def _clear(look: Look, asked: goals.Clear) -> Judged:
    title = page(asked.rule).title
    answers = [a for a in look.answers(asked.rule) if _about(asked.of, a.subject, a.finding)]
    bad = [a.finding for a in answers if a.finding is not None]
    bad = [f for f in bad if not (asked.advice_ok and f.severity is Severity.ADVICE)]
    if bad:
        worst = max(bad, key=lambda f: f.severity)
        near = worst.severity is Severity.ADVICE or _close(worst.measured, worst.limit)
        return unmet(
            worst.message, near=near, ids=worst.culprits, path=worst.path, rule=worst.rule, todo=worst.todo,
            severity=worst.severity.word,
        )  # fmt: skip
    if any(a.outcome is Outcome.COVERED for a in answers):
        covering = next(iter(look.covering(asked.rule)), None)
        if covering is not None:
            return unmet(
                covering.message, ids=covering.culprits, path=covering.path, rule=covering.rule, todo=covering.todo,
                severity=covering.severity.word,
            )  # fmt: skip
    waiting = next((a for a in answers if a.outcome is Outcome.NOT_ASSESSED), None)
    if waiting is not None:
        return Judged(
            met=False, state="not yet", said=f"{waiting.because}. Enter it under Properties, then check again.",
            near=True, ids=(waiting.subject,) if waiting.subject else (), rule=asked.rule,
        )  # fmt: skip
    if any(a.outcome in (Outcome.PASS, Outcome.FINDING) for a in answers) or asked.or_absent:
        return met(f"{title}: none.")
    return Judged(met=False, state="not yet", said=f"Too early to judge: {_small(title)}.", rule=asked.rule)


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]


def _about(of: str, subject: str, finding: Any) -> bool:
    return not of or subject == of or (finding is not None and of in finding.culprits)


def _close(value: float | None, limit: float | None) -> bool:
    """Within a tenth of the limit."""
    return value is not None and limit is not None and limit != 0 and abs(value - limit) <= 0.1 * abs(limit)


def _quiet(look: Look, asked: goals.Quiet) -> Judged:
    least = Severity[asked.least.upper()]
    bad = [
        f
        for f in look.survey.findings
        if f.severity >= least and (not asked.themes or f.rule.split("/")[0] in asked.themes)
    ]
    if len(bad) > asked.at_most:
        worst = bad[0]
        more = f" {len(bad) - 1} more of this sort." if len(bad) > 1 else ""
        return unmet(
            worst.message + more, ids=worst.culprits, path=worst.path, rule=worst.rule, todo=worst.todo,
            severity=worst.severity.word, near=worst.severity is Severity.ADVICE,
        )  # fmt: skip
    about = " about " + ", ".join(t.replace("-", " ") for t in asked.themes) if asked.themes else ""
    return met(f"No danger and no fault{about}." if asked.least == "fault" else f"Nothing found{about}.")


def _answered(look: Look, asked: goals.Answered) -> Judged:
    waiting = [a for a in look.survey.answers if a.outcome is Outcome.NOT_ASSESSED]
    if not waiting:
        return met("Every rule could be answered.")
    first = waiting[0]
    more = f" {len(waiting) - 1} more figures are missing." if len(waiting) > 1 else ""
    return Judged(met=False, state="not yet", said=f"{first.because}.{more}", ids=(first.subject,), near=True)


def _present(look: Look, asked: goals.Present) -> Judged:
    parts = chosen(look.sheet, look.catalogue, asked.part)
    parts = [p for p in parts if _has(look, p, asked.having)]
    if asked.between is not None:
        from loopwright.lessons.watercourse import between

        on = between(look, *asked.between)
        parts = [p for p in parts if p in on]
    what = _said_first(called(look.ways, asked.part))
    if len(parts) < asked.least:
        there = chosen(look.sheet, look.catalogue, asked.part)
        if len(there) < asked.least:
            many = f"{asked.least} of these are" if asked.least > 1 else "This is"
            return Judged(met=False, state="not yet", said=f"{many} still to be drawn: {_small(what)}.")
        if asked.having:
            wanted = ", ".join(_wanted(look, there[0], name, least) for name, least in asked.having.items())
            return unmet(f"{what}: {wanted}.", ids=tuple(there))
        return unmet(f"{what}: {len(parts)} of {asked.least} where they are wanted.", ids=tuple(there))
    if asked.most is not None and len(parts) > asked.most:
        return unmet(f"{what}: {len(parts)} found, at most {asked.most} here.", ids=tuple(parts))
    return met(f"{what}: {len(parts)}." if len(parts) > 1 else f"{what} is there.")


def _wanted(look: Look, part: str, name: str, least: float | str | bool) -> str:
    """A figure that a part is to have, in words."""
    spec = look.catalogue[look.sheet.parts[part].kind].prop(name)
    label = _small(spec.label) if spec else name
    if isinstance(least, bool | str):
        return f"{label} is to be {least}"
    return f"{label} is to be at least {least:g}{' ' + spec.unit if spec and spec.unit else ''}"


def _has(look: Look, part: str, having: dict[str, float | str | bool]) -> bool:
    for name, least in having.items():
        value = look.ways.value(part, name)
        if isinstance(least, bool | str):
            if value != least:
                return False
        elif not isinstance(value, int | float) or value < least - 1e-9:
            return False
    return True


def _said_first(words: str) -> str:
    return capital(words.removeprefix("the "))


def _within(look: Look, asked: goals.Within) -> Judged:
    measure = MEASURES[asked.name]
    got = measured(look.case, asked)
    if got.value is None:
        return Judged(met=False, state="not yet", said=f"{measure.name}: needs {got.lacks}.")
    value = got.value
    unit = f" {measure.unit}" if measure.unit else ""
    said = f"{measure.name} is {_figure(value)}{unit}"
    for limit, wrong, word in ((asked.least, lambda v, x: v < x, "at least"), (asked.most, lambda v, x: v > x, "most")):
        if limit is not None and wrong(round(value, 6), limit):
            bound = f"at least {_figure(limit)}" if word == "at least" else f"at most {_figure(limit)}"
            return unmet(
                f"{said}; here it is to be {bound}{unit}.", near=_close(value, limit), value=value, limit=limit
            )
    return msgspec.structs.replace(met(f"{said}."), value=value, limit=asked.least or asked.most)


def _figure(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 100 else f"{value:.1f}" if abs(value) >= 10 else f"{value:.2f}"


def _stated(look: Look, asked: goals.Stated) -> Judged:
    parts = chosen(look.sheet, look.catalogue, asked.part)
    if not parts:
        return unmet(f"{_said_first(called(look.ways, asked.part))} is not on the sheet.")
    spec = look.catalogue[look.sheet.parts[parts[0]].kind].prop(asked.name)
    label = spec.label if spec else asked.name
    for part in parts:
        value = look.ways.value(part, asked.name)
        said = f"{look.ways.name(part)}: {label.lower()} is {value}"
        if asked.equals is not None and value != asked.equals:
            return unmet(f"{said}; here it is to be {asked.equals}.", ids=(part,))
        if asked.least is not None or asked.most is not None:
            if not isinstance(value, int | float):
                return Judged(met=False, state="not yet", said=f"{look.ways.name(part)}: {label.lower()} is missing.")
            low, high = asked.least, asked.most
            if (low is not None and value < low) or (high is not None and value > high):
                bound = " and ".join(
                    [f"at least {low:g}"] * (low is not None) + [f"at most {high:g}"] * (high is not None)
                )
                return unmet(f"{said}; here it is to be {bound}.", ids=(part,), near=_close(value, low or high))
    return met(f"{_said_first(called(look.ways, asked.part))}: {label.lower()} as asked.")


def _pipes(look: Look, start: Look, asked: goals.PipesWithin) -> Judged:
    from loopwright.rules.bores import tube_of

    for pipe in look.sheet.pipes.values():
        tube = tube_of(look.case, pipe.id)
        if asked.most_mm is not None and tube is not None and 1000.0 * tube.outside_m > asked.most_mm + 1e-6:
            return unmet(f"Pipe {pipe.id} is {pipe.size}; no pipe is to be wider than {asked.most_mm:g} mm here.",
                         ids=(pipe.id,), near=True)  # fmt: skip
    for name in asked.unchanged:
        old, new = start.sheet.pipes.get(name), look.sheet.pipes.get(name)
        if old is None:
            continue
        if new is None or (new.size, new.material) != (old.size, old.material):
            return unmet(f"Pipe {name} is to stay as it was, {old.size} {old.material}.", ids=(name,))
    return met("Pipes keep to their sizes.")


def _any_of(lesson: Lesson, look: Look, start: Look, asked: goals.AnyOf) -> Judged:
    best: Judged | None = None
    fewest = 10**6
    for way in asked.ways:
        judged = [judge(lesson, look, start, c) for c in way]
        misses = [j for j in judged if not j.met]
        if not misses:
            return met(" ".join(j.said for j in judged))
        if len(misses) < fewest:
            fewest, best = len(misses), misses[0]
    assert best is not None
    return best


def _found(lesson: Lesson, look: Look, start: Look, asked: goals.Found) -> Judged:
    got = found_faults(lesson, look, start)
    said = f"{len(got)} of {len(lesson.faults)} faults found"
    if len(got) >= asked.least:
        return met(said + ".")
    return unmet(f"{said}; {asked.least - len(got)} are still hidden.", near=len(got) + 1 == asked.least)


_PLAIN: dict[type, Callable[[Look, Any], Judged]] = {
    goals.Clear: _clear,
    goals.Quiet: _quiet,
    goals.Answered: _answered,
    goals.Present: _present,
    goals.Within: _within,
    goals.Stated: _stated,
}
