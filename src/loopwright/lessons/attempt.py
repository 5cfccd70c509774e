"""A learner's attempt at a lesson: start, check, hint, score.

Owns the count of checks and hints and what is said at each miss. Judging a condition is `judging`'s, what was changed
beyond the lesson is `allowed`'s, playing the consequence is `playing`'s.
"""

from __future__ import annotations

from pathlib import Path

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import LessonError
from loopwright.files.reader import load
from loopwright.lessons.allowed import Outside, locked, outside
from loopwright.lessons.findfaults import Marks, marks_of
from loopwright.lessons.goals import Clear, Quiet, Within, each
from loopwright.lessons.judging import judge
from loopwright.lessons.lesson import Lesson
from loopwright.lessons.looking import Look
from loopwright.lessons.measures import MEASURES
from loopwright.lessons.watercourse import Judged
from loopwright.rules.findings import Finding, Severity
from loopwright.rules.registry import all_rules
from loopwright.sheet.values import Sheet

FULL, FOR_THE_SHEET, FOR_THE_REASON, IN_THE_END = 100, 80, 20, 40
CHECK_COST, CHECKS_AT_MOST, HINT_COSTS = 10, 30, (5, 10, 15)
SURE = 80


class Told(msgspec.Struct, frozen=True, kw_only=True):
    """A finding in a learner's words. `harm`: outside the lesson, and not there at the start."""

    rule: str
    severity: str
    said: str
    todo: str
    ids: tuple[str, ...]
    path: tuple[str, ...]
    harm: bool = False


class Verdict(msgspec.Struct, frozen=True, kw_only=True):
    """What a check says. `passed` needs every condition met, nothing outside the lesson and no new harm.

    `findings` are those about the lesson's subject, `others` the number of the rest. `say` is the one thing to read
    first. `put_right` are conditions that were missed before and are met now. `near`: little is lacking.
    """

    passed: bool
    conditions: tuple[Judged, ...]
    findings: tuple[Told, ...]
    harm: tuple[Told, ...]
    outside: tuple[Outside, ...]
    others: int
    say: str
    put_right: tuple[str, ...] = ()
    near: bool = False
    finished: bool = True
    misses: int = 0
    """How often the first condition that is not met has been missed in a row, this time included."""
    marks: Marks | None = None
    score: int = 0

    @property
    def first_miss(self) -> Judged | None:
        """The first condition that is not met."""
        return next((c for c in self.conditions if not c.met), None)


class Attempt:
    """One learner at one lesson. `sheet` is where to begin: the starting sheet, with locks on what must stay."""

    def __init__(self, lesson: Lesson, catalogue: Catalogue | None = None) -> None:
        self.lesson = lesson
        self.catalogue = catalogue or standard_catalogue()
        self.sheet = locked(lesson.sheet, lesson.allowed)
        self.start = Look(lesson.sheet, self.catalogue)
        self.checks, self.hints_taken, self.free_used = 0, 0, False
        self.passed, self.why_right = False, False
        self.why_tries = 0
        self.shown = False
        self._missed: dict[int, int] = {}
        self._last: tuple[bool, ...] = ()
        self._paid = 0

    # -- checking ----------------------------------------------------------------------------------------------------

    def check(self, sheet: Sheet) -> Verdict:
        """A check that counts: it costs after the first, unless little was lacking for the first time."""
        verdict = self.look(sheet)
        if self.checks and not self.passed:
            free = verdict.near and not verdict.passed and not self.free_used
            self.free_used = self.free_used or free
            self._paid += 0 if free else CHECK_COST
        self.checks += 1
        held = tuple(c.met for c in verdict.conditions)
        right = [
            verdict.conditions[n].said
            for n, (was, now) in enumerate(zip(self._last, held, strict=False))
            if now and not was
        ]
        for n, c in enumerate(verdict.conditions):
            self._missed[n] = 0 if c.met else self._missed.get(n, 0) + (c.state == "unmet")
        self._last = held
        self.passed = self.passed or verdict.passed
        misses = next((self._missed[n] for n, c in enumerate(verdict.conditions) if not c.met), 0)
        return msgspec.structs.replace(verdict, put_right=tuple(right), misses=misses, score=self.score(verdict))

    def look(self, sheet: Sheet, *, slow: bool = True) -> Verdict:
        """The same answer without counting, for live feedback; without `slow` what needs a run is left for a check."""
        look = Look(sheet, self.catalogue)
        cheap_first = sorted(range(len(self.lesson.goal)), key=lambda n: self._slow(n))
        judged: dict[int, Judged] = {}
        for n in cheap_first:
            if self._slow(n) and (not slow or any(not j.met for j in judged.values())):
                when = "once the rest is right" if slow else "when you check"
                judged[n] = Judged(met=False, state="not yet", later=True, said=f"This is worked out {when}.")
            else:
                judged[n] = judge(self.lesson, look, self.start, self.lesson.goal[n])
        conditions = tuple(judged[n] for n in range(len(self.lesson.goal)))
        marks = marks_of(self.lesson, look, self.start) if self.lesson.sort == "faults" else None
        beyond = outside(self.lesson.sheet, sheet, self.lesson.allowed, self.catalogue)
        subject, harm, others = self._findings(look)
        passed = all(c.met for c in conditions) and not beyond and not harm
        unmet = [c for c in conditions if not c.met]
        verdict = Verdict(
            passed=passed,
            conditions=conditions,
            findings=subject,
            harm=harm,
            outside=beyond,
            others=others,
            say="",
            near=bool(unmet) and len(unmet) == 1 and unmet[0].near and not harm and not beyond,
            finished=not any(c.state == "not yet" and not c.later for c in unmet),
            marks=marks,
        )
        return msgspec.structs.replace(verdict, say=_say(self.lesson, verdict))

    def _slow(self, n: int) -> bool:
        for condition in each((self.lesson.goal[n],)):
            if isinstance(condition, Within) and MEASURES[condition.name].slow:
                return True
            if isinstance(condition, Clear) and all_rules(computed=True)[condition.rule].computed:
                return True
        return False

    def _findings(self, look: Look) -> tuple[tuple[Told, ...], tuple[Told, ...], int]:
        """Findings about the lesson's subject, new harm that no condition asks about, and how many others there are."""
        watched = watched_rules(self.lesson)
        subject, harm, others = [], [], 0
        for finding in look.survey.findings:
            mine = bool({finding.rule, *finding.also} & watched)
            new = finding.severity > Severity.ADVICE and self._is_new(finding) and not self._asked(finding)
            if mine:
                subject.append(_told(finding))
            if new:
                harm.append(_told(finding, harm=True))
            others += not mine and not new
        return tuple(subject), tuple(harm), others

    def _is_new(self, finding: Finding) -> bool:
        was = self.start.harms.get((finding.rule, finding.subject))
        return was is None or finding.severity > was.severity

    def _asked(self, finding: Finding) -> bool:
        """Whether a condition asks about a finding, so that the miss is told there."""
        slugs = {finding.rule, *finding.also}
        for c in each(self.lesson.goal):
            if isinstance(c, Clear) and c.rule in slugs and (not c.of or c.of in (finding.subject, *finding.culprits)):
                return True
            if isinstance(c, Quiet) and (not c.themes or {s.split("/")[0] for s in slugs} & set(c.themes)):
                return True
        return False

    # -- hints, questions, score -------------------------------------------------------------------------------------

    @property
    def hints_left(self) -> int:
        """Hints not yet given."""
        return len(self.lesson.hints) - self.hints_taken

    def hint(self) -> str:
        """The next hint. Raises LessonError when none is left."""
        if not self.hints_left:
            raise LessonError("There is no further hint", do="Read the rule's page, or ask for an answer")
        self.hints_taken += 1
        return self.lesson.hints[self.hints_taken - 1]

    @property
    def has_answer(self) -> bool:
        """Whether a right answer can be shown."""
        return answer_path(self.lesson) is not None

    def show_answer(self) -> Sheet:
        """One right answer of several; from now on the lesson is worth 40. Raises LessonError when there is none."""
        path = answer_path(self.lesson)
        if path is None:
            raise LessonError(f"Lesson {self.lesson.id} has no answer to show", do="Take a hint, or ask your trainer")
        self.shown = True
        return load(path, self.catalogue)

    def answer_why(self, choice: int) -> bool:
        """The reason question: only the first choice scores."""
        if self.lesson.why is None:
            return True
        self.why_tries += 1
        right = choice == self.lesson.why.right
        if right and self.why_tries == 1:
            self.why_right = True
        return right

    def score(self, verdict: Verdict | None = None) -> int:
        """Points so far: nil until the lesson is passed; a fault sheet scores by its marks."""
        if self.lesson.sort == "faults":
            return min(FULL, verdict.marks.points) if verdict is not None and verdict.marks is not None else 0
        if not self.passed:
            return 0
        if self.shown:
            return IN_THE_END
        reason = FOR_THE_REASON if self.why_right or self.lesson.why is None else 0
        hints = sum(HINT_COSTS[: self.hints_taken])
        return max(IN_THE_END, FOR_THE_SHEET - min(CHECKS_AT_MOST, self._paid) - hints + reason)

    @property
    def sure(self) -> bool:
        """Whether the lesson need not come back soon: enough points, and not by the last hint."""
        return self.passed and self.score() >= SURE and self.hints_taken < 3


def start(lesson: Lesson, catalogue: Catalogue | None = None) -> Attempt:
    """A new attempt at a lesson. Raises LessonError if its starting sheet cannot be used."""
    return Attempt(lesson, catalogue)


def answer_path(lesson: Lesson) -> Path | None:
    """Where a right answer of a lesson is kept, if one is."""
    return next(iter(sorted(lesson.path.parent.glob(f"{lesson.id}.right-*.loopwright"))), None)


def watched_rules(lesson: Lesson) -> frozenset[str]:
    """Rules of the goal and whatever they yield to."""
    every = all_rules(computed=True)
    out: set[str] = set()
    for condition in each(lesson.goal):
        if isinstance(condition, Clear):
            out |= {condition.rule, *every[condition.rule].yields_to}
        elif isinstance(condition, Quiet):
            themes = condition.themes
            out |= {slug for slug in every if not themes or slug.split("/")[0] in themes}
    return frozenset(out)


def _told(finding: Finding, *, harm: bool = False) -> Told:
    return Told(
        rule=finding.rule, severity=finding.severity.word, said=finding.message, todo=finding.todo,
        ids=tuple(dict.fromkeys((finding.subject, *finding.culprits))), path=finding.path, harm=harm,
    )  # fmt: skip


def _say(lesson: Lesson, verdict: Verdict) -> str:
    """The one thing to read first: never blame, never praise of the person."""
    if verdict.passed:
        return lesson.play.right or lesson.reason
    if verdict.outside:
        return verdict.outside[0].said
    miss = verdict.first_miss
    if miss is None:
        return f"The task is done. Outside this lesson, but do not leave it so: {verdict.harm[0].said}"
    return miss.said
