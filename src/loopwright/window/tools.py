"""The pointer tools by name, made when they are first taken in hand."""

from __future__ import annotations

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
    """A new tool of that name working in a host."""
    from loopwright.canvas.tools.dimension import DimensionTool
    from loopwright.canvas.tools.link import LinkTool
    from loopwright.canvas.tools.note import NoteTool
    from loopwright.canvas.tools.pan import PanTool
    from loopwright.canvas.tools.pipe import PipeTool
    from loopwright.canvas.tools.place import PlaceTool
    from loopwright.canvas.tools.select import SelectTool

    sorts: dict[str, type[Tool]] = {
        "select": SelectTool,
        "pipe": PipeTool,
        "place": PlaceTool,
        "pan": PanTool,
        "note": NoteTool,
        "dimension": DimensionTool,
        "link": LinkTool,
    }
    return sorts[name](host, **how)
