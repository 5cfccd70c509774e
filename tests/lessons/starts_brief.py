"""Starting sheets of the design briefs: an empty house, or what was there before."""

from __future__ import annotations

from starts import starts

from loopwright import draw
from loopwright.sheet.values import Sheet

LEVELS = {"Ground floor": 0.0, "First floor": 2.6, "Loft": 5.0}


@starts("D1")
def d1() -> Sheet:
    """Two rooms up, two down, a loft."""
    return draw.sheet("Lantern cottage, a brief", levels=LEVELS).done()


@starts("D2")
def d2() -> Sheet:
    """A barn."""
    return draw.sheet("Kiln Lane barn, a brief", levels=LEVELS).done()


@starts("D3")
def d3() -> Sheet:
    """A house without a loft."""
    return draw.sheet("Old Net Loft, a brief", levels={"Ground floor": 0.0, "First floor": 2.6}).done()


@starts("D4")
def d4() -> Sheet:
    """An old sealed gas boiler and its radiators."""
    from small_systems import closed, drain

    s = draw.sheet("An inherited job", levels=LEVELS)
    boiler = s.add(
        "boiler_gas", "boiler", x_m=10.0, height_m=0.0, power_kw=15.0, limit_c=90.0, name="Gas boiler", existing=True
    )
    pump = s.add("pump", "P1", x_m=11.6, height_m=1.6, name="Radiator pump", existing=True)
    split = s.add("tee", "RT1", x_m=14.0, height_m=1.6)
    join = s.add("tee", "RT2", x_m=14.4, height_m=0.2)
    s.pipe(boiler["flow"], pump["a"], "22", via=[(10.6, 0.595), (10.6, 1.6)], id="old_flow")
    s.pipe(pump["b"], split["left"], "22", via=[], id="old_flow_2")
    for n, (x, z, a, b) in enumerate(
        ((16.0, 1.048, split["right"], join["right"]), (16.0, 3.0, split["branch"], join["branch"])), 1
    ):
        one = s.add("radiator", f"R{n}", x_m=x, height_m=z, output_w=2000.0, name=f"Radiator {n}", existing=True)
        up = [(14.0, z + 0.552)] if n == 2 else []
        s.pipe(a, one["flow"], "22", via=up, id=f"old_r{n}_flow")
        down = [(14.4, z + 0.048)] if n == 2 else [(15.0, z + 0.048), (15.0, 0.2)]
        s.pipe(one["return"], b, "22", via=down, id=f"old_r{n}_return")
    s.pipe(join["left"], boiler["return"], "22", via=[(10.7, 0.2), (10.7, 0.175)], id="old_return")
    closed(s, "old_flow_2", (12.6, 1.6), "old_return", (11.6, 0.2), "old", 12.0)
    drain(s, "old_return", (13.6, 0.2), "old_low")
    s.add("room_thermostat", "TR1", x_m=15.0, height_m=4.4, name="Room thermostat", existing=True)
    for target in ("boiler", "P1"):
        s.link("TR1", target, does="runs_below", setting_c=20.0)
    return s.done()
