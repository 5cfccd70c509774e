"""A run read on its sheet: who is what, which curves are worth drawing, and how things stand at one instant.

Owns reading alone, on plain values. Refuses to know widgets, and to compute anything that the run did not find.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from loopwright.catalogue import Catalogue
from loopwright.engineering.runs.result import Run
from loopwright.engineering.water import density_kg_m3, specific_heat_J_kgK
from loopwright.rules.registry import facts
from loopwright.sheet.ports import number, size_of
from loopwright.sheet.values import Sheet

KWH = 3.6e6
SHORT_S = 900.0
"""A run shorter than this is told in minutes and seconds."""
LIMIT = "store.t.limit"
WARM_C = 40.0
"""Water warmer than this is of use."""
MOVING_KG_S = 2e-4
"""Slower than this, water stands for the eye: under 1 kg/h."""
CERTAIN_W = 5.0
"""Curves of heat that never pass this are left out."""

Dash = tuple[float, ...]


@dataclass(frozen=True)
class Curve:
    """One line of a chart: `values` (n,) at the run's times; `dash` in pen widths, empty for a solid line."""

    name: str
    token: str
    dash: Dash
    values: np.ndarray
    filled: bool = False
    bold: bool = False


@dataclass(frozen=True)
class Limit:
    """A level that a temperature should not pass."""

    name: str
    token: str
    dash: Dash
    value_c: float


@dataclass(frozen=True)
class Tap:
    """A tapping at one instant. `moving`: +1 into the store, -1 out of it, 0 idle."""

    letter: str
    name: str
    height_m: float
    side: str
    purpose: str
    moving: int
    celsius: float | None
    kg_s: float


@dataclass(frozen=True)
class StoreNow:
    """A store at one instant: layers from the bottom, degC."""

    name: str
    litres: float
    high_m: float
    layers_c: np.ndarray
    taps: tuple[Tap, ...]
    vented: bool
    lagging_m: float


@dataclass(frozen=True)
class Reading:
    """A run with the sheet it is of."""

    run: Run
    sheet: Sheet
    catalogue: Catalogue

    # ---- who is what

    def name(self, part: str) -> str:
        """What people call a part."""
        found = self.sheet.parts.get(part)
        if found is None:
            return part
        return found.name or (self.catalogue[found.kind].name if found.kind in self.catalogue else part)

    def stops(self, part: str) -> str:
        """What ends the heat of a source: fire, residual, switched, sun; an empty string for what is none."""
        found = self.sheet.parts.get(part)
        source = self.catalogue[found.kind].source if found is not None and found.kind in self.catalogue else None
        return source.stops if source is not None else ""

    def tagged(self, part: str, tag: str) -> bool:
        """Whether the part's kind has a tag."""
        found = self.sheet.parts.get(part)
        return found is not None and found.kind in self.catalogue and tag in self.catalogue[found.kind].tags

    @cached_property
    def sources(self) -> tuple[str, ...]:
        """Sources of the run, fires first."""
        order = ("fire", "residual", "sun", "switched")
        found = [p for p in self.run.parts if self.stops(p)]
        return tuple(sorted(found, key=lambda p: (order.index(self.stops(p)), list(self.run.parts).index(p))))

    @property
    def stores(self) -> tuple[str, ...]:
        """Stores whose layers the run kept."""
        return tuple(self.run.layers)

    @cached_property
    def limit_c(self) -> float:
        """The temperature at which a limit thermostat on a store acts, as published or as this sheet has it, degC."""
        if LIMIT in self.sheet.limits:
            return self.sheet.limits[LIMIT]
        value = facts()[LIMIT].value
        assert isinstance(value, int | float)
        return float(value)

    # ---- time

    @property
    def under_way(self) -> bool:
        """Whether there is more of the run to come."""
        return self.run.outcome == "under way"

    @property
    def clock(self) -> str:
        """How times are written: by the `day`, or after a `power cut`, in seconds where it is a `short cut`."""
        short = self.run.kind == "power cut" and self.end_s < SHORT_S and not self.under_way
        return "short cut" if short else self.run.kind

    @property
    def end_s(self) -> float:
        """The last time of the run."""
        return float(self.run.times_s[-1])

    def at(self, values: np.ndarray, time_s: float) -> float:
        """A curve at a time, between the instants kept."""
        return float(np.interp(time_s, self.run.times_s, values))

    def layers_at(self, store: str, time_s: float) -> np.ndarray:
        """Layers of a store at a time, bottom first, degC."""
        times, table = self.run.times_s, self.run.layers[store]
        i = int(np.clip(np.searchsorted(times, time_s, side="right") - 1, 0, max(0, len(times) - 2)))
        if len(times) < 2:
            return table[0]
        share = float(np.clip((time_s - times[i]) / (times[i + 1] - times[i]), 0.0, 1.0))
        return np.asarray((1.0 - share) * table[i] + share * table[i + 1])

    # ---- curves

    def temperatures(self, store: str) -> list[Curve]:
        """Sources, and a store's top, middle and bottom."""
        looks = {"fire": ("flow", ()), "residual": ("flow", (9.0, 2.0)), "sun": ("cold", (7.0, 2.0, 1.5, 2.0)),
                 "switched": ("hot", (11.0, 2.0, 3.0, 2.0))}  # fmt: skip
        out = []
        for part in self.sources:
            token, dash = looks[self.stops(part)]
            fire = self.stops(part) == "fire"
            out.append(Curve(_short(self.name(part)), token, dash, self.run.parts[part], bold=fire))
        if store in self.run.layers:
            table = self.run.layers[store]
            for words, k, token, dash in (
                ("store top", -1, "vent", (7.0, 2.5)),
                ("middle", table.shape[1] // 2, "solar", (4.0, 2.0)),
                ("bottom", 0, "ret", (1.5, 1.7)),
            ):
                out.append(Curve(words, token, dash, table[:, k]))
        return out

    def limits(self, store: str) -> list[Limit]:
        """Where the hottest fire's water boils, and the store's own limit."""
        found = []
        boils = [v for k, v in self.run.figures.items() if k.startswith("boils_at_")]
        if boils:
            found.append(Limit(f"boils at {min(boils):.0f}", "danger", (1.5, 1.7), min(boils)))
        if store:
            found.append(Limit(f"store limit {self.limit_c:.0f}", "fault", (6.0, 3.0), self.limit_c))
        return found

    def likely_celsius(self, store: str) -> tuple[float, float]:
        """From where to where temperatures of a run under way are likely to go, degC."""
        top = max([m.value_c for m in self.limits(store)], default=96.0)
        sunny = any(self.stops(p) == "sun" for p in self.sources)  # a collector is as cold as the air outdoors
        return -10.0 if sunny else 10.0, 10.0 * float(np.ceil((top + 4.0) / 10.0))

    @cached_property
    def likely_kw(self) -> float:
        """The most heat that a source of the run states, kW."""
        found = [1.0]
        for source in self.sources:
            part = self.sheet.parts[source]
            kind = self.catalogue[part.kind]
            found.append(number(part, kind, "power_kw") or number(part, kind, "absorber_m2") or 0.0)
        return max(found)

    def heats(self) -> list[Curve]:
        """Heat of each source, and what rooms, heat leaks and taps take, in kW."""
        looks = {"fire": ("flow", ()), "residual": ("flow", (9.0, 2.0)), "sun": ("cold", (7.0, 2.0, 1.5, 2.0)),
                 "switched": ("hot", (11.0, 2.0, 3.0, 2.0)), "": ("disch", (3.0, 1.0))}  # fmt: skip
        out, groups = [], self._loads()
        for part, watts in self.run.powers.items():
            if part in self.run.books.sources and np.abs(watts).max() > CERTAIN_W:
                token, dash = looks[self.stops(part)]
                fire = self.stops(part) == "fire"
                out.append(Curve(_short(self.name(part)), token, dash, watts / 1000.0, bold=fire))
        for words, token, dash, filled in (
            ("rooms", "ret", (6.0, 2.0), False),
            ("heat leak", "accent", (), True),
            ("hot water", "disch", (1.5, 1.5), False),
            ("cooling", "feed", (5.0, 1.6, 1.0, 1.6), False),
        ):
            if words in groups:
                total = -np.sum([self.run.powers[p] for p in groups[words]], axis=0) / 1000.0
                if np.abs(total).max() > CERTAIN_W / 1000.0:
                    out.append(Curve(words, token, dash, total, filled))
        return out

    def _loads(self) -> dict[str, list[str]]:
        groups: dict[str, list[str]] = {}
        for part in self.run.powers:
            if part in self.run.books.loads:
                groups.setdefault(self.load_sort(part), []).append(part)
        return groups

    def load_sort(self, part: str) -> str:
        """What a part takes heat for: hot water, heat leak, cooling (thrown away), rooms."""
        if self.tagged(part, "outlet"):
            return "hot water"
        if self.tagged(part, "heat_leak"):
            return "heat leak"
        return "cooling" if self.tagged(part, "thermal_discharge") else "rooms"

    # ---- one instant

    def store_now(self, store: str, time_s: float) -> StoreNow:
        """A store with its tappings at a time."""
        part = self.sheet.parts[store]
        kind = self.catalogue[part.kind]
        taps = []
        for tap in part.tappings:
            kg_s, celsius = self._through(store, tap.letter, time_s)
            moving = 0 if abs(kg_s) < MOVING_KG_S else 1 if kg_s > 0 else -1
            named = tap.name or tap.purpose.replace("_", " ") or tap.letter
            taps.append(
                Tap(tap.letter, named, tap.height_m, tap.side, tap.purpose, moving, celsius, kg_s)
            )  # fmt: skip
        vented = any(t.purpose == "vent" for t in part.tappings)
        return StoreNow(
            name=self.name(store),
            litres=number(part, kind, "volume_l", 0.0) or 0.0,
            high_m=size_of(part, kind)[1],
            layers_c=self.layers_at(store, time_s),
            taps=tuple(taps),
            vented=vented,
            lagging_m=(number(part, kind, "insulation_mm", 0.0) or 0.0) / 1000.0,
        )

    @cached_property
    def _pipes(self) -> Mapping[tuple[str, str], tuple[str, int]]:
        """The pipe at a port, and +1 where its end b is there."""
        found: dict[tuple[str, str], tuple[str, int]] = {}
        for key, pipe in self.sheet.pipes.items():
            found[pipe.a.part, pipe.a.port] = (key, -1)
            found[pipe.b.part, pipe.b.port] = (key, 1)
        return found

    def _through(self, part: str, port: str, time_s: float) -> tuple[float, float | None]:
        """Flow into a port, kg/s, and the temperature of its pipe."""
        pipe, sign = self._pipes.get((part, port), ("", 0))
        flow = sign * self.at(self.run.flows[pipe], time_s) if pipe in self.run.flows else 0.0
        celsius = self.at(self.run.pipes[pipe], time_s) if pipe in self.run.pipes else None
        return flow, celsius

    def moving_at(self, time_s: float) -> dict[str, float]:
        """Flow of each pipe that moves at a time, kg/s towards its end b."""
        out = {}
        for pipe, flows in self.run.flows.items():
            now = self.at(flows, time_s)
            if abs(now) >= MOVING_KG_S:
                out[pipe] = now
        return out

    def pipes_at(self, time_s: float) -> dict[str, float]:
        """Mean temperature of each pipe at a time, degC."""
        return {pipe: self.at(values, time_s) for pipe, values in self.run.pipes.items()}

    def parts_at(self, time_s: float) -> dict[str, float]:
        """Temperature of the water in each part at a time, degC."""
        return {part: self.at(v, time_s) for part, v in self.run.parts.items() if part in self.sheet.parts}

    def warm_parts_at(self, time_s: float) -> dict[str, float]:
        """The same without taps that nobody has open."""
        found = self.parts_at(time_s)
        idle = [p for p in found if self.tagged(p, "outlet") and abs(self.at(self.run.powers[p], time_s)) < CERTAIN_W]
        return {part: celsius for part, celsius in found.items() if part not in idle}

    def kwh_above(self, store: str, time_s: float, base_c: float) -> float:
        """Heat of a store's water above a temperature, kWh."""
        return self._kwh(store, time_s, lambda t: np.maximum(t - base_c, 0.0))

    def kwh_below(self, store: str, time_s: float, limit_c: float) -> float:
        """Heat that a store can still take before every layer is at a temperature, kWh."""
        return self._kwh(store, time_s, lambda t: np.maximum(limit_c - t, 0.0))

    def _kwh(self, store: str, time_s: float, kelvin: Callable[[np.ndarray], np.ndarray]) -> float:
        layers = self.layers_at(store, time_s)
        part = self.sheet.parts[store]
        cubic_m = (number(part, self.catalogue[part.kind], "volume_l", 0.0) or 0.0) / 1000.0 / len(layers)
        water = np.clip(layers, 1.0, 150.0)
        joules = cubic_m * density_kg_m3(water) * specific_heat_J_kgK(water) * kelvin(layers)
        return float(np.sum(joules)) / KWH

    def figures_at(self, store: str, time_s: float) -> list[tuple[str, float, str]]:
        """What stands under the store: words, value, unit."""
        out: list[tuple[str, float, str]] = []
        heats = [p for p in self.sources if self.stops(p) in ("fire", "residual")] or list(self.sources)
        if heats:
            lead = heats[0]
            ends = [port for part, port in self._pipes if part == lead]
            kg_s = max((abs(self._through(lead, port, time_s)[0]) for port in ends), default=0.0)
            words = "Gravity flow" if not self.run.condition.power else f"Flow through {_low(self.name(lead))}"
            out.append((words, kg_s * 3600.0, "kg/h"))
        if store:
            out.append((f"Heat above {WARM_C:.0f} °C", self.kwh_above(store, time_s, WARM_C), "kWh"))
        if heats:
            out.append((f"Water at {_low(self.name(heats[0]))}", self.at(self.run.parts[heats[0]], time_s), "°C"))
        if store:
            room = self.kwh_below(store, time_s, self.limit_c)
            out.append((f"Room left before {self.limit_c:.0f} °C", room, "kWh"))
        return out


def _low(name: str) -> str:
    """A name within a sentence."""
    return f"the {name[0].lower()}{name[1:]}" if name[1:2].islower() else name


def _short(name: str) -> str:
    """A name at the end of a line."""
    return f"{name[0].lower()}{name[1:]}" if name[1:2].islower() else name
