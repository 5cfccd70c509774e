"""Practice: a sound sheet with mistakes hidden in it, the answers kept beside it, and the learner's marks judged.

Owns the choice of mistakes, so that each is one finding of its own, and the grading. A seed always gives the same
exercise. How each mistake is made is in `practice_places` and `practice_swaps`.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from functools import cache

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.errors import LessonError, LoopwrightError, SheetError
from loopwright.lessons.practice_disguise import disguised
from loopwright.lessons.practice_places import Ground, Made, Place, places
from loopwright.plain import read_toml
from loopwright.resources import resource_root
from loopwright.rules.findings import Finding, Severity
from loopwright.rules.registry import all_rules
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet
from loopwright.survey import survey

TABLE = "practice.toml"
MOST_TRIES = 200
"""Mistakes tried before an exercise has to do with fewer."""
OTHER_SUBJECTS = 120
"""Tries in which no two mistakes may be about the same subject."""
MOST_FAULTS = 10
PARTS_A_POINT = 20
"""So many parts make an exercise harder by one."""

Mark = tuple[str, str, tuple[str, ...]]


class PracticeError(LoopwrightError):
    """A sheet that is no ground for practice: it has faults of its own, or nothing to make a mistake in."""


class Mistake(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A sort of mistake, as resources/practice.toml has it."""

    key: str
    level: int
    rules: tuple[str, ...]
    words: str


class Hidden(msgspec.Struct, frozen=True, kw_only=True):
    """One hidden fault. `at` are the ids on the exercise's sheet that count as found; `edit` what was done."""

    sort: str
    rule: str
    severity: str
    subject: str
    culprits: tuple[str, ...]
    at: tuple[str, ...]
    edit: str
    reason: str
    repair: str
    level: int


class Exercise(msgspec.Struct, frozen=True, kw_only=True):
    """A faulty sheet and what is hidden in it. `asked` is how many faults were wanted."""

    sheet: Sheet
    hidden: tuple[Hidden, ...]
    seed: int
    asked: int

    @property
    def difficulty(self) -> int:
        """What it takes to see each fault, and how much there is to look through."""
        return sum(h.level for h in self.hidden) + len(self.sheet.parts) // PARTS_A_POINT


class Grade(msgspec.Struct, frozen=True, kw_only=True):
    """Marks judged: faults found, faults missed, and ids marked where nothing is wrong."""

    found: tuple[Hidden, ...]
    missed: tuple[Hidden, ...]
    wrong: tuple[str, ...]


@cache
def mistakes() -> Mapping[str, Mistake]:
    """Every sort of mistake by key. Raises LessonError with its place where the table is broken."""
    _, data = read_toml(resource_root() / TABLE, LessonError, "The table of mistakes")
    out = {}
    for key, table in data.items():
        try:
            out[key] = msgspec.convert({"key": key, **table}, Mistake)
        except (msgspec.ValidationError, TypeError) as bad:
            raise LessonError(
                f"The mistake {key} cannot be read", where=f"{TABLE}: {bad}", do="Mend that key"
            ) from None
        unknown = [slug for slug in out[key].rules if slug not in all_rules()]
        if unknown:
            do = "Name one that the graph answers: `loopwright rules` lists them"
            raise LessonError(f"The mistake {key} is to break {unknown[0]}, which is no rule", where=TABLE, do=do)
    return out


def practice(sheet: Sheet, catalogue: Catalogue, seed: int, faults: int = 3) -> Exercise:
    """An exercise with some faults hidden in a sound sheet, fewer where no more can be told apart.

    Every fault by itself makes exactly one danger or fault, of the rule it is meant for, and all do together. Raises
    PracticeError if the sheet has dangers or faults of its own, or if no mistake can be made in it.
    """
    if not 1 <= faults <= MOST_FAULTS:
        raise PracticeError(f"An exercise cannot hide {faults} faults", do=f"Ask for 1 to {MOST_FAULTS}")
    own = _bad(sheet, catalogue)
    if own:
        count = "a danger or fault" if len(own) == 1 else f"{len(own)} dangers and faults"
        raise PracticeError(
            f"This sheet has {count} of its own, so what is hidden could not be told apart",
            do="Put them right first: `loopwright check` lists them",
        )
    chance = random.Random(seed)
    hand = _Hand(sheet, catalogue)
    pools = {key: found for key in mistakes() if (found := places(hand.ground, key))}
    later: dict[str, list[Place]] = {}  # places of a subject that has a fault already, for when no other is left
    apart = True
    for tries in range(MOST_TRIES):
        if len(hand.made) == faults or not (pools or later):
            break
        if apart and (not pools or tries >= OTHER_SUBJECTS):
            apart = False
            pools = {key: [*pools.get(key, ()), *later.get(key, ())] for key in sorted({*pools, *later})}
        key = chance.choice(sorted(pools))
        place = pools[key].pop(chance.randrange(len(pools[key])))
        taken = hand.take(place, apart=apart)
        if taken is None:
            later.setdefault(key, []).append(place)
        if taken or not pools[key]:
            del pools[key]  # one of a sort is enough
        if taken:
            later.pop(key, None)
        if not apart:
            later.clear()
    if not hand.made:
        raise PracticeError(
            "No mistake can be made in this sheet that gives just one fault",
            do="Choose a sheet with a source, a store and what they heat",
        )
    return hand.exercise(seed, faults)


def grade(exercise: Exercise, marked: Iterable[str]) -> Grade:
    """What the marked parts and pipes find. Any part of a fault counts; a subject marked for it is not held wrong."""
    marks = list(dict.fromkeys(marked))
    found = tuple(h for h in exercise.hidden if set(h.at) & set(marks))
    missed = tuple(h for h in exercise.hidden if h not in found)
    right = {i for h in exercise.hidden for i in h.at} | {h.subject for h in found}
    return Grade(found=found, missed=missed, wrong=tuple(m for m in marks if m not in right))


# -- making it --------------------------------------------------------------------------------------------------------


class _Hand:
    """An exercise in the making."""

    def __init__(self, sheet: Sheet, catalogue: Catalogue) -> None:
        self.sound, self.sheet, self.catalogue = sheet, sheet, catalogue
        self.ground = Ground(sheet, catalogue)
        self.made: list[tuple[Mistake, Finding, tuple[str, ...]]] = []

    def take(self, place: Place, *, apart: bool) -> bool | None:
        """Make a mistake if it is one fault by itself and beside those already made, and say whether it was.

        None: it could have been, but for `apart`, which asks that no two be about the same subject.
        """
        mistake = mistakes()[place.sort]
        alone = _tried(place, self.sound)
        if alone is None:
            return False
        first = self._one_more({}, alone[0], mistake)
        if first is None or not _beside(alone, first):
            return False
        if not self.made:
            self._keep(mistake, first, alone)
            return True
        again = _tried(place, self.sheet)
        if again is None:
            return False
        standing = {_mark(f): f for _, f, _ in self.made}
        more = self._one_more(standing, again[0], mistake)
        if more is None or more.rule != first.rule or not _beside(again, more):
            return False
        taken = {i for _, f, at in self.made for i in (*f.culprits, *at)}
        if taken & {*more.culprits, *again[1]}:
            return False
        if apart and any(f.subject == more.subject for _, f, _ in self.made):
            return None
        self._keep(mistake, more, again)
        return True

    def _keep(self, mistake: Mistake, finding: Finding, made: Made) -> None:
        self.sheet = made[0]
        small = {i for i in made[1] if i in self.sheet.pipes or self._is_fitting(i)} - {finding.subject}
        at = tuple(i for i in made[1] if i in finding.culprits or i in small)
        self.made.append((mistake, finding, at))

    def _is_fitting(self, part: str) -> bool:
        return part in self.sheet.parts and not self.catalogue[self.sheet.parts[part].kind].large

    def _one_more(self, standing: Mapping[Mark, Finding], sheet: Sheet, mistake: Mistake) -> Finding | None:
        """The one new danger or fault of a sheet, if it is of a rule that is meant and covers no other cause."""
        found = {_mark(f): f for f in _bad(sheet, self.catalogue)}
        if not standing.keys() <= found.keys() or any(found[m].also != standing[m].also for m in standing):
            return None
        new = [f for mark, f in found.items() if mark not in standing]
        return new[0] if len(new) == 1 and new[0].rule in mistake.rules else None

    def exercise(self, seed: int, asked: int) -> Exercise:
        """The exercise under fresh ids, its findings told as the survey of that sheet tells them."""
        sheet, new = disguised(self.sheet, self.catalogue)
        told = _bad(sheet, self.catalogue)
        hidden = []
        for mistake, finding, at in self.made:
            # ids decide which of several equals a finding is about, so it is known again by what it names
            names = {new.get(i, i) for i in (finding.subject, *finding.culprits)}
            alike = [f for f in told if f.rule == finding.rule]
            shown = max(alike, key=lambda f: len(names & {f.subject, *f.culprits}))
            told.remove(shown)
            hidden.append(
                Hidden(
                    sort=mistake.key,
                    rule=shown.rule,
                    severity=shown.severity.word,
                    subject=shown.subject,
                    culprits=shown.culprits,
                    at=tuple(dict.fromkeys((*shown.culprits, *(new.get(i, i) for i in at)))),
                    edit=mistake.words,
                    reason=shown.message,
                    repair=shown.todo,
                    level=mistake.level,
                )
            )
        count = "a fault" if len(hidden) == 1 else f"{len(hidden)} faults"
        words = f": find {count}"
        sheet = edits.set_title(sheet, sheet.title[: edits.LONGEST_NAME - len(words)] + words)
        return Exercise(sheet=sheet, hidden=tuple(hidden), seed=seed, asked=asked)


def _tried(place: Place, sheet: Sheet) -> Made | None:
    try:
        made = place.edit(sheet)
    except SheetError:
        return None
    return made if made[0] != sheet else None


def _beside(made: Made, finding: Finding) -> bool:
    """Whether a finding names what was touched, or what a pipe joins to it."""
    sheet, touched = made
    near = set(touched)
    for name in touched:
        if name in sheet.parts:
            near |= {i for p in sheet.pipes_of(name) for i in (p.id, p.a.part, p.b.part)}
        elif name in sheet.pipes:
            near |= {sheet.pipes[name].a.part, sheet.pipes[name].b.part}
    return bool(near & {finding.subject, *finding.culprits})


def _mark(finding: Finding) -> Mark:
    return finding.rule, finding.subject, finding.culprits


def _bad(sheet: Sheet, catalogue: Catalogue) -> list[Finding]:
    return [f for f in survey(sheet, catalogue).findings if f.severity > Severity.ADVICE]
