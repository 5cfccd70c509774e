"""Numbers as people type and read them in a field: through the project's one door for units."""

from __future__ import annotations

from dataclasses import dataclass

from loopwright import units
from loopwright.errors import ValueRefused


def read_number(
    text: str, unit: str, *, blank: bool = True, whole: bool = False, system: units.System = "metric"
) -> float | int | None:
    """What was typed, in `unit`; None for an empty text where that is allowed. Raises ValueRefused.

    A bare number is in the unit that `system` shows; any other unit may be typed with it.
    """
    text = text.strip()
    if not text:
        if blank:
            return None
        raise ValueRefused("This needs a number", do=f"Type it, such as 1.2 {unit}" if unit else "Type it")
    value = float(units.parse(text, unit, system))
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
    return units.sign_of(unit).strip()


@dataclass(frozen=True)
class Units:
    """The units a person prefers: how numbers are shown, and what a number typed without a unit means."""

    system: units.System = "metric"

    def read(self, text: str, unit: str, *, blank: bool = True, whole: bool = False) -> float | int | None:
        """As `read_number`."""
        return read_number(text, unit, blank=blank, whole=whole, system=self.system)

    def show(self, value: object, unit: str) -> str:
        """A number without its unit sign: `units.show` in imperial units, all figures that matter in metric ones."""
        metric = self.system == "metric" and unit != units.SLOPE
        if not isinstance(value, int | float) or isinstance(value, bool) or metric:
            return show_number(value)
        return units.show(value, unit, self.system).removesuffix(units.sign_of(unit, self.system))

    def about(self, value: float, unit: str) -> str:
        """A round number without its unit sign, for a range that is only usual."""
        return self.show(value, unit) if self.system == "metric" else self.show_rounded(value, unit, 2)

    def show_rounded(self, value: float, unit: str, figures: int) -> str:
        """A computed number without its unit sign, to so many figures."""
        return units.show(value, unit, self.system, figures).removesuffix(units.sign_of(unit, self.system))

    def sign(self, unit: str) -> str:
        """The sign that stands after such a number."""
        return units.sign_of(unit, self.system).strip()

    def words(self, value: float, unit: str) -> str:
        """A number with its unit."""
        return units.show(value, unit, self.system)

    def height(self, value_m: float) -> str:
        """A height or a place on the sheet: to the centimetre, or in feet and inches."""
        return units.height(value_m, self.system)

    def restated(self, words: str) -> str:
        """A sentence with its heights and lengths in these units."""
        return units.restated(words, self.system)
