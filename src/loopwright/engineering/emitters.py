"""Radiators and other emitters by the exponent law of EN 442.

Owns output against temperatures. Knows numbers only; the network holds its own smoothed copy of the same law.
"""

from __future__ import annotations

from loopwright.engineering import water
from loopwright.errors import FigureError

NOMINAL_DT_K = 50.0  # 75/65/20 degC, EN 442
EXPONENT = 1.3  # panel radiators; the part may say otherwise


def output_W(
    nominal_W: float,
    flow_C: float,
    return_C: float,
    room_C: float = 20.0,
    exponent: float = EXPONENT,
    nominal_dT_K: float = NOMINAL_DT_K,
) -> float:
    """Heat given to the room, W, on the arithmetic mean temperature; nil or negative if the water is cooler.

    `Q = Qn (dT/dTn)^n` with dT = (flow + return)/2 - room. Source: EN 442. Exponent 1.0 to 1.6.
    """
    _check(nominal_W, exponent, nominal_dT_K)
    dt = 0.5 * (flow_C + return_C) - room_C
    size = nominal_W * (abs(dt) / nominal_dT_K) ** exponent
    return size if dt >= 0.0 else -size


def return_C(
    nominal_W: float,
    flow_kg_s: float,
    flow_C: float,
    room_C: float = 20.0,
    exponent: float = EXPONENT,
    nominal_dT_K: float = NOMINAL_DT_K,
) -> float:
    """Return temperature, degC, at which the water gives up what the emitter gives out. Not below the room.

    At a trickle the arithmetic mean would cool the return below the room; the room is then the answer.
    """
    _check(nominal_W, exponent, nominal_dT_K)
    if flow_kg_s <= 0.0:
        raise FigureError("A return temperature needs a flow above nil through the emitter")
    hot = water.enthalpy_J_kg(flow_C)

    def surplus(out_C: float) -> float:
        given = flow_kg_s * (hot - water.enthalpy_J_kg(out_C))
        return given - output_W(nominal_W, flow_C, out_C, room_C, exponent, nominal_dT_K)

    low, high = sorted((room_C, flow_C))
    if surplus(room_C) * (1.0 if flow_C >= room_C else -1.0) <= 0.0:
        return room_C
    for _ in range(80):  # surplus falls as the return rises, so halving finds the balance
        mid = 0.5 * (low + high)
        if surplus(mid) > 0.0:
            low = mid
        else:
            high = mid
    return 0.5 * (low + high)


def _check(nominal_W: float, exponent: float, nominal_dT_K: float) -> None:
    if nominal_W < 0.0 or not 1.0 <= exponent <= 1.6 or nominal_dT_K <= 0.0:
        raise FigureError(
            "An emitter needs a nominal output of nil or more, an exponent from 1.0 to 1.6 and a difference"
        )
