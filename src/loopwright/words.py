"""Words set into sentences: names in a row, and a capital at the head.

Owns these two habits of the language, so that every message has the same. Knows nothing of what is said.
"""

from __future__ import annotations

from collections.abc import Iterable


def listed(names: Iterable[str], most: int = 0) -> str:
    """Names with commas and a last “and”: “a”, “a and b”, “a, b and c”; beyond `most` the rest is counted."""
    said = list(names)
    if most and len(said) > most:
        said = [*said[:most], f"{len(said) - most} more"]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}" if said else ""


def capital(words: str) -> str:
    """Words with a capital at their head: a sentence may begin with the name of a part."""
    return words[:1].upper() + words[1:]
