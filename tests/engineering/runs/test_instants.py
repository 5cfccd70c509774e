"""A plan's instants begin when they say, wherever they fall in a step; and the heat of a run adds up as it is printed.

Sources: a fully mixed store from which a mass m is drawn against cold water of Tc ends at Tc + (T0 - Tc) exp(-m / M)
(Levenspiel, Chemical Reaction Engineering: one stirred tank); arithmetic.
"""

from __future__ import annotations

import math
import sys
from functools import cache
from pathlib import Path

import msgspec
import numpy as np
import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.runs.account import account_of
from loopwright.engineering.runs.day import Day, Drawn, Lit, Weather, days, run_day
from loopwright.engineering.runs.result import Books, Run
from loopwright.waterways import Waterways
from loopwright.waterways.views import NORMAL

sys.path.insert(0, str(Path(__file__).resolve().parents[3] / "samples"))
import systems

STEP_S = 50.0  # no minute but every fifth is the end of a step
LITRES, MINUTES = 100.0, 10.0
VOLUME_L = 200.0
WARM_C, COLD_C = 38.0, 20.0  # no warmer than a tap's water, so that all that is drawn comes through the store


def early(hours: float):
    share = [0.0]
    return {"progress": lambda x: share.__setitem__(0, x), "cancel": lambda: share[0] >= hours / 24.0 - 1e-9}


@cache
def ways() -> Waterways:
    return Waterways(systems.done(systems.three_source()), standard_catalogue())


def plain(**more: object) -> Day:
    still = {"outdoor_c": (20.0,) * 24, "sun_w_m2": (0.0,) * 24, "boiler": (), "programmer": ()}
    return Day(name="plain", title="A day", **{**still, "cold_c": COLD_C, **more})  # type: ignore[arg-type]


@cache
def mixed() -> Run:
    """A cylinder of one layer, mixed throughout, between a main and a bath; pipes hold water as cold as the main's."""
    s = draw.sheet("Cylinder")
    tank = s.store(
        "tank", x_m=0.0, height_m=0.0, volume_l=VOLUME_L, body_diameter_m=0.5, body_height_m=1.2, design_temp_c=60.0,
        insulation_mm=300.0,
        tappings={
            "hot": {"height_m": 1.15, "side": "right", "purpose": "load_flow"},
            "cold": {"height_m": 0.05, "side": "right", "purpose": "load_return"},
        },
    )  # fmt: skip
    main = s.add("mains_supply", "main", x_m=3.0, height_m=0.05, pressure_bar=3.0, mirror=True)
    bath = s.add("bath", "bath", x_m=3.0, height_m=1.15)
    s.pipe(tank["cold"], main["a"], "22", id="cold")
    s.pipe(tank["hot"], bath["hot"], "22", id="warm")
    draw_off = Drawn(at="00:07", litres=LITRES, minutes=MINUTES, tap="bath")
    day = plain(draws=(draw_off,), store_bottom_c=WARM_C, store_top_c=WARM_C)
    return run_day(Waterways(s.done(), standard_catalogue()), day, step_s=STEP_S, layers=1, **early(0.3))


def test_a_draw_off_in_the_midst_of_a_step_takes_its_own_mass_and_no_more(deviation):
    """100 l in 600 s from 420 s on, in steps of 50 s: 5 kg by 450 s, where a step late it were none, and spread over
    the steps that it touches 7 kg; all of it by 1050 s. What remains is the first order of the step."""
    run = mixed()
    store_kg = 1e-3 * VOLUME_L * 988.0
    fell = WARM_C - run.layers["tank"][:, 0]
    for at, kg in ((450.0, 5.0), (1050.0, LITRES)):
        want = (WARM_C - COLD_C) * (1.0 - math.exp(-kg / store_kg))
        lost = float(np.interp(400.0, run.times_s, fell)) * at / 400.0  # through the casing, by the minutes before
        got = float(np.interp(at, run.times_s, fell)) - lost
        deviation("fall of a mixed store drawn from", "one stirred tank", got, want, 0.025)
    assert run.figures["hot_water_l"] == pytest.approx(LITRES, rel=1e-6)
    flow = {t: float(np.interp(t, run.times_s, run.flows["warm"])) for t in (400.0, 450.0, 1000.0, 1050.0)}
    full = LITRES / (60.0 * MINUTES)
    assert flow[450.0] == pytest.approx(full, rel=1e-3) and flow[1000.0] == pytest.approx(full, rel=1e-3)
    assert abs(flow[400.0]) < 1e-4 and abs(flow[1050.0]) < 1e-4


def test_a_fire_burns_and_a_clock_lets_a_burner_start_at_the_minute_they_say():
    day = plain(fires=(Lit("00:07", 0.05),), boiler=(("00:11", "24:00"),), store_bottom_c=20.0, store_top_c=20.0)
    run = run_day(ways(), day, step_s=STEP_S, layers=5, **early(0.25))
    when = {(e.what, e.part): e.time_s for e in reversed(run.events)}
    assert when["lit", "stove"] == 420.0
    starts = {part: t for (what, part), t in when.items() if what == "on"}
    assert starts["boiler"] == 660.0
    given = np.cumsum(run.powers["stove"][1:] * np.diff(run.times_s))
    assert given[7] == 0.0 < given[8]  # nil at 400 s, some at 450 s


def test_the_next_instant_is_any_edge_of_a_plan():
    winter = days()["winter"]
    weather = Weather(winter, {"bath": "bath"})
    edges, t = [], 0.0
    while (t := weather.next_instant(t)) < math.inf:
        edges.append(t)
    assert edges == sorted(set(edges))
    assert {17.0 * 3600.0} <= set(edges) and all(t % 6.0 == 0.0 for t in edges)


@pytest.mark.parametrize("stored", [2.04, -2.04])
def test_the_account_adds_up_as_printed_and_says_which_way_the_store_went(stored):
    """Thirds of a tenth on every line: rounded one by one they would miss the sum."""
    loads = {"a": 1.23333, "b": 1.23333, "c": 1.23334}
    fire = sum(loads.values()) + 0.33 + stored
    books = Books({"fire": fire}, loads, 0.32, 0.01, 0.0, stored, 0.0)
    run = Run(
        kind="day", condition=NORMAL, times_s=np.zeros(1), layers={"store": np.zeros((1, 1))}, parts={}, pipes={},
        flows={}, powers=dict.fromkeys(loads, np.zeros(1)), events=(), books=books, outcome="done", verdict="",
        figures={"kept_store_kwh": stored}, names={"store": "Heat store"},
    )  # fmt: skip
    account = account_of(run)
    for side in (account.came, account.went):
        assert sum(line.kwh for line in side) == pytest.approx(account.total_kwh)
    words = "left in Heat store" if stored > 0.0 else "out of Heat store, which ends cooler"
    side = account.went if stored > 0.0 else account.came
    assert next(line.kwh for line in side if line.words == words) == pytest.approx(2.0, abs=0.101)


def test_what_there_is_of_a_day_is_handed_over_as_a_run_that_is_not_whole(monkeypatch):
    from loopwright.engineering.runs import record

    monkeypatch.setattr(record, "PEEK_S", 0.0)
    seen: list[Run] = []
    day = msgspec.structs.replace(plain(), store_bottom_c=60.0, store_top_c=60.0)
    last = run_day(ways(), day, layers=5, so_far=seen.append, cancel=lambda: len(seen) >= 3)
    assert [len(run.times_s) for run in seen] == [2, 3, 4] and last.outcome == "cancelled"
    assert all(run.outcome == "under way" and not run.complete and "so far" in run.verdict for run in seen)
    assert seen[-1].books == last.books
