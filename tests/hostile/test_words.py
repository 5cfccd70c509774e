"""Titles, names and notes are words, never mark-up: in reports, the order of work, labels, tips and findings."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMessageBox, QWidget

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.drawing.svg import sheet_svg
from loopwright.lessons import order as orders
from loopwright.lessons import order_print
from loopwright.reports.build import build
from loopwright.reports.page import write
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet, TitleBlock
from loopwright.survey import survey
from loopwright.window import questions

EVIL = "<img src=x onerror=alert(1)><b>tank</b>&amp;<script>alert(1)</script>"
CATALOGUE = standard_catalogue()


class Tags(HTMLParser):
    """Every tag of a page with its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.fixture(scope="module")
def evil() -> Sheet:
    s = draw.sheet(EVIL, levels={EVIL[:60]: 0})
    store = s.store("store", x_m=4, height_m=0.1, name=EVIL, tappings={"a": 1.3, "b": 0.3})
    stove = s.add("boiler_stove", "stove", x_m=1, height_m=0, power_kw=8, name=EVIL)
    valve = s.add("isolating_valve", "V1", x_m=2.5, height_m=1.4, name=EVIL)
    s.pipe(stove["flow"], valve["a"])
    s.pipe(valve["b"], store["a"])
    s.pipe(store["b"], stove["return"])
    s.note(EVIL, x_m=0.5, height_m=2)
    s.fact(house=EVIL)
    made = edits.set_title(s.done(), EVIL)
    return msgspec.structs.replace(made, block=TitleBlock(drawn_by=EVIL))


def harmless(page: str) -> None:
    """No element that runs or fetches, and no handler. The words themselves are there."""
    found = Tags()
    found.feed(page)
    for tag, attributes in found.tags:
        assert tag not in ("script", "iframe", "object", "embed"), tag
        assert not [a for a in attributes if a.startswith("on")], (tag, attributes)
        if tag == "img":
            assert str(attributes.get("src", "")).startswith("data:")
    assert "tank" in page


def test_a_report(evil):
    harmless(write(build(evil, CATALOGUE)))


def test_the_order_of_work(evil):
    harmless(order_print.html(orders.order_of_sheet(evil, CATALOGUE)))


def test_a_picture(evil):
    from xml.etree import ElementTree

    svg = sheet_svg(evil, CATALOGUE, {})
    root = ElementTree.fromstring(svg)
    assert not [e.tag for e in root.iter() if re.search(r"script|image|foreignObject|\}b$|\}img$", str(e.tag))]
    assert not [a for e in root.iter() for a in e.attrib if a.startswith("on") or a.endswith("href")]


def test_every_label_of_the_window(window, evil, qtbot):
    window.document.open(evil, None)
    window.surveyor._start()
    window.show()
    for ident in ("stove", "store", "V1"):
        window.document.choose([ident])
    assert window.survey is not None and window.survey.findings
    assert survey(evil, CATALOGUE).findings
    for finding in window.survey.findings[:3]:
        window.answers.show_why(finding)
    labels = [one for one in QApplication.allWidgets() if isinstance(one, QLabel) and "<" in one.text()]
    assert labels
    guessed = [
        (type(one).__name__, one.objectName(), type(one.parent()).__name__, one.text()[:40])
        for one in labels
        if one.textFormat() == Qt.TextFormat.AutoText
        or (one.textFormat() == Qt.TextFormat.RichText and "<script" in one.text())
    ]
    assert not guessed
    tips = {w.toolTip() for w in QApplication.allWidgets() if "<" in w.toolTip()}
    assert not [tip for tip in tips if "<b>" in tip or "<img" in tip or "<script" in tip]


def test_a_box_shows_what_was_typed(window, qtbot, monkeypatch):
    seen: list[Qt.TextFormat] = []

    def shown(box: QMessageBox) -> int:
        box.show()
        QTest.qWait(1)
        seen.extend(w.textFormat() for w in box.findChildren(QLabel) if w.text())
        box.hide()
        return 0

    monkeypatch.setattr(QMessageBox, "exec", shown)
    questions_tell(window)
    assert seen and set(seen) == {Qt.TextFormat.PlainText}


TELL = questions.tell


def questions_tell(parent: QWidget) -> None:
    """The box itself, not the answer that stands for it in other tests."""
    TELL(parent, "Title", EVIL, EVIL)
