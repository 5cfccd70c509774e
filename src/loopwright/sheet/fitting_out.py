"""What a vessel is fitted out with when nobody says where: coils by what they serve, pockets, tappings.

Owns the usual heights and the search for a free place. Knows no pointer and no water.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import product
from typing import Any

from loopwright.catalogue import Catalogue
from loopwright.errors import SheetError
from loopwright.sheet.asked import Extra
from loopwright.sheet.ports import size_of
from loopwright.sheet.values import PropValue, Sheet, TappingSide
from loopwright.sheet.vessels import add_coil, add_tapping

REACH = {"solar": (0.06, 0.34), "domestic": (0.20, 0.94), "source": (0.50, 0.85), "any": (0.10, 0.40)}
"""Bottom and top of a coil as shares of the body, by what it serves: the sun heats the coldest water, a boiler the
upper part, tap water is warmed all the way up (common practice, no source)."""
SHIFTS_M = tuple((by, by) for by in (0.0, 0.04, -0.04, 0.08, -0.08, 0.12))
"""How far bottom and top of a coil are moved where another stub is in its way."""
LOW_SHIFTS_M = tuple((low, high) for high in (0.0, -0.04, -0.08) for low in (0.0, 0.04, -0.04, 0.08))
"""The same for one that must not come higher: it rather gets shorter."""
POCKETS = tuple(sorted((round(0.02 * n, 2) for n in range(-10, 11)), key=abs))


def fitted(
    sheet: Sheet,
    vessel: str,
    extra: Extra,
    catalogue: Catalogue,
    height_m: float | None = None,
    side: TappingSide = "right",
    figures: Mapping[str, PropValue] | None = None,
) -> Sheet:
    """The vessel with a coil, a pocket or a tapping more. A pocket and a tapping go to `height_m` above the base or as
    near as there is room (None: half way up); a coil where it usually sits. `figures` are what is known of it: a coil's
    `area_m2` and `content_l`, the `height_m` of another. Raises SheetError where nothing is free."""
    part = sheet.parts[vessel]
    tall = size_of(part, catalogue[part.kind])[1]
    sides: tuple[TappingSide, ...] = (side, "left" if side == "right" else "right")
    refused: SheetError | None = None
    if extra.sort == "coil":
        bottom, top = (round(share * tall, 2) for share in REACH[extra.purpose])
        names = {coil.name for coil in part.coils}
        plain = extra.name.lower()
        name = next(n for n in (plain, *(f"{plain} {k}" for k in range(2, 100))) if n not in names)
        for one, (low, high) in product(sides, LOW_SHIFTS_M if extra.purpose == "solar" else SHIFTS_M):
            reach: dict[str, Any] = {"bottom_m": round(bottom + low, 2), "top_m": round(top + high, 2)}
            reach.update(figures or {})
            try:
                return add_coil(sheet, vessel, catalogue, name=name, side=one, purpose=extra.purpose, **reach)
            except SheetError as bad:
                refused = refused or bad
    else:
        said = (figures or {}).get("height_m", height_m)
        wanted = float(said) if isinstance(said, int | float) else tall / 2
        size = "15" if extra.sort == "pocket" else "28"
        for one, by in product(sides, POCKETS):
            at = round(wanted + by, 2)
            try:
                return add_tapping(sheet, vessel, at, catalogue, side=one, purpose=extra.purpose, size=size)
            except SheetError as bad:
                refused = refused or bad
    assert refused is not None
    raise refused
