"""Small sheets for the rules of tappings, circuits, order and tap water, and one rule's answers for a sheet."""

from __future__ import annotations

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.rules.findings import Finding, Missing, Severity, Sound
from loopwright.rules.registry import Case, all_rules
from loopwright.survey import survey
from loopwright.waterways import Waterways

DANGER, FAULT, ADVICE = Severity.DANGER, Severity.FAULT, Severity.ADVICE


def said(drawing: draw.Drawing, slug: str) -> list:
    """Everything one rule says of a sheet."""
    return list(all_rules()[slug].check(Case(Waterways(drawing.done(), standard_catalogue()))))


def found(drawing: draw.Drawing, slug: str) -> list[tuple[Severity, str]]:
    """Severity and subject of one rule's findings."""
    return [(f.severity, f.subject) for f in said(drawing, slug) if isinstance(f, Finding)]


def sound(drawing: draw.Drawing, slug: str) -> bool:
    """The rule looked at something, and nothing is wrong or missing."""
    answers = said(drawing, slug)
    return bool(answers) and all(isinstance(a, Sound) for a in answers)


def missing(drawing: draw.Drawing, slug: str) -> list[str]:
    """Properties one rule misses."""
    return [a.prop for a in said(drawing, slug) if isinstance(a, Missing)]


def standing(drawing: draw.Drawing) -> set[str]:
    """Slugs of all findings that stand once yields are resolved."""
    return {f.rule for f in survey(drawing.done(), standard_catalogue()).findings}


def line(s: draw.Drawing, *stops: object) -> None:
    """Pipes from stop to stop. A stop is a pipe end, (part, in, out) to pass, or an in-line part."""
    here = None
    for stop in stops:
        if isinstance(stop, draw.PartRef):
            stop = (stop, "a", "b")
        into, out = (stop[0][stop[1]], stop[0][stop[2]]) if isinstance(stop, tuple) and len(stop) == 3 else (stop, stop)
        if here is not None:
            s.pipe(here, into, via=[])
        here = out


def house(title: str = "House", *, taps: dict | None = None, coils: tuple = (), **props: object) -> tuple:
    """A drawing with one 500 l store, 1.8 m high."""
    s = draw.sheet(title)
    store = s.store(
        "store",
        x_m=4,
        height_m=0.1,
        volume_l=500,
        body_height_m=1.8,
        body_diameter_m=0.6,
        tappings=taps or {},
        coils=coils,
        **props,
    )
    return s, store


def stove_on(s: draw.Drawing, store: draw.PartRef, flow: str, back: str, **props: object) -> draw.PartRef:
    """A stove straight on the store by gravity."""
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0, **props)
    line(s, stove["flow"], store[flow])
    line(s, store[back], stove["return"])
    return stove


def boiler_on(
    s: draw.Drawing,
    store: draw.PartRef,
    flow: str,
    back: str,
    kind: str = "boiler_oil",
    id: str = "boiler",
    x_m: float = -2,
    **props: object,
) -> draw.PartRef:
    """A pumped boiler, its pump on the return."""
    boiler = s.add(kind, id, x_m=x_m, height_m=0, **props)
    pump = s.add("pump", f"{id}_pump", x_m=x_m + 1, height_m=0.2, turn=2)
    line(s, boiler["flow"], store[flow])
    line(s, store[back], pump, boiler["return"])
    return boiler


def solar_on(s: draw.Drawing, store: draw.PartRef, flow: str, back: str, *, check: bool = True) -> draw.PartRef:
    """A sealed collector on the roof, pumped on its return."""
    collector = s.add("solar_collector", "collector", x_m=4, height_m=6)
    pump = s.add("solar_pump_unit" if check else "pump", "solar_pump", x_m=2.5, height_m=1)
    line(s, collector["flow"], store[flow])
    line(s, store[back], pump, collector["return"])
    return collector


def radiators_on(
    s: draw.Drawing,
    store: draw.PartRef,
    supply: str,
    back: str,
    *,
    valves: str | None = None,
    id: str = "R1",
    kind: str = "radiator",
    backwards: bool = False,
    **props: object,
) -> draw.PartRef:
    """One pumped emitter on the store."""
    emitter = s.add(kind, id, x_m=8, height_m=3, **props)
    pump = s.add("pump", f"{id}_pump", x_m=6, height_m=2)
    through = (pump, "b", "a") if backwards else pump
    stops: list = [store[supply], through]
    if valves:
        stops.append(s.add(valves, f"{id}_valve", x_m=7, height_m=3))
    line(s, *stops, emitter["flow"])
    line(s, emitter["return"], store[back])
    return emitter
