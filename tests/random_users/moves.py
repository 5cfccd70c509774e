"""One random edit of a sheet: anything a person can do, on whatever is there, right or wrong.

Owns the choice. Refuses to know documents and windows.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from loopwright.catalogue import standard_catalogue
from loopwright.sheet import edits
from loopwright.sheet.aligning import align, distribute, level_ports
from loopwright.sheet.dimensions import put_dimension
from loopwright.sheet.links import driven_places, likely, sensing_places
from loopwright.sheet.pieces import cut_out, put_in
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import ControlLink, Dimension, End, Foot, Note, Part, Sheet

CATALOGUE = standard_catalogue()
KINDS = [kind.id for kind in CATALOGUE]
Edit = Callable[[Sheet], Sheet]
TITLES = ["Kiln Lane", "<b>x</b>", "☃ é", "a" * 200, "x\ny", ""]


def any_edit(r: Random) -> tuple[str, Edit]:
    """The name of an edit, and the edit. It raises SheetError where it cannot be."""
    name = r.choice(list(EDITS))
    seed = r.random()
    return name, lambda sheet: EDITS[name](Random(seed), sheet)


def _near(r: Random) -> tuple[float, float]:
    return round(r.uniform(-5, 12), 2), round(r.uniform(0, 5), 2)


def _some(r: Random, of: list[str], most: int = 3) -> set[str]:
    return set(r.sample(of, min(len(of), r.randint(1, most)))) if of else {"none"}


def _part(r: Random, sheet: Sheet) -> Part:
    kind = CATALOGUE[r.choice(KINDS)]
    x, z = _near(r)
    return Part(id=edits.new_id(sheet, kind), kind=kind.id, x_m=x, height_m=z, turn=0 if kind.large else r.randrange(4))


def _vessel(sheet: Sheet) -> str:
    return next((p.id for p in sheet.parts.values() if p.tappings), "none")


def _one(r: Random, of: list[str]) -> str:
    return r.choice(of) if of else "none"


def _connect(r: Random, sheet: Sheet) -> Sheet:
    ends = [End(p.id, name) for p in sheet.parts.values() for name in ports_of(p, CATALOGUE)]
    if len(ends) < 2:
        return sheet
    a, b = r.sample(ends, 2)
    return edits.connect(sheet, a, b, CATALOGUE)


def _property(r: Random, sheet: Sheet) -> Sheet:
    part = _one(r, list(sheet.parts))
    if part == "none":
        return sheet
    props = CATALOGUE[sheet.parts[part].kind].props
    name = r.choice([p.name for p in props] or ["none"])
    value = r.choice([0, 1, 2.5, 60, 1e9, -1, True, "copper", "", None])
    return edits.set_property(sheet, part, name, value, CATALOGUE)


def _paste(r: Random, sheet: Sheet) -> Sheet:
    piece = cut_out(sheet, _some(r, list(sheet.parts), 6))
    return put_in(sheet, piece, *_near(r))[0]


def _link(r: Random, sheet: Sheet) -> Sheet:
    sensors, driven = sensing_places(sheet, CATALOGUE), driven_places(sheet, CATALOGUE)
    if not sensors or not driven:
        return sheet
    ident = f"link{r.randrange(6)}"
    link: ControlLink = likely(sheet, ident, r.choice(sensors), r.choice(driven), "", CATALOGUE)
    return edits.put_link(sheet, link)


def _dimension(r: Random, sheet: Sheet) -> Sheet:
    feet = [Foot(x_m=x, height_m=z) for x, z in (_near(r), _near(r))]
    return put_dimension(sheet, Dimension(id=f"d{r.randrange(5)}", a=feet[0], b=feet[1], x_m=_near(r)[0]))


def _insert(r: Random, sheet: Sheet) -> Sheet:
    pipe = _one(r, list(sheet.pipes))
    if r.random() < 0.5:
        return edits.tee_into(sheet, pipe, _near(r), CATALOGUE)[0]
    return edits.insert_in_pipe(sheet, pipe, _part(r, sheet), _near(r), CATALOGUE)


EDITS: dict[str, Callable[[Random, Sheet], Sheet]] = {
    "place": lambda r, s: edits.place(s, _part(r, s)),
    "place again": lambda r, s: edits.place(s, _part(r, s)),
    "connect": _connect,
    "connect again": _connect,
    "connect once more": _connect,
    "insert": _insert,
    "move": lambda r, s: edits.move(
        s, _some(r, [*s.parts, *s.pipes]), round(r.uniform(-2, 2), 2), round(r.random(), 2), CATALOGUE
    ),
    "turn": lambda r, s: edits.turn(s, _some(r, list(s.parts), 2), CATALOGUE),
    "mirror": lambda r, s: edits.mirror(s, _some(r, list(s.parts), 2), CATALOGUE),
    "delete": lambda r, s: edits.delete(s, _some(r, [*s.parts, *s.pipes, *s.links], 2), CATALOGUE),
    "property": _property,
    "property again": _property,
    "rename": lambda r, s: edits.rename(s, _one(r, list(s.parts)), r.choice(["n1", "n2", "x y", "", "é", "store"])),
    "name": lambda r, s: edits.set_part(s, _one(r, list(s.parts)), name=r.choice(TITLES)),
    "duplicate": lambda r, s: edits.duplicate(s, _some(r, list(s.parts)), *_near(r)),
    "paste": _paste,
    "align": lambda r, s: align(s, _some(r, list(s.parts), 4), r.choice(["left", "right", "top", "bottom"]), CATALOGUE),
    "distribute": lambda r, s: distribute(s, _some(r, list(s.parts), 5), r.random() < 0.5, CATALOGUE),
    "level": lambda r, s: level_ports(s, _some(r, list(s.parts), 4), CATALOGUE),
    "tapping": lambda r, s: edits.add_tapping(s, _vessel(s), round(r.uniform(-0.1, 2), 2), CATALOGUE),
    "move tapping": lambda r, s: edits.set_tapping(
        s, _vessel(s), r.choice("ABCDEF"), CATALOGUE, height_m=round(r.uniform(0, 2), 2)
    ),
    "remove tapping": lambda r, s: edits.remove_tapping(s, _vessel(s), r.choice("ABCDEF"), CATALOGUE),
    "coil": lambda r, s: edits.add_coil(s, _vessel(s), CATALOGUE, name=f"c{r.randrange(4)}", bottom_m=0.2, top_m=0.9),
    "link": _link,
    "dimension": _dimension,
    "note": lambda r, s: edits.put_note(
        s, Note(id=f"note{r.randrange(4)}", text=r.choice(TITLES), x_m=_near(r)[0], height_m=_near(r)[1])
    ),
    "title": lambda r, s: edits.set_title(s, r.choice(TITLES)),
    "fact": lambda r, s: edits.set_fact(s, r.choice(["house_load_w", "x"]), r.choice([8000, 1.5, "x", True, None])),
    "levels": lambda r, s: edits.set_levels(s, {"Ground": 0.0, "First": round(r.uniform(0, 4), 1)}),
}
