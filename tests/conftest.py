"""Every test that opens a window does so without a screen; this must be said before Qt is first imported."""

from __future__ import annotations

import os

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from deviations import deviation, pytest_terminal_summary

__all__ = ["deviation", "pytest_terminal_summary"]
