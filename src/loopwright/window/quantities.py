"""Numbers as people type and read them in a field: through the project's one door for units."""

from __future__ import annotations

from loopwright import units
from loopwright.errors import ValueRefused


def read_number(text: str, unit: str, *, blank: bool = True, whole: bool = False) -> float | int | None:
    """What was typed, in `unit`; None for an empty text where that is allowed. Raises ValueRefused."""
    text = text.strip()
    if not text:
        if blank:
            return None
        raise ValueRefused("This needs a number", do=f"Type it, such as 1.2 {unit}" if unit else "Type it")
    value = float(units.parse(text, unit))
    if value != value or abs(value) > 1e9:
        raise ValueRefused(f"“{text}” is not a number that can be built", do="Type another")
    value = float(f"{value:.12g}")  # 0.5 m3 is 500 l, not a hair less
    if whole:
        if value != int(value):
            raise ValueRefused(f"“{text}” is not a whole number", do="Type a count, such as 2")
        return int(value)
    return value


def show_number(value: object) -> str:
    """A number without its unit, as short as it can be said without losing a figure that matters."""
    if not isinstance(value, int | float) or isinstance(value, bool):
        return "" if value is None else str(value)
    text = f"{value:.6g}"
    return text if "e" not in text else f"{value:f}".rstrip("0").rstrip(".")


def unit_sign(unit: str) -> str:
    """A unit as it stands in a field: `degC` is °C."""
    return units.show(0.0, unit).removeprefix("0").strip() if unit else ""
