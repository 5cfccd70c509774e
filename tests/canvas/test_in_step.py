"""While a group is dragged, and after it: what is moved whole is what a scene made afresh shows, words and picture
alike."""

from __future__ import annotations

import random

import numpy as np
import pytest
from PySide6.QtGui import QImage

from barn import CATALOGUE, kiln_barn
from loopwright.canvas.scene import Flag, SheetScene
from loopwright.canvas.view import SheetView
from loopwright.drawing.look import Look
from loopwright.drawing.plan import PipePlan
from loopwright.errors import LoopwrightError
from loopwright.sheet import edits

GROUP = ["bedroom", "hall", "P1", "C1"]


@pytest.fixture(scope="module")
def barn():
    return kiln_barn()


@pytest.fixture
def scene(qapp, barn):
    made = SheetScene(CATALOGUE)
    made.show(*barn)
    made.show_findings([Flag(1, "danger", (1.35, 2.0)), Flag(2, "fault", (4.0, 3.35))])
    made.place_labels()
    return made


@pytest.fixture
def view(qtbot, scene):
    made = SheetView(scene)
    qtbot.addWidget(made)
    made.resize(1000, 800)
    made.show()
    made.set_zoom(0.8)  # a unit is a whole pixel, so that pieces equal the whole to the last bit
    made.centre_on((4.0, 2.5))
    scene.set_look(Look(made.transform().m11()))
    scene.place_labels()  # at once, not when the zoom has rested
    return made


def fresh(sheet, services, flags=()):
    made = SheetScene(CATALOGUE)
    made.show(sheet, services)
    made.show_findings(flags)
    made.place_labels()
    return made


def plans(scene):
    return {key: item.plan for key, item in scene.items_by_id.items()}


def picture(view, qapp, whole=False):
    for _ in range(3):
        qapp.processEvents()
    taken = view.grab() if whole else view.screen().grabWindow(view.winId())
    return taken.toImage().convertToFormat(QImage.Format.Format_RGB32)


def differences(one, two):
    """How many pixels differ by more than a shade: a curve cut by the edge of a strip may round otherwise there."""
    a, b = (np.frombuffer(i.constBits(), np.uint8).reshape(i.height(), i.width(), 4).astype(int) for i in (one, two))
    return int((np.abs(a - b).max(axis=2) > 2).sum())


def test_words_of_an_edited_scene_are_those_of_a_fresh_one(scene, barn):
    rng = random.Random(9)
    sheet, services = barn
    for _ in range(25):
        parts = list(sheet.parts)
        try:
            dx = rng.randint(-5, 5) * 0.05
            if rng.random() < 0.3:
                sheet = edits.delete(sheet, [rng.choice(parts)], CATALOGUE)
            else:
                sheet = edits.move(sheet, rng.sample(parts, min(3, len(parts))), dx, 0.1, CATALOGUE)
        except LoopwrightError:
            continue
        settled = rng.random() < 0.6
        known = {k: services.get(k, "flow") for k in sheet.pipes}
        scene.show(sheet, known if settled else None, settled=settled)
        if settled and rng.random() < 0.7:
            scene.place_labels()
    scene.show(sheet, known := {k: services.get(k, "flow") for k in sheet.pipes})
    scene.place_labels()
    assert scene.labels == fresh(sheet, known, scene.flags).labels
    scene.show(*barn)  # all that was deleted comes back
    scene.place_labels()
    assert scene.labels == fresh(*barn, scene.flags).labels
    assert plans(scene) == plans(fresh(*barn))


def test_a_group_is_moved_whole(scene, barn):
    """Of a group no plan is made anew at a move, and where it is shown is where a fresh scene has it."""
    sheet = barn[0]
    made = {key: item.rest for key, item in scene.items_by_id.items()}
    after = edits.move(sheet, list(sheet.parts), 0.35, -0.15, CATALOGUE)
    scene.show(after, settled=False)
    assert {key for key, item in scene.items_by_id.items() if item.rest is not made[key]} == set()
    want = plans(fresh(after, barn[1]))
    for key, plan in plans(scene).items():
        at = plan.points if hasattr(plan, "points") else (plan.box[:2], plan.box[2:])
        wanted = want[key].points if hasattr(plan, "points") else (want[key].box[:2], want[key].box[2:])
        assert [c for p in at for c in p] == pytest.approx([c for p in wanted for c in p], abs=1e-3), key
    hops = sum(len(plan.hops) for plan in plans(scene).values() if isinstance(plan, PipePlan))
    assert hops == sum(len(plan.hops) for plan in want.values() if isinstance(plan, PipePlan)), "hops go along"


def test_words_go_along_and_those_of_stretched_pipes_wait(scene, barn):
    before = {(w.owner, w.kind): w.at for w in scene.labels.words}
    after = edits.move(barn[0], GROUP, 0.5, 0.25, CATALOGUE)
    scene.show(after, settled=False)
    now = {(w.owner, w.kind): w.at for w in scene.labels.words}
    for key in GROUP:
        old, new = before[key, "name"], now[key, "name"]
        assert (new[0] - old[0], new[1] - old[1]) == pytest.approx((50.0, -25.0))
    stretched = {p.id for key in GROUP for p in after.pipes_of(key) if not {p.a.part, p.b.part} <= set(GROUP)}
    assert stretched and not {owner for owner, _ in now} & stretched
    assert now["stove", "name"] == before["stove", "name"]


@pytest.mark.parametrize("everything", [False, True], ids=["a group", "everything"])
def test_a_drag_leaves_nothing_behind(view, scene, barn, qapp, everything):
    """At each step what is painted piece by piece is what a fresh painting gives; given up, all is as it was."""
    sheet = barn[0]
    group = list(sheet.parts) if everything else GROUP
    scene.choose([*group, *(p.id for key in group for p in sheet.pipes_of(key))])
    first = picture(view, qapp)
    for k in (1, 3, 2):
        scene.show(edits.move(sheet, group, 0.1 * k, 0.05 * k, CATALOGUE), settled=False)
        assert differences(picture(view, qapp), picture(view, qapp, whole=True)) == 0, k
        assert differences(picture(view, qapp), first) > 0
    scene.show(sheet)
    assert differences(picture(view, qapp), first) == 0


def test_findings_in_the_midst_of_a_drag_are_placed_on_what_is_shown(scene, barn):
    after = edits.move(barn[0], ["hall"], 0.0, 0.5, CATALOGUE)
    scene.show(after, settled=False)
    spot = after.parts["hall"].x_m, after.parts["hall"].height_m
    scene.show_findings([Flag(5, "fault", spot, ("hall",))])
    scene.place_labels()
    name = next(w for w in scene.labels.words if w.owner == "hall")
    further = edits.move(barn[0], ["hall"], 0.5, 0.5, CATALOGUE)
    scene.show(further, settled=False)
    moved = next(w for w in scene.labels.words if w.owner == "hall")
    assert (moved.at[0] - name.at[0], moved.at[1] - name.at[1]) == pytest.approx((50.0, 0.0))
    scene.show(barn[0])
    scene.place_labels()
    assert scene.labels == fresh(*barn, scene.flags).labels


def test_a_pan_moves_the_sheet_and_leaves_the_names_of_floors(view, qapp):
    """Only a strip and the places of the names are painted anew, and the picture is that of a fresh painting."""
    picture(view, qapp)
    painted = []
    before = view.paintEvent
    view.paintEvent = lambda event: (painted.append(event.region()), before(event))[1]
    for dx, dy in ((24, 0), (-9, 13), (0, -40)):
        painted.clear()
        view.pan(dx, dy)
        assert differences(picture(view, qapp), picture(view, qapp, whole=True)) == 0, (dx, dy)
        area = sum(r.width() * r.height() for region in painted[:1] for r in region)
        assert area < 0.25 * view.viewport().width() * view.viewport().height()


def test_going_back_and_forth_paints_what_a_fresh_scene_paints(view, scene, barn, qapp):
    """What was compiled and laid out of the sheet before is asked for again, also after a zoom and a change of state in
    between."""
    sheet, services = barn
    there = edits.move(sheet, set(sheet.parts), 0.3, 0.15, CATALOGUE)
    idle = frozenset(list(sheet.pipes)[:5])
    for k, shown in enumerate((there, sheet, there, sheet, there, sheet)):
        if k == 3:
            scene.set_look(Look(2.0 * view.transform().m11()))
            scene.show_condition({}, idle)
        if k == 4:
            scene.set_look(Look(view.transform().m11()))
            scene.show_condition({})
        scene.show(shown)
        now = picture(view, qapp, whole=True)
        other = fresh(shown, services, scene.flags)
        other.set_look(scene.look)
        other.show_condition({}, idle if k == 3 else ())
        other.place_labels()
        view.setScene(other)
        view.sheet_scene = other
        assert differences(now, picture(view, qapp, whole=True)) == 0, k
        view.setScene(scene)
        view.sheet_scene = scene
