"""Checks of typed and shown quantities. Factors: NIST SP 811 Appendix B.8 and the UK Units of Measurement
Regulations (imperial gallon 4.546 09 l), from memory."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loopwright.catalogue import standard_catalogue
from loopwright.errors import ValueRefused
from loopwright.units import parse, show

UNITS = sorted({p.unit for k in standard_catalogue() for p in k.props if p.kind == "number"} | {"m/s", "l/h", "%"})


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("28 mm", "mm", 28.0),
        ("28mm", "m", 0.028),
        ("1 in", "mm", 25.4),
        ('1"', "mm", 25.4),
        ("1/2 in", "mm", 12.7),
        ("½ in", "mm", 12.7),
        ("1½ in", "mm", 38.1),
        ("1 1/2 in", "mm", 38.1),
        ("6 ft", "m", 1.8288),
        ("6 ft 2 in", "m", 1.8796),
        ("6'2\"", "m", 1.8796),
        ("6ft2in", "m", 1.8796),
        ("-6 ft 2 in", "m", -1.8796),
        ("2.5", "m", 2.5),
        ("20000 Btu/h", "kW", 5.861422),
        ("20,000 Btu/h", "kW", 5.861422),
        ("8 kw", "kW", 8.0),
        ("8000 W", "kW", 8.0),
        ("80", "degC", 80.0),
        ("80 °C", "degC", 80.0),
        ("80C", "degC", 80.0),
        ("176 °F", "degC", 80.0),
        ("176F", "degC", 80.0),
        ("-40 °F", "degC", -40.0),
        ("353.15 K", "degC", 80.0),
        ("18 °F", "K", 10.0),
        ("6 K", "K", 6.0),
        ("6 °C", "K", 6.0),
        ("1 gal", "l", 4.54609),
        ("1 us gal", "l", 3.785412),
        ("10 gal/min", "l/min", 45.4609),
        ("0.25 m3", "l", 250.0),
        ("1 ft2", "m²", 0.09290304),
        ("1 m³/h", "l/min", 1000 / 60),
        ("1 h 30 min", "h", 1.5),
        ("90 min", "h", 1.5),
        ("14.5038 psi", "bar", 1.0),
        ("1 in wg", "Pa", 249.0889),
        ("30 kPa", "bar", 0.3),
        ("1 ft²", "m²", 0.09290304),
        ("40°", "deg", 40.0),
        ("1500 W/K", "W/K", 1500.0),
        ("1 Btu/h/°F", "W/K", 0.5275279),
        ("1.5 kW/K", "W/K", 1500.0),
        ("10 %", "%", 10.0),
        ("3", "", 3.0),
        (".5", "", 0.5),
        ("1e3", "", 1000.0),
        ("−5", "degC", -5.0),
        ("1 in 120", "m per m", 1 / 120),
        ("1:40", "m per m", 0.025),
        ("8 mm per m", "m per m", 0.008),
    ],
)
def test_what_people_type(text: str, unit: str, value: float) -> None:
    assert parse(text, unit) == pytest.approx(value, rel=2e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "unit", "sentence"),
    [
        ("28 mn", "mm", "“28 mn” is not a length. Try 28 mm or 1 in."),
        ("8 kg", "kW", "“8 kg” is not a power. Try 8 kW or 20000 Btu/h."),
        ("warm", "degC", "“warm” is not a temperature. Try 80 °C or 176 °F."),
        ("", "bar", "Nothing was typed. Try 3 bar or 45 psi."),
        ("3 mm", "", "“3 mm” is not a plain number. Try 3 or 0.5."),
    ],
)
def test_sentences(text: str, unit: str, sentence: str) -> None:
    with pytest.raises(ValueRefused) as refused:
        parse(text, unit)
    assert refused.value.sentence == sentence


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("6", "m", 1.8288),
        ("6 2", "m", None),
        ("4' 3 1/8\"", "m", 1.298575),
        ("1.2 m", "m", 1.2),
        ("1", "mm", 25.4),
        ("28 mm", "mm", 28.0),
        ("176", "degC", 80.0),
        ("80 C", "degC", 80.0),
        ("18", "K", 10.0),
        ("2", "h", 2.0),
        ("3", "", 3.0),
    ],
)
def test_a_bare_number_is_in_the_unit_that_is_shown(text: str, unit: str, value: float | None) -> None:
    """Foot 0.3048 m, inch 25.4 mm, degF as above; any unit typed with it is taken as it is."""
    if value is None:
        with pytest.raises(ValueRefused):
            parse(text, unit, "imperial")
    else:
        assert parse(text, unit, "imperial") == pytest.approx(value)


@pytest.mark.parametrize(
    "text",
    [
        "nan",
        "inf",
        "1e999",
        "1/0 in",
        "1,5 m",
        "2 m 3",
        "m",
        "--3",
        "3 + 4 m",
        "1 2 3",
        "2**9**9 m",
        "9" * 70,
        "1 m**2",
        "().__class__",
        "1:120",
        "3 m/s",
        "5 dimensionless",
        "\x00",
        "1 m m",
        "٣ m²",
    ],
)
def test_refused_as_a_length(text: str) -> None:
    with pytest.raises(ValueRefused):
        parse(text, "m")


@given(st.text(max_size=70), st.sampled_from(UNITS))
def test_any_text_gives_a_number_or_a_refusal(text: str, unit: str) -> None:
    try:
        value = parse(text, unit)
    except ValueRefused as refused:
        assert refused.do
    else:
        assert abs(value) < float("inf")


@pytest.mark.parametrize(
    ("value", "unit", "system", "words"),
    [
        (28.0, "mm", "metric", "28 mm"),
        (80.0, "degC", "metric", "80 °C"),
        (26.2, "mm", "metric", "26.2 mm"),
        (0.1, "bar", "metric", "0.1 bar"),
        (20000.0, "l", "metric", "20000 l"),
        (1.3, "", "metric", "1.3"),
        (40.0, "deg", "metric", "40°"),
        (0.0, "m", "metric", "0 m"),
        (25.4, "mm", "imperial", "1 in"),
        (80.0, "degC", "imperial", "176 °F"),
        (10.0, "K", "imperial", "18 °F"),
        (5.861422, "kW", "imperial", "20000 Btu/h"),
        (1.8288, "m", "imperial", "6 ft"),
        (3.0, "bar", "imperial", "43.51 psi"),
        (1.3, "m", "imperial", "4 ft 3.18 in"),
        (-0.9144, "m", "imperial", "-3 ft"),
        (0.1, "m", "imperial", "3.937 in"),
        (0.0, "m", "imperial", "0 in"),
        (0.30479, "m", "imperial", "1 ft"),
        (453.59237, "kg/h", "imperial", "1000 lb/h"),
        (80.0, "°C", "imperial", "176 °F"),
        (2.0, "h", "imperial", "2 h"),
    ],
)
def test_what_people_read(value: float, unit: str, system: str, words: str) -> None:
    assert show(value, unit, system) == words  # type: ignore[arg-type]


@given(st.floats(min_value=0.01, max_value=100000), st.sampled_from(UNITS), st.sampled_from(["metric", "imperial"]))
def test_what_is_shown_can_be_typed(value: float, unit: str, system: str) -> None:
    """Nothing is lost but the rounding: four figures of the shown number, which for degF counts from its zero."""
    slack = 0.06 if unit == "degC" else 0.0
    assert parse(show(value, unit, system), unit) == pytest.approx(value, rel=1e-3, abs=slack)  # type: ignore[arg-type]


def test_no_registry_before_it_is_needed() -> None:
    """Opening the window must not wait for the registry."""
    code = "import sys, loopwright.units as u; u.show(3.0, 'bar'); assert 'pint' not in sys.modules"
    subprocess.run([sys.executable, "-c", code], check=True)


@pytest.mark.parametrize(("value", "words"), [(0.0083333, "1 in 120"), (0.005, "1 in 200"), (0.0, "0")])
def test_a_slope_is_said_as_it_is_laid(value, words):
    for system in ("metric", "imperial"):
        assert show(value, "m per m", system) == words
