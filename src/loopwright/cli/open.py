"""`loopwright FILE`: the window on a sheet, or its survey where there is no screen."""

from __future__ import annotations

from pathlib import Path

import click

from loopwright.cli import common, screen
from loopwright.errors import LoopwrightError


@click.command("open")
@click.argument("file", type=click.Path(path_type=Path), required=False)
def open_sheet(file: Path | None) -> int:
    """Open a sheet in the window; with no screen, print its survey instead.

    Example: loopwright open barn.loopwright
    """
    if file is not None and not file.exists():
        raise LoopwrightError(f"There is no file {file}", do="Check the name, or start one with `loopwright new`")
    if not screen.named():
        click.echo("No screen is available, so the survey is printed instead of the window.", err=True)
        if file is None:
            click.echo("Name a sheet to survey: loopwright FILE", err=True)
            return common.BAD
        catalogue = common.catalogue()
        sheet = common.load(file, catalogue)
        common.print_survey(str(file), sheet.title, common.survey_of(sheet, catalogue))
        return common.CLEAR
    try:
        import PySide6.QtWidgets  # noqa: F401  (the window library and the system libraries it needs)

        screen.ready()
    except ImportError as bad:
        raise LoopwrightError(
            "The window library cannot start", where=str(bad).splitlines()[0], do=missing_help(str(bad))
        ) from None
    from loopwright.window.app import run

    return run(file)


LIBRARIES = (
    "libegl1 libgl1 libglib2.0-0 libdbus-1-3 libfontconfig1 libxkbcommon0 libxkbcommon-x11-0 "
    "libxcb-cursor0 libxcb-icccm4 libxcb-keysyms1 libxcb-shape0 libwayland-cursor0"
)
"""Packages of Debian and its kin that the window library needs and a bare system lacks: what its shared objects name
(ELF, NEEDED), less what these bring with them."""


def missing_help(said: str) -> str:
    """What to do about an import of the window library that failed."""
    if "PySide6" in said and ".so" not in said:
        return "Install it: pip install 'PySide6-Essentials>=6.8,<6.12'"
    if "GLIBC" in said:
        return "This system is too old for it: Debian 12, Ubuntu 22.04 or later is needed"
    return f"On Debian or Ubuntu: apt-get install {LIBRARIES}"
