"""The desktop's menu entry, icon and file type, and what is said where the window cannot start."""

from __future__ import annotations

import configparser
import os
import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from pathlib import Path

from loopwright.cli.open import LIBRARIES, missing_help
from loopwright.resources import resource_root

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
