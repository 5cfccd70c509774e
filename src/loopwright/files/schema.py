"""The JSON Schema of the sheet format, made from the records themselves; the shipped copy is this one.

`python -m loopwright.files.schema > resources/loopwright.schema.json` writes it anew.
"""

from __future__ import annotations

import sys
from typing import Any

import msgspec

from loopwright.files.records import SheetRecord


def schema() -> dict[str, Any]:
    """The schema as plain data (JSON Schema, draft 2020-12). It holds the form; references are checked on
    reading."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "loopwright sheet",
        **msgspec.json.schema(SheetRecord),
    }


def schema_bytes() -> bytes:
    """The schema as the text that is shipped."""
    return msgspec.json.format(msgspec.json.encode(schema()), indent=2) + b"\n"


if __name__ == "__main__":
    sys.stdout.buffer.write(schema_bytes())
