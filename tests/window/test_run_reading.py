"""What a run is read to mean: on a run made by hand, whose figures are known without solving anything."""

from __future__ import annotations

import msgspec
import pytest
from canned import made

from loopwright.engineering.runs.day import Day, days, load_day
from loopwright.engineering.runs.result import Event, Run
from loopwright.errors import LoopwrightError, ValueRefused
from loopwright.window.run import day_text, story
from loopwright.window.run.reading import Reading
from loopwright.window.run.strips import merged


@pytest.fixture
def reading(small, catalogue):
    out, back = list(small.pipes)
    pipes = {"out": msgspec.structs.replace(small.pipes[out], id="out"),
             "back": msgspec.structs.replace(small.pipes[back], id="back")}  # fmt: skip
    store = msgspec.structs.replace(
        small.parts["store"], props={**small.parts["store"].props, "volume_l": 200, "design_temp_c": 80}
    )
    sheet = msgspec.structs.replace(small, pipes=pipes, parts={**small.parts, "store": store})

    def of(run: Run) -> Reading:
        return Reading(run, sheet, catalogue)

    return of


def test_tappings_say_which_way_their_water_goes(reading):
    taps = {t.letter: t for t in reading(made()).store_now("store", 600.0).taps}
    # both pipes are drawn from the stove to the store, so water that moves towards their ends b enters the store
    assert taps["A"].moving == taps["B"].moving == 1 and taps["A"].celsius == 55.0
    assert taps["D"].moving == 0 and taps["D"].celsius is None
    back = made()
    back.flows["back"][:] *= -1.0
    assert {t.letter: t.moving for t in reading(back).store_now("store", 600.0).taps}["B"] == -1


def test_heat_in_the_store_is_that_of_its_litres(reading):
    x = reading(made())
    # 50 l in each layer at 20, 30, 40, 50 degC; 4.18 kJ/kg K and 0.988 to 0.998 kg/l from memory of steam tables
    assert x.kwh_above("store", 0.0, 40.0) == pytest.approx(50 * 0.988 * 4.18 * 10 / 3600, rel=0.01)
    assert x.kwh_below("store", 0.0, 50.0) == pytest.approx(50 * 0.995 * 4.18 * (30 + 20 + 10) / 3600, rel=0.01)


def test_between_two_instants_layers_go_straight(reading):
    run = made()
    run.layers["store"][1:] += 10.0
    assert reading(run).layers_at("store", 30.0) == pytest.approx([25.0, 35.0, 45.0, 55.0])
    assert reading(run).layers_at("store", 1e9) == pytest.approx([30.0, 40.0, 50.0, 60.0])


@pytest.mark.parametrize(
    "run, severity, heading",
    [
        (made(), "ok", "Does not boil"),
        (made(peak_c=104.0), "fault", "Comes near to boiling"),
        (made(outcome="boils", figures={"boils_min": 11.2}), "danger", "Boils after 11 min"),
        (made(complete=False, outcome="cancelled"), "open", "Stopped by hand"),
        (made("day", "done", figures={}), "ok", "Nothing is lacking"),
        (made("day", "done", figures={"unmet_heat_kwh": 1.9}), "advice", "Rooms lack 1.9 kWh"),
        (made("day", "done", figures={"overheat_store_min": 5.0}), "fault", "The store gets too hot"),
        (made("day", "done", figures={"boiled_kwh": 0.4}), "danger", "Water boils on this day"),
    ],
)
def test_the_verdict_has_a_severity_and_a_number(reading, run, severity, heading):
    said = story.verdict(reading(run))
    assert (said.severity, said.heading) == (severity, heading)


def test_a_store_beyond_its_limit_is_told_though_nothing_boils(reading):
    run = made()
    run.layers["store"][30, 3] = 93.0
    said = story.verdict(reading(run))  # a limit thermostat on a store acts at 90 degC: store.t.limit in sources.toml
    assert said.severity == "advice" and "reaches 93 °C; its limit is 90 °C" in said.words
    own = msgspec.structs.replace(reading(run).sheet, limits={"store.t.limit": 95.0})
    assert story.verdict(Reading(run, own, reading(run).catalogue)).severity == "ok"


def test_what_happened_tells_the_peak_the_end_of_the_fire_and_often_only_once(reading):
    often = tuple(Event(600.0 * k, "on", "P1", "Pump starts") for k in range(6))
    lines = story.moments(reading(made(events=often)))
    words = [m.words for m in lines]
    assert "Pump starts (6 times)" in words and len([w for w in words if "Pump" in w]) == 1
    assert "Highest at the stove, 90 °C" in words and "Stove gives no more heat" in words
    assert lines == sorted(lines, key=lambda m: m.time_s)
    assert len(story.moments(reading(made(events=often)), every=True)) == len(lines) + 5


def test_shares_of_the_heat_add_up_to_what_was_given(reading):
    shares = story.shares(reading(made()))
    given = sum(s.kwh for s in shares if s.gives)
    assert given == pytest.approx(4.0) and sum(s.kwh for s in shares if not s.gives) == pytest.approx(4.0, rel=0.001)
    assert story.closure(reading(made())).startswith("Closes to 0.03 %")


def test_clocks_of_a_day_and_of_a_cut():
    assert story.clock("day", 68760.0) == "19:06" and story.clock("power cut", 3840.0) == "1:04"
    assert story.when("power cut", 3840.0) == "1 h 4 min after the cut"


@pytest.mark.parametrize("name", ["winter", "spring", "summer", "away"])
def test_a_day_goes_to_words_and_to_a_file_and_back(name, tmp_path):
    day = days()[name]
    assert day_text.read_fires(day_text.fires_text(day.fires)) == day.fires
    assert day_text.read_draws(day_text.draws_text(day.draws)) == tuple(sorted(day.draws, key=lambda d: d.at))
    for key in ("boiler", "programmer", "immersion"):
        assert day_text.read_spans(day_text.spans_text(getattr(day, key))) == getattr(day, key)
    path = tmp_path / "own.toml"
    path.write_text(day_text.as_toml(day), encoding="utf-8")
    assert load_day(path) == day


@pytest.mark.parametrize(
    "reader, text",
    [
        (day_text.read_spans, "22:00-05:00"),
        (day_text.read_spans, "25:00-26:00"),
        (day_text.read_spans, "all day"),
        (day_text.read_fires, "17:00 x 9"),
        (day_text.read_fires, "at teatime"),
        (day_text.read_draws, "07:00 45"),
        (day_text.read_draws, "07:00 45 l in 0 min"),
        (lambda t: day_text.read_hours(t, 0.0, 1400.0, "W/m²"), "1, 2, 3"),
        (lambda t: day_text.read_hours(t, 0.0, 1400.0, "W/m²"), "9999 " * 24),
        (lambda t: day_text.read_hours(t, 0.0, 1400.0, "W/m²"), "warm " * 24),
    ],
)
def test_what_cannot_be_is_refused_in_words(reader, text):
    with pytest.raises(ValueRefused) as bad:
        reader(text)
    assert bad.value.do


def test_a_title_with_quotes_comes_back_from_the_file(tmp_path):
    flat = (0.0,) * 24
    day = Day(name="own", title='A "mild" \\ day', outdoor_c=flat, sun_w_m2=flat)
    path = tmp_path / "own.toml"
    path.write_text(day_text.as_toml(day), encoding="utf-8")
    assert load_day(path) == day
    path.write_text("name = 3", encoding="utf-8")
    with pytest.raises(LoopwrightError):
        day_text.read_day(path)


def test_stretches_that_overlap_become_one():
    assert merged([(7200.0, 9000.0), (0.0, 3600.0), (3000.0, 5400.0)]) == [(0.0, 5400.0), (7200.0, 9000.0)]
