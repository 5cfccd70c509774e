"""The drawing on paper and in pictures, from the menu."""

from __future__ import annotations

import re

import pytest
from pypdf import PdfReader
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtXml import QDomDocument

from loopwright.sheet import edits
from loopwright.window import questions


def size_mm(data: bytes) -> tuple[float, float]:
    """Page of a PDF in millimetres, from its MediaBox in points (ISO 32000-1, 14.11.2: 1/72 inch)."""
    found = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", data)
    assert found is not None
    return float(found[1]) * 25.4 / 72, float(found[2]) * 25.4 / 72


@pytest.fixture
def on_a4(drawn):
    drawn.document.apply("Paper", lambda s: edits.set_block(s, page="A4", scale=50.0, revision="C"))
    return drawn


def test_the_pdf_takes_paper_and_scale_of_the_title_block(on_a4, answers, tmp_path):
    path = answers["ask_save_path"] = tmp_path / "sheet.pdf"
    on_a4.actions_["export_pdf"].trigger()
    assert "1 : 50 on A4" in on_a4.status.words.text()
    assert size_mm(path.read_bytes()) == pytest.approx((297.0, 210.0), abs=0.5)  # ISO 216, landscape


def test_svg_of_the_whole_and_of_what_is_chosen(drawn, answers, tmp_path):
    path = answers["ask_save_path"] = tmp_path / "sheet.svg"
    drawn.actions_["export_svg"].trigger()
    page = QDomDocument()
    assert page.setContent(path.read_bytes()) and "Stove" in path.read_text()
    assert not drawn.actions_["export_chosen"].isEnabled()
    drawn.document.choose({"store"})
    drawn.actions_["export_chosen"].trigger()
    text = path.read_text()
    assert "Heat store" in text and "Stove" not in text


def test_pictures_are_in_the_units_of_the_screen_and_of_what_is_chosen_in_any_form(drawn, answers, tmp_path):
    drawn.actions_["imperial"].trigger()
    assert drawn.stage.scene.plan().stores["store"].detail == "55 gal"  # 250 l at 4.54609 l to the gallon
    path = answers["ask_save_path"] = tmp_path / "sheet.svg"
    drawn.actions_["export_svg"].trigger()
    text = path.read_text(encoding="utf-8")
    assert "Heat store 55 gal" in text and "250 l" not in text and "Ground floor 0 ft 0 in" in text
    drawn.document.choose({"store"})
    for ending in (".pdf", ".png"):
        path = answers["ask_save_path"] = tmp_path / f"chosen{ending}"
        drawn.actions_["export_chosen"].trigger()
        assert path.stat().st_size > 2000
    words = " ".join(PdfReader(tmp_path / "chosen.pdf").pages[0].extract_text().split())
    assert "55 gal" in words and "Stove" not in words


def test_printed_on_the_paper_of_the_title_block(on_a4, monkeypatch, tmp_path):
    path = tmp_path / "printed.pdf"

    def printer(_parent, _name, start):
        assert start.suffix == ".pdf", "a file is at hand where there is no printer"
        made = QPrinter(QPrinter.PrinterMode.HighResolution)
        made.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
        made.setOutputFileName(str(path))
        return made

    monkeypatch.setattr(questions, "ask_printer", printer)
    on_a4.actions_["print"].trigger()
    assert "1 : 50 on A4" in on_a4.status.words.text()
    assert size_mm(path.read_bytes()) == pytest.approx((297.0, 210.0), abs=0.5)


def test_no_printer_no_print(drawn, monkeypatch):
    monkeypatch.setattr(questions, "ask_printer", lambda *_: None)
    drawn.actions_["print"].trigger()
    assert "Printed" not in drawn.status.words.text()


def test_page_setup_leads_to_the_fields(drawn):
    drawn.document.choose({"store"})
    drawn.actions_["page_setup"].trigger()
    assert drawn.document.chosen == frozenset() and "page" in drawn.properties.fields()
