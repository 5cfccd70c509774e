"""The command line as somebody types it, carried out in this process: the exit code, and what both streams say.

To start an interpreter takes longer than most commands. Tests of the entry point itself start one (`test_cli.run`).
"""

from __future__ import annotations

import io
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from unittest.mock import patch

from loopwright.cli import main


@dataclass(frozen=True)
class Said:
    """How a command ended."""

    returncode: int
    stdout: str
    stderr: str


def typed(*words: object) -> Said:
    """Carry out `loopwright WORDS`. Whatever it raises beyond its own way out is a defect, and is raised here."""
    out, err = io.StringIO(), io.StringIO()
    with patch.object(sys, "argv", ["loopwright", *map(str, words)]), redirect_stdout(out), redirect_stderr(err):
        try:
            main()
        except SystemExit as ended:
            code = ended.code
    assert isinstance(code, int)
    return Said(code, out.getvalue(), err.getvalue())
