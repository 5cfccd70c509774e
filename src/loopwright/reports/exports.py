"""The tables of a report for other programs, as CSV (RFC 4180) or JSON. Owns their form."""

from __future__ import annotations

import csv
import io
from typing import Literal

import msgspec

from loopwright.reports.model import Data, Report

_RISKY = ("=", "+", "-", "@", "\t", "\r")
"""First letters that a spreadsheet takes for a formula (OWASP, CSV injection)."""


def write(report: Report, form: Literal["csv", "json"] = "csv") -> dict[str, bytes]:
    """Every table by file name."""
    if form == "json":
        return {f"{t.name}.json": msgspec.json.format(msgspec.json.encode(records(t))) + b"\n" for t in report.tables}
    return {f"{t.name}.csv": as_csv(t) for t in report.tables}


def records(table: Data) -> list[dict[str, str | int | float | bool | None]]:
    """A table as a list of records."""
    return [dict(zip(table.keys, map(_bare, row))) for row in table.rows]


def _bare(value: str | int | float | bool | None) -> str | int | float | bool | None:
    """A number without what a library of arrays hung on it, which JSON does not know."""
    return float(value) if isinstance(value, float) else value


def as_csv(table: Data) -> bytes:
    """A table as CSV with a head, lines ended by CR LF. Words that a spreadsheet would run get an apostrophe."""
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(table.keys)
    for row in table.rows:
        writer.writerow([plain(v) for v in row])
    return out.getvalue().encode()


def plain(value: str | int | float | bool | None) -> str | int | float:
    """A value as a spreadsheet takes it without running it."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str) and value.startswith(_RISKY):
        return "'" + value
    return value
