"""Which pipe sizes there are in each material, by name: what a pipe may be called.

Owns names alone. Knows nothing of flow or loss: that is engineering's, which reads the same table.
"""

from __future__ import annotations

import re
import tomllib
from functools import cache
from typing import Any

from loopwright.errors import SheetError
from loopwright.resources import resource_root


@cache
def _table() -> dict[str, dict[str, Any]]:
    path = resource_root() / "tables" / "pipes.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def materials() -> tuple[str, ...]:
    """Keys of the known pipe materials."""
    return tuple(_table())


def sizes(material: str) -> tuple[str, ...]:
    """Names of the sizes of a material. Raises SheetError for a material that is not listed."""
    known = _table()
    if material not in known:
        raise SheetError(f"There is no pipe material “{material}”", do=f"Choose one of: {', '.join(known)}")
    return tuple(known[material]["sizes"])


def size_name(size: str | float, material: str) -> str:
    """The listed name of a size as people write it: 22, "22 mm", "28 x 1.5", "DN 25".

    Raises SheetError that lists the sizes of that material.
    """
    listed = sizes(material)
    text = f"{size:g}" if isinstance(size, int | float) else size
    text = re.sub(r"mm|dn|\s", "", text.lower().replace("×", "x"))
    if text in listed:
        return text
    outside, cross, wall = text.partition("x")
    for name in listed if cross else ():
        pair = _table()[material]["sizes"][name]
        try:
            if [float(outside), float(wall)] == [float(v) for v in pair]:
                return name
        except ValueError:
            break
    raise SheetError(
        f"{material.capitalize()} pipe is not listed in size “{size}”",
        do=f"Choose one of: {', '.join(listed)}",
    )


@cache
def size_for_bore(bore_mm: float, material: str = "copper") -> str:
    """The usual size of a material whose bore is nearest to `bore_mm`."""
    usual = {n: d[0] - 2 * d[1] for n, d in _table()[material]["sizes"].items() if "x" not in n}
    return min(usual, key=lambda name: abs(usual[name] - bore_mm))
