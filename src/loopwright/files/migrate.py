"""Older sheet files brought up to the version of today, one step a version.

Owns the steps. A step takes the plain data of its version and gives that of the next one.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from loopwright.errors import FileError
from loopwright.files.records import VERSION

Step = Callable[[dict[str, Any]], dict[str, Any]]
STEPS: dict[int, Step] = {}
"""Version -> the step that leads from it to the next. There is no older version yet."""


def migrate(data: dict[str, Any], steps: Mapping[int, Step] = STEPS, current: int = VERSION) -> dict[str, Any]:
    """The data in the version `current`, its key `version` set. The given data is left as it was.

    Raises FileError for a version that is newer, or so old that no step leads on from it.
    """
    version = data.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 0:
        raise FileError("The sheet has no version number", where="$.version", do=f'Write "version": {current}')
    if version > current:
        raise FileError(
            f"The sheet was written by a newer loopwright (version {version}; this one reads up to {current})",
            where="$.version", do="Update loopwright, or ask for the sheet in the older form",
        )  # fmt: skip
    while version < current:
        if version not in steps:
            raise FileError(
                f"Sheets of version {version} can no longer be read",
                where="$.version",
                do="Open it with the loopwright that wrote it and save it again",
            )
        version, data = version + 1, {**steps[version](dict(data)), "version": version + 1}
    return data
