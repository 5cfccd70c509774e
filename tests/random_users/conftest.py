"""What random users of the window borrow from the tests of the window."""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from window.conftest import answers, catalogue, memory, small

__all__ = ["answers", "catalogue", "memory", "small"]
