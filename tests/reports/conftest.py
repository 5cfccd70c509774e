"""Reports that several tests read: made once."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import pytest
from pypdf import PdfReader

from loopwright import reports
from loopwright.catalogue import standard_catalogue
from loopwright.files.reader import load
from loopwright.reports.model import Report
from loopwright.sheet.values import Sheet
from loopwright.survey import Survey, survey

ROOT = Path(__file__).resolve().parents[2]
CATALOGUE = standard_catalogue()
DAY = date(2026, 3, 14)


@pytest.fixture(scope="session")
def faulty() -> Sheet:
    """Three sources and a pump in the heat leak: a danger, an advice, and something not assessed."""
    return load(ROOT / "samples" / "faulty" / "pump-in-heat-leak.loopwright", CATALOGUE)


@pytest.fixture(scope="session")
def faulty_survey(faulty: Sheet) -> Survey:
    return survey(faulty, CATALOGUE)


@pytest.fixture(scope="session")
def faulty_report(faulty: Sheet, faulty_survey: Survey) -> Report:
    return reports.build(faulty, CATALOGUE, faulty_survey, today=DAY)


@pytest.fixture(scope="session")
def faulty_pdf(faulty_report: Report) -> bytes:
    return reports.pdf(faulty_report)


@pytest.fixture(scope="session")
def faulty_pages(faulty_pdf: bytes) -> list[str]:
    """What each page says, without spaces: where a line ends is the setting's business."""
    return ["".join(p.extract_text().split()) for p in PdfReader(io.BytesIO(faulty_pdf)).pages]


@pytest.fixture(scope="session")
def sound() -> Sheet:
    return load(ROOT / "samples" / "sound" / "three-source.loopwright", CATALOGUE)
