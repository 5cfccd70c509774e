"""Words and flags kept from one layout to the next, so that only those near what changed look for a place again.

Owns the order in which they come to the board, and who must look again: what is itself new, and whoever once looked
where something has come or gone. The outcome is that of a layout from scratch. Refuses to know where a word would like
to stand.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import Any

from loopwright.drawing.board import Board, Drawn, FlagPlace, Label, Labels
from loopwright.drawing.flag_places import flag_place
from loopwright.drawing.grid import Box, Holder
from loopwright.drawing.label_places import dimension_label, longest, name_label, note_label, size_label
from loopwright.drawing.lettering import keep_floor_names, letters
from loopwright.drawing.look import Look
from loopwright.drawing.plan import Flag, PipePlan, SheetPlan

Written = tuple[Label | FlagPlace, ...]
Key = tuple[str, str]
"""What sort of thing is to be written, and whose it is."""
Comer = tuple[Key, Any]
"""Who comes to the board: the key, and all that its place depends on besides what stands there already."""

WORK: Mapping[str, Callable[[Board, Any], Label | FlagPlace | Sequence[Label] | None]] = {
    "letters": lambda board, given: letters(board, *given),
    "flag": flag_place,
    "floors": lambda board, given: keep_floor_names(board, *given),
    "dimension": dimension_label,
    "name": name_label,
    "note": lambda board, given: note_label(board, given.id, given.at, given.words),
    "size": size_label,
}
ANEW_FROM = 0.4
"""Share of things drawn that are new from which a layout goes back to the board before, if that is nearer (as after an
undo), or begins with an empty one, which is then quicker."""
SAMPLED = 16
"""So many things are looked at before all are, to see whether a board may be nearer."""


class _Settled(Holder):
    """Someone who has been to the board: what was given, what came of it, and the box round all that was looked at."""

    __slots__ = ("given", "seen", "written")

    def __init__(self, rank: int) -> None:
        super().__init__(rank)
        self.given: Any = None
        self.written: Written = ()
        self.seen: Box = (0.0, 0.0, 0.0, 0.0)


class _Stir:
    """Where something has come or gone: boxes, and the box round them all for a quick no."""

    def __init__(self) -> None:
        self._boxes: list[Box] = []
        self._round: Box = (float("inf"), float("inf"), float("-inf"), float("-inf"))

    def add(self, boxes: Iterable[Box]) -> None:
        """What has come or gone takes up these boxes."""
        for box in boxes:
            self._boxes.append(box)
            r = self._round
            self._round = (min(r[0], box[0]), min(r[1], box[1]), max(r[2], box[2]), max(r[3], box[3]))

    def meets(self, seen: Box) -> bool:
        """Whether any of it lies where somebody looked."""
        left, top, right, foot = seen
        r = self._round
        if r[0] >= right or left >= r[2] or r[1] >= foot or top >= r[3]:
            return False
        return any(b[0] < right and left < b[2] and b[1] < foot and top < b[3] for b in self._boxes)


class Layout:
    """All that is written on a sheet at one look. `place` may be called with any plan at any time."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self._board = Board(look)
        self._drawn: dict[Key, Drawn] = {}
        self._settled: dict[Key, _Settled] = {}
        self._longest: dict[str, tuple[PipePlan, float]] = {}
        self._before: tuple[Board, dict[Key, Drawn], dict[Key, _Settled]] | None = None
        """The board before the one in use, what is drawn on it, and who has been to it."""

    def place(
        self,
        plan: SheetPlan,
        flags: Sequence[Flag] = (),
        floors: bool = False,
        chosen: frozenset[str] = frozenset(),
    ) -> Labels:
        """What `labels.place_labels` gives for the same. Words that stay where they were are the same objects."""
        stir = _Stir()
        self._draw(plan, stir)
        comers = list(self._comers(plan, flags, floors, chosen))
        again = self._changed(comers, stir)
        board, settled = self._board, self._settled
        for key, given in comers:
            one = settled[key]
            if key not in again and not stir.meets(one.seen):
                continue
            before, old = one.written, one.taken
            board.give_up(one)
            board.turn.give(one)
            one.given, one.written, one.seen = given, _as_tuple(WORK[key[0]](board, given)), board.turn.seen
            if one.written == before and one.taken == old:
                one.written = before
            else:
                stir.add(old)
                stir.add(one.taken)
        words = [w for key, _ in comers if key[0] != "flag" for w in settled[key].written]
        places = [w for key, _ in comers if key[0] == "flag" for w in settled[key].written]
        return Labels(tuple(words), tuple(places))  # type: ignore[arg-type]

    def recalls(self, plan: SheetPlan) -> bool:
        """Whether most of a plan stands on the board as it is, or on the one before: then `place` is quick."""
        now = _drawn_on(plan)
        return _alike(self._drawn, now) or (self._before is not None and _alike(self._before[1], now))

    def _draw(self, plan: SheetPlan, stir: _Stir) -> None:
        """Bring the board up to what is drawn."""
        now = _drawn_on(plan)
        known = self._drawn
        new = [key for key, thing in now.items() if known.get(key) is not thing]
        if len(new) > ANEW_FROM * len(now):
            before, self._before = self._before, (self._board, known, self._settled)
            self._board, known, self._settled = Board(self.look), {}, {}
            if before is not None and _alike(before[1], now):
                self._board, known, self._settled = before
            new = [key for key, thing in now.items() if known.get(key) != thing]
        for key in chain(known.keys() - now.keys(), (key for key in new if key in known)):
            stir.add(self._board.lift(known[key]))
        for key in new:
            stir.add(self._board.put(now[key]))
        self._drawn = now

    def _comers(self, plan: SheetPlan, flags: Sequence[Flag], floors: bool, chosen: frozenset[str]) -> Iterator[Comer]:
        """Everybody in order: letters, which have one place each, then flags, names, notes and sizes."""
        written = self.look.detail >= 2
        if written:
            for key, store in plan.stores.items():
                yield ("letters", key), (store, key in chosen)
        for k, flag in enumerate(sorted(flags, key=lambda f: f.number)):
            yield ("flag", f"{flag.number} {k}"), flag
        if not written:
            return
        if floors:
            yield ("floors", ""), (plan.bounds()[0], plan.floors)
        for key, one in plan.dimensions.items():
            yield ("dimension", key), one
        for key, store in plan.stores.items():
            yield ("name", key), store
        for large in (True, False):  # a fitting's name finds a place more easily
            for key, part in plan.parts.items():
                if part.large is large and part.name:
                    yield ("name", key), part
        for key, note in plan.notes.items():
            yield ("note", key), note
        for pipe in self._by_length(plan):
            yield ("size", pipe.id), pipe

    def _by_length(self, plan: SheetPlan) -> list[PipePlan]:
        """Pipes that may get a size, those with the longest run first."""
        known, now = self._longest, {}
        for key, pipe in plan.pipes.items():
            if not pipe.joint:
                found = known.get(key)
                now[key] = found if found is not None and found[0] is pipe else (pipe, longest(pipe))
        self._longest = now
        return [pipe for pipe, _ in sorted(now.values(), key=lambda found: -found[1])]

    def _changed(self, comers: list[Comer], stir: _Stir) -> set[Key]:
        """Who must look again whatever has stirred: the new, the changed, and those who come in another order.

        Gives everybody a rank; what those who change or go have taken stirs from the start.
        """
        known, now = self._settled, {}
        again: set[Key] = set()
        top = -1
        for rank, (key, given) in enumerate(comers):
            one = known.get(key)
            if one is None:
                one = _Settled(rank)
                again.add(key)
            elif (one.given is not given and one.given != given) or one.rank < top:
                again.add(key)
                stir.add(one.taken)
            else:
                top = one.rank
            one.rank = rank
            now[key] = one
        for key in known.keys() - now.keys():
            stir.add(known[key].taken)
            self._board.give_up(known[key])
        self._settled = now
        return again


def _drawn_on(plan: SheetPlan) -> dict[Key, Drawn]:
    now: dict[Key, Drawn] = {}
    for sort in ("parts", "stores", "pipes", "links", "dimensions"):
        now.update({(sort, key): thing for key, thing in getattr(plan, sort).items()})
    return now


def _alike(drawn: Mapping[Key, Drawn], now: Mapping[Key, Drawn]) -> bool:
    """Whether enough of what is drawn on a board is drawn now too, things that are equal though not the same."""
    some = list(now.items())[:: max(1, len(now) // SAMPLED)]
    return sum(drawn.get(key) != thing for key, thing in some) <= ANEW_FROM * len(some)


def _as_tuple(written: Label | FlagPlace | Sequence[Label] | None) -> Written:
    if written is None:
        return ()
    return (written,) if isinstance(written, Label | FlagPlace) else tuple(written)
