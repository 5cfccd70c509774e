"""SVG pictures, read back with an XML parser."""

from __future__ import annotations

from xml.etree import ElementTree

import msgspec
import pytest

from barn import CATALOGUE, kiln_barn
from loopwright.drawing.plan import Flag
from loopwright.drawing.svg import sheet_svg
from loopwright.sheet.values import Note, Part, Sheet

SVG = "{http://www.w3.org/2000/svg}"


def test_the_barn_as_svg():
    sheet, services = kiln_barn()
    root = ElementTree.fromstring(sheet_svg(sheet, CATALOGUE, services, [Flag(1, "danger", (1.35, 5.0))]))
    words = [e.text for e in root.iter(f"{SVG}text")]
    for wanted in ("Stove", "Heat-leak radiator", "15 vent", "A", "1", "Living room"):
        assert wanted in words
    tags = {e.tag.removeprefix(SVG) for e in root.iter()}
    assert tags <= {"svg", "g", "path", "rect", "text", "title"}  # no clip paths, no images, no scripts
    titles = [e.text for e in root.iter(f"{SVG}title")]
    assert titles[0] == "Kiln Lane barn" and "Stove" in titles


@pytest.mark.parametrize("scale", [20.0, 50.0])
def test_millimetres_follow_the_scale(scale):
    # 1 : 50 means that 50 drawing centimetres make a centimetre of paper (arithmetic of scale)
    sheet, services = kiln_barn()
    root = ElementTree.fromstring(sheet_svg(sheet, CATALOGUE, services, scale=scale))
    _, _, width, _ = (float(v) for v in root.get("viewBox").split())
    assert float(root.get("width").removesuffix("mm")) == pytest.approx(width * 10.0 / scale, rel=1e-3)


def test_words_cannot_break_out_of_the_picture():
    evil = "<script>alert('x')</script> & \"q\" \x00\x0b"
    part = Part(id="x", kind="boiler_stove", name=evil, x_m=0, height_m=0)
    sheet = Sheet(title=evil, parts={"x": part}, notes=(Note(id="n", x_m=1, height_m=1, text=evil),))
    text = sheet_svg(sheet, CATALOGUE, {})
    root = ElementTree.fromstring(text)
    assert not list(root.iter(f"{SVG}script"))
    assert any(e.text and e.text.startswith("<script>") for e in root.iter(f"{SVG}text"))


def test_an_empty_sheet_has_a_picture():
    root = ElementTree.fromstring(sheet_svg(Sheet(), CATALOGUE, {}))
    assert float(root.get("width").removesuffix("mm")) > 0


def test_the_same_sheet_gives_the_same_picture():
    sheet, services = kiln_barn()
    again = msgspec.structs.replace(sheet)
    assert sheet_svg(sheet, CATALOGUE, services) == sheet_svg(again, CATALOGUE, services)
