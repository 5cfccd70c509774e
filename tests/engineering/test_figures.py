"""Figures of a drawn sheet against hand arithmetic from the published values they rest on."""

from __future__ import annotations

import math

import pytest
from iapws import IAPWS97

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.engineering.figures import Figure, Gap, figures
from loopwright.waterways import Waterways


def small_sealed():
    """A sealed boiler and a radiator joined by 22 mm copper; every length known."""
    s = draw.sheet("Sealed pair")
    boiler = s.add("boiler_oil", "boiler", x_m=0.0, height_m=0.0, power_kw=10.0, limit_c=80.0, content_l=10.0)
    rad = s.add("radiator", "rad", x_m=4.0, height_m=0.0, output_w=1000.0, content_l=6.0)
    tee = s.add("tee", "T", x_m=2.0, height_m=0.552)
    relief = s.add("relief_valve", "SV", x_m=2.0, height_m=1.0, setting_bar=3.0)
    tee2 = s.add("tee", "T2", x_m=2.5, height_m=0.552)
    vessel = s.add("expansion_vessel", "EV", x_m=2.5, height_m=1.4, volume_l=8.0, turn=2)
    s.pipe(boiler["flow"], tee["left"], size="22", id="f1")
    s.pipe(tee["right"], tee2["left"], size="22", id="f2")
    s.pipe(tee2["right"], rad["flow"], size="22", id="f3")
    s.pipe(rad["return"], boiler["return"], size="22", id="r1")
    s.pipe(tee["branch"], relief["inlet"], size="15", id="b1")
    s.pipe(tee2["branch"], vessel["a"], size="15", id="b2")
    return s.done()


def found(sheet):
    return {(f.group, f.name): f for f in figures(Waterways(sheet, standard_catalogue()))}


def rho(t):
    return IAPWS97(T=t + 273.15, P=0.101325).rho


def test_water_content_is_bore_times_length_and_expansion_follows_iapws():
    """Bores: EN 1057 22 x 0.9 and 15 x 0.7 mm. Density: IAPWS-IF97 (library `iapws`)."""
    from loopwright.engineering.figures.contents import developed_m

    sheet = small_sealed()
    ways = Waterways(sheet, standard_catalogue())
    litres = 16.0
    for pipe in sheet.pipes.values():
        bore = {"22": 0.0202, "15": 0.0136}[pipe.size]
        litres += 1000 * math.pi / 4 * bore**2 * developed_m(ways, ("pipe", pipe.id))
    got = found(sheet)
    content = got["Water of boiler", "Water content"]
    fittings = content.value - litres
    assert 0.0 <= fittings < 0.5  # tees and valves hold a little, by their own property
    expansion = next(f for (_, name), f in got.items() if name.startswith("Expansion"))
    assert expansion.value == pytest.approx(content.value * (rho(10) / rho(80) - 1), rel=0.01)


def test_sealed_vessel_follows_en_12828():
    """EN 12828 annex D as recalled: V (pe + 1)/(pe - p0), reserve 20 % of small vessels."""
    got = found(small_sealed())
    vessel = got["Water of boiler", "Vessel, least"]
    swell = got["Water of boiler", "Expansion, 10 to 80 °C"].value
    p0 = got["Water of boiler", "Vessel precharge"].value
    factor = (2.5 + 1) / (2.5 - p0)
    assert vessel.value == pytest.approx(swell * factor / (1 - 0.2 * factor), rel=1e-6)


def test_a_missing_size_is_a_gap_that_names_it():
    import msgspec

    sheet = small_sealed()
    odd = msgspec.structs.replace(sheet.pipes["f1"], size="odd")
    broken = msgspec.structs.replace(sheet, pipes={**sheet.pipes, "f1": odd})
    gap = found(broken)["Water of boiler", "Water content"]
    assert isinstance(gap, Gap) and "f1" in gap.missing


def test_every_figure_has_equation_and_source():
    for figure in found(small_sealed()).values():
        if isinstance(figure, Figure):
            assert figure.equation and figure.source and math.isfinite(figure.value)
