"""Repairs by a figure: a mixing valve set lower, a larger radiator, cistern or vessel, a cistern that stands hot water.

Owns which figure to try. A part that is there already is left alone: its size is what it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import partial
from math import ceil

from loopwright.catalogue import Catalogue
from loopwright.rules.findings import Finding
from loopwright.rules.mending.steps import called
from loopwright.rules.repairs import Proposal, Repair, repair
from loopwright.sheet import edits
from loopwright.sheet.values import Part, PropValue, Sheet

VESSELS_L = (8.0, 12.0, 18.0, 24.0, 35.0, 50.0, 80.0, 100.0, 140.0, 200.0, 250.0, 300.0, 400.0, 500.0)
"""Sizes in which expansion vessels are sold (common practice, no source)."""


def _only(sheet: Sheet, catalogue: Catalogue, finding: Finding, prop: str) -> Part | None:
    """The one culprit, if it has the property and is still to be bought or set."""
    parts = [sheet.parts[c] for c in finding.culprits if c in sheet.parts]
    if len(parts) != 1 or catalogue[parts[0].kind].prop(prop) is None:
        return None
    return parts[0]


def _set(part: Part, name: str, values: Iterable[PropValue], label: str, catalogue: Catalogue) -> tuple[Repair, ...]:
    return tuple(
        Repair(label.format(v), partial(edits.set_property, part_id=part.id, name=name, value=v, catalogue=catalogue))
        for v in values
    )


@repair("domestic/scald-risk")
def mixing(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The mixing valve set to what the tap wants."""
    valve = _only(sheet, catalogue, finding, "setting_c")
    if valve is None or finding.limit is None or "mixing_valve" not in catalogue[valve.kind].tags:
        return
    settings = [s for s in (finding.limit, 44.0, 43.0, 41.0, 38.0) if s <= finding.limit]
    yield _set(valve, "setting_c", settings, f"Set {called(sheet, valve.id, catalogue)} to {{:g}} °C", catalogue)


@repair("solid-fuel/heat-leak-too-small")
def larger_radiator(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A heat leak large enough; how far its rated output goes beyond what it sheds is found by trying."""
    leak = _only(sheet, catalogue, finding, "output_w")
    if leak is None or leak.existing or finding.limit is None or finding.measured is None or finding.unit != "kW":
        return
    has = leak.props.get("output_w")
    if isinstance(has, int | float) and not isinstance(has, bool):
        lacks = (finding.limit - finding.measured) * 1000
        outputs = [50.0 * ceil((has + lacks * share) / 50.0 - 1e-9) for share in (1.0, 1.3, 1.7, 2.5)]
        yield _set(leak, "output_w", outputs, f"Fit {{:g}} W for {called(sheet, leak.id, catalogue)}", catalogue)


@repair("vent-and-feed/cistern-too-small")
def larger_cistern(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A cistern with room for what the water swells by."""
    cistern = _only(sheet, catalogue, finding, "expansion_room_l")
    if cistern is not None and not cistern.existing and finding.measured is not None and finding.unit == "l":
        yield _set(
            cistern,
            "expansion_room_l",
            [float(ceil(finding.measured - 1e-9))],
            "Fit a cistern with {:g} l of room",
            catalogue,
        )


@repair("sealed/vessel-too-small")
def larger_vessel(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """The next vessel sold that is large enough."""
    vessel = _only(sheet, catalogue, finding, "volume_l")
    if vessel is not None and not vessel.existing and finding.limit is not None and finding.unit == "l":
        yield _set(
            vessel,
            "volume_l",
            [v for v in VESSELS_L if v >= finding.limit - 1e-9][:2],
            "Fit a vessel of {:g} l",
            catalogue,
        )


@repair("vent-and-feed/cistern-unfit")
def hot_cistern(sheet: Sheet, catalogue: Catalogue, finding: Finding) -> Iterator[Proposal]:
    """A cistern that stands near-boiling water in place of one that does not."""
    cistern = _only(sheet, catalogue, finding, "hot_rated")
    if cistern is not None and not cistern.existing and cistern.props.get("hot_rated") is False:
        yield _set(cistern, "hot_rated", [True], "Fit a cistern rated for hot water", catalogue)
