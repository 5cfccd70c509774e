"""What the window's tests share: no screen, no settings of a person, no waiting, and no box that blocks."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from PySide6.QtCore import QSettings

from loopwright.catalogue import standard_catalogue
from loopwright.sheet import edits
from loopwright.sheet.values import Coil, End, Part, Sheet, Tapping
from loopwright.window import questions
from loopwright.window.main import MainWindow
from loopwright.window.recent import Memory
from loopwright.window.sheets import Sheets


@pytest.fixture(scope="session")
def catalogue():
    return standard_catalogue()


@pytest.fixture
def small(catalogue) -> Sheet:
    """A stove piped to a store by two pipes, and a pump beside them."""
    store = Part(
        id="store",
        kind="heat_store",
        name="Heat store",
        x_m=4.0,
        height_m=0.1,
        tappings=(
            Tapping(letter="A", name="stove flow", height_m=1.3, purpose="source_flow"),
            Tapping(letter="B", name="stove return", height_m=0.1, purpose="source_return"),
            Tapping(letter="C", height_m=0.9, side="right", purpose="sensor", size="15"),
            Tapping(letter="D", name="coil bottom", height_m=0.2, side="right", purpose="coil", size="22"),
            Tapping(letter="E", name="coil top", height_m=0.6, side="right", purpose="coil", size="22"),
        ),
        coils=(Coil(name="solar", bottom_m=0.2, top_m=0.6, lower="D", upper="E"),),
    )
    stove = Part(id="stove", kind="boiler_stove", name="Stove", x_m=1.0, height_m=0.0)
    pump = Part(id="P1", kind="pump", x_m=7.0, height_m=1.0)
    sheet = Sheet(title="Kiln Lane barn", parts={p.id: p for p in (store, stove, pump)})
    for letter, port in (("A", "flow"), ("B", "return")):
        sheet = edits.connect(sheet, End("stove", port), End("store", letter), catalogue, size="28")
    return sheet


@pytest.fixture
def memory(tmp_path) -> Memory:
    kept = Memory(QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat))
    kept.mode = "light"
    kept.caution_read = True
    return kept


@pytest.fixture
def answers(monkeypatch) -> dict[str, object]:
    """What each question is answered with; a question that has no answer here fails the test."""
    given: dict[str, object] = {}

    def answer(name: str):
        def asked(*_args: object, **_more: object) -> object:
            assert name in given, f"the window asked {name}"
            return given[name]

        return asked

    for name in (
        "ask_save",
        "ask_open_path",
        "ask_save_path",
        "ask_folder",
        "ask_overwrite_changed",
        "ask_recover",
        "tell",
    ):
        monkeypatch.setattr(questions, name, answer(name))
    return given


@pytest.fixture
def frame(qtbot, catalogue, memory, answers, tmp_path) -> Sheets:
    made = Sheets(memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(made, before_close_func=lambda f: f.shut_down())
    made.furnish(catalogue)
    return made


@pytest.fixture
def window(qtbot, catalogue, memory, answers, tmp_path) -> MainWindow:
    made = MainWindow(catalogue, memory, rest_ms=0, inline=True, recovery_folder=tmp_path / "unsaved")
    qtbot.addWidget(made, before_close_func=lambda w: w.shut_down())
    return made


@pytest.fixture
def drawn(window, small) -> MainWindow:
    """The window with the small sheet in it, checked."""
    window.document.open(small, None)
    window.surveyor._start()
    return window
