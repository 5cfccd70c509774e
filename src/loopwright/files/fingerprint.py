"""A short name for the state of a drawing, the same wherever and whenever it is worked out."""

from __future__ import annotations

import hashlib

import msgspec

from loopwright.files.writer import dumps
from loopwright.sheet.values import Sheet


def fingerprint(sheet: Sheet) -> str:
    """Sixteen hexadecimal digits of a drawing's file, what reviewers said of it left out (SHA-256, FIPS 180-4)."""
    bare = msgspec.structs.replace(sheet, dispositions=(), tried=(), signatures=())
    return hashlib.sha256(dumps(bare)).hexdigest()[:16]
