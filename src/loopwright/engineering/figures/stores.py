"""Figures of stores and cylinders at rest: heat held, hot water, losses, litres a kilowatt, buffer, heating up.

Owns which of a store's figures people read. Knows nothing of flow: a coil's yield is in `hot_water`.
"""

from __future__ import annotations

from collections.abc import Iterator

from loopwright.engineering import store
from loopwright.engineering.figures.figure import Figure, Gap, Input
from loopwright.engineering.figures.making import WATER_SOURCE, Subject, stated
from loopwright.errors import FigureError
from loopwright.waterways.graph import Source, Waterways

TAP_C, COLD_C, ROOM_C = 40.0, 10.0, 20.0


def store_figures(ways: Waterways) -> Iterator[Figure | Gap]:
    """Figures of every store and cylinder."""
    for body in ways.bodies("store", "cylinder"):
        yield from _Store(ways, body[1]).figures()


class _Store:
    """One vessel and what the sheet says of it."""

    def __init__(self, ways: Waterways, part: str) -> None:
        self.ways, self.part = ways, part
        self.of = Subject(group=ways.name(part), about=(part,), topic="stores", page="store")
        self.volume = stated(ways, part, "volume_l", "volume", "l")
        self.design = stated(ways, part, "design_temp_c", "design temperature", "°C")

    def figures(self) -> Iterator[Figure | Gap]:
        """All of them; a gap where a number is not stated."""
        for held, prop, words in (
            (self.volume, "volume_l", "volume"),
            (self.design, "design_temp_c", "temperature at the top when charged"),
        ):
            if held is None:
                yield self.of.gap("Heat held", words, prop)
                return
        for make in (self._heat, self._hot_water, self._losses, self._sources):
            try:
                yield from make()
            except FigureError as bad:
                yield self.of.gap(make.__name__.strip("_").replace("_", " ").capitalize(), bad.what)

    @property
    def litres(self) -> float:
        assert self.volume is not None
        return self.volume.value

    @property
    def hot(self) -> float:
        assert self.design is not None
        return self.design.value

    def _heat(self) -> Iterator[Figure]:
        if self.hot > TAP_C:
            yield self.of.figure(
                f"Heat, {TAP_C:g} to {self.hot:g} °C",
                store.heat_between_J(self.litres / 1000, TAP_C, self.hot) / 3.6e6,
                "kWh",
                "V ∫ ρ(T) cp(T) dT from 40 °C to the design temperature",
                (self.volume, self.design),
                WATER_SOURCE,
                quantity="Heat held",
            )

    def _hot_water(self) -> Iterator[Figure]:
        usable = store.usable_litres([self.hot], self.litres / 1000, TAP_C, COLD_C)
        for name, value, bound in (
            ("if it never mixes", usable.plug_L, "plug flow: the most"),
            ("if it mixes at once", usable.mixed_L, "a mixed store: the least"),
        ):
            yield self.of.figure(
                f"Hot water at {TAP_C:g} °C, {name}",
                value,
                "l",
                "energy balance of mixing with cold water at 10 °C",
                (self.volume, self.design, Input("cold water", COLD_C, "°C", True)),
                f"energy balance; {bound}",
                quantity=f"Hot water, {name}",
            )

    def _losses(self) -> Iterator[Figure | Gap]:
        if 50.0 <= self.litres <= 2000.0:
            yield self.of.figure(
                "Standing loss, most allowed",
                store.standing_loss_limit_kWh_day(self.litres),
                "kWh/day",
                "1.15 (0.2 + 0.051 V^(2/3))",
                (self.volume,),
                "British compliance guide after BS 1566 (recalled)",
                "at 45 K above the room",
            )
        given = [
            stated(self.ways, self.part, prop, name, unit)
            for prop, name, unit in (
                ("body_diameter_m", "diameter", "m"),
                ("body_height_m", "height", "m"),
                ("insulation_mm", "insulation", "mm"),
            )
        ]
        across, tall, thick = given
        if across is None or tall is None or thick is None:
            yield self.of.gap("Standing loss by its insulation", "diameter, height or insulation", "insulation_mm")
            return
        inputs = (across, tall, thick)
        ua = store.casing_W_K(across.value, tall.value, thick.value)
        yield self.of.figure(
            "Standing loss by its insulation",
            ua * 45.0 * 0.024,
            "kWh/day",
            "UA · 45 K · 24 h, wall as a cylinder and two flat ends",
            inputs,
            "conduction of heat, any textbook; surface 8 W/(m² K), EN ISO 12241",
            f"{ua:.2f} W/K, at 45 K above the room; pipes and pockets lose more",
        )
        if self.hot > TAP_C:
            yield self.of.figure(
                f"Left alone a day from {self.hot:g} °C",
                store.cooled_C(ua, self.litres / 1000, self.hot, ROOM_C, 24.0),
                "°C",
                "T = room + (T0 - room) exp(-UA t / (V ρ cp))",
                (self.design, *inputs, Input("room", ROOM_C, "°C", True)),
                "energy balance of a mixed store",
                quantity="Left alone a day",
            )

    def _sources(self) -> Iterator[Figure | Gap]:
        for source in self.ways.sources:
            name = self.ways.name(source.part)
            power = stated(self.ways, source.part, "power_kw", f"{name}: power to water", "kW")
            if source.stops == "sun" or not heats(self.ways, source.part, self.part):
                continue
            if power is None or power.value <= 0:
                yield self.of.gap(f"Heating by {name}", f"{name}: power to water", "power_kw", about=(source.part,))
                continue
            watts = 1000 * power.value
            yield self.of.figure(
                f"Litres a kilowatt of {name}",
                store.litres_per_kilowatt(self.litres / 1000, watts),
                "l/kW",
                "V / Q",
                (self.volume, power),
                "ratio",
                quantity="Litres a kilowatt",
                about=(self.part, source.part),
            )
            if self.hot > TAP_C:
                yield self.of.figure(
                    f"Heating {TAP_C:g} to {self.hot:g} °C by {name}",
                    store.heat_up_hours(self.litres / 1000, TAP_C, self.hot, watts),
                    "h",
                    "V ∫ ρ cp dT / Q",
                    (self.volume, self.design, power),
                    "energy balance; losses and loads left out",
                    quantity="Heating up",
                    about=(self.part, source.part),
                )
            if self.ways.has_tag(source.part, "log_boiler"):
                yield self._buffer(source, power)

    def _buffer(self, source: Source, power: Input) -> Figure | Gap:
        """The published rule for batch-fired boilers, with the emitters' rated output as the heat load."""
        name = self.ways.name(source.part)
        burn = stated(self.ways, source.part, "burn_time_h", f"{name}: burning time of a charge", "h")
        least = stated(self.ways, source.part, "min_output_kw", f"{name}: least power", "kW")
        title = f"Buffer volume for {name}"
        if burn is None:
            return self.of.gap(title, f"{name}: burning time of a charge", "burn_time_h", about=(source.part,))
        if least is None:
            return self.of.gap(title, f"{name}: least power to water", "min_output_kw", about=(source.part,))
        load_kw = (
            sum(self.ways.number(s.part, "output_w") or 0.0 for s in self.ways.sinks if s.sort == "emitter") / 1000
        )
        load = Input("heat load: rated output of all emitters", load_kw, "kW", True)
        return self.of.figure(
            title,
            store.buffer_volume_L(burn.value, 1000 * power.value, 1000 * load_kw, 1000 * least.value),
            "l",
            "15 T Qn (1 - 0.3 Qh / Qmin), at least 300 l",
            (burn, power, load, least),
            "EN 303-5:2012",
            f"{self.litres:g} l is drawn",
            quantity="Buffer volume",
            about=(self.part, source.part),
        )


def heats(ways: Waterways, source: str, vessel: str) -> bool:
    """Whether a loop of the source passes the vessel's body or one of its coils."""
    from loopwright.waterways.loops import loops
    from loopwright.waterways.views import Ask

    return any(loop.sink.part == vessel for loop in loops(ways, ways.source_of[source], Ask.OPEN))
