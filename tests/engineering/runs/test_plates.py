"""A plate exchanger between two waters of a drawing, against the law of counterflow.

Source: effectiveness of a counterflow exchanger, e = (1 - exp(-N (1 - C))) / (1 - C exp(-N (1 - C))) (Kays and London).
"""

from __future__ import annotations

import numpy as np
import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.runs.day import days, run_day
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways

CATALOGUE = standard_catalogue()
UA, CP = 800.0, 4185.0


def two_stores() -> Sheet:
    """Two stores, a pump each, and a plate exchanger between them; nothing else."""
    s = draw.sheet("Plate")
    sides = {"hot": (0.0, "right", 65.0), "cold": (6.0, "left", 65.0)}
    tank = {
        name: s.store(
            name, x_m=x, height_m=0.0, volume_l=2000.0, body_diameter_m=1.0, body_height_m=2.0, design_temp_c=design,
            insulation_mm=200.0,
            tappings={
                "flow": {"height_m": 1.8, "side": side, "purpose": "load_flow"},
                "return": {"height_m": 0.2, "side": side, "purpose": "load_return"},
            },
        )
        for name, (x, side, design) in sides.items()
    }  # fmt: skip
    plate = s.add("plate_heat_exchanger", "X1", x_m=3.0, height_m=1.0, ua_w_k=UA)
    one = s.add("pump", "P1", x_m=1.5, height_m=1.8, head_m=2.0, flow_max_m3h=0.6)
    two = s.add("pump", "P2", x_m=4.5, height_m=0.2, mirror=True, head_m=2.0, flow_max_m3h=0.4)
    s.pipe(tank["hot"]["flow"], one["a"], "22", id="hot_1")
    s.pipe(one["b"], plate["primary_in"], "22", id="hot_2")
    s.pipe(plate["primary_out"], tank["hot"]["return"], "22", id="hot_3")
    s.pipe(tank["cold"]["return"], two["a"], "22", id="cold_1")
    s.pipe(two["b"], plate["secondary_in"], "22", id="cold_2")
    s.pipe(plate["secondary_out"], tank["cold"]["flow"], "22", id="cold_3")
    return s.done()


def test_a_plate_passes_what_counterflow_passes():
    share = [0.0]
    run = run_day(
        Waterways(two_stores(), CATALOGUE), days()["away"],
        progress=lambda x: share.__setitem__(0, x), cancel=lambda: share[0] > 0.5 / 24.0,
    )  # fmt: skip
    m1, m2 = abs(run.flows["hot_2"][-1]), abs(run.flows["cold_2"][-1])
    assert m1 > 0.02 and m2 > 0.02
    into, out = run.pipes["hot_2"][-1], run.pipes["hot_3"][-1]
    cold = run.pipes["cold_2"][-1]
    least, most = sorted((m1 * CP, m2 * CP))
    n, c = UA / least, least / most
    e = (1.0 - np.exp(-n * (1.0 - c))) / (1.0 - c * np.exp(-n * (1.0 - c)))
    assert into - cold > 2.0
    assert m1 * CP * (into - out) == pytest.approx(e * least * (into - cold), rel=0.06)
    assert abs(run.books.residual) < 1e-3
