"""Figures of each water: content, expansion, cistern or vessel with its pressures.

Owns which of a water's figures people read. The sums are in `engineering.contents` and `engineering.expansion`.
"""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.engineering import expansion
from loopwright.engineering.contents import Contents, contents, hottest_c, static_head_m, steam_l, vessel_need
from loopwright.engineering.drawn_parts import drawn_fluid
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import Subject, stated, water_name
from loopwright.engineering.fluid import WATER
from loopwright.errors import FigureError
from loopwright.waterways.graph import Waterways
from loopwright.waterways.waters import Water, waters

AIR_GAP_M = 0.025
"""Hot water stays so far under the warning pipe: common practice, no source."""


def water_figures(ways: Waterways) -> Iterator[Figure | Gap]:
    """Figures of every water that is heated or fed, tap water left out."""
    for water in waters(ways):
        if water.fluid != "domestic" and (water.sources or water.feeds):
            yield from _Water(ways, water).figures()


class _Water:
    """One water and what it holds."""

    def __init__(self, ways: Waterways, water: Water) -> None:
        self.ways, self.water = ways, water
        about = tuple(sorted(p for p in water.parts if p in ways.sheet.parts))
        self.of = Subject(group=water_name(ways, water), about=about, topic="waters", page="expansion")
        self.held: Contents = contents(ways, water)

    def figures(self) -> Iterator[Figure | Gap]:
        """Content first; the rest stands on it."""
        if self.held.missing:
            lacks = ", ".join(f"{self._word(prop)} of {self.ways.name(part)}" for part, prop in self.held.missing)
            parts = tuple(dict.fromkeys(part for part, _ in self.held.missing))
            yield self.of.gap("Water content", lacks, self.held.missing[0][1], about=parts)
            return
        held, water = self.held, self.water
        yield self.of.figure(
            "Water content",
            held.litres,
            "l",
            "Σ π d² L / 4 + Σ contents of vessels and parts",
            (
                Input("in pipes", held.pipes_l, "l"),
                Input("in vessels", held.bodies_l, "l", any(self.ways.kind(p).body for p in held.assumed)),
                Input("in other parts", held.parts_l, "l", any(not self.ways.kind(p).body for p in held.assumed)),
            ),
            "drawn lengths, bores by table, contents of parts",
        )
        if water.regime == "drain-down":
            return
        try:
            yield from self._swelling()
            if water.regime == "sealed":
                yield from self._vessel()
            elif water.feeds:
                yield from self._cistern()
        except FigureError as bad:
            yield self.of.gap("Room for expansion", bad.what)

    @staticmethod
    def _word(prop: str) -> str:
        return {"volume_l": "volume", "content_l": "water content", "size": "size"}.get(prop, prop)

    @property
    def content(self) -> Input:
        return Input("content", self.held.litres, "l")

    def _hottest(self) -> float:
        return hottest_c(self.ways, self.water)

    def _swelling(self) -> Iterator[Figure]:
        hottest = self._hottest()
        fluid, supposed = drawn_fluid(self.ways, self.water)
        yield self.of.figure(
            f"Expansion, {expansion.FILL_C:g} to {hottest:g} °C",
            self.held.litres * fluid.expansion_fraction(hottest, expansion.FILL_C),
            "l",
            "C (ρ(10 °C) / ρ(T) - 1)",
            (self.content, Input("hottest", hottest, "°C"), Input("filled at", expansion.FILL_C, "°C", True)),
            "water after Kell 1975" if fluid is WATER else f"{fluid.name}: factors on water from a handbook table",
            supposed,
            page="expansion" if fluid is WATER else "antifreeze",
            quantity="Expansion",
        )

    def _cistern(self) -> Iterator[Figure | Gap]:
        cistern = self.water.feeds[0][1]
        ways, hottest = self.ways, self._hottest()
        line = stated(ways, cistern, "water_line_m", "cold water line", "m")
        over = stated(ways, cistern, "overflow_m", "overflow height", "m")
        inputs = (self.content, Input("hottest", hottest, "°C"))
        swell = expansion.expansion_L(self.held.litres, hottest)
        drawn = stated(ways, cistern, "expansion_room_l", "room drawn", "l")
        yield self.of.figure(
            "Cistern, room needed above its cold line",
            max(swell, expansion.CISTERN_SHARE * self.held.litres),
            "l",
            "the larger of the expansion and 4 % of the content",
            (*inputs, drawn),
            "expansion of water; 4 %: public training page",
            f"{drawn.value:g} l is drawn" if drawn else "",
            page="cistern",
            quantity="Cistern room needed",
            about=(cistern,),
        )
        room = drawn.value if drawn else None
        if line is None or over is None or room is None:
            yield self.of.gap(
                "Rise of the water in the cistern",
                f"cold water line, overflow height or room for expansion of {ways.name(cistern)}",
                "water_line_m" if line is None else "overflow_m" if over is None else "expansion_room_l",
                about=(cistern,),
                page="cistern",
            )
        elif over.value > line.value and room > 0.0:
            area = room / 1000.0 / (over.value - line.value)
            rise = expansion.vented_cistern(
                self.held.litres, hottest, area, max(0.0, over.value - line.value - AIR_GAP_M)
            ).rise_m
            yield self.of.figure(
                "Rise of the water in the cistern",
                1000 * rise,
                "mm",
                "Ve / A, A = room / (overflow - cold line)",
                (*inputs, drawn, line, over),
                "arithmetic",
                f"its warning pipe is {1000 * (over.value - line.value):.0f} mm above the cold line",
                page="cistern",
                about=(cistern,),
            )
        if line is not None:
            lowest = min(ways.at[p][1] for p in self.water.places)
            head = ways.sheet.parts[cistern].height_m + line.value - lowest
            yield self.of.figure(
                "Pressure at the lowest place, cold",
                head * expansion.BAR_PER_M,
                "bar",
                "ρ g h below the cold line",
                (Input("head", head, "m"), line),
                "still water",
                page="cistern",
                about=(cistern,),
            )

    def _vessel(self) -> Iterator[Figure | Gap]:
        ways, water = self.ways, self.water
        settings = [(r.part, ways.number(r.part, "setting_bar")) for r in water.reliefs]
        known = [(p, s) for p, s in settings if s is not None]
        if not water.vessels:
            yield self.of.gap("Vessel, least", "a vessel, or its volume where one is built in", page="vessel")
            return
        if not known:
            lacks, about = "a relief valve", water.vessels
            if settings:
                lacks, about = "the set pressure of a relief valve", tuple(p for p, _ in settings)
            yield self.of.gap("Vessel, least", lacks, "setting_bar" if settings else "", about=about, page="vessel")
            return
        valve, relief = min(known, key=lambda k: k[1])
        head, hottest = static_head_m(ways, water), self._hottest()
        setting = Input("relief setting", relief, "bar", not ways.typed(valve, "setting_bar"))
        height = Input("static head", head, "m")
        gases = [stated(ways, v, "precharge_bar", f"{ways.name(v)}: gas pressure drawn", "bar") for v in water.vessels]
        inputs: tuple[Input | None, ...] = (self.content, Input("hottest", hottest, "°C"), height, setting, *gases)
        if water.fluid == "solar":
            inputs += (Input("collector content turned to steam", steam_l(ways, water), "l"),)
            equation, source = "(Ve + Vsteam + Vr)(pe + 1)/(pe - p0)", "VDI 6002, EN 12977-1 (recalled)"
        else:
            equation, source = "(Ve + Vr)(pe + 1)/(pe - p0)", "EN 12828 annex D (recalled)"
        of = msgspec.structs.replace(self.of, about=water.vessels, page="vessel")
        fitted = sum(ways.number(v, "volume_l") or 0.0 for v in water.vessels)
        need = vessel_need(ways, water, self.held.litres, relief)
        yield of.figure("Vessel, least", need.least_L, "l", equation, inputs, source, f"{fitted:g} l is drawn")
        yield of.figure(
            "Vessel precharge",
            expansion.precharge_bar(head, 100.0 if water.fluid == "solar" else min(hottest, 100.0)),
            "bar",
            "static head + 0.3 bar, at least 0.7 bar",
            (height,),
            "EN 12828; 0.7 bar: common practice, no source",
        )
        yield of.figure(
            "Highest pressure used",
            need.final_bar,
            "bar",
            "setting - 0.5 bar, or 0.9 of it above 5 bar",
            (setting,),
            "EN 12828",
        )
        gas = max((g.value for g in gases if g is not None), default=None)
        if gas is None or not fitted:
            lacks = f"volume and gas pressure of {' and '.join(map(ways.name, water.vessels))}"
            yield of.gap("Cold fill pressure", lacks, "precharge_bar")
        else:
            yield from self._filled(of, need, fitted, gas, (Input("vessel drawn", fitted, "l"), *gases))

    def _filled(
        self, of: Subject, need: expansion.VesselNeed, fitted: float, gas: float, drawn: tuple[Input | None, ...]
    ) -> Iterator[Figure | Gap]:
        """Pressures of the vessels as drawn: `fitted` litres in all, their highest gas pressure `gas`, bar."""
        reserve = min(expansion.reserve_L(self.held.litres, fitted), 0.9 * fitted)
        fill = expansion.fill_pressure_bar(fitted, gas, reserve)
        yield of.figure(
            "Cold fill pressure, least",
            fill,
            "bar",
            "V (p0 + 1)/(V - Vr) - 1",
            (*drawn, Input("reserve", reserve, "l")),
            "EN 12828 annex D (recalled)",
        )
        swell = need.expansion_L + (steam_l(self.ways, self.water) if self.water.fluid == "solar" else 0.0)
        hot = expansion.hot_pressure_bar(fitted, gas, fill, swell)
        if hot is None:
            yield of.gap("Pressure when hot", "room in the vessel: it is full of water before")
            return
        yield of.figure(
            "Pressure when hot",
            hot,
            "bar",
            "V (p0 + 1)/(V - Vr - Ve) - 1",
            (*drawn, Input("taken up when hot", swell, "l"), Input("filled at", fill, "bar")),
            "Boyle's law at steady gas temperature",
            "above the highest pressure used" if hot > need.final_bar else "",
        )
