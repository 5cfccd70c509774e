"""`loopwright FILE`: the window on a sheet, or its survey where there is no screen."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError


@click.command("open")
@click.argument("file", type=click.Path(path_type=Path), required=False)
def open_sheet(file: Path | None) -> int:
    """Open a sheet in the window; with no screen, print its survey instead.

    Example: loopwright open barn.loopwright
    """
    if file is not None and not file.exists():
        raise LoopwrightError(f"There is no file {file}", do="Check the name, or start one with `loopwright new`")
    if not _has_screen():
        click.echo("No screen is available, so the survey is printed instead of the window.", err=True)
        if file is None:
            click.echo("Name a sheet to survey: loopwright FILE", err=True)
            return common.BAD
        catalogue = common.catalogue()
        sheet = common.load(file, catalogue)
        common.print_survey(str(file), sheet.title, common.survey_of(sheet, catalogue))
        return common.CLEAR
    from loopwright.window.app import run

    return run(file)


def _has_screen() -> bool:
    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))
