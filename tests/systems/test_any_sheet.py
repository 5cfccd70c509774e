"""Any sheet that can be drawn can be surveyed: random parts, random joints, no rule may fail."""

from __future__ import annotations

import os
import random
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import msgspec
import pytest

from loopwright.catalogue import standard_catalogue
from loopwright.errors import SheetError
from loopwright.files.reader import load
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Coil, End, Part, Pipe, Sheet, Tapping
from loopwright.survey import BROKEN, condition_view, survey
from loopwright.waterways import Condition

CATALOGUE = standard_catalogue()


def random_sheet(seed: int) -> Sheet:
    """Parts of any kind in any place, joined at random; ports may stay open, loops may be nonsense."""
    pick = random.Random(seed)
    kinds = list(CATALOGUE)
    parts: dict[str, Part] = {}
    for i in range(pick.randint(2, 22)):
        kind = (
            pick.choice(kinds) if pick.random() < 0.7 else CATALOGUE[pick.choice(["heat_store", "boiler_stove", "tee"])]
        )
        taps: tuple[Tapping, ...] = ()
        coils: tuple[Coil, ...] = ()
        if kind.body in ("store", "cylinder"):
            taps = tuple(
                Tapping(
                    letter=x,
                    height_m=0.1 * (n + 1),
                    side=pick.choice(["left", "right"]),
                    purpose=pick.choice(["any", "source_flow", "sensor", "vent"]),
                )
                for n, x in enumerate("ABCDEF")
            )
            coils = (Coil(name="c", bottom_m=0.1, top_m=0.5, lower="A", upper="E"),)
        part_id = f"p{i}"
        parts[part_id] = Part(
            id=part_id,
            kind=kind.id,
            x_m=pick.uniform(-5, 5),
            height_m=pick.uniform(-1, 6),
            turn=pick.randint(0, 3),
            mirror=pick.random() < 0.3,
            tappings=taps,
            coils=coils,
        )
    free = [End(p.id, port) for p in parts.values() for port in ports_of(p, CATALOGUE)]
    pick.shuffle(free)
    pipes = {}
    for n in range(int(len(free) / 2 * pick.random())):
        a, b = free.pop(), free.pop()
        corners = tuple((pick.uniform(-5, 5), pick.uniform(-1, 6)) for _ in range(pick.randint(0, 3)))
        pipes[f"w{n}"] = Pipe(
            id=f"w{n}",
            a=a,
            b=b,
            points=corners,
            size=pick.choice(["15", "22", "28", "odd"]),
            graded=pick.choice(["", "a", "b"]),
            material=pick.choice(["copper", "pex"]),
        )
    return Sheet(parts=parts, pipes=pipes)


@pytest.mark.parametrize("seed", range(120))
def test_every_rule_answers_any_sheet(seed):
    sheet = random_sheet(seed)
    result = survey(sheet, CATALOGUE)
    assert [a for a in result.answers if a.because.startswith(BROKEN)] == []
    assert set(result.services) == set(sheet.pipes)
    ids = set(sheet.parts) | set(sheet.pipes)
    for finding in result.findings:
        assert finding.message and finding.todo and finding.spot is not None
        assert {c.split("/")[0] for c in finding.culprits} <= ids, finding
    for condition in (Condition(), Condition(power=False)):
        view = condition_view(sheet, CATALOGUE, condition)
        assert set(view.moving) | view.idle == set(sheet.pipes)


SOUND = sorted((Path(__file__).parents[2] / "samples" / "sound").glob("*.loopwright"))


@pytest.mark.parametrize("path", SOUND, ids=lambda path: path.stem)
def test_every_rule_answers_the_least_and_the_most_that_may_be_typed(path):
    """Each property at its least, at its most, or as it was: what a limit allows may not break a rule."""
    sheet = msgspec.structs.replace(load(path, CATALOGUE), facts={"house_load_kw": 6.0})
    for seed in range(4):
        pick, edited = random.Random(seed), sheet
        for part in sheet.parts.values():
            for spec in CATALOGUE[part.kind].props:
                if spec.name.startswith("body_"):
                    continue  # a store as high as a tower has all its pipes laid anew, which takes long
                end = pick.choice([spec.least, spec.most, None])
                if end is not None:
                    with suppress(SheetError):  # one property's limits may lie beyond another's
                        edited = edits.set_property(edited, part.id, spec.name, end, CATALOGUE)
        assert [a for a in survey(edited, CATALOGUE).answers if a.because.startswith(BROKEN)] == [], seed


def test_no_answer_hangs_on_the_order_of_a_set():
    """Two runs of the program hash words differently; what they say is the same to the letter."""
    words = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from test_any_sheet import CATALOGUE, random_sheet, survey\n"
        "print([survey(random_sheet(seed), CATALOGUE) for seed in range(40, 70)])"
    )
    said = [
        subprocess.run(
            [sys.executable, "-c", words, str(Path(__file__).parent)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert said[0] == said[1] and len(said[0]) > 10_000
