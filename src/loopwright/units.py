"""Owns typed and shown quantities: text to a number in a given unit, and a number to text.

Refuses to know which property a quantity belongs to and what its limits are. The unit registry is one, and it
is made at the first use, because making it is slow.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import TYPE_CHECKING, Literal

from loopwright.errors import ValueRefused

if TYPE_CHECKING:
    import pint

System = Literal["metric", "imperial"]

MAX_TEXT = 60
_FRACTIONS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅜": "3/8", "⅝": "5/8", "⅛": "1/8", "⅞": "7/8"}
_NUMBER = r"(?:\d+\s+\d+/\d+|\d+/\d+|\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d*)?(?:[eE][+-]?\d+)?|\.\d+)"
_PIECE = re.compile(rf"({_NUMBER})\s*([^\d\s.,+-][^\d,+-]*?)?\s*(?=\d|$)", re.ASCII)
_LENGTH = re.compile(r"(?<![\w.])([-\N{MINUS SIGN}]?\d+\.\d+) m(?![\w²³/])")
"""A length in metres as sentences write it: with a decimal, so that no name such as "Loop 2 m" is taken for one."""
_RISE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:in|to|:|/)\s*(\d+(?:\.\d+)?)", re.IGNORECASE | re.ASCII)
"""A slope as the trade says it: "1 in 120"."""
SLOPE = "m per m"
_POWER = re.compile(r"(?<![A-Za-z])(m|cm|mm|ft|in)([23])(?![A-Za-z\d])")

# What people write on site -> what the registry calls it. Gallons are imperial unless marked US.
_WORDS = {
    "'": "foot",
    "′": "foot",
    "ft": "foot",
    '"': "inch",
    "″": "inch",
    "in": "inch",
    "ins": "inch",
    "inches": "inch",
    "c": "degC",
    "°c": "degC",
    "degc": "degC",
    "deg c": "degC",
    "f": "degF",
    "°f": "degF",
    "degf": "degF",
    "deg f": "degF",
    "k": "kelvin",
    "°": "degree",
    "deg": "degree",
    "l": "litre",
    "ltr": "litre",
    "m": "metre",
    "mm": "millimetre",
    "cm": "centimetre",
    "gal": "imperial_gallon",
    "gals": "imperial_gallon",
    "gallon": "imperial_gallon",
    "gallons": "imperial_gallon",
    "imp gal": "imperial_gallon",
    "us gal": "gallon",
    "gpm": "imperial_gallon/minute",
    "h": "hour",
    "hr": "hour",
    "hrs": "hour",
    "min": "minute",
    "mins": "minute",
    "s": "second",
    "sec": "second",
    "secs": "second",
    "w": "watt",
    "kw": "kilowatt",
    "mw": "megawatt",
    "kwh": "kilowatt_hour",
    "wh": "watt_hour",
    "btu": "Btu",
    "bar": "bar",
    "mbar": "millibar",
    "pa": "pascal",
    "kpa": "kilopascal",
    "psi": "psi",
    "in wg": "inch_H2O",
    "inwg": "inch_H2O",
    "lpm": "litre/minute",
    "kg": "kilogram",
    "lb": "pound",
    "%": "percent",
}
# Unit -> (noun with its article, examples for whoever typed something else).
_NOUNS = {
    "": ("a plain number", "3 or 0.5"),
    "percent": ("a percentage", "10 or 10 %"),
    "metre": ("a length", "28 mm or 1 in"),
    "metre**2": ("an area", "2.5 m² or 27 ft²"),
    "metre**3": ("a volume", "250 l or 55 gal"),
    "watt": ("a power", "8 kW or 20000 Btu/h"),
    "joule": ("an amount of heat", "25 kWh or 85000 Btu"),
    "pascal": ("a pressure", "3 bar or 45 psi"),
    "second": ("a time", "2 h or 90 min"),
    "degC": ("a temperature", "80 °C or 176 °F"),
    "metre**3/second": ("a flow of water", "12 l/min or 0.7 m³/h"),
    "kilogram/second": ("a flow by weight", "1200 kg/h"),
    "metre/second": ("a speed", "0.8 m/s or 2.6 ft/s"),
    "watt/kelvin": ("a conductance", "1500 W/K"),
    "pascal/metre": ("a pressure loss", "300 Pa/m"),
    "degree": ("an angle", "40 or 40°"),
    SLOPE: ("a slope", "1 in 120 or 8 mm per m"),
}
_SIGNS = {"degC": " °C", "deg": "°", "%": " %"}
# Metric unit -> (imperial unit for the registry, as shown, significant figures).
_IMPERIAL = {
    "m": ("foot", " ft", 4),  # shown as feet and inches
    "mm": ("inch", " in", 4),
    "m²": ("foot**2", " ft²", 4),
    "kW": ("Btu/hour", " Btu/h", 4),
    "W": ("Btu/hour", " Btu/h", 4),
    "l": ("imperial_gallon", " gal", 4),
    "kPa": ("psi", " psi", 4),
    "l/min": ("imperial_gallon/minute", " gal/min", 4),
    "m³/h": ("imperial_gallon/minute", " gal/min", 4),
    "l/h": ("imperial_gallon/hour", " gal/h", 4),
    "bar": ("psi", " psi", 4),
    "Pa": ("inch_H2O", " in wg", 4),
    "kg/h": ("pound/hour", " lb/h", 4),
    "degC": ("degF", " °F", 4),
    "°C": ("degF", " °F", 4),
    "K": ("delta_degF", " °F", 4),
    "m/s": ("foot/second", " ft/s", 4),
    "W/K": ("Btu/hour/delta_degF", " Btu/h/°F", 4),
}


@cache
def registry() -> pint.UnitRegistry:
    """The one unit registry. Making it takes a good part of a second, so nothing makes it on import."""
    import pint

    return pint.UnitRegistry(autoconvert_offset_to_baseunit=False, cache_folder=None)


def parse(text: str, unit: str, system: System = "metric") -> float:
    """The quantity that `text` says, as a finite float in `unit`.

    `unit` is one of the catalogue's ("mm", "degC", "l/min", "" for a plain number). A bare number is in `unit`, or in
    the unit that `system` shows in its place: feet for metres. Every other number is in the unit that stands with it.
    Takes decimals, 20,000, fractions (1 1/2 in, ½ in), and sums (6 ft 2 in, 1 h 30 min). Where `unit` is "K", a
    difference is meant: 18 °F is 10 K. A slope ("m per m") may be typed as 1 in 120 or 1:120. Raises ValueRefused.
    """
    said = text.strip()
    if not said:
        raise ValueRefused("Nothing was typed", do=f"Try {_noun(unit)[1]}")
    if len(said) > MAX_TEXT:
        raise ValueRefused(f"“{said[:20]}…” is too long for a value", do=f"Try {_noun(unit)[1]}")
    plain = said
    for sign, fraction in _FRACTIONS.items():
        plain = plain.replace(sign, f" {fraction}")
    plain = _POWER.sub(lambda found: found[1] + "  ²³"[int(found[2])], plain.strip().replace("−", "-"))
    negative = plain.startswith("-")
    rise = _RISE.fullmatch(plain) if unit == SLOPE else None
    if rise and float(rise[2]):
        return float(rise[1]) / float(rise[2])
    try:
        bare = _IMPERIAL[unit][0] if system == "imperial" and unit in _IMPERIAL else ""
        value = _sum(plain[1:] if plain[0] in "+-" else plain, unit, negative, bare)
    except (ValueError, ArithmeticError):
        value = math.nan
    if not math.isfinite(value):
        noun, examples = _noun(unit)
        raise ValueRefused(f"“{said}” is not {noun}", do=f"Try {examples}") from None
    return value


def show(value: float, unit: str, system: System = "metric", figures: int = 0) -> str:
    """`value` in `unit` as words for people: "28 mm", "80 °C", or in imperial units "1.102 in", "176 °F".

    `figures` is how many figures of the number matter; 0 leaves that to the unit. A slope is "1 in 120".
    """
    if unit == SLOPE:
        return f"1 in {_digits(1.0 / value, 3)}" if value > 0 else "0"
    if system == "imperial" and unit in _IMPERIAL:
        name, sign, usual = _IMPERIAL[unit]
        if unit == "m":
            return _feet_and_inches(value, figures or usual)
        return _digits(_convert(value, _unit(unit, difference=unit == "K"), name), figures or usual) + sign
    return _digits(value, figures or 6) + sign_of(unit)


def height(value_m: float, system: System = "metric") -> str:
    """A height or a place in a building as a tape reads it: "2.60 m", or "8 ft 6.5 in" to the half inch."""
    if system == "metric":
        return f"{value_m:.2f} m"
    feet, inches = divmod(round(abs(value_m) / 0.0254 * 2.0) / 2.0, 12.0)
    return f"{'-' if value_m < 0 and (feet or inches) else ''}{feet:.0f} ft {inches:g} in"


def restated(words: str, system: System = "metric") -> str:
    """A sentence with its lengths in metres ("0.91 m") as `height` says them; all else stays as it was written."""
    if system == "metric":
        return words
    return _LENGTH.sub(lambda found: height(float(found[1].replace("\N{MINUS SIGN}", "-")), system), words)


def sign_of(unit: str, system: System = "metric") -> str:
    """The sign that `show` sets after a number, with its space; none for slopes and for feet and inches, which stand
    in the number."""
    if system == "imperial" and unit in _IMPERIAL:
        return "" if unit == "m" else _IMPERIAL[unit][1]
    if unit == SLOPE:
        return ""
    return _SIGNS.get(unit, f" {unit}" if unit else "")


def _feet_and_inches(value_m: float, figures: int) -> str:
    """A length as it stands on a rule: "4 ft 3.18 in"; feet alone or inches alone where the other is nil."""
    inches = float(_digits(abs(value_m) / 0.0254, figures))
    feet, rest = divmod(inches, 12.0)
    words = [f"{feet:.0f} ft"] if feet else []
    over = _digits(round(rest, 6), figures)
    if over != "0" or not feet:
        words.append(f"{over} in")
    return ("-" if value_m < 0 and inches else "") + " ".join(words)


def _digits(value: float, figures: int) -> str:
    """A decimal number of about so many figures, never with an exponent and never with idle noughts."""
    if value == 0 or not math.isfinite(value):
        return "0" if value == 0 else str(value)
    places = max(0, figures - 1 - math.floor(math.log10(abs(value))))
    shown = f"{value:.{places}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def _sum(text: str, unit: str, negative: bool, bare: str) -> float:
    """The signed sum of every number with its unit in `text`; `bare` is the registry's unit of one that has none.

    Raises ValueError where it makes no sense.
    """
    pieces: list[tuple[float, str]] = []
    at = 0
    while at < len(text):
        found = _PIECE.match(text, at)
        if found is None:
            raise ValueError(text)
        pieces.append((_number(found[1]), found[2] or ""))
        at = found.end()
    if not pieces or (len(pieces) > 1 and (unit == "degC" or not all(word for _, word in pieces))):
        raise ValueError(text)
    sign = -1.0 if negative else 1.0
    return sum(_one(sign * number, word, unit, bare) for number, word in pieces)


def _number(text: str) -> float:
    total = 0.0
    for part in text.replace(",", "").split():
        top, _, bottom = part.partition("/")
        total += float(top) / float(bottom) if bottom else float(top)
    return total


def _one(number: float, word: str, unit: str, bare: str) -> float:
    difference = unit == "K"
    if not word:
        return _convert(number, bare, _unit(unit, difference=difference)) if bare else number
    if not unit:
        raise ValueError(word)
    return _convert(number, _unit(word, difference=difference), _unit(unit, difference=difference))


def _convert(number: float, name: str, to: str) -> float:
    """`number` of one registry unit in another. Raises ValueError where they measure different things."""
    if name == to:
        return number
    from pint.errors import PintError

    try:
        return float(registry().Quantity(number, name).to(to).magnitude)
    except (PintError, ArithmeticError, TypeError) as bad:
        raise ValueError(f"{name} is not {to}") from bad


def _unit(word: str, *, difference: bool = False) -> str:
    """Site spelling to a product of registry names. Raises ValueError for anything but short unit words."""
    text = word.strip().replace("²", "2").replace("³", "3").replace(" per ", "/").rstrip(".")
    if not re.fullmatch(r"[A-Za-z°%'\"′″/ 23]{1,24}", text):
        raise ValueError(word)
    names = []
    for factor in text.split("/"):
        stem, power = factor.strip(), ""
        if stem[-1:] in ("2", "3"):
            stem, power = stem[:-1], f"**{stem[-1]}"
        name = _WORDS.get(stem.lower(), stem)
        if not re.fullmatch(r"[A-Za-z_0-9/]+", name) or not _known(name):
            raise ValueError(word)
        names.append(name + power)
    if difference or len(names) > 1:
        names = [{"degC": "delta_degC", "degF": "delta_degF"}.get(n, n) for n in names]
    return "/".join(names)


@cache
def _known(name: str) -> bool:
    """Whether the registry knows every unit of a quotient."""
    ureg = registry()
    return all(part in ureg for part in name.split("/"))


@cache
def _noun(unit: str) -> tuple[str, str]:
    """What a quantity in `unit` is called, with its article, and examples of it."""
    if not unit or unit == SLOPE:
        return _NOUNS[unit]
    if unit == "K":
        return ("a temperature difference", "6 K or 11 °F")
    if unit == "mm" or unit == "m":
        return _NOUNS["metre"]
    ureg = registry()
    measured = ureg.Unit(_unit(unit))
    if measured == ureg.Unit("percent"):
        return _NOUNS["percent"]
    if measured == ureg.Unit("degree"):
        return _NOUNS["degree"]
    for name, words in _NOUNS.items():
        if name and name not in ("percent", "degree") and ureg.Unit(name).dimensionality == measured.dimensionality:
            return words
    return (f"a value in {unit}", f"a number of {unit}")
