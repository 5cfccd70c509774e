"""Writes the samples and starters that ship: `python samples/systems.py`, or with a folder to write there instead.

Owns which sheets there are and what each faulty one must show. Knows nothing of how they are drawn or judged.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path

import mistakes
import msgspec
import others

import systems
from loopwright.files.writer import dumps
from loopwright.sheet import edits
from loopwright.sheet.values import Sheet

ROOT = Path(__file__).resolve().parents[1]
SOUND: Mapping[str, Callable[[], systems.House]] = {
    "three-source": systems.three_source,
    "stove-by-gravity": others.stove_by_gravity,
    "log-boiler": others.log_boiler,
    "oil-by-coil": others.oil_by_coil,
}
STARTERS = ("three-source", "stove-by-gravity", "oil-by-coil")
FAULTY = (
    "valve-on-heat-leak",
    "pump-in-heat-leak",
    "check-in-heat-leak",
    "valve-on-stove-flow",
    "valve-on-feed",
    "low-vent",
    "small-cistern",
    "valve-before-relief",
    "coil-upside-down",
    "stove-swapped-at-store",
    "no-mixing-valve",
    "solar-check-missing",
)
"""Which of the single mistakes are samples."""


def sound(name: str) -> Sheet:
    """A sound sample."""
    return systems.done(SOUND[name]())


def faulty(name: str) -> tuple[Sheet, list[dict[str, object]]]:
    """A sample with one mistake, and the dangers and faults that it must show."""
    mistake = next(m for m in mistakes.MISTAKES if m.name == name)
    words = re.split(r"[.:](?:\s|$)", mistake.edit.__doc__ or name)[0].strip()
    sheet = edits.set_title(mistake.edit(systems.done(systems.base())), words)
    return sheet, [
        {
            "rule": mistake.rule,
            "severity": mistake.severity,
            "subject": mistake.subject,
            "culprits": list(mistake.culprits),
        }
    ]


def files() -> dict[str, bytes]:
    """Every file by its path below the project."""
    out = {f"samples/sound/{name}.loopwright": dumps(sound(name)) for name in SOUND}
    for name in FAULTY:
        sheet, expected = faulty(name)
        out[f"samples/faulty/{name}.loopwright"] = dumps(sheet)
        out[f"samples/faulty/{name}.expected.json"] = msgspec.json.format(msgspec.json.encode(expected)) + b"\n"
    out |= {f"resources/starters/{name}.loopwright": dumps(sound(name)) for name in STARTERS}
    out["resources/starters/store-only.loopwright"] = dumps(systems.done(others.store_only()))
    return out


def main() -> None:
    """Write them all."""
    root = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT
    for name, data in files().items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    print(f"Wrote {len(files())} files below {root}")
