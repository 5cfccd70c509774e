"""The pointer tools by name, made when they are first taken in hand.

Owns the line that the status bar says of each. A tool is found by its name: its module and class are called so.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

from loopwright.canvas.tools.base import Host, Tool

TOOLS = {
    "select": "Click a part or a pipe to choose it; drag to move it.",
    "pipe": "Click a port to start a pipe. Esc puts the tool down.",
    "place": "Click where the part goes. Esc puts it back.",
    "pan": "Drag the sheet. Esc puts the tool down.",
    "note": "Click where the note goes.",
    "dimension": "Click two heights, then where the line stands. Esc puts the tool down.",
    "link": "Click a sensor, then what it drives. Esc puts the tool down.",
}


def make_tool(name: str, host: Host, **how: Any) -> Tool:
    """A new tool of that name working in a host: the class PipeTool of `canvas/tools/pipe.py` for "pipe"."""
    made: type[Tool] = getattr(import_module(f"loopwright.canvas.tools.{name}"), f"{name.title()}Tool")
    return made(host, **how)
