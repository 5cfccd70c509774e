"""Writes sheets: the same sheet gives the same bytes, one part or pipe a line, and a file is whole or
untouched.

Owns the layout of the text and the safety of writing. Knows nothing of what a sheet means.
"""

from __future__ import annotations

import math
import os
import re
import secrets
import shutil
import stat
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from loopwright.errors import FileError
from loopwright.files.records import FORMAT, MOST_BYTES, VERSION
from loopwright.sheet.values import Sheet, TitleBlock

_VERSION = re.compile(rb'"version"\s*:\s*(\d{1,9})\b')


def dumps(sheet: Sheet) -> bytes:
    """The bytes of a sheet file. Raises FileError if a number of the sheet is none, or it is too large to
    read again."""
    lines = [
        f'"format": {_json(FORMAT)}',
        f'"version": {VERSION}',
        f'"title": {_json(sheet.title)}',
        _listed("levels", sheet.levels),
        _listed("parts", sheet.parts.values()),
        _listed("pipes", sheet.pipes.values()),
        _listed("links", sheet.links.values()),
        _listed("notes", sheet.notes),
        *([_listed("dimensions", sheet.dimensions)] if sheet.dimensions else ()),
        *([f'"block": {_json(_plain(sheet.block, "block"))}'] if sheet.block != TitleBlock() else ()),
        _listed("dispositions", sheet.dispositions),
        *([_listed("tried", sheet.tried)] if sheet.tried else ()),
        *([_listed("signatures", sheet.signatures)] if sheet.signatures else ()),
        f'"limits": {_json(_plain(sheet.limits, "limits"))}',
        f'"facts": {_json(_plain(sheet.facts, "facts"))}',
    ]
    data = ("{\n" + ",\n".join(lines) + "\n}\n").encode("utf-8")
    if len(data) > MOST_BYTES:
        raise FileError(
            f"The sheet would fill {len(data) / 1e6:.0f} MB, and a sheet may have 20 MB",
            do="Split it into several sheets",
        )
    return data


def _listed(key: str, records: Any) -> str:
    rows = [_json(_plain(record, getattr(record, "id", key))) for record in records]
    return f'"{key}": [\n' + ",\n".join(rows) + "\n]" if rows else f'"{key}": []'


def _json(value: Any) -> str:
    try:
        return msgspec.json.encode(value).decode("utf-8")
    except (UnicodeEncodeError, OverflowError) as bad:
        raise FileError(f"The sheet holds something that cannot be written: {bad}", do="Type that text anew") from None


@cache
def _fields(sort: type[msgspec.Struct]) -> tuple[msgspec.structs.FieldInfo, ...]:
    return msgspec.structs.fields(sort)


def _plain(value: Any, where: str) -> Any:
    """Plain data in stable order: fields that hold their default are left out, whole numbers carry no
    point."""
    if isinstance(value, msgspec.Struct):
        if value.__struct_config__.array_like:
            return [_plain(getattr(value, name), where) for name in value.__struct_fields__]
        out = {}
        for field in _fields(type(value)):
            entry = getattr(value, field.name)
            empty = field.default_factory is not msgspec.NODEFAULT and not entry
            if not empty and (field.default is msgspec.NODEFAULT or entry != field.default):
                out[field.encode_name] = _plain(entry, where)
        return out
    if isinstance(value, Mapping):
        return {key: _plain(value[key], where) for key in sorted(value)}
    if isinstance(value, tuple | list):
        return [_plain(entry, where) for entry in value]
    if isinstance(value, float):
        if not math.isfinite(value):
            raise FileError(f"“{where}” holds a number that is none ({value})", do="Give it another value")
        return int(value) if value.is_integer() and abs(value) < 1e15 else value
    return value


def save(sheet: Sheet, path: str | Path) -> None:
    """Writes a sheet file; a link to a file stays a link. Raises FileError, and then the old file is as it
    was.

    An older version of the format is kept beside the new file, as NAME.version-N.loopwright.
    """
    data = dumps(sheet)
    target = Path(os.path.realpath(path))
    try:
        _keep_older(target)
    except OSError as bad:
        raise _refused(target, bad, "Make room for the copy of the older sheet, or save under another name") from None
    write_bytes(path, data)


def _keep_older(target: Path) -> None:
    try:
        if not target.is_file():
            return
    except OSError:
        return  # one may not look there: writing says so in better words
    with target.open("rb") as file:
        found = _VERSION.search(file.read(4096))
    if found and int(found[1]) < VERSION:
        kept = target.with_name(f"{target.stem}.version-{int(found[1])}{target.suffix}")
        if not kept.exists():
            shutil.copy2(target, kept)


def write_bytes(path: str | Path, data: bytes) -> None:
    """Writes a whole file or nothing: to a new file in the same folder, onto the disk, then in place of the
    old one.

    The old file's mode is kept; a symbolic link is followed. A pipe or a device is written to directly.
    Raises FileError.
    """
    target = Path(os.path.realpath(path))
    try:
        mode = target.stat().st_mode if target.exists() else None
        if mode is not None and stat.S_ISDIR(mode):
            raise FileError(f"{target} is a folder", do="Name a file")
        if mode is not None and not stat.S_ISREG(mode):
            target.write_bytes(data)
            return
        if mode is not None and not os.access(target, os.W_OK):
            raise FileError(f"{target} is protected against writing", do="Save under another name")
        _replace(target, data, mode)
    except OSError as bad:
        raise _refused(target, bad, "Check the folder, its rights and the room on the disk") from None


def _replace(target: Path, data: bytes, mode: int | None) -> None:
    fresh = target.with_name(f".{target.name[:40]}.{secrets.token_hex(4)}.part")
    handle = os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if mode is not None:
            os.chmod(fresh, stat.S_IMODE(mode))
        os.replace(fresh, target)
    except BaseException:
        fresh.unlink(missing_ok=True)
        raise
    _settle(target.parent)


def _settle(folder: Path) -> None:
    """Puts the new name itself onto the disk, where the system can."""
    if os.name != "posix":
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return  # a folder that may be written in but not looked into; the file itself is safe
    try:
        os.fsync(handle)
    except OSError:
        pass  # some file systems know no such thing
    finally:
        os.close(handle)


def _refused(target: Path, bad: OSError, do: str) -> FileError:
    return FileError(f"{target} cannot be written", where=bad.strerror or str(bad), do=do)
