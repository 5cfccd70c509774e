"""The frame of a printed page: its bar of scale is true, and its key names what is on the sheet."""

from __future__ import annotations

import msgspec
import pytest

from barn import CATALOGUE, kiln_barn
from loopwright.drawing.frame import NAME_MM, TITLE_SPLIT_MM, WORDS_MM, draw_frame, services_used
from loopwright.drawing.look import PX_A_MM, Look
from loopwright.drawing.plan import plan_sheet
from loopwright.drawing.widths import width_px
from loopwright.sheet.values import Sheet, TitleBlock
from recorded import RecordPlotter


@pytest.fixture(scope="module")
def plan():
    sheet, services = kiln_barn()
    return plan_sheet(sheet, CATALOGUE, services)


@pytest.mark.parametrize("scale", [20.0, 25.0, 50.0, 100.0])
def test_the_bar_of_scale_is_true(plan, scale):
    look, plot = Look.on_paper(scale), RecordPlotter()
    draw_frame(plot, look, plan, (0.0, 0.0, 420 * look.mm, 297 * look.mm), scale)
    bars = [call[1] for call in plot.named("area")]
    for bar in bars:  # each black or white piece is one metre of the house: 1000 / scale millimetres of paper
        wide = max(x for x, _ in bar) - min(x for x, _ in bar)
        assert wide == pytest.approx(100.0) and wide / look.mm == pytest.approx(1000.0 / scale)
    assert f"Scale 1 : {scale:g} on A3" in plot.words() and f"{len(bars)} m" in plot.words()


def test_print_can_be_read(plan):
    # sizes least for a drawing that is copied: 2.5 mm (ISO 3098, smallest height of its range for A3, from memory)
    plot, look = RecordPlotter(), Look.on_paper(25.0)
    draw_frame(plot, look, plan, (0.0, 0.0, 1050.0, 742.5), 25.0)
    assert NAME_MM > WORDS_MM and all(call[3] >= 2.5 * PX_A_MM - 1e-9 for call in plot.named("text"))


def test_the_title_block_says_what_was_typed(plan):
    plot, look = RecordPlotter(), Look.on_paper(25.0)
    block = TitleBlock(drawing="Ground floor", sheet="Sheet 2", revision="B", drawn_by="The fitter", date="1 May")
    draw_frame(plot, look, msgspec.structs.replace(plan, block=block), (0.0, 0.0, 1050.0, 742.5), 25.0)
    assert {"Ground floor, The fitter", "Sheet 2, revision B, 1 May"} <= set(plot.words())


def test_words_too_long_for_the_title_block_are_cut_not_shrunk(plan):
    plot, look = RecordPlotter(), Look.on_paper(25.0)
    block = TitleBlock(drawing="Every pipe of the house " * 6, revision="B" * 60)
    draw_frame(plot, look, msgspec.structs.replace(plan, block=block), (0.0, 0.0, 1050.0, 742.5), 25.0)
    cut = [words for words in plot.words() if words.endswith("…")]
    assert len(cut) == 2 and all(call[3] >= 2.5 * PX_A_MM - 1e-9 for call in plot.named("text"))


@pytest.mark.parametrize(
    ("title", "lines"),
    [
        ("Kiln Lane barn", ["Kiln Lane barn"]),
        (
            "The stove's flow and return exchanged at the store",
            ["The stove's flow and return", "exchanged at the store"],  # halves most alike
        ),
        ("W" * 90, None),
        ("The stove of the house on the hill " * 6, None),
    ],
)
def test_a_long_title_takes_two_lines_and_is_never_shrunk(plan, title, lines):
    plot, look = RecordPlotter(), Look.on_paper(25.0)
    draw_frame(plot, look, msgspec.structs.replace(plan, title=title), (0.0, 0.0, 1050.0, 742.5), 25.0)
    bold = [(call[2], call[3]) for call in plot.named("text") if call[4] == 600]
    assert lines is None or [words for words, _ in bold] == lines
    assert 1 <= len(bold) <= 2
    room = (TITLE_SPLIT_MM - 3.0) * PX_A_MM
    assert all(width_px(words, px, 600) <= room and px >= WORDS_MM * PX_A_MM for words, px in bold)


def test_the_key_names_what_is_there(plan):
    assert [s.words for s in services_used(plan)] == [
        "Heating flow", "Heating return", "Open vent", "Cold feed", "Solar flow", "Solar return", "Hot water",
        "Mains cold", "Control link",
    ]  # fmt: skip
    assert services_used(plan_sheet(Sheet(), CATALOGUE)) == []


def test_nothing_leaves_the_page(plan):
    plot, look = RecordPlotter(), Look.on_paper(25.0)
    page = (-100.0, -700.0, 950.0, 42.5)
    draw_frame(plot, look, plan, page, 25.0)
    points = [p for call in plot.calls if call[0] in ("line", "area") for p in call[1]]
    points += [call[1] for call in plot.named("text")]
    assert all(page[0] < x < page[2] and page[1] < y < page[3] for x, y in points)
