"""Lets the tests use the scripts that draw the samples and the lessons' sheets."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "samples"))
sys.path.insert(0, str(Path(__file__).resolve().parent))
