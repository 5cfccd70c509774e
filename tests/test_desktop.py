"""The desktop's menu entry, icon and file type, and what is said where the window cannot start."""

from __future__ import annotations

import configparser
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from importlib import import_module
from pathlib import Path

import pytest

from loopwright.cli import screen
from loopwright.cli.open import LIBRARIES, missing_help
from loopwright.errors import LoopwrightError
from loopwright.resources import resource_root

desktop = import_module("loopwright.cli.desktop")
README = Path(__file__).parents[1] / "README.md"


def run(*words: str, data: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "loopwright", "desktop", *words],
        env={**os.environ, "XDG_DATA_HOME": str(data)},
        capture_output=True,
        text=True,
        check=False,
    )


def test_the_entry_is_put_in_and_taken_out(tmp_path):
    assert run(data=tmp_path).returncode == 0
    entry = configparser.RawConfigParser(interpolation=None)
    entry.optionxform = str
    entry.read(tmp_path / "applications" / "loopwright.desktop", encoding="utf-8")
    section = entry["Desktop Entry"]
    assert section["Type"] == "Application" and section["MimeType"] == "application/x-loopwright-sheet;"
    program = section["Exec"].removesuffix(" %f").strip('"')
    assert Path(program).name == "loopwright" and section["Exec"].endswith(" %f")
    sheet = ET.parse(tmp_path / "mime" / "packages" / "loopwright-sheet.xml").getroot()
    assert sheet[0].get("type") == "application/x-loopwright-sheet"
    assert len(list((tmp_path / "icons").rglob("*.svg"))) == 2
    assert run("--remove", data=tmp_path).returncode == 0
    assert not list(tmp_path.rglob("*loopwright*"))


def test_a_folder_that_cannot_be_written_is_said(tmp_path):
    (tmp_path / "share").write_text("a file where a folder should be")
    done = run(data=tmp_path / "share")
    assert done.returncode == 2 and done.stderr.count("\n") == 1 and "cannot be written" in done.stderr


def test_what_is_missing_is_named_with_the_command_that_brings_it():
    said = "libEGL.so.1: cannot open shared object file: No such file or directory"
    assert missing_help(said) == f"On Debian or Ubuntu: apt-get install {LIBRARIES}"
    assert "pip install" in missing_help("No module named 'PySide6'")
    named = re.search(r"apt-get install ([a-z0-9 .-]+)`", README.read_text(encoding="utf-8"))
    assert named and named[1] == LIBRARIES, "the README names the same packages"


def test_the_mark_of_a_sheet_is_found_where_a_sheet_has_it():
    """The magic of the file type looks for the first words of a sheet within its first 64 bytes."""
    rule = ET.parse(resource_root() / "desktop" / "loopwright-sheet.xml").getroot()
    match = next(rule.iter("{http://www.freedesktop.org/standards/shared-mime-info}match"))
    sample = next((Path(__file__).parents[1] / "samples" / "sound").glob("*.loopwright")).read_text(encoding="utf-8")
    assert 0 <= sample.find(match.get("value")) <= int(match.get("offset").split(":")[1])


def start(**env: str) -> subprocess.CompletedProcess[str]:
    """The window asked for, as somebody at a desktop would."""
    screens = ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM_PLUGIN_PATH")
    kept = {k: v for k, v in os.environ.items() if k not in screens}
    words = [sys.executable, "-m", "loopwright", "open"]
    return subprocess.run(words, env={**kept, **env}, capture_output=True, text=True, check=False, timeout=60)


@pytest.mark.parametrize("env", [{"DISPLAY": ":987"}, {"QT_QPA_PLATFORM": "nonsense"}])
def test_a_screen_that_does_not_answer_is_said(env):
    """The window library alone would end the program by a signal. What is missing
    first is named: a library, or the screen."""
    done = start(**env)
    assert done.returncode == 2, done.stderr
    said = done.stderr.strip().splitlines()[-1]
    assert said.startswith("loopwright: ") and ("cannot be reached" in said or "apt-get install" in said)


def test_platforms_are_tried_in_the_order_of_the_window_library(monkeypatch):
    for name in ("QT_QPA_PLATFORM", "DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM_PLUGIN_PATH"):
        monkeypatch.delenv(name, raising=False)
    assert not screen.named() and screen._platforms() == []
    monkeypatch.setenv("DISPLAY", ":0")
    monkeypatch.setenv("WAYLAND_DISPLAY", "wayland-0")
    assert screen.named() and screen._platforms() == ["wayland", "xcb"]
    monkeypatch.setattr(
        screen, "_lacks", lambda plugin: "libwayland-cursor.so.0: none" if "wayland" in plugin.name else None
    )
    monkeypatch.setattr(screen, "_answers", lambda name: name == "xcb")
    screen.ready()  # one that works is enough
    monkeypatch.setattr(screen, "_answers", lambda name: False)
    with pytest.raises(ImportError, match="libwayland-cursor"):
        screen.ready()
    monkeypatch.setenv("QT_QPA_PLATFORM", "xcb:x;wayland")
    assert screen._platforms() == ["xcb", "wayland"]
    monkeypatch.setattr(screen, "_lacks", lambda plugin: None)
    with pytest.raises(LoopwrightError, match="cannot be reached"):
        screen.ready()


def test_the_command_of_the_menu_is_quoted_as_its_file_wants_it(monkeypatch, tmp_path):
    """Desktop Entry Specification 1.5, The Exec key: quoting first, then a backslash doubled as in every value; %% for
    a per cent sign."""
    for folder, wanted in (("plain", "{}"), ("a b", '"{}"'), ("50%", "{}"), ("a$b", '"{}"'), ('a"b', '"{}"')):
        place = tmp_path / folder
        place.mkdir()
        (place / "loopwright").write_text("")
        monkeypatch.setattr(sys, "executable", str(place / "python"))
        made = {"50%": "50%%", "a$b": "a\\\\$b", 'a"b': 'a\\\\"b'}.get(folder, folder)
        assert desktop._program() == wanted.format(f"{tmp_path}/{made}/loopwright")
