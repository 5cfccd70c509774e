"""Sheets from code: a short builder for scripts, samples and tests.

from loopwright import draw

s = draw.sheet("Kiln Lane barn", levels={"Ground floor": 0, "First floor": 2.6}) store = s.store("store",
x_m=4, height_m=0.1, volume_l=300, tappings={"stove flow": 1.4, "stove return": 0.3}) stove =
s.add("boiler_stove", "stove", x_m=1, height_m=0, power_kw=8) s.pipe(stove["flow"], store["stove flow"],
size="28", material="copper", via=[(2.0, 1.5)]) s.pipe(store["stove return"], stove["return"], size="28")
sheet = s.done()

It makes what the window makes, by the same edits, and takes any kind, port and property: `loopwright kinds`
prints the table of them all, `loopwright kinds --format json` the same for programs. Metres throughout: x
runs right, height runs up from the ground floor; heights of tappings and coils are above the vessel's base.
Every mistake raises SheetError, KindError for an unknown kind, that names what, where and what to do.

Owns shorthand alone. Knows no geometry beyond the order in which a pipe takes its corners.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Literal, TypeAlias

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import LoopwrightError, SheetError
from loopwright.sheet import edits
from loopwright.sheet.change import changed, check_property, part_named, pipe_named
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.pipework import end_port
from loopwright.sheet.plane import OPPOSITE, Dir
from loopwright.sheet.ports import ports_of
from loopwright.sheet.shorthand import Coils, Tappings, body_for, stubs, through
from loopwright.sheet.values import ControlLink, Dimension, End, Foot, Level, Note, Part, Point, PropValue, Sheet


def sheet(
    title: str, *, levels: Mapping[str, float] | Iterable[Level] | None = None, catalogue: Catalogue | None = None
) -> Drawing:
    """An empty drawing. `levels` are floors and their heights; `catalogue` is the shipped one unless
    given."""
    blank = edits.set_title(Sheet(), title)
    if levels is not None:
        blank = edits.set_levels(blank, levels)
    return Drawing(blank, catalogue or standard_catalogue())


class PartRef:
    """A part of a drawing. `part["flow"]` is a pipe end: a port, a tapping by letter or name, or a port's
    label."""

    def __init__(self, drawing: Drawing, part_id: str) -> None:
        self.drawing, self.id = drawing, part_id

    @property
    def part(self) -> Part:
        """The record as it is now."""
        return part_named(self.drawing.sheet, self.id)

    @property
    def ends(self) -> list[End]:
        """Every end a pipe could have here."""
        return [End(self.id, name) for name in ports_of(self.part, self.drawing.catalogue)]

    def __getitem__(self, name: str) -> End:
        part, ports = self.part, ports_of(self.part, self.drawing.catalogue)
        if name in ports:
            return End(self.id, name)
        if any(t.purpose == "sensor" and name in (t.letter, t.name) for t in part.tappings):
            raise SheetError(
                f"“{name}” of “{self.id}” is a sensor pocket and takes no pipe",
                do=f"For a control link write pocket(“{name}”)",
            )
        named = [t.letter for t in part.tappings if t.name == name]
        labelled = [p.name for p in ports.values() if p.label.lower() == name.lower()]
        for found in (named, labelled):
            if len(found) == 1:
                return End(self.id, found[0])
        if len(named) > 1:
            raise SheetError(f"“{self.id}” has several tappings named “{name}”", do=f"Use a letter: {', '.join(named)}")
        listed = [p.name if p.label in (p.name, "") else f"{p.name} ({p.label})" for p in ports.values()]
        raise SheetError(f"“{self.id}” has no port or tapping “{name}”", do=f"It has: {', '.join(listed) or 'none'}")

    def pocket(self, name: str) -> str:
        """What a control link calls a sensor pocket: "store/D". Takes its letter or its name."""
        for tapping in self.part.tappings:
            if name in (tapping.letter, tapping.name):
                return f"{self.id}/{tapping.letter}"
        raise SheetError(f"“{self.id}” has no pocket “{name}”", do="Give it a tapping with purpose “sensor”")

    def __repr__(self) -> str:
        return f"<{self.part.kind} {self.id}>"


class PipeRef:
    """A pipe of a drawing. It goes on standing for the whole line when tees and fittings are put into it."""

    def __init__(self, drawing: Drawing, pipe_id: str) -> None:
        self.drawing, self.ids = drawing, [pipe_id]

    @property
    def id(self) -> str:
        """The id of its first piece."""
        return self.ids[0]

    def nearest(self, at: Point) -> str:
        """Id of the piece that runs nearest to a place."""
        now = self.drawing.sheet
        lines = {key: polyline(now, now.pipes[key], self.drawing.catalogue) for key in self.ids}
        return min(lines, key=lambda key: nearest_on(lines[key], at)[2])

    def __repr__(self) -> str:
        return f"<pipe {' '.join(self.ids)}>"


Place: TypeAlias = End | PartRef
AnyPipe: TypeAlias = PipeRef | str


class Drawing:
    """A sheet in the making. `sheet` is the sheet so far, `catalogue` the kinds it may use."""

    def __init__(self, start: Sheet, catalogue: Catalogue) -> None:
        self.sheet, self.catalogue = start, catalogue

    # parts

    def add(
        self,
        kind: str,
        id: str | None = None,
        *,
        x_m: float,
        height_m: float,
        turn: int = 0,
        mirror: bool = False,
        name: str = "",
        existing: bool = False,
        locked: bool = False,
        tappings: Tappings | None = None,
        coils: Coils = (),
        **props: PropValue,
    ) -> PartRef:
        """A part of any kind. (x_m, height_m) is the middle of a large part's base, a fitting's centre.

        `turn` is in quarters, clockwise. `props` are the kind's properties, in their units.
        """
        spec = self.catalogue[kind]
        part_id = id or edits.new_id(self.sheet, spec)
        with _where(f"Adding {kind} “{part_id}”"):
            part = Part(id=part_id, kind=kind, x_m=float(x_m), height_m=float(height_m))
            part = changed(part, turn=turn, mirror=mirror, name=name, existing=existing, locked=locked)
            for key, value in props.items():
                check_property(spec, key, value)
            typed: dict[str, PropValue] = {key: value for key, value in props.items() if value is not None}
            made, wound = stubs(tappings or {}, coils)
            part = msgspec.structs.replace(part, props=typed, tappings=made, coils=wound)
            edits.check_vessel(part, spec)
            self.sheet = edits.place(self.sheet, part)
        return PartRef(self, part_id)

    def store(
        self,
        id: str | None = None,
        *,
        x_m: float,
        height_m: float,
        volume_l: float | None = None,
        tappings: Tappings | None = None,
        coils: Coils = (),
        kind: str = "heat_store",
        **more: Any,
    ) -> PartRef:
        """A heat store, or another vessel of that `kind`, with its tappings and coils.

        A volume without body sizes gives a body of that content in the kind's own proportions.
        """
        if volume_l is not None:
            more["volume_l"] = volume_l
            if "body_diameter_m" not in more and "body_height_m" not in more:
                more.update(body_for(self.catalogue[kind], volume_l))
        return self.add(kind, id, x_m=x_m, height_m=height_m, tappings=tappings, coils=coils, **more)

    def __getitem__(self, part_id: str) -> PartRef:
        part_named(self.sheet, part_id)
        return PartRef(self, part_id)

    # pipes

    def pipe(
        self,
        a: Place,
        b: Place,
        size: str | float | None = None,
        material: str | None = None,
        via: Sequence[Point] | None = None,
        graded: Literal["", "a", "b"] = "",
        id: str | None = None,
        **more: Any,
    ) -> PipeRef:
        """A pipe from a to b. Without `via` a way is found for it.

        `via` are places it goes through, in order from a to b; they are held corners, which no algorithm
        moves. Between two of them it runs level first and then upright, unless they are in line; at each end
        it leaves the port straight, so next to a port that faces up or down the upright run comes first. An
        empty `via` draws such a plain way without looking for a better one. A part in place of an end means
        its only free port. `more` are fields of a pipe: extra_length_m, extra_bends, insulation_mm, service,
        bypass, primary_loop.
        """
        one, two = self._end(a), self._end(b)
        with _where(f"Piping {_name(one)} to {_name(two)}"):
            points: list[Point] | None = None
            held: tuple[int, ...] = ()
            if via is not None:
                points, held = through(
                    end_port(self.sheet, one, self.catalogue), end_port(self.sheet, two, self.catalogue), via
                )
            before = set(self.sheet.pipes)
            self.sheet = edits.connect(
                self.sheet,
                one,
                two,
                self.catalogue,
                points=points,
                held=held,
                size=size,
                material=material,
                pipe_id=id,
                graded=graded,
                **more,
            )
        return PipeRef(self, next(iter(set(self.sheet.pipes) - before)))

    def tee(self, pipe: AnyPipe, at: Point, id: str | None = None, *, towards: Point | Dir | None = None) -> PartRef:
        """A tee put into a pipe at the place of its line nearest to `at`; pipe its branch as `tee["branch"]`.

        `towards` is the way or the place that the branch faces; else the side of the pipe on which `at` lies.
        """
        whole, key = self._piece(pipe, at)
        with _where(f"A tee in {key} at {at[0]:g}, {at[1]:g}"):
            before = set(self.sheet.pipes)
            self.sheet, end = edits.tee_into(self.sheet, key, at, self.catalogue, part_id=id, towards=towards)
        whole.ids += sorted(set(self.sheet.pipes) - before)
        return PartRef(self, end.part)

    def insert(
        self,
        pipe: AnyPipe,
        kind: str,
        id: str | None = None,
        *,
        at: Point,
        name: str = "",
        existing: bool = False,
        towards: Dir | None = None,
        **props: PropValue,
    ) -> PartRef:
        """A fitting put into a pipe at the place nearest to `at`, turned so that it passes from end a to end
        b."""
        whole, key = self._piece(pipe, at)
        part_id = id or edits.new_id(self.sheet, self.catalogue[kind])
        with _where(f"{kind} “{part_id}” in {key} at {at[0]:g}, {at[1]:g}"):
            typed: dict[str, PropValue] = {k: v for k, v in props.items() if v is not None}
            part = Part(
                id=part_id,
                kind=kind,
                x_m=float(at[0]),
                height_m=float(at[1]),
                name=name,
                existing=existing,
                props=typed,
            )
            before = set(self.sheet.pipes)
            self.sheet = edits.insert_in_pipe(self.sheet, key, part, at, self.catalogue, towards=towards)
        whole.ids += sorted(set(self.sheet.pipes) - before)
        return PartRef(self, part_id)

    def joint(self, a: Place, b: Place, id: str | None = None) -> None:
        """Two parts screwed together without a pipe: the part of b, still unpiped, is turned and put onto
        a."""
        one, two = self._end(a), self._end(b)
        with _where(f"Joining {_name(one)} and {_name(two)}"):
            moved = part_named(self.sheet, two.part)
            port = end_port(self.sheet, one, self.catalogue)
            end_port(self.sheet, two, self.catalogue)
            if self.sheet.pipes_of(two.part):
                raise SheetError(f"“{two.part}” is piped already", do="Join it before you pipe it")
            if not self.catalogue[moved.kind].large:
                moved = edits.faced(moved, self.catalogue, {two.port: OPPOSITE[port.side]})
            there = ports_of(moved, self.catalogue)[two.port]
            moved = msgspec.structs.replace(
                moved,
                x_m=round(moved.x_m + port.at[0] - there.at[0], 6),
                height_m=round(moved.height_m + port.at[1] - there.at[1], 6),
            )
            parts = {**self.sheet.parts, moved.id: moved}
            placed = msgspec.structs.replace(self.sheet, parts=parts)
            self.sheet = edits.connect(placed, one, two, self.catalogue, joint=True, pipe_id=id)

    def cap(self, end: Place, id: str | None = None) -> PartRef:
        """A cap screwed onto a free port or tapping."""
        one = self._end(end)
        port = end_port(self.sheet, one, self.catalogue)
        cap = self.add("cap", id, x_m=port.at[0], height_m=port.at[1])
        self.joint(one, cap)
        return cap

    # control, words, facts

    def link(
        self,
        sensor: PartRef | str,
        target: PartRef | str,
        does: str,
        *,
        second: PartRef | str = "",
        id: str | None = None,
        **more: Any,
    ) -> ControlLink:
        """A control link. `sensor` and `second` are parts, or pockets by `store.pocket("top")`.

        `does` is one of runs_above, runs_below, difference, stops_above, opens_above, shuts_above, schedule;
        `more` are setting_c, off_c, hysteresis_k, manual_reset and on_power_loss (off, on, as_left).
        """
        names = [x.id if isinstance(x, PartRef) else x for x in (sensor, target, second)]
        number = len(self.sheet.links) + 1
        while id is None and f"link{number}" in self.sheet.links:
            number += 1
        with _where(f"Linking {names[0]} to {names[1]}"):
            plain = ControlLink(id=id or f"link{number}", sensor=names[0], target=names[1], does="schedule")
            made = changed(plain, does=does, second=names[2], **more)
            if id in self.sheet.links:
                raise SheetError(f"There is already a link “{id}”", do="Choose another id")
            self.sheet = edits.put_link(self.sheet, made)
        return made

    def note(self, text: str, *, x_m: float, height_m: float, id: str | None = None) -> None:
        """Words at a place on the sheet."""
        key = id or f"note{len(self.sheet.notes) + 1}"
        self.sheet = edits.put_note(self.sheet, Note(id=key, x_m=float(x_m), height_m=float(height_m), text=text))

    def dimension(self, a: Place | Point, b: Place | Point, *, x_m: float, id: str | None = None) -> None:
        """A height between two pipe ends, parts or places, its line at x_m."""
        key = id or f"dimension{len(self.sheet.dimensions) + 1}"
        feet = [self._foot(place) for place in (a, b)]
        with _where(f"Measuring {key}"):
            self.sheet = edits.put_dimension(self.sheet, Dimension(id=key, a=feet[0], b=feet[1], x_m=float(x_m)))

    def _foot(self, place: Place | Point) -> Foot:
        if isinstance(place, PartRef):
            return Foot(part=place.id)
        if isinstance(place, End):
            return Foot(part=place.part, port=place.port)
        return Foot(x_m=float(place[0]), height_m=float(place[1]))

    def fact(self, **facts: PropValue) -> None:
        """Facts about the house, by name."""
        for name, value in facts.items():
            self.sheet = edits.set_fact(self.sheet, name, value)

    def limit(self, **limits: float) -> None:
        """Limits of this sheet's own, by name."""
        for name, value in limits.items():
            self.sheet = edits.set_limit(self.sheet, name, value)

    def done(self) -> Sheet:
        """The sheet. The drawing can go on afterwards: sheets are values."""
        return self.sheet

    # names to records

    def _end(self, place: Place) -> End:
        if isinstance(place, End):
            return place
        if not isinstance(place, PartRef):
            raise SheetError(f"{place!r} is no pipe end", do='Write part["port"], as in stove["flow"]')
        free = [end for end in place.ends if end not in self.sheet.taken]
        if len(free) != 1:
            ports = ", ".join(end.port for end in free) or "none"
            raise SheetError(f"“{place.id}” has not just one free port", do=f"Name the port; free are: {ports}")
        return free[0]

    def _piece(self, pipe: AnyPipe, at: Point) -> tuple[PipeRef, str]:
        if isinstance(pipe, str):
            pipe = PipeRef(self, pipe_named(self.sheet, pipe).id)
        return pipe, pipe.nearest(at)


@contextmanager
def _where(place: str) -> Iterator[None]:
    """Adds what was being drawn to an error that does not say where."""
    try:
        yield
    except LoopwrightError as bad:
        if bad.where:
            raise
        raise type(bad)(bad.what, where=place, do=bad.do) from None


def _name(end: End) -> str:
    return f"{end.part}[{end.port}]"
