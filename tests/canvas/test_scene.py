"""The scene keeps in step with any sheet by difference; the view zooms at the pointer; exports have their
sizes."""

from __future__ import annotations

import gc
import random
import re
import weakref

import msgspec
import pytest
from fontTools.ttLib import TTFont
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QFontMetricsF, QImage, QMouseEvent
from PySide6.QtWidgets import QApplication

from barn import CATALOGUE, kiln_barn
from loopwright.canvas.export import PAGES_MM, to_pdf, to_png
from loopwright.canvas.fonts import load_fonts, sheet_font
from loopwright.canvas.scene import Flag, SheetScene
from loopwright.canvas.tools.select import SelectTool
from loopwright.canvas.view import SheetView
from loopwright.drawing.look import SHEET_FAMILY, WINDOW_FAMILY, to_units
from loopwright.drawing.widths import width_px
from loopwright.errors import LoopwrightError
from loopwright.resources import resource_root
from loopwright.sheet import edits
from loopwright.sheet.values import Part, Sheet
from loopwright.window.document import Document
from loopwright.window.host import CanvasHost


@pytest.fixture
def barn():
    return kiln_barn()


@pytest.fixture
def scene(qapp, barn):
    made = SheetScene(CATALOGUE)
    made.show(*barn)
    made.place_labels()
    return made


def plans(scene):
    """What is shown, by id."""
    return {key: item.plan for key, item in scene.items_by_id.items()}


def test_an_item_a_record(scene, barn):
    sheet = barn[0]
    assert set(scene.items_by_id) == {*sheet.parts, *sheet.pipes, *sheet.links}


def at_even_zoom(view, qtbot, qapp):
    """Zoom so that a scene unit is a whole pixel (1.25 px at 100 %): pieces then equal the whole to the last bit."""
    view.set_zoom(0.8)
    qtbot.waitUntil(lambda: view.sheet_scene.look.px_a_unit == view.transform().m11())  # the exact look, after a rest
    qapp.processEvents()


def random_edit(sheet, rng):
    """One edit out of several kinds, or the same sheet where it is refused."""
    parts, pipes = list(sheet.parts), list(sheet.pipes)
    some = rng.sample(parts, min(3, len(parts)))
    dx, dz = rng.randint(-6, 6) * 0.05, rng.randint(-6, 6) * 0.05
    ways = [
        lambda: edits.move(sheet, some, dx, dz, CATALOGUE),
        lambda: edits.delete(sheet, [rng.choice(parts + pipes)], CATALOGUE),
        lambda: edits.duplicate(sheet, some, 0.3, -0.3),
        lambda: edits.mirror(sheet, some[:1], CATALOGUE),
        lambda: edits.tee_into(sheet, rng.choice(pipes), (rng.random() * 7, rng.random() * 6), CATALOGUE)[0],
        lambda: edits.set_pipe(sheet, rng.choice(pipes), size="15"),
    ]
    try:
        return rng.choice(ways)()
    except LoopwrightError:
        return sheet


def test_a_diff_shows_what_a_fresh_scene_shows(qapp, scene, barn):
    rng = random.Random(4)
    sheet, services = barn
    sheets = [sheet]
    for _ in range(40):
        sheet = random_edit(sheet, rng)
        sheets.append(sheet)
        scene.show(sheet, settled=rng.random() < 0.7)
    for shown in (sheets[-1], sheets[20], sheets[0]):
        known = {k: services.get(k, "flow") for k in shown.pipes}
        scene.show(shown, known)
        fresh = SheetScene(CATALOGUE)
        fresh.show(shown, known)
        assert plans(scene) == plans(fresh)


def test_a_preview_leaves_no_hops_behind(scene, barn):
    sheet, services = barn
    before = plans(scene)
    scene.show(edits.move(sheet, ["bedroom"], 0.5, 0.5, CATALOGUE), settled=False)
    scene.show(sheet, services)
    assert plans(scene) == before


def test_only_what_changed_is_made_anew(scene, barn):
    sheet, services = barn
    before = plans(scene)
    scene.show(edits.move(sheet, ["hall"], 0.05, 0.0, CATALOGUE), services)
    changed = {k for k, plan in plans(scene).items() if plan is not before.get(k)}
    ends = {e.part for p in sheet.pipes_of("hall") for e in (p.a, p.b)}
    assert changed <= {"hall", *ends, *(p.id for p in sheet.pipes_of("hall"))} | set(sheet.pipes)
    assert "stove" not in changed and "cistern" not in changed


def test_a_condition_turns_arrows_and_fades(scene, barn):
    sheet = barn[0]
    pipe = next(k for k, p in plans(scene).items() if k in sheet.pipes and p.arrows)
    forth = plans(scene)[pipe].arrows[0].step
    scene.show_condition({pipe: -1}, set(sheet.pipes) - {pipe})
    back = plans(scene)[pipe].arrows[0].step
    assert (back[0], back[1]) == (-forth[0], -forth[1])
    assert {i.state for k, i in scene.items_by_id.items() if k in sheet.pipes and k != pipe} == {"idle"}
    scene.show_condition({}, ())
    assert {i.state for i in scene.items_by_id.values()} == {""}
    assert plans(scene)[pipe].arrows[0].step == forth


def test_hits(scene, barn):
    sheet = barn[0]
    metre_a_px = 0.008
    assert scene.hit((0.9, 0.4), metre_a_px).id == "stove"
    assert scene.hit((1.7, 1.5), metre_a_px).kind == "pipe"
    port = scene.hit((1.21, 0.68), metre_a_px)
    assert (port.kind, port.id, port.port) == ("port", "stove", "flow")
    assert scene.hit((2.7, 1.7), metre_a_px) is None
    assert scene.hit((4.9, 3.8), metre_a_px).id == "P1"
    assert "stove" in scene.within((0.0, -0.5), (2.0, 1.5), touched=False)
    assert "stove" not in scene.within((0.8, 0.2), (2.0, 1.5), touched=False)
    assert "stove" in scene.within((0.8, 0.2), (2.0, 1.5), touched=True)
    assert sheet.parts["stove"]


def test_a_preview_does_not_get_in_its_own_way(scene, barn):
    sheet = barn[0]
    under = scene.hit((1.7, 1.5), 0.008)
    valve = Part(id="V9", kind="isolating_valve", x_m=0, height_m=0)
    scene.show(edits.insert_in_pipe(sheet, under.id, valve, (1.7, 1.5), CATALOGUE), settled=False)
    assert "V9" in scene.items_by_id and scene.hit((1.7, 1.5), 0.008) == under
    scene.show(sheet)
    assert "V9" not in scene.items_by_id


def test_flags_are_hit_before_anything_else(scene):
    scene.show_findings([Flag(7, "danger", (1.35, 2.0))])
    scene.place_labels()
    (place,) = scene.labels.flags
    at = (place.at[0] / 100, -place.at[1] / 100)
    assert scene.hit(at, 0.008).id == "7"


@pytest.fixture
def window(qtbot, scene, barn):
    view = SheetView(scene)
    document = Document(barn[0])
    host = CanvasHost(document, scene, CATALOGUE, lambda: view.metres_a_px)
    view.set_tool(SelectTool(host))
    view.resize(1000, 800)
    qtbot.addWidget(view)
    view.show()
    view.fit()
    yield view, document
    view.set_tool(None)


def test_zoom_keeps_the_place_under_the_pointer(window):
    view, _ = window
    spot = QPointF(333.0, 222.0)
    before = view.metres(spot)
    for factor in (1.3, 1.3, 1.7, 0.6, 0.4, 1.2, 2.0, 0.5):
        view.set_zoom(view.zoom * factor, spot)
        after = view.metres(spot)
        # scroll bars hold whole pixels, so a pixel a step may be lost
        assert abs(after[0] - before[0]) <= 9 * view.metres_a_px
        assert abs(after[1] - before[1]) <= 9 * view.metres_a_px


def mouse(view, kind, at, down=True):
    p = view.viewportTransform().map(QPointF(*to_units(at)))
    left, none = Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton
    button = none if kind is QEvent.Type.MouseMove else left
    held = left if down else none
    QApplication.sendEvent(
        view.viewport(),
        QMouseEvent(kind, p, view.viewport().mapToGlobal(p), button, held, Qt.KeyboardModifier.NoModifier),
    )


def test_a_real_drag_moves_a_part_and_undo_brings_it_back(window, barn, qapp):
    view, document = window
    mouse(view, QEvent.Type.MouseButtonPress, (6.3, 0.4))
    for x in (6.35, 6.4, 6.5):
        mouse(view, QEvent.Type.MouseMove, (x, 0.4))
        qapp.processEvents()
    assert document.sheet is barn[0]  # a preview is no edit
    mouse(view, QEvent.Type.MouseButtonRelease, (6.5, 0.4), down=False)
    assert document.sheet.parts["hall"].x_m == pytest.approx(6.5)
    assert view.sheet_scene.items_by_id["hall"].plan.at[0] == pytest.approx(650.0)
    document.undo()
    view.sheet_scene.show(document.sheet)
    assert view.sheet_scene.items_by_id["hall"].plan.at[0] == pytest.approx(630.0)


def test_nothing_is_left_behind_on_screen(window, barn, qtbot, qapp):
    """What was painted piece by piece during edits, pans and zooms is what a fresh painting gives."""
    view, _ = window
    at_even_zoom(view, qtbot, qapp)
    rng = random.Random(11)
    sheet = barn[0]
    for step in range(30):
        if step % 3 == 0:
            view.pan(rng.randint(-40, 40), rng.randint(-40, 40))
        sheet = random_edit(sheet, rng)
        view.sheet_scene.show(sheet)
        view.sheet_scene.choose(rng.sample(list(sheet.parts), min(2, len(sheet.parts))))
        qapp.processEvents()
    qapp.processEvents()
    on_screen = view.screen().grabWindow(view.winId()).toImage().convertToFormat(QImage.Format.Format_RGB32)
    fresh = view.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
    assert on_screen.size() == fresh.size()
    assert on_screen == fresh


def test_words_that_change_leave_nothing_behind(window, barn, qtbot, qapp):
    """Only a label changes, so only its place is painted anew."""
    view, _ = window
    at_even_zoom(view, qtbot, qapp)
    sheet = barn[0]
    qapp.processEvents()
    for k, pipe in enumerate(list(sheet.pipes)[:12]):
        sheet = edits.set_pipe(sheet, pipe, size=("54", "10")[k % 2])
        view.sheet_scene.show(sheet)
        qapp.processEvents()
        view.sheet_scene.hover(view.sheet_scene.hit((1.7, 1.5), 0.01) if k % 2 else None)
        qapp.processEvents()
        on_screen = view.screen().grabWindow(view.winId()).toImage().convertToFormat(QImage.Format.Format_RGB32)
        fresh = view.grab().toImage().convertToFormat(QImage.Format.Format_RGB32)
        assert on_screen == fresh, k


def test_the_sheet_is_not_blank(window):
    view, _ = window
    image = view.grab().toImage()
    colours = {image.pixelColor(x, y).name() for x in range(60, 980, 3) for y in range(10, 770, 3)}
    assert {"#bf2a1d", "#1e5baf"} <= colours  # a heating flow and a return in their own colours


# ---- fonts and exports


def test_fonts_are_the_packages_own(qapp):
    families = load_fonts()
    assert SHEET_FAMILY in families and WINDOW_FAMILY in families


@pytest.mark.parametrize("weight", [400, 500, 600])
def test_the_table_of_widths_is_that_of_the_fonts(qapp, weight):
    # against Qt's own metrics, and against the font file read by fontTools
    words = "Heat-leak radiator 1.3 kW, 22 feed, −15 °C AVATAR ½"
    assert width_px(words, 40, weight) == pytest.approx(
        QFontMetricsF(sheet_font(40, weight)).horizontalAdvance(words), rel=0.01
    )
    name = {400: "Regular", 500: "Medium", 600: "SemiBold"}[weight]
    font = TTFont(resource_root() / "fonts" / f"IBMPlexSansCondensed-{name}.ttf")
    cmap, advances = font.getBestCmap(), font["hmtx"]
    total = sum(advances[cmap[ord(c)]][0] for c in words) / font["head"].unitsPerEm
    assert width_px(words, 1.0, weight) == pytest.approx(total, rel=0.001)


def test_pdf_has_its_page_and_its_words(qapp, barn, tmp_path):
    path = tmp_path / "barn.pdf"
    scale = to_pdf(path, *barn_args(barn), page="A3", scale=25.0)
    data = path.read_bytes()
    assert scale == 25.0 and data.startswith(b"%PDF-")
    box = [float(v) for v in re.search(rb"/MediaBox\s*\[([^\]]*)\]", data).group(1).split()]
    # ISO 216: A3 is 420 x 297 mm; PDF points are 1/72 inch (ISO 32000)
    wide, high = (mm / 25.4 * 72 for mm in PAGES_MM["A3"])
    assert box[2] == pytest.approx(wide, abs=1.5) and box[3] == pytest.approx(high, abs=1.5)
    assert b"/FontFile2" in data and b"Plex" in data


def barn_args(barn):
    return barn[0], CATALOGUE, barn[1], [Flag(1, "danger", (1.35, 5.0))]


def test_png_is_as_large_as_asked(qapp, barn, tmp_path):
    small, large = tmp_path / "1.png", tmp_path / "2.png"
    to_png(small, *barn_args(barn), ratio=1.0)
    to_png(large, *barn_args(barn), ratio=2.0)
    a, b = QImage(str(small)), QImage(str(large))
    assert b.width() == pytest.approx(2 * a.width(), abs=2)


def test_scenes_go_away(qapp, barn):
    gone = []
    for _ in range(5):
        made = SheetScene(CATALOGUE)
        made.show(*barn)
        gone.append(weakref.ref(made))
        made.show(Sheet())
        assert not made.items_by_id
        made.deleteLater()
        del made
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert not [ref for ref in gone if ref() is not None]


def test_an_emptied_sheet_shows_nothing(scene, barn):
    scene.show(msgspec.structs.replace(barn[0], parts={}, pipes={}, links={}, notes=()))
    scene.place_labels()
    assert not scene.items_by_id and not scene.labels.words
