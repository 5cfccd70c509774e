"""Room for water to swell: volumes, vented cisterns, sealed and solar vessels, relief settings.

Owns the sizing rules. Knows numbers only. Pressures here are gauge bar, as the trade and EN 12828 write them;
heads in metres, volumes in litres.
"""

# ruff: noqa: N815  (units keep their case in names)
from __future__ import annotations

from dataclasses import dataclass

from loopwright.engineering import water
from loopwright.errors import FigureError

FILL_C = 10.0
RESERVE_SHARE = 0.005  # of the water content, EN 12828 annex D
RESERVE_LEAST_L = 3.0
SMALL_VESSEL_L = 15.0
SMALL_RESERVE_SHARE = 0.2  # of the vessel
PRECHARGE_MARGIN_BAR = 0.3  # over the static head
PRECHARGE_LEAST_BAR = 0.7  # common practice, no source
CISTERN_SHARE = 0.04  # of the system's water: public training page
BAR_PER_M = 0.0980665  # of cold water


def expansion_L(content_L: float, hottest_C: float, fill_C: float = FILL_C) -> float:
    """Litres by which `content_L` of cold water swells: rho(fill)/rho(T) - 1. Water 0 to 110 degC."""
    if content_L < 0.0:
        raise FigureError("The water content cannot be below nil")
    return content_L * max(0.0, float(water.expansion_fraction(hottest_C, fill_C)))


@dataclass(frozen=True)
class CisternNeed:
    """What a feed and expansion cistern must have above its cold line, and the rise that the water makes."""

    expansion_L: float
    room_needed_L: float
    rise_m: float
    fits: bool


def vented_cistern(
    content_L: float, hottest_C: float, plan_area_m2: float, free_height_m: float, fill_C: float = FILL_C
) -> CisternNeed:
    """Room in a vented cistern. `free_height_m`: from the cold line to 25 mm under the warning pipe.

    Needed is the larger of the true expansion and 4 % of the content. The rise is that of the true expansion.
    """
    if plan_area_m2 <= 0.0 or free_height_m < 0.0:
        raise FigureError("A cistern needs a plan area above nil and a free height of nil or more")
    swell = expansion_L(content_L, hottest_C, fill_C)
    needed = max(swell, CISTERN_SHARE * content_L)
    rise = swell / 1000.0 / plan_area_m2
    return CisternNeed(swell, needed, rise, needed <= 1000.0 * plan_area_m2 * free_height_m + 1e-9)


def final_pressure_bar(relief_bar: float) -> float:
    """Highest working pressure used for sizing: setting less 0.5 bar, or less 10 % above 5 bar. EN 12828."""
    if not 1.0 <= relief_bar <= 10.0:
        raise FigureError(f"A relief valve of {relief_bar:g} bar lies outside 1 to 10 bar")
    return relief_bar - 0.5 if relief_bar <= 5.0 else 0.9 * relief_bar


def precharge_bar(static_head_m: float, hottest_C: float = 90.0, margin_bar: float = PRECHARGE_MARGIN_BAR) -> float:
    """Precharge of the empty vessel: static head above it, vapour over 100 degC, a margin; at least 0.7."""
    vapour = max(0.0, (water.vapour_pressure_Pa(hottest_C) - water.ATMOSPHERE_PA) / 1e5)
    return max(PRECHARGE_LEAST_BAR, max(0.0, static_head_m) * BAR_PER_M + vapour + margin_bar)


def reserve_L(content_L: float, vessel_L: float | None = None) -> float:
    """Water reserve: 0.5 % of the content, at least 3 L; 20 % of a vessel up to 15 L. EN 12828 annex D."""
    if vessel_L is not None and vessel_L <= SMALL_VESSEL_L:
        return SMALL_RESERVE_SHARE * vessel_L
    return max(RESERVE_LEAST_L, RESERVE_SHARE * content_L)


@dataclass(frozen=True)
class VesselNeed:
    """The least sealed vessel and the figures it rests on."""

    least_L: float
    expansion_L: float
    reserve_L: float
    precharge_bar: float
    final_bar: float


def _least_vessel(to_hold_L: float, content_L: float, precharge: float, final: float) -> tuple[float, float]:
    if final <= precharge:
        raise FigureError(
            f"A precharge of {precharge:.1f} bar leaves no room below the highest of {final:.1f} bar",
            do="Choose a higher relief setting, or place the vessel higher",
        )
    factor = (final + 1.0) / (final - precharge)
    if SMALL_RESERVE_SHARE * factor < 1.0:
        small = to_hold_L * factor / (1.0 - SMALL_RESERVE_SHARE * factor)
        if small <= SMALL_VESSEL_L:
            return small, SMALL_RESERVE_SHARE * small
    reserve = reserve_L(content_L)
    # a size that the large rule would put under 15 L, and the small rule over it, is 15 L or more either way
    return max((to_hold_L + reserve) * factor, SMALL_VESSEL_L), reserve


def sealed_vessel(
    content_L: float,
    hottest_C: float,
    static_head_m: float,
    relief_bar: float = 3.0,
    precharge: float | None = None,
    fill_C: float = FILL_C,
) -> VesselNeed:
    """Least vessel of a sealed circuit: (Ve + Vwr)(pe + 1)/(pe - p0), gauge bar. Source: EN 12828 annex D."""
    p0 = precharge_bar(static_head_m, hottest_C) if precharge is None else precharge
    swell = expansion_L(content_L, hottest_C, fill_C)
    final = final_pressure_bar(relief_bar)
    least, reserve = _least_vessel(swell, content_L, p0, final)
    return VesselNeed(least, swell, reserve, p0, final)


def solar_vessel(
    content_L: float,
    steam_L: float,
    hottest_C: float,
    static_head_m: float,
    relief_bar: float = 6.0,
    precharge: float | None = None,
    expansion_share: float | None = None,
) -> VesselNeed:
    """Least vessel of a solar circuit: it also takes up the collector's content when that turns to steam.

    `(Ve + Vsteam + Vr)(pe + 1)/(pe - p0)`. `expansion_share`: a fraction, where the fluid is not water.
    Source: VDI 6002 and EN 12977-1 (from memory).
    """
    if steam_L < 0.0:
        raise FigureError("The steam volume cannot be below nil")
    p0 = precharge_bar(static_head_m, 100.0) if precharge is None else precharge
    swell = expansion_L(content_L, hottest_C) if expansion_share is None else content_L * expansion_share
    final = final_pressure_bar(relief_bar)
    least, reserve = _least_vessel(swell + steam_L, content_L, p0, final)
    return VesselNeed(least, swell, reserve, p0, final)


def hot_pressure_bar(vessel_L: float, precharge: float, cold_bar: float, swell_L: float) -> float | None:
    """Pressure once the water has swollen, gauge bar, by Boyle's law at steady gas temperature.

    None if the vessel is then full of water: the relief valve lifts. `cold_bar` is the cold fill pressure.
    """
    if vessel_L <= 0.0 or precharge < 0.0:
        raise FigureError("A vessel needs a volume above nil and a precharge of nil or more")
    gas = vessel_L * (precharge + 1.0) / (max(cold_bar, precharge) + 1.0) - swell_L
    if gas <= 0.0:
        return None
    return vessel_L * (precharge + 1.0) / gas - 1.0


def fill_pressure_bar(vessel_L: float, precharge: float, reserve: float) -> float:
    """Least cold fill, gauge bar, that puts the reserve into the vessel: Vn (p0+1)/(Vn - Vwr) - 1."""
    if not 0.0 <= reserve < vessel_L:
        raise FigureError("The water reserve must be less than the vessel")
    return vessel_L * (precharge + 1.0) / (vessel_L - reserve) - 1.0
