"""The report as a page: it holds everything, asks for nothing, and takes whatever was typed as words."""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser

import msgspec
import pytest
from fontTools.ttLib import TTFont

from loopwright import reports
from loopwright.reports import woff
from loopwright.resources import resource_root
from loopwright.sheet.values import Disposition, Note

from .conftest import CATALOGUE, DAY

VOID = {"meta", "col", "br", "link", "img", "input", "hr"}


class Reader(HTMLParser):
    """Tags, addresses and words; holds that every tag is closed by its own."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.ids: set[str] = set()
        self.links: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            assert not name.startswith("on")
            if name in ("href", "src", "xlink:href", "action", "data"):
                self.links.append(value)
            if name == "id":
                assert value not in self.ids, f"{value} is there twice"
                self.ids.add(value)

    def handle_startendtag(self, tag, attrs):
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, f"</{tag}> closes nothing"

    def handle_data(self, data):
        self.words.append(data)


def read(html: str) -> Reader:
    reader = Reader()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def html(faulty_report):
    return reports.html(faulty_report)


def test_it_says_everything(html, faulty_survey, faulty_report):
    said = "".join("".join(read(html).words).split())
    for finding in faulty_survey.findings:
        assert "".join(finding.message.split()) in said
        assert "".join(finding.todo.split()) in said
    for section in faulty_report.sections[1:]:
        assert "".join(section.title.split()) in said
    assert "Neverlightafire" in said and "".join(faulty_report.fingerprint.split()) in said


def test_it_asks_for_nothing(html):
    reader = read(html)
    assert all(link.startswith("#") and link[1:] in reader.ids for link in reader.links)
    assert not reader.tags & {"script", "link", "iframe", "object", "embed", "img", "form"}
    assert not re.search(r"url\((?!data:)", html) and "@import" not in html
    assert "http" not in re.sub(r'http-equiv="', "", html)  # not even the name of a namespace is needed in a page


def test_words_stay_words(faulty):
    odd = msgspec.structs.replace(
        faulty,
        title='</title><script>alert("x")</script>',
        notes=(Note(id="n", x_m=2, height_m=2, text="<script>alert(2)</script>"),),
        dispositions=(
            Disposition(rule="gravity-loop/pump-in-line", subject="stove", verdict="accepted", reason="<img src=x>"),
        ),
    )
    text = reports.html(reports.build(odd, CATALOGUE, today=DAY))
    reader = read(text)
    assert "script" not in reader.tags and "img" not in reader.tags
    assert '</title><script>alert("x")</script>' in "".join(reader.words)


def test_pictures_are_whole(html):
    pictures = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
    assert len(pictures) > 5
    for picture in pictures:
        root = ET.fromstring(picture)  # well-formed XML
        assert root.get("viewBox") and root.get("width").endswith("mm")


@pytest.mark.parametrize("path", sorted((resource_root() / "fonts").glob("*.ttf")), ids=lambda p: p.stem)
def test_packed_fonts_are_the_same_fonts(path):
    """Packed fonts read again by fontTools, an independent reader of WOFF."""
    packed = woff.pack(path.read_bytes())
    again, before = TTFont(io.BytesIO(packed)), TTFont(path)
    assert again.flavor == "woff" and again.keys() == before.keys()
    assert again.getBestCmap() == before.getBestCmap()
    assert len(packed) < 0.75 * path.stat().st_size
    for tag in before.reader.keys():  # noqa: SIM118 (a reader is no mapping)
        assert again.reader[tag] == before.reader[tag]


def test_what_is_no_font():
    for data in (b"", b"\x00\x01\x00\x00", b"%PDF-1.7 and so on", b"\x00\x01\x00\x00\x00\x05" + b"\0" * 30):
        with pytest.raises((ValueError, Exception)):
            woff.pack(data)
