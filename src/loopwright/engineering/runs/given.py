"""What a drawing does not say and a run needs: figures of `resources/tables/runs.toml`.

Owns their lookup. Knows nothing of what they are used for.
"""

from __future__ import annotations

from loopwright.engineering.tables import table


def assumed(name: str, key: str) -> float:
    """A figure of the table of runs."""
    return float(table("runs")[name][key])
