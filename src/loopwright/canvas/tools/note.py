"""The note tool: click where words should stand. Knows no Qt."""

from __future__ import annotations

from dataclasses import dataclass

from loopwright.canvas.tools.base import Event, Tool
from loopwright.sheet import edits
from loopwright.sheet.change import ids_in_use, numbered
from loopwright.sheet.values import Note


@dataclass
class NoteTool(Tool):
    """Puts a note on the sheet and opens it, so that its words can be typed."""

    name: str = "note"
    cursor: str = "cross"
    words: str = "Note"

    def on_move(self, event: Event) -> None:
        """Say what a click does."""
        self.host.say("Click where the note should stand.")

    def on_press(self, event: Event) -> None:
        """Put the note there."""
        if event.button != "left":
            return
        at = self.host.snap(event.at, event.free)
        note = Note(id=numbered("note", ids_in_use(self.host.sheet)), x_m=at[0], height_m=at[1], text=self.words)
        if self.host.commit("Write a note", lambda s: edits.put_note(s, note), choose={note.id}):
            self.host.finished()
            self.host.opened(note.id)
