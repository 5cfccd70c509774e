"""What a new part is placed with: the tappings and coils of a vessel as shipped data says, a body of its content.

Owns the reading of that data; knows no widget.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from typing import Any

from loopwright.catalogue import Kind
from loopwright.resources import resource_root
from loopwright.sheet.shorthand import body_for
from loopwright.sheet.values import LETTERS, Coil, Part, PropValue, Tapping


@cache
def _presets() -> dict[str, Any]:
    return tomllib.loads((resource_root() / "presets.toml").read_text(encoding="utf-8"))


def usual_tappings(kind: Kind, tall: float | None = None) -> tuple[tuple[Tapping, ...], tuple[Coil, ...]]:
    """Tappings and coils of a new part of that kind, `tall` m (None: as tall as usual); none for what is no vessel or
    has no preset."""
    preset = _presets().get(kind.id, {})
    default = kind.prop("body_height_m")
    usual = float(default.default) if default is not None and isinstance(default.default, int | float) else None
    tall = tall or usual or kind.height_m
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


def new_part(kind: Kind, props: Mapping[str, PropValue] | None = None) -> Part:
    """A new part of that kind, not yet anywhere. A vessel of another content than usual has a body to fit it, and its
    tappings at the same shares of that."""
    typed = dict(props or {})
    volume = typed.get("volume_l")
    if isinstance(volume, int | float) and kind.body in ("store", "cylinder"):
        typed.update(body_for(kind, float(volume)))
    tall = typed.get("body_height_m")
    tappings, coils = usual_tappings(kind, float(tall) if isinstance(tall, int | float) else None)
    return Part(id="", kind=kind.id, x_m=0.0, height_m=0.0, props=typed, tappings=tappings, coils=coils)
