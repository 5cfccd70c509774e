"""Reads the shipped tables of figures (`resources/tables/*.toml`), each once.

Owns where they lie and that they are read-only. Knows nothing of what they mean.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import Any

from loopwright.resources import resource_root


@cache
def table(name: str) -> Mapping[str, Any]:
    """The table `name`, read-only. A missing table is a defect of the program: it raises OSError."""
    path = resource_root() / "tables" / f"{name}.toml"
    return MappingProxyType(tomllib.loads(path.read_text(encoding="utf-8")))
