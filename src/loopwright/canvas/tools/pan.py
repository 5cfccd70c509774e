"""The pan tool: a drag moves the paper. Knows no Qt."""

from __future__ import annotations

from dataclasses import dataclass, field

from loopwright.canvas.tools.base import Event, Tool
from loopwright.sheet.values import Point


@dataclass
class PanTool(Tool):
    """Drags the view."""

    name: str = "pan"
    cursor: str = "hand"
    _last: Point | None = field(default=None, init=False)

    @property
    def busy(self) -> bool:
        """Whether the paper is held."""
        return self._last is not None

    def abandon(self) -> None:
        """Let go of the paper."""
        self._last = None
        super().abandon()

    def on_press(self, event: Event) -> None:
        """Take hold."""
        if event.button == "left":
            self._last = event.px

    def on_move(self, event: Event) -> None:
        """Move with the pointer."""
        if self._last is not None and event.px is not None:
            self.host.pan(event.px[0] - self._last[0], event.px[1] - self._last[1])
            self._last = event.px

    def on_release(self, event: Event) -> None:
        """Let go."""
        self._last = None
