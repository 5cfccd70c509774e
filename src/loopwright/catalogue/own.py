"""Where a person keeps kinds of their own. Refuses to read them."""

from __future__ import annotations

import os
from pathlib import Path


def kinds_folder() -> Path | None:
    """The folder that LOOPWRIGHT_KINDS names, else `kinds` in the person's data folder; None where there is no home."""
    named = os.environ.get("LOOPWRIGHT_KINDS")
    if named:
        return Path(named)
    import platformdirs

    try:
        return Path(platformdirs.user_data_dir("loopwright", appauthor=False)) / "kinds"
    except RuntimeError:  # no home folder can be told
        return None
