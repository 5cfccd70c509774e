"""Small sheets to ask questions of, and the samples' base system."""

from __future__ import annotations

import importlib.util
import sys
from functools import cache
from pathlib import Path
from types import ModuleType

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.sheet.values import Sheet
from loopwright.waterways import Waterways
from loopwright.waterways.graph import Key, Sink, Source

CATALOGUE = standard_catalogue()
TAPPINGS = {
    "hot": {"height_m": 1.3, "side": "left"},
    "cold": {"height_m": 0.2, "side": "left"},
    "load flow": {"height_m": 1.2, "side": "right"},
    "load return": {"height_m": 0.3, "side": "right"},
    "top": {"height_m": 1.45, "side": "top"},
}


@cache
def systems() -> ModuleType:
    """The script that draws the samples."""
    path = Path(__file__).parents[2] / "samples" / "systems.py"
    spec = importlib.util.spec_from_file_location("sample_systems", path)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["sample_systems"] = module
    spec.loader.exec_module(module)
    return module


@cache
def base_sheet() -> Sheet:
    """The three-source store of the samples."""
    return systems().done(systems().base())


@cache
def base() -> Waterways:
    """Its waterways."""
    return Waterways(base_sheet(), CATALOGUE)


def ways_of(drawing: draw.Drawing) -> Waterways:
    """Waterways of a drawing."""
    return Waterways(drawing.done(), CATALOGUE)


def way(part: str, name: str = "valve") -> Key:
    """Key of a way."""
    return ("way", part, name)


def sink_of(ways: Waterways, part: str, sort: str | None = None) -> Sink:
    """The one sink of a part (of a sort)."""
    (found,) = [s for s in ways.sinks if s.part == part and sort in (None, s.sort)]
    return found


def source_of(ways: Waterways, part: str = "stove") -> Source:
    """A source by part."""
    return ways.source_of[part]


def stove_and_radiator(*between: tuple[str, str, dict], pumps: int = 0) -> draw.Drawing:
    """A stove, a radiator above it, and fittings in the flow: (kind, id, properties); a -> b away from the stove.

    A property `against=True` puts the fitting in the other way round.
    """
    d = draw.sheet("Stove and radiator")
    stove = d.add("boiler_stove", "stove", x_m=1.0, height_m=0.0)
    radiator = d.add("radiator", "rad", x_m=6.0, height_m=2.0, output_w=1500.0)
    here = stove["flow"]
    for number, (kind, name, props) in enumerate(between):
        more = dict(props)
        against = more.pop("against", False)
        part = d.add(kind, name, x_m=2.0 + 0.5 * number, height_m=2.5, mirror=against, **more)
        first, second = ("b", "a") if against else ("a", "b")
        d.pipe(here, part[first])
        here = part[second]
    d.pipe(here, radiator["flow"])
    d.pipe(radiator["return"], stove["return"])
    return d


def ladder(rungs: int, *, valve: str = "") -> draw.Drawing:
    """A stove with a two-pipe ladder of radiators, all but the last teed on both pipes; `valve` a kind in each."""
    d = draw.sheet("Ladder")
    stove = d.add("boiler_stove", "stove", x_m=1.0, height_m=0.0)
    flow, back = stove["flow"], stove["return"]
    for k in range(rungs):
        x = 2.0 + k
        radiator = d.add("radiator", f"rad{k}", x_m=x + 0.5, height_m=2.0, output_w=1000.0)
        end = radiator["flow"]
        if valve:
            v = d.add(valve, f"valve{k}", x_m=x + 0.2, height_m=2.6)
            d.pipe(v["b"], end)
            end = v["a"]
        if k == rungs - 1:
            d.pipe(flow, end)
            d.pipe(radiator["return"], back)
            break
        up = d.add("tee", f"up{k}", x_m=x, height_m=3.0)
        down = d.add("tee", f"down{k}", x_m=x, height_m=0.2)
        d.pipe(flow, up["left"])
        d.pipe(up["branch"], end)
        d.pipe(down["left"], back)
        d.pipe(radiator["return"], down["branch"])
        flow, back = up["right"], down["right"]
    return d
