"""The form of a sheet file: its keys, their types, and which version this program writes.

Owns the format. Knows nothing of where the bytes come from, nor whether what the records name exists.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from loopwright.sheet.values import (
    ControlLink,
    Dimension,
    Disposition,
    Level,
    Note,
    Part,
    Pipe,
    PropValue,
    Sheet,
    Signature,
    TitleBlock,
    Tried,
)

FORMAT = "loopwright-sheet"
VERSION = 1
ENDING = ".loopwright"
MOST_BYTES = 20_000_000


class SheetRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A sheet file as it is written, keys in this order. Numbers are in the unit that their key names."""

    format: Literal["loopwright-sheet"]
    version: int
    title: str
    levels: tuple[Level, ...]
    parts: tuple[Part, ...]
    pipes: tuple[Pipe, ...]
    links: tuple[ControlLink, ...] = ()
    notes: tuple[Note, ...] = ()
    dimensions: tuple[Dimension, ...] = ()
    block: TitleBlock = TitleBlock()
    dispositions: tuple[Disposition, ...] = ()
    tried: tuple[Tried, ...] = ()
    signatures: tuple[Signature, ...] = ()
    limits: dict[str, float] = {}
    facts: dict[str, PropValue] = {}


def sheet_of(record: SheetRecord) -> Sheet:
    """The sheet of a record whose ids are already known to differ."""
    return Sheet(
        title=record.title,
        levels=record.levels,
        parts={part.id: part for part in record.parts},
        pipes={pipe.id: pipe for pipe in record.pipes},
        links={link.id: link for link in record.links},
        notes=record.notes,
        dimensions=record.dimensions,
        block=record.block,
        dispositions=record.dispositions,
        tried=record.tried,
        signatures=record.signatures,
        limits=record.limits,
        facts=record.facts,
    )
