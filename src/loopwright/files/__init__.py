"""Sheets on disk: read strictly, written whole or not at all."""

from loopwright.files.reader import load, loads
from loopwright.files.writer import dumps, save

__all__ = ["dumps", "load", "loads", "save"]
