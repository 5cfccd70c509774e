"""Rules on solved pressures: pumping over the vent, drawing air in, the pump's push at a vent, water at rest by night.

What is right and wrong is worked out by hand: still water, and how a pump's head is shared along a ring.
"""

from __future__ import annotations

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.pressures import Neutral, Pressures
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.rules.themes.vent_pressure import Known, each_known, known
from loopwright.sheet.values import Sheet
from loopwright.survey import said_by, survey
from loopwright.waterways import Waterways
from loopwright.waterways.waters import waters

CATALOGUE = standard_catalogue()
LINE_M = 5.25


def case_of(sheet: Sheet) -> Case:
    return Case(Waterways(sheet, CATALOGUE))


def said(slug: str, sheet: Sheet, computed: bool = True):
    return list(all_rules(computed=computed)[slug].check(case_of(sheet)))


def ring(
    pump: str, kind: str = "boiler_oil", far_m: float = 40.0, rad_m: float = 4.4, turn_m: float = 5.95, **curve: float
) -> Sheet:
    """A boiler and one radiator, open to a cistern (line at 5.25 m): vent off the flow, feed to the return.

    `pump` stands on the "flow" after the vent, on the return "before" the feed joins, or "after" it. The radiator's
    pipes are longer by `far_m` between vent and feed.
    """
    s = draw.sheet("Ring")
    boiler = s.add(kind, "boiler", x_m=0.0, height_m=0.0)
    rad = s.add("radiator", "rad", x_m=6.0, height_m=rad_m, output_w=3000.0)
    tank = s.add("feed_expansion_cistern", "cistern", x_m=2.0, height_m=5.0, hot_rated=True)
    p = s.add("pump", "P", x_m=3.0 if pump == "flow" else 2.4 if pump == "before" else 1.2,
              height_m=1.4 if pump == "flow" else 0.1, mirror=pump != "flow",
              **{"head_m": 5.0, "flow_max_m3h": 2.0, **curve})  # fmt: skip
    top, low = rad_m + 0.552, rad_m + 0.048
    if pump == "flow":
        first = s.pipe(boiler["flow"], p["a"], "22", via=[(1.0, 0.7225), (1.0, 1.4)], id="out")
        s.pipe(p["b"], rad["flow"], "22", via=[(4.0, 1.4), (4.0, top)], id="far", extra_length_m=far_m)
        last = s.pipe(rad["return"], boiler["return"], "22", via=[(4.6, low), (4.6, 0.1), (0.8, 0.1)], id="back")
        joint, meets = s.tee(first, (1.0, 1.1), "VT", towards="left"), s.tee(last, (1.6, 0.1), "FT", towards="up")
    else:
        first = s.pipe(boiler["flow"], rad["flow"], "22", via=[(1.0, 0.7225), (1.0, 1.4), (4.0, 1.4), (4.0, top)],
                       id="far", extra_length_m=far_m)  # fmt: skip
        back = s.pipe(rad["return"], p["a"], "22", via=[(4.6, low), (4.6, 0.1)], id="back")
        home = s.pipe(p["b"], boiler["return"], "22", via=[(0.8, 0.1)], id="home")
        joint = s.tee(first, (1.0, 1.1), "VT", towards="left")
        meets = s.tee(home if pump == "before" else back, (1.6, 0.1), "FT", towards="up")
    s.pipe(joint["branch"], tank["vent"], "22", via=[(0.7, 1.1), (0.7, turn_m), (1.775, turn_m)], id="vent")
    s.pipe(tank["feed"], meets["branch"], "15", via=[(2.225, 4.6), (1.6, 4.6)], id="feed")
    return s.done()


def test_a_pump_between_feed_and_vent_pushes_over():
    """Feed, pump, boiler, vent: at the vent the pump's 5 m less the boiler's few pipes, and 0.7 m are free."""
    (answer,) = said("vent-and-feed/pumps-over", ring("after"))
    assert isinstance(answer, Finding) and answer.severity is Severity.FAULT
    assert answer.subject == "boiler" and answer.culprits == ("P",)
    assert answer.limit == pytest.approx(0.70, abs=0.01) and 2.0 < answer.measured < 5.0


def test_over_a_fire_it_is_a_danger():
    (answer,) = said("vent-and-feed/pumps-over", ring("after", kind="boiler_stove"))
    assert isinstance(answer, Finding) and answer.severity is Severity.DANGER


def test_a_vent_higher_than_the_pumps_head_holds():
    """A pump lifts no higher than its head with no flow: 0.5 m against a turn-over 0.7 m over the line."""
    (answer,) = said("vent-and-feed/pumps-over", ring("after", head_m=0.5))
    assert isinstance(answer, Sound)


@pytest.mark.parametrize("place", ["flow", "before"])
def test_a_pump_outside_feed_and_vent_pushes_nothing_over(place):
    """Between feed and vent lie only the boiler and short pipes: their loss draws the vent down, if anything."""
    (answer,) = said("vent-and-feed/pumps-over", ring(place))
    assert isinstance(answer, Sound)


def test_a_pump_that_draws_from_a_high_radiator_sucks_air():
    """The feed joins at the pump's outlet. The radiator's top stands 0.30 m under the line; nearly all of the pump's
    head is lost in 40 m of pipe before it and what follows, so that it lies metres under the air's pressure."""
    (answer,) = [a for a in said("vent-and-feed/sucks-air", ring("before")) if not isinstance(a, Sound)]
    assert isinstance(answer, Finding) and answer.severity is Severity.FAULT
    assert answer.measured < -1.0 and "P" in answer.culprits


def test_the_same_pump_pushing_towards_the_radiator_does_not():
    (answer,) = said("vent-and-feed/sucks-air", ring("flow", far_m=2.0, rad_m=2.0))
    assert isinstance(answer, Sound)


def test_a_radiator_low_enough_stands_the_suction():
    """1 m of head at most, and its top 3.2 m under the line: positive whatever the losses."""
    (answer,) = said("vent-and-feed/sucks-air", ring("before", rad_m=1.5, head_m=1.0))
    assert isinstance(answer, Sound)


def test_a_makers_least_head_is_advice():
    import msgspec

    sheet = ring("flow", far_m=2.0, rad_m=2.0)
    part = sheet.parts["boiler"]
    asks = msgspec.structs.replace(part, props={**part.props, "static_min_m": 6.0})
    found = said("vent-and-feed/sucks-air", msgspec.structs.replace(sheet, parts={**sheet.parts, "boiler": asks}))
    advice = next(a for a in found if isinstance(a, Finding))
    assert advice.severity is Severity.ADVICE and advice.measured == pytest.approx(LINE_M - 0.85, abs=0.01)


def test_missing_curves_and_lines_are_named():
    import msgspec

    sheet = ring("after")
    for part, prop in (("P", "head_m"), ("cistern", "water_line_m")):
        old = sheet.parts[part]
        bare = msgspec.structs.replace(old, props={**old.props, prop: None})
        changed = msgspec.structs.replace(sheet, parts={**sheet.parts, part: bare})
        for slug in ("vent-and-feed/pumps-over", "vent-and-feed/sucks-air"):
            answer = said(slug, changed)[-1]
            assert isinstance(answer, Missing) and (answer.part, answer.prop) == (part, prop)


def test_they_yield_to_the_order_of_vent_feed_and_pump():
    rules = {f.rule for f in survey(ring("after"), CATALOGUE, computed=True).findings}
    assert "order/vent-feed-pump" in rules and "vent-and-feed/pumps-over" not in rules


# the pressures themselves


def test_still_water_has_the_pressure_of_its_column():
    """A pump that hardly pushes: pressure is that of still water below the line, 9.81 kPa a metre (handbook)."""
    case = case_of(ring("flow", head_m=0.101, flow_max_m3h=0.06))
    (of,) = [w for w in waters(case.ways) if w.sources]
    found = known(case, of)
    for place in (("port", "rad", "flow"), ("port", "P", "a"), ("port", "VT", "branch")):
        depth = LINE_M - case.ways.at[place][1]
        assert found.head_m(place) == pytest.approx(depth, abs=0.20)  # water at 20 degC, and a tenth of a metre of pump


def test_a_pump_lifts_by_its_curve_and_the_ring_closes():
    """Round a ring the pressure comes back to itself: what the pump gives the rest takes."""
    case = case_of(ring("flow"))
    (of,) = [w for w in waters(case.ways) if w.sources]
    found = known(case, of)
    pressures: Pressures = found.pressures
    (name,) = [n for n, run in pressures.got.drawn.runs.items() if any(k[1] == "P" for k, _ in run.steps)]
    m3h = 3600 * pressures.got.answer.flow_kg_s(name) / 998.0
    lift = found.head_m(("port", "P", "b")) - found.head_m(("port", "P", "a"))
    assert lift == pytest.approx(5.0 * (1 - (m3h / 2.0) ** 2) * 998 / 999.7, abs=0.03)
    feed = Neutral(("port", "cistern", "feed"), 999.7 * 9.80665 * (LINE_M - case.ways.at["port", "cistern", "feed"][1]))
    assert pressures.gauge_Pa(("port", "cistern", "feed"), feed) == pytest.approx(feed.gauge_Pa, abs=60.0)


# sharper answers


def test_a_pumps_push_counts_towards_the_height_of_a_vent():
    """150 mm and 40 mm a metre (government guidance) over 5.25 m make 360 mm; with the pump's push it is not enough."""
    plain = said("vent-and-feed/vent-too-low", ring("after", head_m=0.5), computed=False)
    assert [type(a) for a in plain] == [Missing]
    (answer,) = said("vent-and-feed/vent-too-low", ring("after", head_m=0.5))
    assert isinstance(answer, Finding) and answer.limit > 360.0 and answer.measured == pytest.approx(700.0, abs=5.0)
    (answer,) = said("vent-and-feed/vent-too-low", ring("flow"))
    assert isinstance(answer, Sound)


def over_a_store(check: str | None = None) -> Sheet:
    """A store at 80 degC and a pumped radiator 2.5 m above it, in 22 mm."""
    s = draw.sheet("Over a store")
    tank = s.store(
        "store", x_m=0.0, height_m=0.0, volume_l=300.0, body_diameter_m=0.5, body_height_m=1.6, design_temp_c=80.0,
        tappings={
            "flow": {"height_m": 1.4, "side": "right", "purpose": "load_flow"},
            "return": {"height_m": 0.3, "side": "right", "purpose": "load_return"},
        },
    )  # fmt: skip
    pump = s.add("pump", "P1", x_m=1.0, height_m=1.4)
    rad = s.add("radiator", "R1", x_m=4.5, height_m=3.5, output_w=2000.0)
    s.pipe(tank["flow"], pump["a"], "22", id="one")
    start = pump["b"]
    if check:
        valve = s.add(check, "C1", x_m=1.6, height_m=1.4)
        s.pipe(start, valve["a"], "22", id="between")
        start = valve["b"]
    s.pipe(start, rad["flow"], "22", via=[(2.0, 1.4), (2.0, 4.052)], id="two")
    s.pipe(rad["return"], tank["return"], "22", via=[(3.0, 3.548), (3.0, 0.3)], id="three")
    return s.done()


def test_a_radiator_over_a_hot_store_draws_heat_at_rest():
    """By hand: the column is warm on one side only. 2.6 m above the tapping at about 75 and 40 degC (975 and 992
    kg/m3): 26 x 17 = 440 Pa, against about 15 velocity heads in 22 mm: 0.2 m/s or 200 kg/h as an upper bound. The
    radiator gives less than its 2000 W at 50 K: about (45/50)^1.3 of it at most."""
    slug = "circuit/night-thermosyphon"
    assert [type(a) for a in said(slug, over_a_store(), computed=False)] == [Missing]
    (answer,) = said(slug, over_a_store())
    assert isinstance(answer, Finding) and answer.severity is Severity.ADVICE
    assert answer.culprits == ("P1",) and 30.0 < answer.measured < 400.0
    watts = float(answer.message.split("about ")[1].split(" W")[0])
    assert 700.0 < watts < 2600.0
    for computed in (False, True):
        (answer,) = said(slug, over_a_store("anti_gravity_check"), computed=computed)
        assert isinstance(answer, Sound)


def test_a_collectors_loss_at_night_is_put_beside_the_finding():
    """4 W/(m2 K) over 4 m2 at 85 K between store and sky: 1.4 kW at most (arithmetic of common figures)."""
    from pathlib import Path

    from loopwright.files import load

    path = Path(__file__).resolve().parents[2] / "samples" / "faulty" / "solar-check-missing.loopwright"
    answers = said("circuit/night-thermosyphon", load(path, CATALOGUE))
    (found,) = [a for a in answers if isinstance(a, Finding)]
    watts = float(found.message.split("About ")[1].split(" W")[0])
    assert 800.0 < watts < 4 * 4 * 85


def test_a_sharper_answer_stands_beside_the_plain_one():
    """The same waterways asked with and then without the solved flow: each survey is its own, whatever came first."""
    slug, ways = "vent-and-feed/vent-too-low", Waterways(ring("after", head_m=0.5), CATALOGUE)
    said_of = {c: {type(a) for a in said_by(ways, all_rules(computed=c)[slug])} for c in (True, False)}
    assert said_of == {True: {Finding}, False: {Missing}}
    assert said_by(ways, all_rules(computed=True)[slug]) is said_by(ways, all_rules(computed=True)[slug])


# sets of pumps that run together


def test_every_set_of_pumps_that_may_run_together_is_looked_at():
    """Two circuits side by side on a vented store: both pumps, and each alone. A pump that stands lets nothing through
    where water is needed, so that each alone draws more than its share of both; the worst of the three is told."""
    import sys
    from pathlib import Path

    sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
    import systems

    case = case_of(systems.done(systems.three_source()))
    (of,) = [w for w in waters(case.ways) if any(s.part == "stove" for s in w.sources)]
    sets = {x.culprits: x for x in each_known(case, of) if isinstance(x, Known)}
    assert set(sets) == {("P1", "P4"), ("P1",), ("P4",)}
    flow = {
        on: max(abs(x.pressures.got.answer.flow_kg_s(n)) for n in x.pressures.got.drawn.runs) for on, x in sets.items()
    }
    assert all(value > 0.01 for value in flow.values())
    assert sets["P1",].words == "With Radiator pump running alone" and sets["P1", "P4"].words == "With the pumps on"
    (answer,) = [a for a in all_rules(computed=True)["vent-and-feed/sucks-air"].check(case) if a.subject == "stove"]
    assert isinstance(answer, Sound)


def test_with_a_head_alone_a_third_of_it_is_the_measure():
    """A plumbing textbook: the cistern stands above by a third of the pump's head. With 0.7 m free 1.8 m pass.

    A pipe whose size nobody knows leaves nothing but the head to go by.
    """
    import msgspec

    for head, wanted in ((3.0, Finding), (1.8, Missing)):
        sheet = ring("after", head_m=head)
        odd = msgspec.structs.replace(sheet.pipes["far"], size="23")
        case = case_of(msgspec.structs.replace(sheet, pipes={**sheet.pipes, "far": odd}))
        (answer,) = all_rules(computed=True)["vent-and-feed/pumps-over"].check(case)
        assert isinstance(answer, wanted)
        if isinstance(answer, Finding):
            assert answer.severity is Severity.ADVICE and answer.limit == pytest.approx(1.0, rel=1e-3)


def test_of_a_pump_whose_head_alone_is_typed_a_usual_flow_is_taken():
    """Its place decides: between feed and vent it pushes over, beyond both it does not, whatever a third of it is."""
    import msgspec

    for place, wanted in (("after", Finding), ("flow", Sound)):
        sheet = ring(place, head_m=3.0)
        props = {k: v for k, v in sheet.parts["P"].props.items() if k != "flow_max_m3h"}
        pump = msgspec.structs.replace(sheet.parts["P"], props=props)
        (answer,) = said("vent-and-feed/pumps-over", msgspec.structs.replace(sheet, parts={**sheet.parts, "P": pump}))
        assert isinstance(answer, wanted)
