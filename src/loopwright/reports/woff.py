"""The shipped fonts packed for a page: WOFF 1.0 (W3C recommendation, 2012), so that a page needs no other file.

Owns the packing. Knows nothing of reports.
"""

from __future__ import annotations

import base64
import struct
import zlib
from functools import cache

from loopwright.reports.stop import ReportError
from loopwright.resources import resource_root


def pack(font: bytes) -> bytes:
    """A TrueType font as WOFF: the same tables, each squeezed where that makes it smaller. Raises ValueError."""
    if len(font) < 12 or font[:4] not in (b"\x00\x01\x00\x00", b"true", b"OTTO"):
        raise ValueError("no TrueType font")
    count = struct.unpack(">H", font[4:6])[0]
    entries, body, whole = [], b"", 12 + 16 * count
    start = 44 + 20 * count
    for k in range(count):
        tag, check, offset, length = struct.unpack(">4sLLL", font[12 + 16 * k : 28 + 16 * k])
        table = font[offset : offset + length]
        if len(table) != length:
            raise ValueError("a table is cut short")
        squeezed = zlib.compress(table, 9)
        data = squeezed if len(squeezed) < length else table
        entries.append(struct.pack(">4sLLLL", tag, start + len(body), len(data), length, check))
        body += data + b"\0" * (-len(data) % 4)
        whole += (length + 3) & ~3
    head = struct.pack(">4s4sLHHLHHLLLLL", b"wOFF", font[:4], start + len(body), count, 0, whole, 1, 0, 0, 0, 0, 0, 0)
    return head + b"".join(entries) + body


@cache
def embedded(name: str) -> str:
    """A shipped font as text for a data address. Raises ReportError."""
    path = resource_root() / "fonts" / f"{name}.ttf"
    try:
        return base64.b64encode(pack(path.read_bytes())).decode("ascii")
    except (OSError, ValueError, struct.error) as bad:
        raise ReportError(
            f"The font {path.name} is missing or damaged", where=str(path.parent), do="Install loopwright again"
        ) from bad
