"""Where the shipped data lives: inside an installed wheel, or beside `src` in a checkout."""

from __future__ import annotations

from functools import cache
from pathlib import Path


@cache
def resource_root() -> Path:
    """The folder of shipped data (parts, symbols, rules, fonts, starters, ...)."""
    packed = Path(__file__).resolve().parent / "resources"
    return packed if packed.is_dir() else Path(__file__).resolve().parents[2] / "resources"
