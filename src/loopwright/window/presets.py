"""The tappings and coils a vessel is placed with, as shipped data says. Owns the reading; knows no widget."""

from __future__ import annotations

import tomllib
from functools import cache
from typing import Any

from loopwright.catalogue import Kind
from loopwright.resources import resource_root
from loopwright.sheet.values import LETTERS, Coil, Tapping


@cache
def _presets() -> dict[str, Any]:
    return tomllib.loads((resource_root() / "presets.toml").read_text(encoding="utf-8"))


def usual_tappings(kind: Kind) -> tuple[tuple[Tapping, ...], tuple[Coil, ...]]:
    """Tappings and coils of a new part of that kind; none for what is no vessel or has no preset."""
    preset = _presets().get(kind.id, {})
    default = kind.prop("body_height_m")
    tall = float(default.default) if default is not None and isinstance(default.default, int | float) else kind.height_m
    letters = iter(LETTERS)
    tappings: list[Tapping] = []
    for entry in preset.get("tappings", ()):
        tappings.append(
            Tapping(
                letter=next(letters),
                name=entry["name"],
                height_m=round(tall * entry["share"], 2),
                side=entry["side"],
                purpose=entry["purpose"],
                size=entry["size"],
            )
        )
    coils: list[Coil] = []
    for entry in preset.get("coils", ()):
        ends = []
        for word, share in (("bottom", entry["bottom"]), ("top", entry["top"])):
            tap = Tapping(
                letter=next(letters),
                name=f"{entry['name']} {word}",
                height_m=round(tall * share, 2),
                side=entry["side"],
                purpose="coil",
                size=entry["size"],
            )
            tappings.append(tap)
            ends.append(tap)
        coils.append(
            Coil(
                name=entry["name"],
                bottom_m=ends[0].height_m,
                top_m=ends[1].height_m,
                lower=ends[0].letter,
                upper=ends[1].letter,
            )
        )
    return tuple(tappings), tuple(coils)
