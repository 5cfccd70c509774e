"""What is saved is what is seen: a picture against the window's own painting, a page of PDF against that picture.

The PDF is read again by pypdf and drawn by pypdfium2, which know nothing of this program.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pypdfium2
from pypdf import PdfReader
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage

from loopwright.canvas.export import picture, to_pdf
from loopwright.drawing.labels import place_labels
from loopwright.drawing.look import PX_A_MM, PX_AT_FULL, Look
from loopwright.drawing.page import page_box
from loopwright.drawing.scene import frame_of
from loopwright.files.reader import load

SAMPLE = Path(__file__).parents[2] / "samples" / "sound" / "three-source.loopwright"
ZOOM = 0.8
"""At which a drawing unit is one pixel, so that nothing is rounded to another."""
INKED, LEAST_ALIKE = 0.55, 0.985


def grey(image: QImage) -> np.ndarray:
    """Lightness of each pixel, 0 to 1."""
    made = image.convertToFormat(QImage.Format.Format_Grayscale8)
    rows = np.frombuffer(bytes(made.constBits()), np.uint8).reshape(made.height(), made.bytesPerLine())
    return rows[:, : made.width()] / 255


def grown(mask: np.ndarray) -> np.ndarray:
    """A mask and the pixels beside it: lines may be rounded by one."""
    out = mask.copy()
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            out |= np.roll(mask, (dy, dx), (0, 1))
    return out


def alike(one: np.ndarray, two: np.ndarray) -> float:
    """Share of the ink of each that is in the other too, the smaller of both."""
    return min((one & grown(two)).sum() / one.sum(), (two & grown(one)).sum() / two.sum())


def test_a_picture_is_the_window_s_own_painting(window, qtbot):
    window.document.open(load(SAMPLE, window.catalogue), None)
    window.resize(1700, 1200)
    window.set_sides(False)
    window.show()
    qtbot.waitUntil(lambda: bool(window.stage.scene.flags) and window.stage.view.width() > 1500)
    view, scene = window.stage.view, window.stage.scene
    plan = scene.plan()
    left, top, right, foot = plan.bounds()
    wide, high = round(right - left), round(foot - top)
    view.set_zoom(ZOOM)
    view.centre_on(((left + right) / 200, -(top + foot) / 200))
    for mode in ("light", "dark"):
        window.use_mode(mode)
        view._exact_look()
        scene.place_labels()
        assert scene.look == Look(PX_AT_FULL * ZOOM, mode)
        look = Look(PX_AT_FULL * ZOOM, mode, paper=True)
        assert scene.labels == place_labels(plan, look, scene.flags, floors=True)

        saved = grey(picture(plan, scene.flags, ZOOM, 1.0, mode))
        seen = grey(view.viewport().grab().toImage())
        x0, y0, _, _ = frame_of(plan, look)
        corner = view.viewportTransform().map(QPointF(left, top))
        a = saved[round(top - y0) :, round(left - x0) :][:high, :wide]
        b = seen[round(corner.y()) :, round(corner.x()) :][:high, :wide]
        assert a.shape == b.shape == (high, wide)
        a, b = (a < INKED, b < INKED) if mode == "light" else (a > 1 - INKED, b > 1 - INKED)
        assert a.mean() > 0.02 and alike(a, b) > LEAST_ALIKE, mode


def test_a_page_of_pdf_is_that_picture_and_can_be_searched(window, qtbot, tmp_path):
    window.document.open(load(SAMPLE, window.catalogue), None)
    qtbot.waitUntil(lambda: bool(window.stage.scene.flags))
    scene, sheet = window.stage.scene, window.document.sheet
    scene.place_labels()
    path = tmp_path / "sheet.pdf"
    scale = to_pdf(path, sheet, window.catalogue, dict(scene.services), scene.flags)

    page = PdfReader(path).pages[0]
    words = " ".join(page.extract_text().split())  # blanks of any sort, as readers that search take them
    labels = place_labels(scene.plan(), Look.on_paper(scale), scene.flags, floors=True)
    wanted = {line for word in labels.words for line in word.lines} | {sheet.title, f"Scale 1 : {scale:g} on A3"}
    assert len(wanted) > 40 and not [line for line in wanted if line not in words]
    assert not page.images, "lines and letters, no picture"

    look = Look.on_paper(scale)
    document = pypdfium2.PdfDocument(path)
    drawn = document[0].render(scale=2 * PX_A_MM * 25.4 / 72, grayscale=True)  # a nominal pixel is two by two
    at_once = np.frombuffer(bytes(drawn.buffer), np.uint8).reshape(drawn.height, drawn.stride)[:, : drawn.width] / 255
    document.close()
    saved = grey(picture(scene.plan(), scene.flags, look.zoom, 2.0))
    bounds, frame = scene.plan().bounds(), frame_of(scene.plan(), look)
    px = 2 * look.px_a_unit
    wide, high = (int((bounds[k + 2] - bounds[k]) * px) for k in (0, 1))
    a, b = (
        array[round((bounds[1] - box[1]) * px) :, round((bounds[0] - box[0]) * px) :][:high, :wide] < INKED
        for array, box in ((at_once, page_box(scene.plan(), "A3", scale)), (saved, frame))
    )
    assert alike(a, b) > LEAST_ALIKE
