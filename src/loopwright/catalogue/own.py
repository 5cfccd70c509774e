"""Where a person keeps kinds of their own. Refuses to read them."""

from __future__ import annotations

import os
from pathlib import Path

from loopwright.errors import KindError


def kinds_folder() -> Path | None:
    """The folder that LOOPWRIGHT_KINDS names, else `kinds` in the person's data folder; None where there is no home.

    Raises KindError where the folder that was named is not there: whoever named it means its kinds to be used.
    """
    named = os.environ.get("LOOPWRIGHT_KINDS")
    if named:
        if not os.path.isdir(named):
            raise KindError("LOOPWRIGHT_KINDS names no folder that is there", where=named, do="Make it, or unset it")
        return Path(named)
    import platformdirs

    try:
        return Path(platformdirs.user_data_dir("loopwright", appauthor=False)) / "kinds"
    except RuntimeError:  # no home folder can be told
        return None
