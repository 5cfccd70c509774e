"""A day in time: what the weather, the clock and the people do, and what comes of it.

Owns the record of a day, the ready-made ones in `resources/days`, and how a day is run. Knows nothing of how a step is
made. Times within a day are "hh:mm"; hourly figures hold at the full hour and go straight between.
"""

from __future__ import annotations

import math
import re
from bisect import bisect_right
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

import msgspec
import numpy as np

from loopwright.engineering import network as nw
from loopwright.engineering.drawn_parts import Asked, Charge
from loopwright.engineering.runs.cut import waterways_of
from loopwright.engineering.runs.day_words import crept_words, figures_of, verdict_of
from loopwright.engineering.runs.floors import warmed
from loopwright.engineering.runs.gear import shut_branches, shut_by_hand
from loopwright.engineering.runs.heat import Fire, charge_of
from loopwright.engineering.runs.house import SOON_S, House, room_C
from loopwright.engineering.runs.record import Peeks, Record
from loopwright.engineering.runs.result import Run
from loopwright.engineering.runs.rooms import room_of
from loopwright.engineering.runs.whole import Whole, whole
from loopwright.errors import FigureError, LoopwrightError
from loopwright.plain import read_toml
from loopwright.resources import resource_root
from loopwright.sheet.values import Sheet
from loopwright.waterways.graph import Waterways
from loopwright.waterways.views import NORMAL, Ask, Condition

DAY_S = 86400.0
LAYERS = 30
LONGEST_STEP_S = 60.0
MOST_EVENTS = 2000
_CLOCK = re.compile(r"([01]?[0-9]|2[0-3]):[0-5]?[0-9]|24:00?")

Span = tuple[str, str]


class Lit(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A fire lit (or fed) at a time, with a share of its whole charge. `source`: one fire by its id, else every one."""

    at: str
    charge: float = 1.0
    source: str = ""


class Drawn(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """Hot water taken: litres as used at a tap's temperature, over some minutes.

    `tap`: a part's id or a kind of outlet; where the sheet has none such, its first tap is used.
    """

    at: str
    litres: float
    minutes: float = 3.0
    tap: str = ""


class Day(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A day. `outdoor_c` and `sun_w_m2` (on the collector) have 24 figures, at the full hours from midnight."""

    name: str
    title: str
    outdoor_c: tuple[float, ...]
    sun_w_m2: tuple[float, ...]
    fires: tuple[Lit, ...] = ()
    boiler: tuple[Span, ...] = (("00:00", "24:00"),)
    programmer: tuple[Span, ...] = (("00:00", "24:00"),)
    immersion: tuple[Span, ...] = ()
    draws: tuple[Drawn, ...] = ()
    cold_c: float = 10.0
    design_outdoor_c: float = -3.0
    store_bottom_c: float = 35.0
    store_top_c: float = 60.0
    source: str = ""

    def __post_init__(self) -> None:
        for label, row in (("outdoor_c", self.outdoor_c), ("sun_w_m2", self.sun_w_m2)):
            if len(row) != 24 or not np.isfinite(row).all():
                raise LoopwrightError(
                    f"The day “{self.name}” needs 24 figures of {label}", do="Give one for every hour"
                )
        if min(self.sun_w_m2) < 0.0 or max(self.sun_w_m2) > 1400.0:
            raise LoopwrightError(f"The day “{self.name}” has a sun that cannot be", do="Give 0 to 1400 W/m²")
        for span in (*self.boiler, *self.programmer, *self.immersion):
            if seconds(span[0]) > seconds(span[1]):
                raise LoopwrightError(
                    f"The day “{self.name}” has hours that end before they begin: {span[0]}–{span[1]}"
                )
        for label, value, least, most in (
            ("outdoor_c", min(self.outdoor_c), -80.0, 80.0),
            ("outdoor_c", max(self.outdoor_c), -80.0, 80.0),
            ("design_outdoor_c", self.design_outdoor_c, -80.0, 80.0),
            ("cold_c", self.cold_c, 0.0, 60.0),
            ("store_bottom_c", self.store_bottom_c, 0.0, 120.0),
            ("store_top_c", self.store_top_c, 0.0, 120.0),
        ):
            if not least <= value <= most:
                raise LoopwrightError(
                    f"The day “{self.name}” has a {label} of {value:g}", do=f"Give {least:g} to {most:g} °C"
                )
        if len(self.draws) + len(self.fires) > MOST_EVENTS:
            raise LoopwrightError(
                f"The day “{self.name}” has more than {MOST_EVENTS} draws and fires", do="Leave some out"
            )
        for draw in self.draws:
            seconds(draw.at)
            if not (0.0 <= draw.litres <= 1e5 and 0.0 < draw.minutes <= 1440.0):
                raise LoopwrightError(
                    f"The day “{self.name}” draws {draw.litres} l over {draw.minutes} min at {draw.at}"
                )
        for fire in self.fires:
            seconds(fire.at)
            if not 0.0 <= fire.charge <= 5.0:
                raise LoopwrightError(
                    f"The day “{self.name}” lays {fire.charge} charges at {fire.at}", do="Give 0 to 5"
                )


def seconds(clock: str) -> float:
    """Seconds after midnight of "hh:mm"."""
    hours, _, minutes = clock.partition(":")
    if not _CLOCK.fullmatch(clock):
        raise LoopwrightError(f"“{clock[:20]}” is no time of day", do="Write it as 07:30")
    return 3600.0 * int(hours) + 60.0 * int(minutes)


@cache
def days() -> Mapping[str, Day]:
    """The ready-made days by name, in the order of the year."""
    order = ("winter", "spring", "summer", "away")
    found = {d.name: d for d in map(load_day, sorted((resource_root() / "days").glob("*.toml")))}
    return {n: found[n] for n in sorted(found, key=lambda n: (order.index(n) if n in order else len(order), n))}


def load_day(path: Path) -> Day:
    """A day from its file. LoopwrightError where it cannot be read or makes no sense."""
    try:
        return msgspec.convert(read_toml(path, LoopwrightError, f"The day {path}")[1], Day)
    except msgspec.ValidationError as bad:
        raise LoopwrightError(f"The day {path} cannot be read", where=str(bad), do="Mend that value") from None


def day_named(name: str) -> Day:
    """A ready-made day, or one from a file. LoopwrightError where there is none."""
    if name in days():
        return days()[name]
    if Path(name).suffix == ".toml":
        return load_day(Path(name))
    raise LoopwrightError(f"There is no day “{name}”", do=f"Choose one of: {', '.join(days())}, or name a file")


class Weather:
    """A day as a house meets it."""

    def __init__(self, day: Day, taps: Mapping[str, str]) -> None:
        self.day, self.cold_C, self.design_outdoor_C = day, day.cold_c, day.design_outdoor_c
        self._hours = np.arange(25.0) * 3600.0
        self._outdoor = np.array([*day.outdoor_c, day.outdoor_c[0]])
        self._sun = np.array([*day.sun_w_m2, day.sun_w_m2[0]])
        spans = (day.boiler, day.programmer, day.immersion)
        self._boiler, self._clock, self._element = ([(seconds(a), seconds(b)) for a, b in s] for s in spans)
        self._draws = [
            (seconds(d.at), seconds(d.at) + 60.0 * d.minutes, d.litres, tap)
            for d in day.draws
            if (tap := _tap(d.tap, taps)) is not None
        ]
        edges = {edge for spans in (self._boiler, self._clock, self._element) for span in spans for edge in span}
        self._instants = sorted(
            {
                *edges,
                *(seconds(fire.at) for fire in day.fires),
                *(t for start, stop, *_ in self._draws for t in (start, stop)),
            }
        )

    def outdoor_C(self, t: float) -> float:
        return float(np.interp(t % DAY_S, self._hours, self._outdoor))

    def sun_W_m2(self, t: float) -> float:
        return float(np.interp(t % DAY_S, self._hours, self._sun))

    def may_burn(self, t: float) -> bool:
        return _within(t, self._boiler)

    def clock(self, t: float) -> bool:
        return _within(t, self._clock)

    def element_on(self, t: float) -> bool:
        return _within(t, self._element)

    def drawn_litres(self, t: float, dt: float) -> Mapping[str, float]:
        out: dict[str, float] = {}
        for start, stop, litres, tap in self._draws:
            share = (min(t + dt, stop) - max(t, start)) / (stop - start)
            if share > 0.0:
                out[tap] = out.get(tap, 0.0) + litres * share
        return out

    def next_instant(self, t: float) -> float:
        k = bisect_right(self._instants, t + SOON_S)
        return self._instants[k] if k < len(self._instants) else math.inf


def _within(t: float, spans: list[tuple[float, float]]) -> bool:
    now = t % DAY_S
    return any(start <= now < stop for start, stop in spans)


def _tap(wanted: str, taps: Mapping[str, str]) -> str | None:
    """A tap by its id, else by its kind, else any."""
    if wanted in taps:
        return wanted
    return next((part for part, kind in taps.items() if kind == wanted), next(iter(taps), None))


def run_day(
    drawn: Waterways | Sheet,
    day: Day,
    *,
    step_s: float = 60.0,
    condition: Condition = NORMAL,
    layers: int = LAYERS,
    progress: Callable[[float], None] | None = None,
    cancel: Callable[[], bool] | None = None,
    so_far: Callable[[Run], None] | None = None,
) -> Run:
    """A day from midnight to midnight, in steps of `step_s` (at most 60 s).

    Stores begin between the day's two temperatures, bottom to top, warm floors as keeps their rooms warm where heating
    is wanted; all else at the room's. Without power (by the condition) sources that can be switched and pumps stand,
    and valves rest. `so_far` is handed what there is of the run from time to time. FigureError names what is missing.
    """
    if not 1.0 <= step_s <= LONGEST_STEP_S:
        raise FigureError(f"A day is run in steps of 1 to 60 s, not of {step_s:g} s")
    ways = waterways_of(drawn)

    def profile(part: str, count: int) -> list[float]:
        return list(np.linspace(day.store_bottom_c, day.store_top_c, count))

    net = whole(ways, profile, layers=layers, cold_C=day.cold_c)
    weather = Weather(day, {d.part: ways.sheet.parts[d.part].kind for d in net.draws})
    asked = Asked(ways, NORMAL, Ask.RUNNING, Charge.FULL, {})
    start = nw.start_at(net.A, room_C())
    if day.programmer and net.slabs:
        rooms = {p: room_of(ways, p, day.design_outdoor_c) for p in net.slabs}
        start = warmed(net, start, rooms, weather.outdoor_C(0.0))
    house = House(net, weather, start, condition, fires=fires_of(asked, net, day, condition))
    if condition.power:
        house.gear.shut = shut_by_hand(net, condition)
    else:
        house.gear.shut = shut_branches(net, condition, Ask.REST)
    if condition != NORMAL:
        house.say(0.0, "cut", "", condition.words)
    record = Record(house)
    record.keep()

    def told(outcome: str) -> Run:
        figures = figures_of(house, record)
        return record.run(
            kind="day",
            outcome=outcome,
            verdict=verdict_of(house, day.title, figures, outcome),
            notes=(*crept_words(house), *net.notes, *asked.assumed, *house.assumed, *house.controls.notes),
            title=f"{ways.sheet.title}: {day.title[0].lower()}{day.title[1:]}",
            figures=figures,
            complete=outcome == "done",
        )

    peeks = Peeks(so_far, told)
    steps = round(DAY_S / step_s)
    for i in range(steps):
        if cancel is not None and cancel():
            return told("cancelled")
        house.step_to(DAY_S * (i + 1) / steps)
        record.keep()
        if progress is not None:
            progress((i + 1) / steps)
        peeks.look()
    return told("done")


def fires_of(asked: Asked, net: Whole, day: Day, condition: Condition) -> dict[str, Fire]:
    """The fires of a day, with what is laid on each."""
    found = {}
    for source in asked.ways.fires:
        if source.part not in net.at or source.part in condition.out:
            continue
        laid = [x for x in day.fires if x.source in ("", source.part)]
        charges = [(seconds(x.at), charge_of(asked, source.part, share=x.charge)) for x in laid if x.charge > 0.0]
        found[source.part] = Fire(source.part, charges)
    return found
