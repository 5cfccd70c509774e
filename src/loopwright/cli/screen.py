"""Whether there is a screen to show the window on, asked before the window library is: where it finds none, it ends the
program at once, with no word that a person could act on.

Owns what is asked of the system. Knows nothing of windows.
"""

from __future__ import annotations

import ctypes
import os
import sys
from pathlib import Path

from loopwright.errors import LoopwrightError


def named() -> bool:
    """Whether the environment names a screen, or the system always has one."""
    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM"):
        return True
    return bool(os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY"))


def ready() -> None:
    """Look whether the window library can reach a screen.

    Raises ImportError for a system library that is missing, LoopwrightError where no screen answers.
    """
    from PySide6.QtCore import QLibraryInfo

    if sys.platform in ("win32", "darwin") or os.environ.get("QT_QPA_PLATFORM_PLUGIN_PATH"):
        return
    folder = Path(QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath)) / "platforms"
    missing, silent = "", ""
    for name in _platforms():
        plugins = sorted(folder.glob(f"libq{name}*.so"))
        if not plugins:
            silent = silent or f"there is no platform “{name}”"
        elif (why := _lacks(plugins[0])) is not None:
            missing = missing or why
        elif _answers(name):
            return
        else:
            place = "WAYLAND_DISPLAY" if name == "wayland" else "DISPLAY"
            silent = silent or f"{place} is “{os.environ.get(place, '')}”, where nothing answers"
    if missing:
        raise ImportError(missing)
    if silent:
        raise LoopwrightError("The screen cannot be reached", where=silent, do="Check the screen's name and rights")


def _platforms() -> list[str]:
    """The platforms that the window library would try, in its order."""
    asked = [one.partition(":")[0] for one in os.environ.get("QT_QPA_PLATFORM", "").split(";") if one]
    return asked or [
        name for name, place in (("wayland", "WAYLAND_DISPLAY"), ("xcb", "DISPLAY")) if os.environ.get(place)
    ]


def _lacks(plugin: Path) -> str | None:
    """Why a plugin cannot be loaded, naming the library; None when it can."""
    try:
        ctypes.CDLL(str(plugin))
    except OSError as bad:
        return str(bad)
    return None


def _answers(name: str) -> bool:
    """Whether a screen of a platform lets us in. True where that cannot be asked."""
    library, connect, failed, leave = {
        "xcb": ("libxcb.so.1", "xcb_connect", "xcb_connection_has_error", "xcb_disconnect"),
        "wayland": ("libwayland-client.so.0", "wl_display_connect", "wl_display_get_error", "wl_display_disconnect"),
    }.get(name, ("", "", "", ""))
    if not library:
        return True
    try:
        known = ctypes.CDLL(library)
    except OSError:
        return True
    getattr(known, connect).restype = ctypes.c_void_p
    connection = ctypes.c_void_p(getattr(known, connect)(None, None))
    if not connection:
        return False
    refused = bool(getattr(known, failed)(connection))
    getattr(known, leave)(connection)
    return not refused
