"""A person's own kinds in the window: there with their drawings; what is wrong is said, and harms nothing else."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from loopwright import draw
from loopwright.catalogue import standard_catalogue
from loopwright.cli import common
from loopwright.drawing.own import own_kinds, own_kinds_here
from loopwright.drawing.svg import sheet_svg
from loopwright.drawing.symbols import as_svg, parse_symbol, symbol
from loopwright.errors import KindError
from loopwright.resources import resource_root
from loopwright.window import app, questions
from loopwright.window.help_pages import HelpPages
from loopwright.window.icons import symbol_icon
from loopwright.window.sheets import Sheets

GOOD = """
group = "Ours <b>bold</b>"
[pool]
like = "radiator"
name = "Pool <img src=x onerror=alert(1)>"
help = "Warms a pool. <script>alert(1)</script>"
[whirl]
like = "pump"
name = "Whirl"
symbol = "whirl_sign"
[plain_pump]
like = "pump"
name = "Plain pump"
"""
SIGN = b"""<svg xmlns="http://www.w3.org/2000/svg" viewBox="-12 -12 24 24" fill="none" stroke="currentColor">
<circle cx="0" cy="0" r="11" class="paper" fill="white"/><path d="M-12 0L12 0"/><text x="0" y="3" font-size="9"
 text-anchor="middle" class="upright" fill="currentColor" stroke="none">&lt;W</text></svg>"""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    made = tmp_path / "kinds"
    made.mkdir()
    (made / "ours.toml").write_text(GOOD, encoding="utf-8")
    (made / "whirl_sign.svg").write_bytes(SIGN)
    monkeypatch.setenv("LOOPWRIGHT_KINDS", str(made))
    return made


@pytest.fixture
def started(folder, qtbot, memory, answers, tmp_path, monkeypatch):
    """Starts the frame as the program does, and gives it with what it told."""
    told: list[tuple[str, ...]] = []
    monkeypatch.setattr(questions, "tell", lambda _parent, *words: told.append(words))
    monkeypatch.setattr("loopwright.window.crash.start_log", lambda: None)

    def start() -> tuple[Sheets, list[tuple[str, ...]]]:
        frame = Sheets(memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved")
        qtbot.addWidget(frame, before_close_func=lambda f: f.shut_down())
        app.Starting(frame, None).go()
        return frame, told

    return start


def test_the_window_has_a_persons_own_kinds(started):
    frame, told = started()
    window = frame.current
    assert not told
    assert "whirl" in window.catalogue and window.catalogue["plain_pump"].symbol == "pump"
    sheet = draw.sheet("Ours", catalogue=window.catalogue)
    for number, kind in enumerate(("pool", "whirl", "plain_pump")):
        sheet.add(kind, kind, x_m=2.0 * number, height_m=1.0)
    window.document.open(sheet.done(), None)
    frame.show()
    window.surveyor._start()
    for ident in sheet.done().parts:
        window.document.choose([ident])
        assert window.properties.isVisible()
    assert not window.grab().isNull()
    pages = HelpPages(window.catalogue)
    for page in ("kind/pool", "kind/whirl", "kinds/Ours <b>bold</b>", "kinds"):
        html = pages.html(page)
        assert "<script" not in html and "<img src=x" not in html and "<b>bold" not in html, html


def test_its_drawing_is_on_the_sheet_and_only_lines_of_it(folder):
    kinds, refused = own_kinds(folder)
    assert not refused
    sheet = draw.sheet("Ours", catalogue=kinds)
    sheet.add("whirl", "W", x_m=1.0, height_m=1.0)
    svg = sheet_svg(sheet.done(), kinds, {})
    assert "&lt;W" in svg and ElementTree.fromstring(svg) is not None
    again = parse_symbol(SIGN)
    assert symbol("whirl_sign") == again and len(again.shapes) == 3
    words = as_svg("whirl_sign")
    assert {e.tag.rpartition("}")[2] for e in ElementTree.fromstring(words).iter()} == {
        "svg",
        "polygon",
        "polyline",
        "text",
    }
    drawn = symbol_icon("whirl_sign", "#FF0000", "#00FF00").pixmap(24, 24).toImage()
    colours = {drawn.pixelColor(x, y).name() for x in range(drawn.width()) for y in range(drawn.height())}
    assert {"#ff0000", "#00ff00"} <= colours


BAD = {
    "syntax.toml": b"[odd\n",
    "half.toml": b'[fine]\nlike = "pump"\nname = "Fine"\n[halved]\nlike = "pump"\nname = 3\n',
    "twice.toml": b'[pump]\nlike = "radiator"\nname = "Twice"\n',
    "signs.toml": b'[evil]\nlike = "pump"\nname = "Evil"\nsymbol = "evil"\n[lost]\nlike = "pump"\nname = "Lost"\n'
    b'symbol = "nowhere"\n[stolen]\nlike = "pump"\nname = "Stolen"\nsymbol = "tee"\n'
    b'[vast]\nlike = "pump"\nname = "Vast"\n',
    "evil.svg": SIGN.replace(b"</svg>", b'<image href="http://0/x"/></svg>'),
    "tee.svg": SIGN,
    "vast.svg": SIGN.replace(b'r="11"', b'r="1e9"'),
}


def test_what_is_wrong_is_said_and_harms_nothing_else(started, folder):
    for name, data in BAD.items():
        (folder / name).write_bytes(data)
    frame, told = started()
    kinds = frame.current.catalogue
    assert {"pool", "whirl", "plain_pump", "fine", "evil"} <= set(kinds.kinds)
    assert "halved" not in kinds and kinds["pump"] == standard_catalogue()["pump"]
    assert symbol("tee") == parse_symbol((resource_root() / "symbols" / "tee.svg").read_bytes())
    assert len(told) == 1
    title, text, more = told[0]
    assert title == "Kinds of your own" and "works as usual" in text
    assert more.endswith("And 2 more.")
    _, refused = own_kinds(folder)
    said = " ".join(bad.sentence for bad in refused)
    assert len(refused) == 7
    for word in ("syntax.toml", "“halved”", "half.toml", "“pump” is defined twice", "element “image”", "evil.svg",
                 "“nowhere”", "name of a shipped one", "10 m"):  # fmt: skip
        assert word in said, said
    sample = next((resource_root() / "starters").glob("*.loopwright"))
    assert frame.current.filing.open(sample)


def test_a_sheet_with_a_kind_that_is_gone_is_refused_in_words(started, folder, tmp_path):
    from loopwright.files.writer import save

    kinds, _ = own_kinds(folder)
    sheet = draw.sheet("Ours", catalogue=kinds)
    sheet.add("whirl", "W", x_m=1.0, height_m=1.0)
    save(sheet.done(), tmp_path / "ours.loopwright")
    (folder / "ours.toml").unlink()
    frame, told = started()
    heard: list[object] = []
    frame.current.filing.refused.connect(lambda _name, bad: heard.append(bad))
    assert not frame.current.filing.open(tmp_path / "ours.loopwright")
    assert not told and "“whirl”" in heard[0].sentence


def test_a_folder_that_cannot_be_read(started, folder, monkeypatch):
    def refused(*_: object) -> bool:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("pathlib.Path.is_dir", refused)
    kinds, why = own_kinds(folder)
    monkeypatch.undo()
    assert kinds is standard_catalogue() and "Permission denied" in why[0].sentence


def test_links_out_of_the_folder_and_pipes_are_no_drawings(folder, tmp_path):
    import os

    (tmp_path / "else.svg").write_bytes(SIGN)
    (folder / "whirl_sign.svg").unlink()
    (folder / "whirl_sign.svg").symlink_to(tmp_path / "else.svg")
    assert "link to another folder" in own_kinds(folder)[1][0].sentence
    (folder / "whirl_sign.svg").unlink()
    os.mkfifo(folder / "whirl_sign.svg")
    assert "no file" in own_kinds(folder)[1][0].sentence


def test_a_named_folder_that_is_not_there_is_said(folder, monkeypatch):
    monkeypatch.setenv("LOOPWRIGHT_KINDS", str(folder / "none"))
    kinds, why = own_kinds_here()
    assert kinds is standard_catalogue() and "names no folder" in why[0].sentence
    with pytest.raises(KindError, match="names no folder"):
        common.catalogue()
    monkeypatch.setenv("LOOPWRIGHT_KINDS", "")
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "none"))
    assert own_kinds_here() == (standard_catalogue(), ()) and common.catalogue() is standard_catalogue()
