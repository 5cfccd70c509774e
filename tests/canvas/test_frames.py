"""A gesture keeps up with the screen: 60 pictures a second leave 16.7 ms, and a shared machine gets twice
that."""

from __future__ import annotations

from statistics import median
from time import perf_counter

import msgspec
import pytest

from barn import CATALOGUE, kiln_barn
from loopwright.canvas.scene import SheetScene
from loopwright.canvas.view import SheetView
from loopwright.sheet import edits
from loopwright.sheet.values import End

LIMIT_S = 2 / 60


def street(count):
    """Several barns side by side, each part and pipe with the number of its barn."""
    sheet, services = kiln_barn()
    parts, pipes, known = {}, {}, {}
    for k in range(count):
        shift = 9.0 * k
        for p in sheet.parts.values():
            parts[f"{p.id}_{k}"] = msgspec.structs.replace(p, id=f"{p.id}_{k}", x_m=p.x_m + shift)
        for p in sheet.pipes.values():
            a, b = (End(f"{e.part}_{k}", e.port) for e in (p.a, p.b))
            points = tuple((x + shift, z) for x, z in p.points)
            pipes[f"{p.id}_{k}"] = msgspec.structs.replace(p, id=f"{p.id}_{k}", a=a, b=b, points=points)
            known[f"{p.id}_{k}"] = services[p.id]
    return msgspec.structs.replace(sheet, parts=parts, pipes=pipes, links={}), known


@pytest.fixture
def shown(qtbot):
    sheet, services = street(4)  # 108 parts
    scene = SheetScene(CATALOGUE)
    scene.show(sheet, services)
    view = SheetView(scene)
    qtbot.addWidget(view)
    view.resize(1044, 892)
    view.show()
    view.centre_on((4.0, 3.0))
    qtbot.wait(20)
    return view, scene, sheet


def timed(step, times=7):
    """Median seconds of a step, the first one left out."""
    step(0)
    took = []
    for k in range(times):
        begin = perf_counter()
        step(k + 1)
        took.append(perf_counter() - begin)
    return median(took)


def test_dragging_a_part(shown, qapp):
    _, scene, sheet = shown

    def step(k):
        scene.show(edits.move(sheet, {"bedroom_0"}, 0.05 * k, 0.0, CATALOGUE), settled=False)
        qapp.processEvents()

    assert timed(step) < LIMIT_S


def test_painting_the_whole_view(shown):
    view, _, _ = shown
    assert timed(lambda k: view.viewport().repaint()) < LIMIT_S


def test_a_step_of_zoom_without_a_new_look(shown, qapp):
    view, _, _ = shown

    def step(k):
        view.set_zoom(1.0 + 0.01 * (k % 4))
        qapp.processEvents()

    assert timed(step) < LIMIT_S


def test_finding_what_is_under_the_pointer(shown):
    _, scene, _ = shown
    assert timed(lambda k: scene.hit((4.0 + 0.1 * k, 3.0), 0.008)) < 0.002
