"""The report and the comparison in the window: what is shown is what is saved, and nothing is half written."""

from __future__ import annotations

import io
import threading
from pathlib import Path

import pytest
from pypdf import PdfReader
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QApplication

from loopwright.files.reader import load
from loopwright.window.jobs import Jobs, Stopped
from loopwright.window.paper_view import PaperView

FAULTY = Path(__file__).parents[2] / "samples" / "faulty"


@pytest.fixture
def job(window, catalogue, qtbot):
    window.document.open(load(FAULTY / "valve-on-feed.loopwright", catalogue), None)
    qtbot.waitUntil(lambda: window.survey is not None and len(window.survey.findings) == 1)
    return window


def words(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in PdfReader(io.BytesIO(data)).pages)


def test_the_report_shows_pages_and_saves_what_it_shows(job, answers, tmp_path):
    view = job.places.open("report")
    assert len(view.pages.images) > 5 and view.states.currentWidget() is view.paper
    assert any("Findings" in view.paper.contents.item(n).text() for n in range(view.paper.contents.count()))
    answers["ask_save_path"] = tmp_path / "report.pdf"
    view.pdf.click()
    assert (tmp_path / "report.pdf").read_bytes() == view.pages.data
    assert job.survey.findings[0].message in words(view.pages.data).replace("’", "'")
    answers["ask_save_path"] = tmp_path / "report.html"
    view.html.click()
    assert "can keep cold water from Stove" in (tmp_path / "report.html").read_text(encoding="utf-8")
    answers["ask_folder"] = tmp_path
    view.tables.click()
    assert (tmp_path / "findings.csv").exists()


def test_a_report_that_cannot_be_written_says_so_and_leaves_nothing(job, answers, tmp_path):
    view = job.places.open("report")
    answers["ask_save_path"] = tmp_path / "gone" / "report.pdf"
    view.pdf.click()
    assert "gone" in job.status.words.text() or "folder" in job.status.words.text()
    assert list(tmp_path.rglob("*.pdf*")) == []


def test_the_comparison_lists_what_differs_and_leads_to_the_sheet(job, answers, tmp_path):
    view = job.places.open("compare")
    assert view.older is None and "Choose an older revision" in view.said.text()
    answers["ask_open_path"] = FAULTY / "small-cistern.loopwright"
    view.choose.click()
    assert view.verdict.whole == "5 things differ; 1 finding new, 1 gone, 0 as before."
    titles = {
        view.list.topLevelItem(n).text(0): view.list.topLevelItem(n) for n in range(view.list.topLevelItemCount())
    }
    (new,) = [titles["Parts"].child(0)]
    assert new.text(0) == "+  Stop valve V1"
    view.list.itemActivated.emit(new, 0)
    assert job.places.view == "draw" and job.document.chosen == {"V1"}
    answers["ask_save_path"] = tmp_path / "c.html"
    view.save(".html")
    assert "Stop valve V1" in (tmp_path / "c.html").read_text(encoding="utf-8")


def test_ctrl_and_the_wheel_make_pages_larger_and_smaller(qtbot):
    view = PaperView()
    qtbot.addWidget(view)
    view.zoom_by(1)
    view.zoom_by(1)
    for turn, larger in ((120, True), (-120, False)):
        before, port = view.zoom, view.area.viewport()
        ctrl, none = Qt.KeyboardModifier.ControlModifier, Qt.MouseButton.NoButton
        spot = QPointF(9, 9)
        wheel = QWheelEvent(spot, spot, QPoint(), QPoint(0, turn), none, ctrl, Qt.ScrollPhase.NoScrollPhase, False)
        QApplication.sendEvent(port, wheel)
        assert view.zoom != before and (view.zoom > before) is larger


def test_work_under_way_is_stopped_and_its_answer_dropped(qtbot):
    jobs, got, begun, go_on = Jobs(), [], threading.Event(), threading.Event()

    def work(task):
        begun.set()
        go_on.wait(5)
        task.progress(0.5)
        return "too late"

    task = jobs.start(work, got.append, got.append)
    assert begun.wait(5)
    with qtbot.waitSignal(task.finished):
        task.cancel()
        go_on.set()
    assert got == []
    with pytest.raises(Stopped):
        task.progress(1.0)
    jobs.close()
