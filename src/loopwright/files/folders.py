"""Which sheets a person means who names files and folders."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from loopwright.errors import FileError
from loopwright.files.records import ENDING


def sheets_in(places: Iterable[Path]) -> list[Path]:
    """The sheets named, and those in folders named, each once, in order. Raises FileError for a place without any."""
    found: dict[Path, None] = {}
    for place in places:
        if place.is_dir():
            inside = sorted(p for p in place.rglob(f"*{ENDING}") if p.is_file())
            if not inside:
                raise FileError(f"There is no sheet in the folder {place}", do=f"Sheets end in {ENDING}")
            found |= dict.fromkeys(inside)
        else:
            found[place] = None
    return list(found)
