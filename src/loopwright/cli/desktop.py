"""`loopwright desktop`: a menu entry, an icon and the file type, for the person who runs it."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

PLACES = {
    "loopwright.desktop": "applications/loopwright.desktop",
    "loopwright-sheet.xml": "mime/packages/loopwright-sheet.xml",
    "loopwright.svg": "icons/hicolor/scalable/apps/loopwright.svg",
    "application-x-loopwright-sheet.svg": "icons/hicolor/scalable/mimetypes/application-x-loopwright-sheet.svg",
}
"""What ships, and where it goes under the data folder of the person (XDG Base Directory, shared MIME info)."""
REFRESH = (
    ("update-desktop-database", "applications"),
    ("update-mime-database", "mime"),
    ("gtk-update-icon-cache", "icons/hicolor"),
)


@click.command()
@click.option("--remove", is_flag=True, help="Take the entry, the icons and the file type away again.")
def desktop(remove: bool) -> int:
    """Put loopwright into the desktop's menu and let it open its sheets.

    Example: loopwright desktop
    """
    from loopwright.resources import resource_root

    if sys.platform in ("win32", "darwin"):
        raise LoopwrightError(
            "Menu entries are made this way on free desktops only",
            do="Open a sheet with loopwright FILE, or let the desktop's own settings open .loopwright files with it",
        )
    data = Path(os.environ.get("XDG_DATA_HOME") or os.path.expanduser("~/.local/share"))
    if not data.is_absolute():
        raise LoopwrightError("There is no home folder to put it into", do="Set HOME or XDG_DATA_HOME to a folder")
    for name, place in PLACES.items():
        target = data / place
        try:
            if remove:
                target.unlink(missing_ok=True)
                continue
            target.parent.mkdir(parents=True, exist_ok=True)
            text = (resource_root() / "desktop" / name).read_text(encoding="utf-8")
            if name == "loopwright.desktop":
                text = text.replace("Exec=loopwright %f", f"Exec={_program()} %f")
            target.write_text(text, encoding="utf-8")
        except OSError as bad:
            raise LoopwrightError(
                f"{target} cannot be written", where=bad.strerror or "", do="Check the rights of that folder"
            ) from None
    for program, folder in REFRESH:
        found = shutil.which(program)
        if found and (data / folder).is_dir():
            subprocess.run([found, str(data / folder)], check=False, capture_output=True)
    click.echo(f"{'Taken out of' if remove else 'Put into'} {data}")
    return common.CLEAR


def _program() -> str:
    """The command that starts this very program, quoted as a desktop entry wants it."""
    beside = Path(sys.executable).with_name("loopwright")
    path = str(beside) if beside.exists() else shutil.which("loopwright") or "loopwright"
    path = path.replace("%", "%%")  # a per cent sign begins a field code
    escaped = path.replace("\\", "\\\\").replace('"', '\\"').replace("`", "\\`").replace("$", "\\$")
    escaped = escaped.replace("\\", "\\\\")  # once more, as in every value of the file
    return f'"{escaped}"' if any(c in path for c in " \"'`$\\&;|<>()*?#") else path
