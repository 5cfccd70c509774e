"""What stays unloaded: the command line must answer at once, and only the window may wait for the window library."""

from __future__ import annotations

import subprocess
import sys

import pytest

HEAVY = ("PySide6", "shiboken6", "numpy", "pint", "shapely", "networkx", "scipy", "jinja2", "pyqtgraph")


def loaded(code: str) -> set[str]:
    """Which heavy libraries a fresh process has loaded after this code."""
    ask = f"import sys\n{code}\nprint(*sorted(set({HEAVY!r}) & sys.modules.keys()))"
    return set(subprocess.run([sys.executable, "-c", ask], check=True, capture_output=True, text=True).stdout.split())


def test_the_command_line_alone_loads_no_heavy_library():
    assert loaded("import loopwright.cli") == set()


@pytest.mark.parametrize("module", ["loopwright.window.app", "loopwright.catalogue", "loopwright.sheet.values"])
def test_light_modules_stay_light(module):
    assert loaded(f"import {module}") == set()


def test_the_survey_and_the_drawing_need_no_window_library():
    code = "import loopwright.survey, loopwright.drawing.svg, loopwright.files, loopwright.engineering.figures"
    assert not loaded(code) & {"PySide6", "shiboken6", "pyqtgraph"}


def test_the_window_waits_with_what_its_first_picture_does_not_need():
    """Unit and graph libraries load with the first value typed and the first sheet checked."""
    assert not loaded("import loopwright.window.main") & {"pint", "networkx", "scipy", "jinja2", "pyqtgraph"}
