"""The whole drawing to scale with its numbered flags and the key of lines. Owns the section; `pictures` cuts it up."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from loopwright.reports.matter import Matter
from loopwright.reports.model import Section
from loopwright.reports.pictures import plate


def drawing(matter: Matter) -> Iterator[Section]:
    """One page, or several that overlap."""
    matter.step("the drawing")
    whole = plate(matter.plan, matter.flags, matter.asked.paper)
    whole = msgspec.structs.replace(whole, picture=msgspec.structs.replace(whole.picture, settled=matter.settled))
    pages = len(whole.tiles)
    aside = f"1 : {whole.picture.scale:g}" + (f", {pages} pages that overlap" if pages > 1 else "")
    yield Section(key="drawing", title="Drawing", aside=aside, blocks=(whole,), fresh=True)
