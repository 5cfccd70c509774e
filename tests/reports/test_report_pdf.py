"""The report as PDF, read again by another library (pypdf): what it says, its outline, its fonts, that it is all lines.

Sizes of paper after ISO 216. That words can be searched and lines stay lines is what ISO 32000 calls text and paths.
"""

from __future__ import annotations

import io

import msgspec
import pytest
from pypdf import PdfReader
from pypdf.generic import ContentStream

from loopwright import reports
from loopwright.reports.model import Section, Words
from loopwright.reports.stop import Cancelled, ReportError
from loopwright.rules.findings import Outcome
from loopwright.rules.registry import page
from loopwright.sheet.values import Disposition, Note, Sheet

from .conftest import CATALOGUE, DAY

PT_A_MM = 72 / 25.4


def squeezed(text: str) -> str:
    """Without any space."""
    return "".join(text.split())


def test_every_finding_can_be_searched(faulty_pages, faulty_survey):
    said = "".join(faulty_pages)
    assert faulty_survey.findings
    for finding in faulty_survey.findings:
        assert squeezed(finding.message) in said
        assert squeezed(finding.todo) in said
        assert finding.rule in said


def test_every_answer_stands_in_it(faulty_pages, faulty_survey):
    said = "".join(faulty_pages)
    for answer in faulty_survey.answers:
        assert squeezed(page(answer.rule).title) in said
        if answer.outcome is Outcome.NOT_ASSESSED:
            assert squeezed(answer.because) in said


def test_cautions_stand_on_the_last_page(faulty_pages):
    assert squeezed("Never light a fire on a system that is not filled and vented.") in faulty_pages[-1]
    assert squeezed("loopwright supports a competent person and never replaces one.") in faulty_pages[-1]


def test_outline_leads_to_every_section_and_finding(faulty_pdf, faulty_pages, faulty_report, faulty_survey):
    reader = PdfReader(io.BytesIO(faulty_pdf))
    flat = []

    def walk(entries):
        for entry in entries:
            if isinstance(entry, list):
                walk(entry)
            else:
                flat.append((entry.title, reader.get_destination_page_number(entry)))

    walk(reader.outline)
    titles = [t for t, _ in flat]
    for section in faulty_report.sections:
        assert section.title in titles
    for finding in faulty_survey.findings:
        assert f"{finding.number}. {finding.message}" in titles
    for title, number in flat:  # and each leads to the page on which that stands
        if title not in ("Summary", "Drawing"):
            assert squeezed(title.partition(". ")[2] or title) in faulty_pages[number], title


def test_pages_are_numbered(faulty_pages):
    count = len(faulty_pages)
    for number, said in enumerate(faulty_pages, 1):
        drawing = "Scale1:" in said
        assert (f"Page{number}" if drawing else f"Page{number}of{count}") in said


def test_contents_give_the_right_pages(faulty_pdf, faulty_pages, faulty_report):
    reader = PdfReader(io.BytesIO(faulty_pdf))
    at = {e.title: reader.get_destination_page_number(e) + 1 for e in reader.outline if not isinstance(e, list)}
    head = next(said for said in faulty_pages[:2] if "Contents" in said)  # a long summary fills the first page
    listed = head[head.index("Contents") :]
    for section in faulty_report.sections:
        assert squeezed(section.title) + str(at[section.title]) in listed, f"{section.title} is not in the contents"


@pytest.mark.parametrize("lines", [0, 3, 12])
def test_the_contents_stand_under_their_heading_however_long_the_summary_is(faulty_report, lines):
    first = faulty_report.sections[0]
    longer = msgspec.structs.replace(first, blocks=(*first.blocks, *[Words("One more line.")] * lines))
    others = [Section(key=f"part-{n}", title=f"Part {n}", blocks=(Words("A line."),)) for n in range(30)]
    report = msgspec.structs.replace(faulty_report, sections=(longer, *others))
    pages = PdfReader(io.BytesIO(reports.pdf(report))).pages
    (said,) = [s for p in pages if "Contents" in (s := squeezed(p.extract_text()))]
    assert squeezed("Part 0") in said[said.index("Contents") :]


def test_fonts_are_embedded_and_nothing_is_a_picture(faulty_pdf):
    families = set()
    for sheet in PdfReader(io.BytesIO(faulty_pdf)).pages:
        resources = sheet["/Resources"]
        for font in resources.get("/Font", {}).values():
            font = font.get_object()
            name = str(font["/BaseFont"])
            if "+" in name:  # cut to the letters used, and carried along
                assert "/FontFile2" in font["/FontDescriptor"]
                families.add(name.partition("+")[2].rpartition("-")[0])
        for thing in resources.get("/XObject", {}).values():
            assert thing.get_object()["/Subtype"] != "/Image"
    assert families == {"LoopwrightSans", "IBMPlexSansCond"}


def test_only_shipped_fonts_are_written_with(faulty_pdf):
    """The library sets a standard font at the head of each page; nothing may be written before another is set."""
    for sheet in PdfReader(io.BytesIO(faulty_pdf)).pages[:4]:
        fonts = sheet["/Resources"]["/Font"]
        own = {name for name, font in fonts.items() if "+" in str(font.get_object()["/BaseFont"])}
        now = ""
        for args, operator in ContentStream(sheet.get_contents(), sheet.pdf).operations:
            if operator == b"Tf":
                now = str(args[0])
            elif operator in (b"Tj", b"TJ", b"'"):
                assert now in own


@pytest.mark.parametrize(("paper", "size"), [("A4", (210, 297)), ("A3", (297, 420))])
def test_paper(faulty, faulty_survey, paper, size):
    data = reports.pdf(reports.build(faulty, CATALOGUE, faulty_survey, paper=paper, today=DAY))
    reader = PdfReader(io.BytesIO(data))
    first, drawing = reader.pages[0].mediabox, reader.pages[1].mediabox
    assert (float(first.width), float(first.height)) == pytest.approx([v * PT_A_MM for v in size], abs=0.1)
    assert sorted((float(drawing.width), float(drawing.height))) == pytest.approx([v * PT_A_MM for v in size], abs=0.1)


def test_who_wrote_it_and_of_what(faulty_pdf, faulty_pages, faulty_report):
    meta = PdfReader(io.BytesIO(faulty_pdf)).metadata
    assert meta.title.startswith(faulty_report.title)
    assert meta.creator == f"loopwright {faulty_report.version}"
    assert faulty_report.fingerprint in meta.subject
    for said in (faulty_pages[0], faulty_pages[-1]):
        assert squeezed(faulty_report.fingerprint) in said and "14March2026" in said


def test_odd_words_do_no_harm(faulty, faulty_survey):
    """Marks of a language, letters that no shipped font holds, and far too many of them."""
    odd = msgspec.structs.replace(
        faulty,
        title="<b>& </para> \u4e2d\u6587 \U0001f525 \x07" + "long " * 300,
        notes=(Note(id="n", x_m=1, height_m=1, text="<i>&amp;\nsecond line"),),
        dispositions=(
            Disposition(
                rule="gravity-loop/pump-in-line", subject="stove", verdict="accepted", reason="w" * 5000, by="A <b>"
            ),
        ),
    )
    data = reports.pdf(reports.build(odd, CATALOGUE, faulty_survey, today=DAY))
    pages = PdfReader(io.BytesIO(data)).pages
    assert "<b>&</para>???" in squeezed(pages[0].extract_text())
    assert any("w" * 50 in squeezed(page.extract_text()) for page in pages[1:])


def test_an_empty_sheet(sound):
    data = reports.pdf(reports.build(Sheet(), CATALOGUE, today=DAY))
    pages = PdfReader(io.BytesIO(data)).pages
    assert "No rule found anything" in pages[0].extract_text()
    assert "Before you rely on a drawing" in pages[-1].extract_text()


def test_it_stops_when_asked(faulty_report):
    asked = []

    def cancel() -> bool:
        asked.append(1)
        return len(asked) > 4

    with pytest.raises(Cancelled):
        reports.pdf(faulty_report, cancel=cancel)
    assert len(asked) == 5


def test_progress_tells_the_pages():
    told: list[str] = []
    data = reports.pdf(reports.build(Sheet(), CATALOGUE, today=DAY), progress=told.append)
    assert told == [f"page {k + 1}" for k in range(len(PdfReader(io.BytesIO(data)).pages))]


def test_a_font_that_is_gone(faulty_report, monkeypatch, tmp_path):
    from loopwright.reports import fonts, woff

    monkeypatch.setattr(fonts, "resource_root", lambda: tmp_path)
    with pytest.raises(ReportError, match=r"The font LoopwrightSans-Regular\.ttf is missing or damaged"):
        fonts.load.__wrapped__()
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts" / "LoopwrightSans-Regular.ttf").write_bytes(b"no font at all")
    with pytest.raises(ReportError, match="missing or damaged"):
        fonts.load.__wrapped__()
    monkeypatch.setattr(woff, "resource_root", lambda: tmp_path)
    with pytest.raises(ReportError, match="missing or damaged"):
        woff.embedded.__wrapped__("LoopwrightSans-Regular")
