"""Spoils good input: bytes, text, and the structure of JSON and TOML, with values that programs stumble over.

Owns the ways of spoiling. Refuses to know what the input is for.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from copy import deepcopy
from random import Random
from typing import Any

TOKENS = [
    "NaN",
    "Infinity",
    "-Infinity",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-1e-999",
    "9" * 400,
    "0x7f",
    "-0",
    "1e308",
    "1.5",
    "null",
    "true",
    "{}",
    "[]",
    '""',
    "[[[[[[",
    "{{{{",
    "}}}}",
    '"\\ud800"',
    '"\\udfff\\ud800"',
    "\\u0000",
    "\u2028",
    "\ufeff",
    "\u202e",
    "²",
    "½",
    "٣",
    "１２",
    "𝟗",
    "é",
    "'''",
    '"""',
    "#",
    "=",
    ",",
    ":",
    "/",
    "..",
    "../../etc/passwd",
    "%s",
    "%n",
    "{0}",
    "<script>alert(1)</script>",
    "<!ENTITY a 'b'>",
    "&a;",
    "<![CDATA[",
    "]]>",
    "<?php ?>",
    "http://0/",
    "file:///etc/passwd",
    "javascript:0",
    "\x1b[2J",
    "\r\n",
    "\t",
    " " * 40,
    "1_000",
    "--",
    "+-",
    "\\",
]
"""Words that have undone some program before."""
VALUES: list[Any] = [
    None,
    True,
    False,
    0,
    -1,
    1,
    2**31,
    2**63,
    -(2**63),
    2**64,
    10**400,
    0.0,
    -0.0,
    1e-320,
    1e308,
    -1e308,
    0.1,
    999.999,
    1000.0001,
    1e12,
    "",
    " ",
    "x",
    "\x00",
    "\ud800",
    "é" * 500,
    "9" * 5000,
    "../../x",
    "<b>bold</b>",
    "a\nb",
    "²",
    "24:60",
    [],
    [[]],
    {},
    {"": {}},
    [None],
    [1, 2],
    [1e308, -1e308],
    {"a": 1},
    ["a", "b", "c"],
    "store",
    "flow",
]
"""Values for any place."""
REAL = [math.nan, math.inf, -math.inf]


def spoil_bytes(r: Random, data: bytes) -> bytes:
    """A few bytes changed, cut, doubled, or replaced by a token."""
    raw = bytearray(data)
    for _ in range(r.choice((1, 1, 2, 3, 8))):
        at = r.randrange(len(raw) + 1)
        way = r.randrange(7)
        if way == 0 and raw:
            raw[at - 1] = r.randrange(256)
        elif way == 1:
            del raw[at : at + r.randrange(1, 40)]
        elif way == 2:
            raw[at:at] = r.choice(TOKENS).encode("utf-8", "surrogatepass")
        elif way == 3:
            end = min(len(raw), at + r.randrange(1, 60))
            raw[at:at] = raw[at:end] * r.choice((1, 2, 20))
        elif way == 4 and raw:
            raw[at - 1] ^= 1 << r.randrange(8)
        elif way == 5:
            del raw[at:]
        else:
            end = min(len(raw), at + r.randrange(1, 12))
            raw[at:end] = r.choice(TOKENS).encode("utf-8", "surrogatepass")
        if len(raw) > 60_000:
            del raw[60_000:]
    return bytes(raw)


def spoil_text(r: Random, text: str, most: int = 4000) -> str:
    """Text with signs cut, doubled and put in."""
    for _ in range(r.choice((1, 1, 2, 4))):
        at = r.randrange(len(text) + 1)
        way = r.randrange(5)
        if way == 0:
            text = text[:at] + r.choice(TOKENS) + text[at:]
        elif way == 1:
            text = text[:at] + text[at + r.randrange(1, 8) :]
        elif way == 2:
            text = (
                text[:at]
                + chr(r.choice((r.randrange(32, 127), r.randrange(0x2000), r.randrange(0x110000))))
                + text[at:]
            )
        elif way == 3:
            text = text[:at] + text[at : at + r.randrange(1, 9)] * r.randrange(2, 6) + text[at:]
        else:
            text = text[at:] + text[:at]
    return text[:most]


MOST_PLACES = 20_000
"""Places of a tree that is still spoiled further: a list repeated within repeated lists would fill any memory."""


def places_of(value: Any) -> list[tuple[Any, Any]]:
    """Every container with each of its keys, the first MOST_PLACES of them."""
    out: list[tuple[Any, Any]] = []
    waiting = [value]
    while waiting and len(out) < MOST_PLACES:
        here = waiting.pop()
        keys = list(here) if isinstance(here, dict) else range(len(here)) if isinstance(here, list) else ()
        for key in keys:
            out.append((here, key))
            waiting.append(here[key])
    return out


def spoil_tree(r: Random, tree: Any, unreal: bool = False) -> Any:
    """A deep copy of plain data, with some values replaced, dropped, renamed, moved elsewhere or wrapped."""
    tree = json.loads(json.dumps(tree))
    for _ in range(r.choice((1, 1, 1, 2, 3))):
        places = places_of(tree)
        if not places or len(places) >= MOST_PLACES:
            break
        here, key = r.choice(places)
        way = r.randrange(8)
        if way < 3:
            # a copy: a shared list would be spoiled for good, and could come to hold itself
            here[key] = deepcopy(r.choice(REAL) if unreal and r.random() < 0.15 else r.choice(VALUES))
        elif way == 3:
            del here[key]
        elif way == 4 and isinstance(here, dict):
            here[r.choice(["", "id", "x_m", "kind", "é", "a b", '"', "\n", "__class__", str(key) + "_"])] = here[key]
        elif way == 5:
            there, other = r.choice(places)
            here[key] = json.loads(json.dumps(there[other])) if _there(there, other) else None
        elif way == 6:
            for _ in range(r.choice((1, 5, 60))):
                here[key] = [here[key]]
        elif isinstance(here, list):
            inside = 1 + len(places_of(here[key]))
            here.extend([here[key]] * min(r.choice((1, 3, 300)), MOST_PLACES // inside))
        elif isinstance(here[key], int | float) and not isinstance(here[key], bool):
            here[key] = here[key] * r.choice((-1, 0, 1e3, 1e9, 1e300, 0.5))
    return tree


def _there(holder: Any, key: Any) -> bool:
    return key in holder if isinstance(holder, dict) else isinstance(key, int) and key < len(holder)


def toml_of(table: dict[str, Any]) -> str:
    """Plain data as TOML, tables written in one line. What TOML has no word for (null) is written `none`, which no
    reader takes."""
    return "\n".join(f"{_key(k)} = {_value(v)}" for k, v in table.items()) + "\n"


def _key(key: str) -> str:
    return json.dumps(key)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(k)} = {_value(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return json.dumps(value)
    if isinstance(value, float):
        return repr(value)
    return "none" if value is None else str(value)


Spoil = Callable[[Random, Any], Any]
