"""Reads sheets. Whatever is wrong with a file becomes one FileError: what, the line and path, and what to do.

Owns the order of the checks. A file is data: nothing in it is run, and nothing it names is opened.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import msgspec

from loopwright.catalogue import Catalogue, standard_catalogue
from loopwright.errors import FileError, SheetError
from loopwright.files.checks import MisfitError, check
from loopwright.files.migrate import migrate
from loopwright.files.places import first_twice, first_unreal, line_at, line_of
from loopwright.files.records import FORMAT, MOST_BYTES, SheetRecord
from loopwright.sheet.values import Part, Pipe, Sheet

_AT = re.compile(r"^(?P<what>.*?)(?: - at `(?:key in )?(?P<path>\$.*)`)?$", re.DOTALL)
_WORDS = {
    "float": "a number", "int": "a whole number", "str": "text", "bool": "true or false", "object": "a record in {}",
    "array": "a list in []", "null": "nothing (null)",
}  # fmt: skip
_MEND = "Mend it in a text editor, or go back to an earlier copy"


MOST_VALUES = 500_000
_HALF = re.compile(r"\\u[dD][89a-fA-F]")
_LONE = re.compile("[\ud800-\udfff]")


class _TwiceError(ValueError):
    """A key came twice in one object."""


class _UnrealError(ValueError):
    """A number that is none."""


def load(path: str | Path, catalogue: Catalogue | None = None) -> Sheet:
    """The sheet in a file. Raises FileError: not there, not readable, not a sheet, or a sheet of something
    else."""
    path = Path(path)
    try:
        if path.stat().st_size > MOST_BYTES:
            raise _too_large(str(path))
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)  # a device has no size, and no end
    except (OSError, ValueError) as bad:  # a name with a nought in it is a ValueError
        why = getattr(bad, "strerror", None) or ""
        raise FileError(f"{path} cannot be read", where=why, do="Check its name and rights") from None
    try:
        return loads(data, catalogue)
    except FileError as bad:
        raise FileError(bad.what, where=f"{path.name}{', ' + bad.where if bad.where else ''}", do=bad.do) from None


def loads(data: bytes, catalogue: Catalogue | None = None) -> Sheet:
    """The sheet in the bytes of a file, against the shipped kinds unless a catalogue is given. Raises
    FileError."""
    text = _text(data)
    plain = _parse(text)
    if half := _half_letter(text, plain):
        raise half
    if not isinstance(plain, dict) or plain.get("format") != FORMAT:
        raise FileError("This is not a sheet of loopwright", where="$.format", do="Choose a file ending in .loopwright")
    plain = migrate(plain)
    try:
        return check(_record(plain), catalogue or standard_catalogue())
    except MisfitError as bad:
        line = line_of(text, bad.path)
        where = f"line {line}, {bad.path}" if line else bad.path
        raise FileError(bad.what, where=where, do=bad.do) from None


def _too_large(where: str = "") -> FileError:
    return FileError(
        f"The file is more than {MOST_BYTES // 1_000_000} MB large, the most that a sheet may have",
        where=where,
        do="Choose another file, or split the sheet",
    )


def _text(data: bytes) -> str:
    if len(data) > MOST_BYTES:
        raise _too_large()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as bad:
        line = data.count(b"\n", 0, bad.start) + 1
        raise FileError(
            "The file is not text in UTF-8", where=f"line {line}", do="Choose another file, or save it as UTF-8"
        ) from None
    if not text.strip():
        raise FileError("The file is empty", do="Choose another file, or go back to an earlier copy")
    if sum(map(text.count, ",[{")) > MOST_VALUES:  # before they are made: each takes many times its letters
        raise FileError("The file holds more values than any sheet", do="Choose another file, or split the sheet")
    return text


def _half_letter(text: str, plain: Any) -> FileError | None:
    """A refusal where a text of the data holds half a letter (a lone surrogate, RFC 8259 section 8.2): no file can."""
    found = _HALF.search(text)
    waiting = [plain] if found else []
    while waiting:
        here = waiting.pop()
        if isinstance(here, dict):
            waiting += [*here, *here.values()]
        elif isinstance(here, list):
            waiting += here
        elif isinstance(here, str) and _LONE.search(here):
            near = line_at(text, found.start()) if found else 0
            return FileError("A text in the file holds half a letter", where=f"line {near}", do="Type that text anew")
    return None


def _parse(text: str) -> Any:
    try:
        return json.loads(text, object_pairs_hook=_once, parse_constant=_no_constant, parse_float=_finite)
    except json.JSONDecodeError as bad:
        raise FileError(
            f"The file is damaged, or no sheet of loopwright (it is not JSON: {bad.msg.lower()})",
            where=f"line {bad.lineno}, column {bad.colno}",
            do=_MEND,
        ) from None
    except _TwiceError as bad:
        place = first_twice(text)
        where = f"line {line_at(text, place.at)}, {place.path}" if place else ""
        raise FileError(
            f"The key “{bad}” is there twice in one record", where=where, do="Remove one of the two"
        ) from None
    except _UnrealError as bad:
        place = first_unreal(text)
        where = f"line {line_at(text, place.at)}, {place.path}" if place else ""
        raise FileError(f"“{bad}” is no number", where=where, do="Write a number, or leave the key out") from None
    except RecursionError:
        raise FileError("The file is nested too deeply to be a sheet", do="Choose another file") from None
    except ValueError:  # a whole number of thousands of digits
        place = first_unreal(text)
        where = f"line {line_at(text, place.at)}, {place.path}" if place else ""
        raise FileError("A number in the file is too long to be one", where=where, do=_MEND) from None


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    out = dict(pairs)
    if len(out) < len(pairs):
        seen: set[str] = set()
        raise _TwiceError(next(key for key, _ in pairs if key in seen or seen.add(key)))  # type: ignore[func-returns-value]
    return out


def _no_constant(word: str) -> float:
    raise _UnrealError(word)


def _finite(word: str) -> float:
    number = float(word)
    if not math.isfinite(number):
        raise _UnrealError(word if len(word) < 30 else word[:30] + "...")
    return number


def _record(plain: dict[str, Any]) -> SheetRecord:
    try:
        return msgspec.convert(plain, SheetRecord, strict=True)
    except msgspec.ValidationError as bad:
        found = _AT.match(str(bad))
        what, path = (found["what"], found["path"] or "$") if found else (str(bad), "$")
        raise MisfitError(path, *_plainly(what)) from None
    except SheetError as bad:
        raise MisfitError(_which(plain), bad.what, bad.do) from None


def _which(plain: dict[str, Any]) -> str:
    """The path of the part or pipe that refuses itself."""
    for field, sort in (("parts", Part), ("pipes", Pipe)):
        entries = plain.get(field)
        for k, entry in enumerate(entries if isinstance(entries, list) else ()):
            try:
                msgspec.convert(entry, sort, strict=True)
            except SheetError:
                return f"$.{field}[{k}]"
            except msgspec.ValidationError:
                continue  # wrong too, but not what was complained of first
    return "$"


def _plainly(what: str) -> tuple[str, str]:
    """An error of form in plain words, and what to do about it."""
    if key := re.fullmatch(r"Object contains unknown field `(.*)`", what):
        return f"There is an unknown key “{key[1]}”", "Remove it, or mend its spelling"
    if key := re.fullmatch(r"Object missing required field `(.*)`", what):
        return f"The key “{key[1]}” is missing", "Add it, or go back to an earlier copy"
    if word := re.fullmatch(r"Invalid enum value (.*)", what):
        return f"The word {word[1]} is not one of those allowed here", "See the schema of the format for the words"
    plain = re.sub(
        r"`(\w+(?: \| \w+)*)`",
        lambda m: " or ".join(_WORDS.get(w, w) for w in m[1].split(" | ")),
        what.replace("Expected", "There should be"),
    )
    return plain.replace(", got", ", but there is"), _MEND
