"""Sound systems that tempt the rules of tappings and circuits: no danger and no fault of theirs may stand."""

from __future__ import annotations

import pytest
from circuit_sheets import FAULT, boiler_on, house, line, radiators_on, said, stove_on

from loopwright import draw
from loopwright.rules.findings import Finding
from loopwright.rules.registry import all_rules

JUDGED = [s for s in all_rules() if s.startswith(("tapping/", "circuit/", "order/"))]


def neutral_header() -> draw.Drawing:
    """A stove and an oil boiler pumped into a neutral header, two pumped loads out of it."""
    s = draw.sheet("Neutral header")
    header = s.add("low_loss_header", "header", x_m=4, height_m=0.3)
    for k, kind in enumerate(("log_boiler", "boiler_oil")):
        source = s.add(kind, kind, x_m=-2 + k, height_m=0)
        pump = s.add("pump", f"{kind}_pump", x_m=1, height_m=k)
        flow, back = s.add("tee", f"Tf{k}", x_m=2 + k, height_m=1.4), s.add("tee", f"Tr{k}", x_m=2 + k, height_m=0.4)
        line(s, source["flow"], pump, flow["branch"])
        line(s, back["branch"], s.add("check_valve", f"C{k}", x_m=1, height_m=0.4, turn=2), source["return"])
    line(s, s["Tf0"]["right"], s["Tf1"]["left"])
    line(s, s["Tf1"]["right"], header["primary_flow"])
    line(s, header["primary_return"], s["Tr1"]["right"])
    line(s, s["Tr1"]["left"], s["Tr0"]["right"])
    for tee in ("Tf0", "Tr0"):
        s.cap(s[tee]["left"])
    out, home = s.add("tee", "To", x_m=6, height_m=1.2), s.add("tee", "Th", x_m=6, height_m=0.4)
    line(s, header["load_flow"], out["left"])
    line(s, home["left"], header["load_return"])
    for k, (a, b) in enumerate((("right", "right"), ("branch", "branch"))):
        radiator = s.add("radiator", f"R{k}", x_m=9 + k, height_m=3)
        line(s, out[a], s.add("pump", f"P{k}", x_m=7 + k, height_m=2), radiator["flow"])
        line(s, radiator["return"], home[b])
    return s


def drain_down() -> draw.Drawing:
    """A drain-down collector on a coil, two pumps in one line, no check valve."""
    coil = {"name": "solar", "bottom_m": 0.05, "top_m": 0.6, "lower": "low", "upper": "high"}
    s, store = house(
        coils=(coil,), taps={"low": {"height_m": 0.05, "purpose": "coil"}, "high": {"height_m": 0.6, "purpose": "coil"}}
    )
    collector = s.add("solar_collector", "collector", x_m=4, height_m=6)
    vessel = s.add("drain_down_vessel", "vessel", x_m=0, height_m=2)
    one, two = s.add("pump", "P1", x_m=0, height_m=1), s.add("pump", "P2", x_m=1, height_m=1)
    line(s, collector["flow"], vessel["flow_in"])
    line(s, vessel["return_out"], store["high"])
    line(s, store["low"], one, two, collector["return"])
    return s


def heat_pump_at_mid_height() -> draw.Drawing:
    """Heat pump flow at mid store and return at the bottom, the stove at the top, no solar."""
    s, store = house(taps={"top": 1.6, "middle": 0.95, "low": 0.1, "lower": {"height_m": 0.1, "side": "right"}})
    stove_on(s, store, "top", "low")
    boiler_on(s, store, "middle", "lower", "heat_pump", id="heat_pump", x_m=-4)
    return s


def thermostatic_valves_with_a_bypass() -> draw.Drawing:
    """Two radiators with thermostatic valves in parallel and an automatic bypass at the pump."""
    s, store = house(taps={"top": 1.6, "bottom": 0.1, "supply": 1.35, "back": 0.5})
    boiler_on(s, store, "top", "bottom")
    pump, bypass = (
        s.add("pump", "P", x_m=5, height_m=1.4),
        s.add("automatic_bypass_valve", "B", x_m=6, height_m=1, turn=1),
    )
    a, b = s.add("tee", "A", x_m=6, height_m=1.4), s.add("tee", "B1", x_m=6, height_m=0.5)
    c, d = s.add("tee", "C", x_m=7, height_m=1.4), s.add("tee", "D", x_m=7, height_m=0.5)
    line(s, store["supply"], pump, (a, "left", "right"), c["left"])
    line(s, a["branch"], bypass, b["branch"])
    line(s, d["left"], (b, "right", "left"), store["back"])
    for k, (out, home) in enumerate((("right", "right"), ("branch", "branch"))):
        radiator = s.add("radiator", f"R{k}", x_m=9 + k, height_m=2)
        line(s, c[out], s.add("thermostatic_radiator_valve", f"V{k}", x_m=8, height_m=2 + k), radiator["flow"])
        line(s, radiator["return"], d[home])
    return s


def store_feeds_a_cylinder() -> draw.Drawing:
    """A stove heats the store; a pump carries heat on to a coil in a cylinder."""
    s, store = house(taps={"top": 1.6, "bottom": 0.1, "supply": 1.35, "back": 0.5})
    stove_on(s, store, "top", "bottom")
    coil = {"name": "primary", "bottom_m": 0.1, "top_m": 0.5, "lower": "low", "upper": "high"}
    cylinder = s.store(
        "cylinder",
        kind="cylinder_indirect",
        x_m=8,
        height_m=3,
        coils=(coil,),
        tappings={"low": {"height_m": 0.1, "purpose": "coil"}, "high": {"height_m": 0.5, "purpose": "coil"}},
    )
    line(s, store["supply"], s.add("pump", "P", x_m=6, height_m=2), cylinder["high"])
    line(s, cylinder["low"], store["back"])
    return s


def leak_in_series() -> draw.Drawing:
    """Stove, radiator above it, store, stove: one loop."""
    s, store = house(taps={"top": 1.6, "bottom": 0.1})
    stove, radiator = s.add("boiler_stove", "stove", x_m=1, height_m=0), s.add("radiator", "R1", x_m=3, height_m=2.6)
    line(s, stove["flow"], radiator["flow"])
    line(s, radiator["return"], store["top"])
    line(s, store["bottom"], stove["return"])
    return s


def radiators_on_a_pumped_circuit() -> draw.Drawing:
    """Radiators above the store with an anti-gravity check."""
    s, store = house(taps={"top": 1.6, "bottom": 0.1, "supply": 1.35, "back": 0.5})
    stove_on(s, store, "top", "bottom")
    radiators_on(s, store, "supply", "back", valves="anti_gravity_check")
    return s


@pytest.mark.parametrize(
    "build",
    [
        neutral_header,
        drain_down,
        heat_pump_at_mid_height,
        thermostatic_valves_with_a_bypass,
        store_feeds_a_cylinder,
        leak_in_series,
        radiators_on_a_pumped_circuit,
    ],
)
def test_sound_systems_stay_clear(build):
    s = build()
    silent = ("circuit/open-end", "circuit/air-trap", "circuit/no-drain")  # these small sheets leave such things out
    bad = [
        (f.rule or slug, f.subject, f.message)
        for slug in JUDGED
        if slug not in silent
        for f in said(s, slug)
        if isinstance(f, Finding) and f.severity >= FAULT
    ]
    assert bad == []
