"""What pumps do at a fire, and how large its store is: one wrong and one sound sheet a rule.

Start and return temperatures are makers' figures; the store of a log boiler is the formula of EN 303-5. Each rule's
page names its figures.
"""

from __future__ import annotations

import pytest
from fire_sheets import fire
from vented import asked, findings, only, sealed_sheet, sound

from loopwright import draw
from loopwright.rules.findings import Missing, Severity
from loopwright.sheet import edits

FAULT, ADVICE = Severity.FAULT, Severity.ADVICE


def missing(s: draw.Drawing, slug: str) -> list[str]:
    """Properties a rule asks for."""
    return [a.prop for a in asked(s.done(), slug) if isinstance(a, Missing)]


def pumped(*, sensor: bool = True, setting_c: float | None = 55.0) -> draw.Drawing:
    """A stove pumped into its store, the heat leak by gravity on a branch of its own."""
    s = fire()
    s.insert("return_3", "pump", "P", at=(4.2, 0.2))
    s.add("pipe_thermostat", "PT", x_m=2.2, height_m=1.0)
    if sensor:
        s.link("PT", "P", does="runs_above", setting_c=setting_c)
    else:
        s.link("PT", "stove", does="schedule")
    return s


def test_a_pump_of_a_fire_is_started_by_a_thermostat():
    slug = "solid-fuel/pump-without-thermostat"
    found = only(pumped(sensor=False).done(), slug)
    assert (found.severity, found.subject) == (FAULT, "P")
    assert sound(pumped().done(), slug)
    assert only(pumped(setting_c=95.0).done(), slug).severity is FAULT
    assert only(pumped(setting_c=40.0).done(), slug).severity is ADVICE
    assert missing(pumped(setting_c=None), slug) == ["setting_c"]


def test_pumps_are_not_judged_where_no_control_is_drawn():
    s = fire()
    s.insert("return_3", "pump", "P", at=(4.2, 0.2))
    assert missing(s, "solid-fuel/pump-without-thermostat") == [""]


def log(unit: bool, opens_c: float = 60.0) -> draw.Drawing:
    """A log boiler pumped into a store, with a loading unit or a bare pump on its return."""
    s = draw.sheet("Log boiler")
    store = s.store(
        "store",
        x_m=5.0,
        height_m=0.0,
        volume_l=1000,
        tappings={
            "in": {"height_m": 1.6, "side": "left", "size": "28"},
            "out": {"height_m": 0.15, "side": "left", "size": "28"},
        },
    )
    boiler = s.add("log_boiler", "log", x_m=1.0, height_m=0.0, power_kw=20.0)
    if unit:
        made = s.add("loading_unit_4_flap", "LU", x_m=3.0, height_m=0.8, opens_c=opens_c)
        s.pipe(boiler["flow"], made["boiler_flow"], "28", via=[])
        s.pipe(made["store_flow"], store["in"], "28", via=[])
        s.pipe(store["out"], made["store_return"], "28", via=[])
        s.pipe(made["boiler_return"], boiler["return"], "28", via=[])
    else:
        s.pipe(boiler["flow"], store["in"], "28", via=[])
        pump = s.add("pump", "P", x_m=3.0, height_m=0.15, turn=2)
        s.pipe(store["out"], pump["a"], "28", via=[])
        s.pipe(pump["b"], boiler["return"], "28", via=[])
    return s


def test_a_log_boiler_wants_its_return_hot():
    slug = "solid-fuel/cold-return"
    assert (only(log(False).done(), slug).severity, only(log(False).done(), slug).limit) == (FAULT, 60.0)
    assert sound(log(True).done(), slug)
    assert only(log(True, 55.0).done(), slug).severity is ADVICE
    assert only(pumped(setting_c=45.0).done(), slug).severity is ADVICE  # a stove, whose makers differ
    assert sound(pumped(setting_c=55.0).done(), slug)  # the pump waits for warm water
    assert not findings(fire().done(), slug)  # by gravity alone nothing stands in the return


def stored(litres: float, load: float | None = 8.0, **props: object) -> draw.Drawing:
    """A log boiler of 20 kW, 4 h a charge, 10 kW at least, on a store."""
    s = sealed_sheet(kind="log_boiler", source="log", power_kw=20.0, burn_time_h=4.0, min_output_kw=10.0, **props)
    s.sheet = edits.set_property(s.sheet, "store", "volume_l", litres, s.catalogue)
    if load is not None:
        s.fact(house_load_kw=load)
    return s


def test_the_store_of_a_log_boiler_by_the_standard():
    # EN 303-5: 15 x 4 h x 20 kW x (1 - 0.3 x 8 kW / 10 kW) = 912 l
    slug = "solid-fuel/store-too-small"
    found = only(stored(900.0).done(), slug)
    assert (found.severity, found.limit) == (FAULT, pytest.approx(912.0))
    assert sound(stored(920.0).done(), slug)
    assert only(stored(299.0, load=100.0).done(), slug).limit == 300.0  # never less than 300 l
    assert missing(stored(900.0, load=None), slug)


def test_the_store_of_a_stove_is_advice_at_most():
    slug = "solid-fuel/store-too-small"
    found = only(fire(tank={"volume_l": 400.0}).done(), slug)
    assert (found.severity, found.limit) == (ADVICE, 440.0)  # 55 l a kilowatt, 8 kW
    assert sound(fire(tank={"volume_l": 450.0}).done(), slug)


def test_a_pump_beside_a_flap_is_a_pump_of_the_fire():
    s = fire()
    pipe = draw.PipeRef(s, "return_3")
    near, far = (s.tee(pipe, (x, 0.2), f"by_{x}", towards="down") for x in (3.6, 4.35))
    s.insert(pipe, "flap_valve", "flap", at=(4.0, 0.2))
    pump = s.add("pump", "P", x_m=4.0, height_m=-0.2, turn=2)
    s.pipe(far["branch"], pump["a"], "28", via=[])
    s.pipe(pump["b"], near["branch"], "28", via=[])
    s.link("stove", "stove", does="schedule")
    assert only(s.done(), "solid-fuel/pump-without-thermostat").subject == "P"
    assert only(s.done(), "solid-fuel/cold-return").culprits == ("P",)


def test_a_pump_into_a_header_is_a_pump_of_the_fire():
    s = fire(store=False)
    s.sheet = edits.delete(s.sheet, [p for p in s.sheet.parts if s.sheet.parts[p].kind == "cap"], s.catalogue)
    header = s.add("low_loss_header", "header", x_m=5.0, height_m=0.6)
    pump = s.add("pump", "P", x_m=3.0, height_m=1.72)
    s.pipe(s["T"]["branch"], pump["a"], "28", via=[])
    s.pipe(pump["b"], header["primary_flow"], "28", via=[])
    s.pipe(header["primary_return"], s["R"]["right"], "28", via=[])
    s.link("stove", "stove", does="schedule")
    assert only(s.done(), "solid-fuel/pump-without-thermostat").subject == "P"
    assert only(s.done(), "solid-fuel/cold-return").severity is ADVICE
