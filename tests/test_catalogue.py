"""Checks of the shipped kinds and of the refusal of bad kind files."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from loopwright.catalogue import Behaviour, Kind, standard_catalogue, user_catalogue
from loopwright.catalogue.reader import load_catalogue
from loopwright.errors import KindError

# Trade names that a plumber looks for: common practice, no source.
_IDS = """
heat_store cylinder_indirect cylinder_direct cylinder_single_feed low_loss_header open_manifold
drain_down_vessel boiler_stove boiler_stove_3 boiler_stove_4 log_boiler boiler_oil boiler_gas boiler_electric
boiler_pellet boiler_built_in_pump heat_pump solar_collector immersion_heater radiator heat_leak_radiator
towel_rail underfloor_manifold fan_convector plate_heat_exchanger pump loading_unit_4 loading_unit_4_flap
loading_unit_3 loading_unit_3_flap solar_pump_unit isolating_valve lockshield_valve wheelhead_valve
thermostatic_radiator_valve check_valve flap_valve anti_gravity_check motorised_2port motorised_3port
mixing_valve return_temperature_valve balancing_valve automatic_bypass_valve pressure_reducing_valve
relief_valve tp_relief_valve thermal_discharge_valve tundish discharge_point feed_expansion_cistern
cold_water_cistern expansion_vessel expansion_vessel_solar expansion_vessel_potable filling_loop
double_check_valve disconnector air_vent_auto air_vent_manual air_separator drain_cock strainer pressure_gauge
mains_supply stop_valve basin bath shower sink tee cross cap injector_tee union open_end cylinder_thermostat
pipe_thermostat flue_thermostat room_thermostat high_limit_thermostat temperature_sensor programmer
differential_controller flow_switch
"""
IDS = _IDS.split()
KINDS = list(standard_catalogue())


def test_every_kind_that_a_plumber_looks_for_is_there() -> None:
    assert set(IDS) <= {k.id for k in KINDS}


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.id)
def test_words_and_numbers(kind: Kind) -> None:
    """Every kind and property can be read by a person, and every default lies within its hard limits."""
    assert kind.name and kind.help.endswith(".") and kind.synonyms
    assert kind.name.lower() not in {s.lower() for s in kind.synonyms}
    for prop in kind.props:
        assert prop.label and prop.help.endswith("."), prop.name
        assert not prop.label.endswith(".")
        low = -math.inf if prop.least is None else prop.least
        high = math.inf if prop.most is None else prop.most
        if prop.kind == "number":
            assert prop.usual is not None and low <= prop.usual[0] < prop.usual[1] <= high, prop.name
            assert prop.default is None or low <= float(prop.default) <= high, prop.name


@pytest.mark.parametrize("kind", KINDS, ids=lambda k: k.id)
def test_ports_lie_on_the_outside(kind: Kind) -> None:
    """A pipe leaves away from the part, and no two ports are in one place, in every layout."""
    for moved in kind.layouts.values() or [{}]:
        places = [(moved.get(p.name) or p) for p in kind.ports]
        assert len({p.at for p in places}) == len(places)
        for place in places:
            x, z = place.at if kind.large else (place.at[0] / 0.12, place.at[1] / 0.12)
            if kind.large:
                z = 2 * z - 1
            out = {"left": -x, "right": x, "up": z, "down": -z}[place.side]
            assert out > 0, (kind.id, place)


def _passes(kind: Kind, *does: Behaviour) -> set[frozenset[str]]:
    return {frozenset((w.a, w.b)) for w in kind.ways if w.does in does}


def test_heights_of_defaults_agree_with_the_box() -> None:
    for kind in KINDS:
        height, width = kind.prop("body_height_m"), kind.prop("body_diameter_m") or kind.prop("width_m")
        assert height is None or height.default == kind.height_m, kind.id
        assert width is None or width.default == kind.width_m, kind.id


@pytest.mark.parametrize("name", ["heat_store", "cylinder_indirect", "cylinder_single_feed"])
def test_volume_of_a_vessel_fits_its_body(name: str) -> None:
    """Litres within a fifth of pi d^2 h / 4: domed ends take some, and no body holds more than that."""
    kind = standard_catalogue()[name]
    value = {p.name: p.default for p in kind.props}
    litres = math.pi / 4 * float(value["body_diameter_m"]) ** 2 * float(value["body_height_m"]) * 1000
    assert 0.8 * litres < float(value["volume_l"]) < 1.01 * litres


def test_cistern_fills_to_its_lines() -> None:
    """Water line below overflow, below rim; content to the room above it goes as their depths."""
    for name in ("feed_expansion_cistern", "cold_water_cistern"):
        kind = standard_catalogue()[name]
        value = {p.name: float(p.default) for p in kind.props if p.kind == "number"}
        overflow = kind.port("overflow")
        assert overflow is not None
        assert 0 < value["water_line_m"] < value["overflow_m"] < kind.height_m
        assert overflow.at[1] * kind.height_m == pytest.approx(value["overflow_m"], abs=0.002)
        plan = value["content_l"] / value["water_line_m"]
        room = plan * (value["overflow_m"] - value["water_line_m"])
        assert value["expansion_room_l"] == pytest.approx(room, rel=0.1)
        assert all(p.at[1] > 1.0 for p in kind.ports if p.role == "vent")


def test_drain_down_vessel_room() -> None:
    kind = standard_catalogue()["drain_down_vessel"]
    value = {p.name: float(p.default) for p in kind.props if p.kind == "number"}
    room = value["volume_l"] * (1 - value["water_line_m"] / value["body_height_m"])
    assert value["air_room_l"] == pytest.approx(room)


def test_loading_unit_by_what_it_must_do() -> None:
    """A loading unit mixes before the pump, and the flap passes the pump: common practice, no source."""
    cat = standard_catalogue()
    for name in ("loading_unit_4_flap", "loading_unit_3_flap"):
        kind = cat[name]
        assert _passes(kind, Behaviour.PUMP) == {frozenset({"mix", "boiler_return"})}
        flap = next(w for w in kind.ways if w.name == "flap")
        assert (flap.a, flap.b, flap.gravity_ok) == ("store_return", "boiler_return", True)
        assert kind.positions == {"bypass": ("bypass",), "store": ("thermal",), "both": ("bypass", "thermal")}
    for name in ("loading_unit_4", "loading_unit_3"):
        assert not _passes(cat[name], Behaviour.ONE_WAY)


def test_only_a_flap_opens_by_warm_water_alone() -> None:
    """Spring and weighted checks hold against buoyancy, a light flap does not: common practice, no source."""
    cat = standard_catalogue()
    gravity = {k.id for k in cat for w in k.ways if w.gravity_ok}
    assert gravity == {"flap_valve", "loading_unit_4_flap", "loading_unit_3_flap"}


def test_sources_stop_as_they_do() -> None:
    """A fire burns on, pellets leave embers, the sun shines on: common practice, no source."""
    stops = {k.id: k.source.stops for k in KINDS if k.source}
    assert {i for i, s in stops.items() if s == "fire"} == {
        "boiler_stove",
        "boiler_stove_3",
        "boiler_stove_4",
        "log_boiler",
    }
    assert stops["boiler_pellet"] == "residual" and stops["solar_collector"] == "sun"
    for name in ("boiler_gas", "boiler_oil", "boiler_electric", "heat_pump", "immersion_heater"):
        assert stops[name] == "switched"


def test_what_only_a_maker_knows_is_asked_for() -> None:
    for kind in KINDS:
        for name in ("sealed_allowed", "charge_kwh", "burn_time_h", "residual_kw", "output_without_fan_w"):
            prop = kind.prop(name)
            assert prop is None or prop.default is None, (kind.id, name)


def test_published_settings() -> None:
    """EN 1490 valves keep stored water at or under 100 degC; EN 14597 discharge valves open about 95 degC;
    3 bar relief is usual on a dwelling's sealed heating (common practice, no source)."""
    cat = standard_catalogue()
    assert 90 <= cat["tp_relief_valve"].prop("setting_c").default <= 100
    assert cat["thermal_discharge_valve"].prop("opens_c").default == 95
    assert cat["relief_valve"].prop("setting_bar").default == 3


def test_four_tapping_stove_uses_opposite_corners() -> None:
    """Each pair of a four-tapping stove crosses the waterway: common practice, no source."""
    kind = standard_catalogue()["boiler_stove_4"]
    for flow, back in (("flow", "return"), ("flow_2", "return_2")):
        hot, cold = kind.port(flow), kind.port(back)
        assert hot.at[1] > cold.at[1] and hot.at[0] == -cold.at[0]


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        ("header tank", "feed_expansion_cistern"),
        ("trv", "thermostatic_radiator_valve"),
        ("thermal store", "heat_store"),
        ("nrv", "check_valve"),
        ("zone valve", "motorised_2port"),
        ("stopcock", "stop_valve"),
        ("tmv", "mixing_valve"),
        ("back boiler", "boiler_stove"),
    ],
)
def test_found_by_trade_words(words: str, wanted: str) -> None:
    """Words heard on site: common practice, no source."""
    assert wanted in [k.id for k in standard_catalogue().find(words)]


# --- a person's own kinds ---------------------------------------------------------------------------------
GOOD = """
group = "Ours"
[pool]
like = "radiator"
name = "Pool exchanger"
help = "Warms a pool."
letter = "pool"
[pool.props]
output_w = 5000.0
layout = "bottom_opposite"
"""


def test_a_folder_adds_a_kind(tmp_path: Path) -> None:
    (tmp_path / "pool.toml").write_text(GOOD, encoding="utf-8")
    cat = user_catalogue(tmp_path)
    assert len(cat) == len(KINDS) + 1
    pool = cat["pool"]
    assert pool.group == "Ours" and list(cat.groups())[-1] == "Ours"
    assert pool.prop("output_w").default == 5000.0
    assert pool.prop("exponent").default == cat["radiator"].prop("exponent").default
    assert pool.port("flow") == cat["radiator"].port("flow")
    assert "pool" not in standard_catalogue()


HEAD = '[odd]\nname = "Odd"\ngroup = "Ours"\nhelp = "Odd."\n'
PORT = '[odd.ports]\na = { at = [-0.12, 0.0], side = "left" }\nb = { at = [0.12, 0.0], side = "right" }\n'


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (HEAD + "colour = 'red'\n", ["odd", "colour"]),
        (HEAD + PORT + "c = { at = [0.0, 0.1], side = 'up', size = '22' }\n", ["odd", "ports.c", "size"]),
        (HEAD + "[odd.ports]\na = { at = [-0.12, 0.0], side = 'north' }\n", ["odd", "ports.a", "north"]),
        (HEAD + "[odd.ports]\na = 'left'\n", ["odd", "ports.a"]),
        (HEAD + "[odd.ports]\na = { at = [nan, 0.0], side = 'left' }\n", ["odd", "at"]),
        (HEAD + "width_m = 'wide'\n", ["odd", "width_m"]),
        (HEAD + PORT + "[odd.ways]\nw = { a = 'a', b = 'c', does = 'free' }\n", ["odd", "“w”", "“c”"]),
        (HEAD + PORT + "[odd.ways]\nw = { a = 'a', b = 'b', does = 'leaks' }\n", ["odd", "ways.w", "leaks"]),
        (HEAD + PORT + "[odd.ways]\nw = { a = 'a', b = 'b', does = 'pipe' }\n", ["odd", "“w”", "pipe"]),
        (HEAD + "positions = { up = ['w'] }\ntied_by = 'hand'\n", ["odd", "“up”", "“w”"]),
        (HEAD + "body = 'bucket'\n", ["odd", "bucket"]),
        (HEAD + "source = { stops = 'fire' }\n", ["odd", "hot"]),
        (HEAD + "inner = { hot = [0, 0.1], cold = [0, 0] }\nsource = { stops = 'fire' }\n", ["odd", "heats no way"]),
        (HEAD + "[odd.props]\nshine = 3.0\n", ["odd", "shine"]),
        (HEAD + "[odd.props]\nrating_bar = 'high'\n", ["odd", "rating_bar"]),
        (HEAD + "[odd.props]\nrating_bar = 4000.0\n", ["odd", "rating_bar", "limits"]),
        (HEAD + "[odd.props]\nrating_bar = inf\n", ["odd", "rating_bar"]),
        (HEAD + "[odd.props]\nrest = 'ajar'\n", ["odd", "rest", "choices"]),
        (HEAD + "[odd.props]\nshine = { label = 'Shine' }\n", ["odd", "props.shine", "help"]),
        ("[odd]\nlike = 'nothing'\n", ["odd", "nothing"]),
        ("[odd]\nname = 'Odd'\n", ["odd", "help"]),
        ("odd = 3\n", ["odd"]),
        ("group = 3\n", ["group"]),
        ("[odd\n", ["not TOML"]),
        ("[pump]\nname = 'P'\ngroup = 'g'\nhelp = 'h'\n", ["pump", "twice"]),
    ],
)
def test_a_bad_file_is_refused_by_file_and_key(tmp_path: Path, text: str, words: list[str]) -> None:
    (tmp_path / "odd-parts.toml").write_text(text, encoding="utf-8")
    with pytest.raises(KindError) as refused:
        user_catalogue(tmp_path)
    said = refused.value.sentence
    assert "odd-parts.toml" in said and refused.value.do
    for word in words:
        assert word in said, said


def test_bytes_and_bulk_are_refused(tmp_path: Path) -> None:
    (tmp_path / "odd.toml").write_bytes(b"\xff\xfe[pump]")
    with pytest.raises(KindError, match=r"odd\.toml"):
        load_catalogue([tmp_path])
    (tmp_path / "odd.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(KindError, match=r"odd\.toml"):
        load_catalogue([tmp_path])


def test_unknown_kind_is_named() -> None:
    with pytest.raises(KindError, match="“pumpe”"):
        _ = standard_catalogue()["pumpe"]


def test_an_empty_table_clears_what_the_other_kind_filled_in(tmp_path: Path) -> None:
    """Nobody can guess whether a packaged boiler carries its own relief valve; one without a pump has none."""
    packaged = standard_catalogue()["boiler_built_in_pump"].prop("relief_built_in")
    assert packaged is not None and packaged.default is None and packaged.label == "Relief valve built in"
    plain = standard_catalogue()["boiler_oil"].prop("relief_built_in")
    assert plain is not None and plain.default is False
    (tmp_path / "odd.toml").write_text(
        "[odd]\nlike = 'boiler_oil'\nname = 'Odd'\n[odd.props]\ncontent_l = {}\n", encoding="utf-8"
    )
    content = user_catalogue(tmp_path)["odd"].prop("content_l")
    assert content is not None and content.default is None and content.unit == "l"
