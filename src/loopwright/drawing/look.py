"""How things look: colours by token, line weights, dashes, and how large a millimetre of ink is on the
drawing.

Owns the tables of the two palettes, of the services and of the severities, and `Look`, which is all that
differs between a screen at some zoom and a sheet of paper at some scale. Refuses to know sheets, parts and
back ends.

Drawing units are centimetres of the house, y downwards: `to_units` is the one place where heights change
sign.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

Point = tuple[float, float]
"""(x, y) in drawing units: centimetres, y downwards."""
Dash = tuple[float, ...]
"""On, off, on, off ... in pen widths; empty for a solid line."""
Palette = Literal["light", "dark", "print"]

PX_A_MM = 4.6
"""Nominal pixels a millimetre of ink: sizes given in pixels are exact on a screen at 100 % interface
scale."""
PX_AT_FULL = 1.25
"""Nominal pixels a drawing unit at 100 %."""
SHEET_FAMILY = "IBM Plex Sans Condensed"
WINDOW_FAMILY = "Loopwright Sans"
FALLBACK_FAMILIES = ("DejaVu Sans Condensed", "DejaVu Sans", "sans-serif")

LIGHT: dict[str, str] = {
    "ink": "#1D2226",
    "ink2": "#4A5056",
    "ink3": "#686D72",
    "line2": "#85817A",
    "accent": "#0A6A72",
    "flow": "#BF2A1D",
    "ret": "#1E5BAF",
    "vent": "#B24A00",
    "feed": "#46598C",
    "cold": "#2F7224",
    "hot": "#9A2C74",
    "disch": "#5F5A53",
    "solar": "#876000",
    "control": "#5B6167",
    "danger": "#A10E2B",
    "fault": "#9C4F00",
    "advice": "#2F5D8F",
    "ok": "#2F6E3B",
    "paper": "#FCFBF8",
    "grid": "#F0EEE8",
    "grid2": "#E3E0D8",
    "chrome": "#F1EFEA",
    "panel": "#FAF9F6",
    "field": "#FFFFFF",
    "line": "#CFCBC1",
    "floorfill": "#E9E6DE",
    "ins": "#E6E1D6",
    "accent_soft": "#DCECEC",
    "danger_soft": "#F8E4E6",
    "fault_soft": "#F8EAD8",
    "advice_soft": "#E3EBF3",
    "on_accent": "#FFFFFF",
    "on_severity": "#FFFFFF",
    "hatch": "#A39C8C",
    "water": "#CADDF2",
    "layer0": "#B9D0EC",
    "layer1": "#D2DFEA",
    "layer2": "#EADFD2",
    "layer3": "#F2DACB",
    "layer4": "#F4C8B8",
    "layer5": "#F2B3A4",
}
DARK: dict[str, str] = {
    "ink": "#E9ECEE",
    "ink2": "#B9C1C7",
    "ink3": "#96A0A8",
    "line2": "#7A858F",
    "accent": "#4CC3C4",
    "flow": "#FF7C6B",
    "ret": "#7DB0FF",
    "vent": "#F5A055",
    "feed": "#A3B4E8",
    "cold": "#8CCB78",
    "hot": "#EE94CB",
    "disch": "#B5AEA4",
    "solar": "#DFBA4D",
    "control": "#A4ADB5",
    "danger": "#FF7A86",
    "fault": "#F2A64B",
    "advice": "#8DBDF0",
    "ok": "#7CC98B",
    "paper": "#14181B",
    "grid": "#1A1F23",
    "grid2": "#242A2F",
    "chrome": "#1B2024",
    "panel": "#1F2529",
    "field": "#14181B",
    "line": "#39424A",
    "floorfill": "#20262B",
    "ins": "#2B3238",
    "accent_soft": "#17383B",
    "danger_soft": "#3B1D23",
    "fault_soft": "#382A17",
    "advice_soft": "#1B2B3B",
    "on_accent": "#08282A",
    "on_severity": "#14181B",
    "hatch": "#56606A",
    "water": "#1F3A57",
    "layer0": "#1E3A5C",
    "layer1": "#26384B",
    "layer2": "#3A3732",
    "layer3": "#47372F",
    "layer4": "#55332B",
    "layer5": "#662F29",
}
PRINT: dict[str, str] = {
    name: "#FFFFFF"
    if name
    in (
        "paper",
        "grid",
        "grid2",
        "chrome",
        "panel",
        "field",
        "floorfill",
        "ins",
        "water",
        "on_accent",
        "on_severity",
    )
    or name.endswith("_soft")
    or name.startswith("layer")
    else "#000000"
    for name in LIGHT
} | {"fault": "#666666", "hatch": "#808080", "line": "#808080", "ink3": "#404040"}
PALETTES: dict[str, dict[str, str]] = {"light": LIGHT, "dark": DARK, "print": PRINT}


@dataclass(frozen=True, slots=True)
class ServiceLook:
    """How a pipe of one service is drawn: colour token, weight, dash, arrow head, and a light core for
    solar."""

    token: str
    mm: float
    dash: Dash
    arrow: Literal["filled", "open", ""]
    cased: bool
    words: str
    """What stands in the key of lines."""


SERVICES: dict[str, ServiceLook] = {
    "flow": ServiceLook("flow", 0.70, (), "filled", False, "Heating flow"),
    "return": ServiceLook("ret", 0.70, (6.4, 1.8), "open", False, "Heating return"),
    "vent": ServiceLook("vent", 0.50, (5.6, 1.6, 1.0, 1.6, 1.0, 1.6), "filled", False, "Open vent"),
    "feed": ServiceLook("feed", 0.50, (5.6, 1.6, 1.0, 1.6), "open", False, "Cold feed"),
    "solar_flow": ServiceLook("solar", 0.70, (), "filled", True, "Solar flow"),
    "solar_return": ServiceLook("solar", 0.70, (6.4, 1.8), "open", True, "Solar return"),
    "hot": ServiceLook("hot", 0.70, (11.2, 1.6, 3.2, 1.6), "filled", False, "Hot water"),
    "cold": ServiceLook("cold", 0.70, (3.2, 1.6), "filled", False, "Mains cold"),
    "discharge": ServiceLook("disch", 0.50, (1.0, 1.6), "filled", False, "Discharge"),
    "unknown": ServiceLook("ink3", 0.70, (), "", False, "Not known yet"),
}
CONTROL = ServiceLook("control", 0.30, (3.2, 3.2), "", False, "Control link")

WEIGHTS_MM: dict[str, float] = {
    "shell": 0.55,
    "large": 0.45,
    "small": 0.40,
    "coil": 0.45,
    "floor_top": 0.35,
    "floor_under": 0.18,
    "grid": 0.20,
    "leader": 0.40,
    "casing": 0.90,
    "selection": 0.35,
    "dimension": 0.20,
    "tick": 0.35,
    "hatch": 0.13,
}
HOP_MM, CORNER_MM, DOT_MM = 1.5, 1.2, 0.85

NAME_PX, SIZE_PX, SUB_PX, LETTER_PX, FLAG_PX = 12.5, 11.0, 11.0, 11.0, 12.5
LETTER_GAP_PX = 5.0
"""Between the letter of a tapping and its name."""


def service_look(service: str) -> ServiceLook:
    """The look of a service; one that is not known is drawn as unknown."""
    return SERVICES.get(service, SERVICES["unknown"])


def to_units(point_m: Point) -> Point:
    """A point (x_m, height_m) of the sheet in drawing units."""
    return point_m[0] * 100.0, -point_m[1] * 100.0


def to_metres(point: Point) -> Point:
    """A point in drawing units as (x_m, height_m)."""
    return point[0] / 100.0, -point[1] / 100.0


def box_to_units(box_m: Iterable[float]) -> tuple[float, float, float, float]:
    """A box (x0, z0, x1, z1) in metres as (left, top, right, bottom) in drawing units."""
    x0, z0, x1, z1 = box_m
    return x0 * 100.0, -z1 * 100.0, x1 * 100.0, -z0 * 100.0


@dataclass(frozen=True)
class Look:
    """Where and how large a drawing appears. Immutable, so that caches may be keyed by it.

    `px_a_unit`: nominal pixels a drawing unit. `paper`: every size scales with the paper, all detail is
    drawn.
    """

    px_a_unit: float = PX_AT_FULL
    palette: Palette = "light"
    paper: bool = False

    @classmethod
    def on_paper(cls, scale: float, palette: Palette = "light") -> Look:
        """A drawing at 1 : scale, where a millimetre of ink is a millimetre of paper."""
        return cls(PX_A_MM * 10.0 / scale, palette, True)

    @property
    def zoom(self) -> float:
        """1.0 at 100 %."""
        return self.px_a_unit / PX_AT_FULL

    @property
    def px(self) -> float:
        """Drawing units a nominal pixel."""
        return 1.0 / self.px_a_unit

    @cached_property
    def mm(self) -> float:
        """Drawing units a millimetre of ink."""
        return PX_A_MM / self.px_a_unit

    def pen(self, mm: float) -> float:
        """Pen width in drawing units; on a screen never under 1.2 pixels (hairlines 0.8).

        Between 50 and 200 % a pen keeps its pixels; below it is thinner, beyond it grows with the drawing.
        """
        if self.paper:
            return mm * self.mm
        px = mm * PX_A_MM * (0.7 if self.zoom < 0.5 else max(1.0, self.zoom / 2.0))
        return max(px, 1.2 if mm >= 0.3 else 0.8) * self.px

    def colour(self, token: str) -> str:
        """#RRGGBB of a token; a colour given as such is passed on."""
        return token if token.startswith("#") else PALETTES[self.palette][token]

    @property
    def detail(self) -> int:
        """3 everything; 2 no inner strokes of small symbols; 1 no text, hops, arrows and corners; 0
        squares."""
        if self.paper or self.zoom >= 0.6:
            return 3
        return 2 if self.zoom >= 0.35 else 1 if self.zoom >= 0.15 else 0
