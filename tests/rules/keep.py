"""Keeps the two drawn examples of a rule beside its page, titled with the page's own sentences.

In a shell begun in `tests/rules`, or a script beside this one:

    from fire_sheets import ON_RETURN, fire
    from keep import keep

    wrong = fire()
    wrong.insert("return_2", "isolating_valve", "V", at=ON_RETURN)
    keep("gravity-loop/isolating-valve", wrong=wrong, right=fire())

Refuses them if the rule does not find the one and pass the other. The sheets of `fire_sheets`, `vented` and
`circuit_sheets` are a start; `loopwright.draw` draws any other.
"""

from __future__ import annotations

import re

import msgspec

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.files.writer import save
from loopwright.reports.examples import path_of
from loopwright.rules.findings import Finding, Sound
from loopwright.rules.registry import Case, all_rules, page
from loopwright.waterways import Waterways


def keep(slug: str, *, wrong: draw.Drawing, right: draw.Drawing) -> None:
    """Writes both. Raises ValueError with what the rule says where that is not what the example is to show."""
    for which, drawing, answer in (("wrong", wrong, Finding), ("right", right, Sound)):
        title = re.search(rf"^{which.title()}: (.+?)\.?$", page(slug).text, flags=re.MULTILINE)
        if title is None:
            raise ValueError(f"The page of {slug} has no line “{which.title()}: …” under its Example")
        sheet = msgspec.structs.replace(drawing.done(), title=title[1])
        said = list(all_rules(computed=True)[slug].check(Case(Waterways(sheet, standard_catalogue()))))
        fits = (
            any(isinstance(s, Finding) for s in said) if answer is Finding else said and {*map(type, said)} == {Sound}
        )
        if not fits:
            raise ValueError(f"{slug} does not call the {which} one {which}; it says {said or 'nothing'}")
        path = path_of(slug, which)  # type: ignore[arg-type]
        save(sheet, path)
        print(f"Wrote {path.name}")
