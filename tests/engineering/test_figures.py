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
    vessel = s.add("expansion_vessel", "EV", x_m=2.5, height_m=1.4, volume_l=8.0, precharge_bar=0.7, turn=2)
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
    from loopwright.sheet.geometry import developed_length_m

    sheet = small_sealed()
    ways = Waterways(sheet, standard_catalogue())
    litres = 16.0
    for pipe in sheet.pipes.values():
        bore = {"22": 0.0202, "15": 0.0136}[pipe.size]
        litres += 1000 * math.pi / 4 * bore**2 * developed_length_m(sheet, pipe, ways.catalogue)
    got = found(sheet)
    content = got["Water of boiler", "Water content"]
    fittings = content.value - litres
    assert -1e-9 <= fittings < 0.5  # tees and valves hold a little, by their own property
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


# what a drawn system shows


def sample(name: str):
    from loopwright.files import load
    from loopwright.resources import resource_root

    return load(resource_root().parent / "samples" / "sound" / f"{name}.loopwright", standard_catalogue())


@pytest.fixture(scope="module")
def three_source():
    from loopwright.waterways.views import NORMAL

    ways = Waterways(sample("three-source"), standard_catalogue())
    return ways, figures(ways, NORMAL)


def one(found, group: str, name: str):
    return next(f for f in found if f.group == group and f.name == name)


def test_every_figure_has_a_known_topic_a_page_and_its_limits(three_source):
    from loopwright.engineering.figures import TOPICS
    from loopwright.engineering.pages import page

    _, found = three_source
    for figure in found:
        assert figure.topic in TOPICS, figure.name
        assert page(figure.page).validity
        assert not isinstance(figure, Figure) or (figure.valid and figure.equation and figure.source)
    keys = [(f.group, f.name) for f in found]
    assert len(set(keys)) == len(keys)


def test_circulating_pressure_is_given_in_pascals_and_millimetres_of_water(three_source):
    """A millimetre of cold water is 9.80665 Pa by definition of the standard gravity."""
    _, found = three_source
    group = next(f.group for f in found if f.group.startswith("Circulation of Stove"))
    pascals = one(found, group, "Circulating pressure").value
    assert one(found, group, "Circulating pressure as a head").value == pytest.approx(pascals / 9.80665, rel=1e-9)
    assert one(found, group, "Resistance at that flow").value == pytest.approx(pascals, rel=1e-6)


def test_larger_pipes_and_more_height_carry_more(three_source):
    _, found = three_source
    most = [f.value for f in found if isinstance(f, Figure) and f.name.startswith("Most heat by gravity")]
    assert len(most) == 3 and most[1] > most[0] > 0.0 and most[2] > most[0]


def test_the_index_circuit_uses_up_the_pump_and_names_the_emitter_worst_served(three_source):
    """Round a closed loop, pump and buoyancy together equal the losses; the rest is how the emitters compare."""
    _, found = three_source
    head = one(found, "Radiator pump", "Head at the duty point").value * 998.0 * 9.80665
    lost = next(f for f in found if f.group == "Radiator pump" and f.name.endswith("resistance"))
    assert lost.value == pytest.approx(head, rel=0.02)  # the rest is what buoyancy adds or takes
    flows = {}
    for rad in ("Hall radiator", "Bedroom radiator"):
        given = next(f for f in found if f.name == f"{rad}: heat given")
        inputs = {i.name: i.value for i in given.inputs}
        flows[rad] = inputs["flow"] / inputs["rated output"]
        # EN 442: on the arithmetic mean, against a room of 20 degC, exponent 1.3
        mean = 0.5 * (inputs["arrives at"] + inputs["leaves at"])
        assert given.value == pytest.approx(inputs["rated output"] * ((mean - 20) / 50) ** 1.3, rel=2e-3)
    assert min(flows, key=flows.get) in lost.name


def test_the_books_of_a_water_close(three_source):
    _, found = three_source
    group = "Flow in water of Stove, normal running"
    given, rooms, stores = (
        one(found, group, n).value
        for n in ("Heat given by sources", "Heat given to rooms by emitters", "Heat going into stores")
    )
    assert given == pytest.approx(8.0, rel=1e-6)
    assert rooms + stores == pytest.approx(given, abs=1e-6)
    heats = [f for f in found if f.group == group and f.name.endswith(": heat given")]
    (stove,) = [f.value for f in heats if f.name.startswith("Stove")]
    assert stove == pytest.approx(given, rel=1e-6)
    emitters = [f.value for f in heats if f.page == "emitters"]
    assert sum(emitters) / 1000 == pytest.approx(rooms, rel=1e-4)


def test_pipes_that_lose_heat_take_it_from_the_water():
    """EN ISO 12241 at each pipe's own temperature, summed, against what the water lost in the solved circulation."""
    from loopwright.engineering import pipes
    from loopwright.engineering.circulation import circulation
    from loopwright.waterways.waters import waters

    ways = Waterways(sample("stove-by-gravity"), standard_catalogue())
    of = next(w for w in waters(ways) if w.sources)
    warm, plain = circulation(ways, of, lossy=True), circulation(ways, of)
    by_pipe = 0.0
    for name, laid in warm.drawn.pipes.items():
        drawn = ways.sheet.pipes[name]
        a_metre = pipes.heat_loss_W_m(
            pipes.tube(drawn.size, drawn.material), warm.pipe_C(name), 20.0, drawn.insulation_mm or 0.0
        )
        by_pipe += laid.length_m * a_metre
    assert warm.answer.ending.balance.lost_W == pytest.approx(by_pipe, rel=0.12)  # a loss per kelvin, at 70 degC
    assert plain.answer.ending.balance.lost_W == 0.0
    assert abs(warm.answer.ending.balance.gap_W) < 1e-6 * warm.answer.ending.balance.source_W


def test_the_coil_of_a_store_follows_effectiveness_and_ntu():
    """Kays and London: outlet = store - (store - cold) exp(-UA/(m cp)) in an even store; cp and density by `iapws`."""
    got = {(f.group, f.name): f for f in figures(Waterways(sample("three-source"), standard_catalogue()))}
    outlet = next(f for (_, n), f in got.items() if n.startswith("Temperature from the coil"))
    heat = next(f for (_, n), f in got.items() if n.startswith("Heat from the coil"))
    inputs = {i.name: i.value for i in outlet.inputs}
    ua = inputs["coil surface"] * inputs["heat passed"]
    hot, cold = inputs["store throughout"], 10.0

    def kj_kg(t):
        return IAPWS97(T=t + 273.15, P=0.101325).h

    flow = heat.value / (kj_kg(outlet.value) - kj_kg(cold))
    cp = 1000 * IAPWS97(T=0.5 * (outlet.value + cold) + 273.15, P=0.101325).cp
    assert outlet.value == pytest.approx(hot - (hot - cold) * math.exp(-ua / (flow * cp)), abs=0.15)
    share = flow * 60 / (18.0 * rho(10) / 1000)
    assert share == pytest.approx((kj_kg(40) - kj_kg(cold)) / (kj_kg(outlet.value) - kj_kg(cold)), rel=0.01)
    most = next(f.value for (_, n), f in got.items() if n == "Most flow at 40 °C")
    ntu = math.log((hot - cold) / (hot - 40.0))
    assert most == pytest.approx(ua / (ntu * 4186.0) * 60 / (rho(10) / 1000), rel=0.01)


def test_a_dead_leg_is_bore_times_length():
    """Plug flow: litres over litres a second. Bore of EN 1057 22 x 0.9 and 15 x 0.7."""
    got = {(f.group, f.name): f for f in figures(Waterways(sample("three-source"), standard_catalogue()))}
    litres = got["Bath", "Dead leg, water in it"].value
    assert got["Bath", "Dead leg, wait for hot water"].value == pytest.approx(litres / (18.0 / 60.0), rel=1e-9)
    assert 0.1 < litres < 3.0


def test_a_buffer_follows_en_303_5():
    """EN 303-5:2012, 15 T Q (1 - 0.3 Qh/Qmin); the sheet's own inputs put into it by hand."""
    got = {(f.group, f.name): f for f in figures(Waterways(sample("log-boiler"), standard_catalogue()))}
    buffer = next(f for (_, n), f in got.items() if n.startswith("Buffer volume"))
    burn, rated, load, least = (i.value for i in buffer.inputs)
    assert buffer.value == pytest.approx(max(300.0, 15 * burn * rated * (1 - 0.3 * load / least)), rel=1e-9)


def test_gaps_name_part_and_property():
    import msgspec

    sheet = sample("three-source")
    store = sheet.parts["store"]
    bare = msgspec.structs.replace(store, coils=tuple(msgspec.structs.replace(c, area_m2=None) for c in store.coils))
    found = figures(
        Waterways(msgspec.structs.replace(sheet, parts={**sheet.parts, "store": bare}), standard_catalogue())
    )
    gap = next(f for f in found if isinstance(f, Gap) and f.topic == "hot water" and f.name == "Yield")
    assert gap.about == ("store",) and gap.prop == "area_m2" and "surface" in gap.missing
