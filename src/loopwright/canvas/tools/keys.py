"""What the arrow keys and Tab do to what is chosen: nudge, walk along the water, go to the next part.

Owns the steps. Knows no Qt.
"""

from __future__ import annotations

from loopwright.canvas.tools.base import Event, Host
from loopwright.sheet import edits
from loopwright.sheet.ports import ports_of
from loopwright.sheet.values import Sheet

STEP_M, LONG_STEP_M, FINE_STEP_M = 0.05, 0.5, 0.01
ARROWS = {"left": (-1, 0), "right": (1, 0), "up": (0, 1), "down": (0, -1)}


def step_of(event: Event) -> float:
    """How far an arrow goes, m: Shift far, Ctrl a centimetre."""
    return LONG_STEP_M if event.shift else FINE_STEP_M if event.free else STEP_M


def nudge(host: Host, event: Event) -> None:
    """Move what is chosen by a step; pipes follow."""
    sheet, catalogue = host.sheet, host.catalogue
    dx, dz = (v * step_of(event) for v in ARROWS[event.key])
    ids = frozenset(i for i in host.chosen if i not in sheet.pipes and i not in sheet.links)
    if ids and host.commit(move_label(ids, sheet), lambda s: edits.move(s, ids, dx, dz, catalogue)):
        part = next((host.sheet.parts[i] for i in sorted(ids) if i in host.sheet.parts), None)
        if part is not None and len(ids) == 1:
            host.say(f"Height {part.height_m:.2f} m, x {part.x_m:.2f} m.")
    elif not ids:
        host.say("A pipe goes where its parts are. Move the parts, or drag a run of the pipe.")


def move_label(ids: frozenset[str], sheet: Sheet) -> str:
    """What a move is called in the history."""
    things = [i for i in ids if i in sheet.parts] or list(ids)
    return f"Move {things[0]}" if len(things) == 1 else f"Move {len(things)} parts"


def beside(host: Host, key: str) -> str | None:
    """The part after (or before) the chosen one, by x and then by height."""
    order = sorted(host.sheet.parts.values(), key=lambda p: (p.x_m, p.height_m, p.id))
    ids = [part.id for part in order]
    here = next((k for k, part in enumerate(ids) if part in host.chosen), None)
    if here is None:
        return (ids[0] if key == "tab" else ids[-1]) if ids else None
    there = here + (1 if key == "tab" else -1)
    return ids[there] if 0 <= there < len(ids) else None


def walk(host: Host, key: str) -> str | None:
    """The part at the other end of the pipe that leaves the chosen part in the arrow's way, or nearest to it."""
    sheet, catalogue = host.sheet, host.catalogue
    here = next((i for i in sorted(host.chosen) if i in sheet.parts), None)
    if here is None:
        return beside(host, "tab")
    dx, dz = ARROWS[key]
    ports = ports_of(sheet.parts[here], catalogue)
    best: tuple[float, str] | None = None
    for pipe in sheet.pipes_of(here):
        for mine, other in ((pipe.a, pipe.b), (pipe.b, pipe.a)):
            if mine.part != here:
                continue
            side = ARROWS[ports[mine.port].side]
            end = ports_of(sheet.parts[other.part], catalogue)[other.port].at
            at = ports[mine.port].at
            lies = (end[0] - at[0]) * dx + (end[1] - at[1]) * dz
            leaves = side[0] * dx + side[1] * dz
            if leaves <= 0 and lies <= 0:
                continue
            score = 2.0 * leaves + (1.0 if lies > 0 else 0.0)
            if best is None or score > best[0]:
                best = (score, other.part)
    return best[1] if best else None


def told(host: Host, part_id: str) -> str:
    """A part in the status line."""
    part = host.sheet.parts[part_id]
    return f"{part.name or host.catalogue[part.kind].name}, height {part.height_m:.2f} m."
