"""What is said and shown at each moment of an attempt, a little more each time the same thing is missed.

Owns the stages: first where, then the loop lit and a hint offered, then the rule's page, at last an answer. Knows no
window: it says what to light and what to offer.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from loopwright.lessons.attempt import Verdict

Offer = Literal["", "hint", "page", "answer", "next"]


class Feedback(msgspec.Struct, frozen=True, kw_only=True):
    """What the panel says and does. `ids` are marked, `path` is lit, `page` is a rule; `play`: show what follows.

    `offer` is what stands beside: a hint, the rule's page, one answer (the lesson is then worth 40), or what to read
    next. `right` says what has been put right since the last check.
    """

    say: str
    right: tuple[str, ...] = ()
    play: bool = False
    ids: tuple[str, ...] = ()
    path: tuple[str, ...] = ()
    offer: Offer = ""
    page: str = ""


def feedback(verdict: Verdict, *, hints_left: int = 3, answer: bool = True) -> Feedback:
    """What to say of a check. `answer`: whether there is one to be shown."""
    right = verdict.put_right
    if verdict.passed:
        return Feedback(say=verdict.say, right=right, play=True, offer="next")
    miss = verdict.first_miss
    if verdict.outside or miss is None:
        told = verdict.harm[0] if miss is None and verdict.harm else None
        ids = told.ids if told else tuple(o.id for o in verdict.outside if o.id)
        return Feedback(say=verdict.say, right=right, ids=ids, path=told.path if told else ())
    if miss.state == "not yet":  # unfinished is never a miss, and plays no disaster
        return Feedback(say=miss.said, right=right, ids=miss.ids)
    hint: Offer = "hint" if hints_left else "page" if miss.rule else ""
    if verdict.near:
        return Feedback(say=f"Nearly there. {miss.said}", right=right, ids=miss.ids)
    if verdict.misses <= 1:
        return Feedback(say=miss.said, right=right, play=True, ids=miss.ids[:1])
    if verdict.misses == 2:
        return Feedback(say=miss.said, right=right, ids=miss.ids, path=miss.path, offer=hint)
    said = f"{miss.said} {miss.todo}".strip()
    if verdict.misses == 3 or not answer:
        return Feedback(say=said, right=right, ids=miss.ids, path=miss.path, offer=hint, page=miss.rule)
    return Feedback(say=said, right=right, ids=miss.ids, path=miss.path, offer="answer", page=miss.rule)
