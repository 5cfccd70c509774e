"""Which way the arrows of standing water point: from the supply to the taps, up the vent, down the feed (common
practice, no source)."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.drawing.plan import plan_sheet
from loopwright.files import load
from loopwright.sheet.values import Sheet
from loopwright.survey import against
from loopwright.waterways import Waterways
from loopwright.waterways.bound import bound
from loopwright.waterways.services import services

CATALOGUE = standard_catalogue()
SOUND = Path(__file__).parents[2] / "samples" / "sound"


def turned_round(sheet: Sheet) -> Sheet:
    """Every pipe drawn from its other end."""
    pipes = {
        p.id: msgspec.structs.replace(p, a=p.b, b=p.a, points=p.points[::-1], held=(), graded="")
        for p in sheet.pipes.values()
    }
    return msgspec.structs.replace(sheet, pipes=pipes)


def towards(sheet: Sheet) -> dict[str, str]:
    """The part that the water of each pipe goes to."""
    return {
        name: (sheet.pipes[name].b if way > 0 else sheet.pipes[name].a).part
        for name, way in bound(Waterways(sheet, CATALOGUE)).items()
    }


@pytest.mark.parametrize("name", ["three-source", "oil-by-coil", "stove-by-gravity"])
def test_water_goes_from_the_supply_to_the_taps_however_its_pipes_were_drawn(name):
    sheet = load(SOUND / f"{name}.loopwright", CATALOGUE)
    ways = Waterways(sheet, CATALOGUE)
    to = towards(sheet)
    kind_of = {part.id: CATALOGUE[part.kind] for part in sheet.parts.values()}
    ends_at = {kind_of[part].id for part in to.values()}
    assert {"bath", "mixing_valve"} <= ends_at and "mains_supply" not in ends_at
    for pipe, service in services(ways).items():
        if service == "vent":
            assert kind_of[to[pipe]].body == "cistern"
        elif service == "feed" and any(
            kind_of[e.part].body == "cistern" for e in (sheet.pipes[pipe].a, sheet.pipes[pipe].b)
        ):
            assert kind_of[to[pipe]].body != "cistern"
        elif service in ("cold", "hot"):
            assert pipe in to, f"{pipe} has no way to go"
    assert towards(turned_round(sheet)) == to


def test_a_picture_shows_the_same_arrows_however_the_pipes_were_drawn():
    sheet = load(SOUND / "three-source.loopwright", CATALOGUE)

    def arrows(drawn: Sheet) -> dict[str, list[tuple[float, ...]]]:
        carried = services(Waterways(drawn, CATALOGUE))
        plan = plan_sheet(drawn, CATALOGUE, carried, against=against(drawn, CATALOGUE))
        return {
            name: sorted(tuple(round(v, 3) + 0.0 for v in (*arrow.at, *arrow.step)) for arrow in pipe.arrows)
            for name, pipe in plan.pipes.items()
        }

    shown = arrows(sheet)
    assert sum(map(bool, shown.values())) > 20 and arrows(turned_round(sheet)) == shown
