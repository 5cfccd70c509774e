"""The small drawn examples of a rule: one sheet that is wrong and one that is right.

They ship beside the rule's page, as sheets that anybody can open; a test holds that the rule finds the one and passes
the other. Owns how they are drawn.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

import msgspec

from loopwright.catalogue import Catalogue
from loopwright.drawing.flags import flags_of
from loopwright.drawing.look import Palette
from loopwright.drawing.plan import plan_sheet
from loopwright.errors import LoopwrightError
from loopwright.files.reader import load
from loopwright.reports.model import Picture
from loopwright.reports.page import picture_svg
from loopwright.reports.pictures import fitted
from loopwright.resources import resource_root
from loopwright.rules.findings import Finding
from loopwright.rules.registry import Case, all_rules
from loopwright.sheet.values import Sheet
from loopwright.survey import against, placed
from loopwright.waterways import Waterways
from loopwright.waterways.services import services

Which = Literal["wrong", "right"]
ROOM_MM = (118.0, 92.0)
"""Room for one example on a page."""


def path_of(slug: str, which: Which) -> Path:
    """The file of an example. Raises LoopwrightError for a rule that does not exist."""
    if slug not in all_rules(computed=True):
        raise LoopwrightError(f"There is no rule “{slug}”", do="`loopwright rules` lists them")
    return resource_root() / "rules" / f"{slug}.{which}.loopwright"


def example(slug: str, which: Which, catalogue: Catalogue) -> tuple[Sheet, Finding | None]:
    """An example's sheet, and what the rule finds on it: nothing on the one that is right."""
    sheet = load(path_of(slug, which), catalogue)
    ways = Waterways(sheet, catalogue)
    said = all_rules(computed=True)[slug].check(Case(ways))
    found = next((s for s in said if isinstance(s, Finding)), None)
    if found is None:
        return sheet, None
    return sheet, placed(ways, msgspec.structs.replace(found, rule=slug, number=1))


def picture(slug: str, which: Which, catalogue: Catalogue, room_mm: tuple[float, float] = ROOM_MM) -> Picture:
    """An example, with a flag and the path lit where it is wrong."""
    sheet, found = example(slug, which, catalogue)
    plan = plan_sheet(sheet, catalogue, services(Waterways(sheet, catalogue)), against=against(sheet, catalogue))
    if found is None:
        return fitted(plan, (), room_mm, caption=f"Right: {sheet.title}")
    lit = {key.partition("/")[0] for key in (*found.path, *found.culprits, found.subject)}
    return fitted(plan, flags_of([found]), room_mm, lit, found.severity.word, caption=f"Wrong: {sheet.title}")


def svg(
    slug: str,
    which: Which,
    catalogue: Catalogue,
    room_mm: tuple[float, float] = ROOM_MM,
    palette: Palette = "light",
) -> str:
    """An example as a picture of its own."""
    return picture_svg(picture(slug, which, catalogue, room_mm), palette=palette)
