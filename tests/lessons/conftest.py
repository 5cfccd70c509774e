"""Lets the tests use the scripts that draw the samples and the lessons' sheets."""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in (HERE.parent / "systems", HERE.parent / "rules", HERE.parents[1] / "samples", HERE):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
