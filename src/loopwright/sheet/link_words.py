"""The condition of a control link as a few words, and read again from words: “runs below 60 °C until 65 °C”.

Owns this small language. Knows nothing of panels; what a link does to the water is for others.
"""

from __future__ import annotations

import re

import msgspec

from loopwright import units
from loopwright.errors import LoopwrightError, SheetError
from loopwright.sheet.links import USUAL_K, USUAL_OFF_K
from loopwright.sheet.values import ControlLink

VERBS = {"run": "runs", "open": "opens", "shut": "shuts", "close": "shuts", "stop": "stops", "start": "runs"}
ABOVE, BELOW = ("above", "over", "warmer", "hotter"), ("below", "under", "colder", "cooler")
SORTS = {
    ("runs", True): "runs_above",
    ("runs", False): "runs_below",
    ("stops", True): "stops_above",
    ("opens", True): "opens_above",
    ("shuts", True): "shuts_above",
}
FORMS = "runs below 60 °C until 65 °C, stops above 85 °C, runs 6 K above and stops at 3 K, or by the clock"
LONGEST, HOTTEST = 80, 1000.0
_NUMBER = r"[-\N{MINUS SIGN}]?\d+(?:\.\d+)?\s*(?:°\s*)?(?:[ckf]\b)?"


def condition_of(link: ControlLink, system: units.System = "metric") -> str:
    """The condition in the words that `with_condition` reads."""
    if link.does == "schedule":
        return "runs by the clock"

    def said(value: float | None, unit: str) -> str:
        return units.show(value, unit, system) if value is not None else "?"

    if link.does == "difference":
        until = f" and stops at {said(link.off_c, 'K')}" if link.off_c is not None else ""
        first = said(link.setting_c, "K")
        # a degree Fahrenheit does not say whether it is one of a difference
        return f"runs {first} above{until}" if system == "metric" else f"runs at a difference of {first}{until}"
    until = f" until {said(link.off_c, 'degC')}" if link.off_c is not None else ""
    verb, side = link.does.split("_")
    return f"{verb} {side} {said(link.setting_c, 'degC')}{until}"


def with_condition(link: ControlLink, text: str, system: units.System = "metric") -> ControlLink:
    """The link under the condition that the words say; sensors and target stay. Raises SheetError with the forms."""
    text = " ".join(text[:LONGEST].split())
    words = text.lower().replace(",", " ")
    if "clock" in words or "schedule" in words or "programmer" in words:
        return msgspec.structs.replace(link, does="schedule", setting_c=None, off_c=None)
    numbers = re.findall(_NUMBER, words)
    kelvin = bool(re.search(r"\d\s*k\b", words)) or "difference" in words
    if kelvin:
        first, off = _two(numbers, "K", system, text)
        return msgspec.structs.replace(
            link,
            does="difference",
            setting_c=USUAL_K if first is None else first,
            off_c=off if off is not None else min(USUAL_OFF_K, first or USUAL_K),
        )
    verb = next((said for root, said in VERBS.items() if re.search(rf"\b{root}", words)), "runs")
    sides = [above for above, signs in ((True, ABOVE), (False, BELOW)) if any(sign in words for sign in signs)]
    setting, off = _two(numbers, "degC", system, text)
    sort = SORTS.get((verb, sides[0])) if len(sides) == 1 else None
    if sort is None or setting is None:
        raise SheetError(f"“{text}” is no condition", do=f"Say {FORMS}")
    return msgspec.structs.replace(link, does=sort, setting_c=setting, off_c=off)


def _two(numbers: list[str], unit: str, system: units.System, text: str) -> tuple[float | None, float | None]:
    """The first and second number as temperatures or differences."""
    if len(numbers) > 2:
        raise SheetError(f"“{text}” holds more than two temperatures", do=f"Say {FORMS}")
    try:
        read = [float(f"{units.parse(n.replace('° ', '°'), unit, system):.6g}") for n in numbers]
    except LoopwrightError:
        raise SheetError(f"“{text}” is no condition", do=f"Say {FORMS}") from None
    if any(abs(number) > HOTTEST for number in read):
        raise SheetError(f"“{text}” is hotter or colder than any house", do=f"Say {FORMS}")
    first, second = [*read, None, None][:2]
    return first, second
