"""Every test that opens a window does so without a screen; this must be said before Qt is first imported."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from typing import Any

import pytest

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from hypothesis import settings
from hypothesis.internal.conjecture import providers

from deviations import deviation, pytest_terminal_summary

# by itself hypothesis reads the constants of every module that happens to be loaded: seconds of parsing, and cases that
# depend on which tests ran before
providers.is_local_module_file = lambda _path: False
settings.register_profile("same", derandomize=True)
settings.register_profile("new")
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))  # "new" looks at other cases every time

__all__ = ["deviation", "pytest_terminal_summary"]


def pytest_addoption(parser: pytest.Parser) -> None:
    """The mutation test takes a sample unless told otherwise."""
    parser.addoption("--every-mutation", action="store_true", help="all cases of tests/systems/test_mutations.py")


@pytest.fixture
def qtbot(qtbot: Any) -> Iterator[Any]:
    """The bot of the library, which itself holds windows weakly: here they live until the test ends, and end with it.

    Left to Python, a window would be taken apart at whatever moment memory is tidied, in the midst of its own painting
    too; and with no event loop between two tests, Qt puts off the end of those that were closed.
    """
    held: list[object] = []
    add = qtbot.addWidget

    def hold(widget: object, **more: object) -> None:
        held.append(widget)
        add(widget, **more)

    qtbot.addWidget = hold
    yield qtbot
    core = sys.modules["PySide6.QtCore"]
    core.QCoreApplication.sendPostedEvents(None, core.QEvent.Type.DeferredDelete)
