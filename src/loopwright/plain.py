"""Plain data from small files that people write: TOML of kinds, lessons, days; pages of Markdown under a TOML head.

Owns what may be wrong with the file itself, and says it as an error of the caller's sort. Knows nothing of what it
means.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from loopwright.errors import LoopwrightError

MOST_BYTES = 1_000_000
MOST_DOTS = 300
"""Dots in a line: a key of many thousand parts takes the reader of TOML minutes."""


def read_toml(path: Path, error: type[LoopwrightError], what: str) -> tuple[str, dict[str, Any]]:
    """The text of a file and the data in it; `what` names the file in a refusal ("The day winter.toml").

    Raises `error`: it cannot be read, is larger than 1 MB, no text, no TOML, or nested too deeply.
    """
    try:
        if path.exists() and not path.is_file():  # a pipe would keep us waiting, a folder has no text
            raise error(f"{what} is no file", where=path.name, do="Check its name")
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as bad:  # a name with a nought in it is a ValueError
        why = getattr(bad, "strerror", None) or str(bad)
        raise error(f"{what} cannot be read", where=why, do="Check its name and rights") from None
    if len(data) > MOST_BYTES:
        raise error(f"{what} is larger than 1 MB", where=path.name, do="Split it, or choose another file")
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as bad:
        line = data.count(b"\n", 0, bad.start) + 1
        raise error(f"{what} is not text in UTF-8", where=f"{path.name}, line {line}", do="Save it as UTF-8") from None
    deep = next((n for n, line in enumerate(text.split("\n"), 1) if line.count(".") > MOST_DOTS), 0)
    if deep:
        raise error(f"{what} has too many dots in a line", where=f"{path.name}, line {deep}", do="Break that line")
    try:
        return text, tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as bad:  # too deep; a number of thousands of digits
        why = "nested too deeply" if isinstance(bad, RecursionError) else str(bad)[:300]
        raise error(f"{what} is not TOML", where=f"{path.name}: {why}", do="Mend that line") from None


def read_page(path: Path, what: str, *needed: str) -> tuple[dict[str, Any], str]:
    """The head and the Markdown of a page that ships: TOML between two lines of three plus signs, then the text.

    Raises LoopwrightError naming the file: it has no head, the head is no TOML, or a `needed` key is not in it.
    """
    before, *rest = re.split(r"^\+\+\+[ \t]*$", path.read_text(encoding="utf-8"), maxsplit=2, flags=re.MULTILINE)
    if before.strip() or len(rest) < 2:
        raise LoopwrightError(
            f"{what} has no head", where=path.name, do="Begin it with its title between two lines +++"
        )
    try:
        head = tomllib.loads(rest[0])
    except tomllib.TOMLDecodeError as bad:
        raise LoopwrightError(f"The head of {what} is not TOML", where=f"{path.name}: {bad}", do="Mend it") from None
    missing = [key for key in needed if key not in head]
    if missing:
        raise LoopwrightError(
            f"The head of {what} lacks {' and '.join(missing)}", where=path.name, do="Write it between the lines +++"
        )
    return head, rest[1].strip()
