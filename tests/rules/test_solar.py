"""Rules of drain-down solar water: a sheet that breaks each, and one that does not.

Pipes that fall all the way to the vessel, a pump that lifts water over the collector's top, and air room for all that
drains back: common practice, no source. Contents of copper tube: EN 1057 sizes.
"""

from __future__ import annotations

from typing import Any

import pytest
from circuit_sheets import ADVICE, FAULT, found, said, sound, standing

from loopwright import draw

TRAPS, FILLS = "solar/drain-down-traps-water", "solar/drain-down-cannot-fill"


def panel(
    *,
    dip: bool = False,
    level: bool = False,
    valves: tuple[str, ...] = (),
    extra: str = "",
    pumps: int = 1,
    head_m: float = 6.0,
    room_l: float = 16.0,
    content_l: float = 3.0,
) -> draw.Drawing:
    """A collector at 6 m over a coil in a store; it drains into a vessel whose water stands at 2.3 m."""
    s = draw.sheet("Drain-down")
    store = s.store(
        "store",
        x_m=0,
        height_m=0,
        volume_l=300,
        coils=({"name": "sun", "bottom_m": 0.1, "top_m": 0.6, "lower": "down", "upper": "up"},),
        tappings={"down": {"height_m": 0.1, "side": "left"}, "up": {"height_m": 0.6, "side": "left"}},
    )
    vessel = s.add("drain_down_vessel", "DV", x_m=-2, height_m=2.0, water_line_m=0.3, air_room_l=room_l)
    sun = s.add("solar_collector", "sun", x_m=-4, height_m=6.0, content_l=content_l)
    steps: list[Any] = []
    for number in range(pumps):
        pump = s.add("pump", f"P{number}", x_m=-5, height_m=0.5 + 0.4 * number, turn=3, head_m=head_m)
        steps.append((pump["a"], pump["b"]))
    if valves:
        part = s.add(valves[0], "V0", x_m=-5, height_m=4.0, turn=3)
        steps.append((part["a"], part["b"]))
    last, via = vessel["return_out"], [(-2.0, 1.0), (-1.0, 1.0), (-1.0, 0.6)]
    s.pipe(last, store["up"], via=via, graded="a")
    last, via = store["down"], [(-5.0, 0.1)]
    for enter, leave in steps:
        s.pipe(last, enter, via=via, graded="b" if not level else "")
        last, via = leave, []
    low = [(-5.0, 5.0), (-6.0, 5.0), (-6.0, 4.6), (-5.6, 4.6), (-5.6, 6.022)] if dip else [(-5.0, 6.022)]
    s.pipe(last, sun["return"], via=low, graded="b", id="rise", size="22")
    last, via = sun["flow"], [(-2.0, 7.078)]
    if len(valves) > 1:
        part = s.add(valves[1], "V1", x_m=-2, height_m=4.0, turn=1)
        s.pipe(last, part["a"], via=via, graded="a")
        last, via = part["b"], []
    pipe = s.pipe(last, vessel["flow_in"], via=via, graded="" if level else "a", id="fall", size="22")
    if extra:
        tee = s.tee(pipe, (-2.0, 3.5), "T", towards="right")
        part = s.add(extra, "X", x_m=-1.0, height_m=4.0)
        ends = {"filling_loop": "b"}
        s.pipe(tee["branch"], part[ends.get(extra, "a")], via=[])
    return s


def test_a_collector_that_drains_and_fills():
    for slug in (TRAPS, FILLS):
        assert sound(panel(), slug), said(panel(), slug)


def test_water_stays_in_a_dip():
    assert found(panel(dip=True), TRAPS) == [(FAULT, "sun")]
    [finding] = said(panel(dip=True), TRAPS)
    assert finding.measured == pytest.approx(400, abs=10) and finding.culprits == ("rise",)


def test_a_level_run_not_marked_as_graded():
    assert found(panel(level=True), TRAPS) == [(ADVICE, "sun")]


@pytest.mark.parametrize(
    ("valves", "wanted"),
    [
        (("isolating_valve",), []),
        (("isolating_valve", "isolating_valve"), [(FAULT, "sun")]),
        (("check_valve", "check_valve"), [(FAULT, "sun")]),
    ],
)
def test_one_pipe_stays_free(valves, wanted):
    assert found(panel(valves=valves), TRAPS) == wanted


def test_a_check_against_the_drain_is_named_once():
    s = panel(valves=("check_valve",))
    assert found(s, FILLS) == [(FAULT, "sun")]
    assert not {TRAPS, FILLS} <= standing(panel(valves=("check_valve", "check_valve")))


@pytest.mark.parametrize("kind", ["air_vent_auto", "expansion_vessel_solar", "filling_loop"])
def test_what_has_no_place_there(kind):
    assert found(panel(extra=kind), FILLS) == [(FAULT, "sun")]


@pytest.mark.parametrize(("pumps", "wanted"), [(1, [(FAULT, "sun")]), (2, [])])
def test_pumps_lift_the_water_over_the_top(pumps, wanted):
    """The upper port of the collector stands 4.78 m above the vessel's water."""
    s = panel(pumps=pumps, head_m=3.0)
    assert found(s, FILLS) == wanted
    if pumps == 1:
        [finding] = said(s, FILLS)
        assert finding.limit == pytest.approx(6.0 + 0.98 * 1.1 - 2.3)


def test_the_air_room_takes_what_drains_back():
    """3 l of collector, and 22 mm copper of 0.32 l a metre (bore 20.2 mm under the EN 1057 size 22 x 0.9)."""
    assert found(panel(room_l=5.0), FILLS) == [(FAULT, "sun")]
    [finding] = said(panel(room_l=5.0), FILLS)
    # above 2.3 m: 3.722 + 0.3 m up and in on the return, 1.3 + 4.578 m over and down on the flow
    wet_m = (6.022 - 2.3) + 0.3 + 1.3 + (7.078 - 2.5)
    assert finding.limit == pytest.approx(3.0 + 0.3205 * wet_m, rel=0.02)
