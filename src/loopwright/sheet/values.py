"""What a drawing is, as frozen values. Metres, x right, z up from the ground floor.

Owns the record types and their equality. Knows no kinds: `ports.py` joins parts to the catalogue.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Literal

import msgspec

from loopwright.errors import SheetError

if TYPE_CHECKING:
    import networkx as nx

Point = tuple[float, float]
PropValue = bool | int | float | str | None
TappingSide = Literal["left", "right", "top", "bottom"]
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"

PURPOSES = (
    "any",
    "source_flow",
    "source_return",
    "load_flow",
    "load_return",
    "vent",
    "feed",
    "drain",
    "coil",
    "sensor",
    "immersion",
    "air_vent",
    "relief",
    "capped",
)


class End(msgspec.Struct, frozen=True, array_like=True, order=True):
    """One end of a pipe: a port of a part."""

    part: str
    port: str


class Tapping(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A boss on a store or cylinder. Its letter is its port name and never changes.

    `height_m` is above the store's base; a purpose of `sensor` makes it a pocket, which takes no pipe.
    """

    letter: str
    name: str = ""
    height_m: float
    side: TappingSide = "left"
    purpose: str = "any"
    size: str = "28"
    layering: bool = False


class Coil(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A coil between two tappings. `lower` and `upper` are the letters at its bottom and top end."""

    name: str
    bottom_m: float
    top_m: float
    lower: str
    upper: str
    purpose: str = "any"
    area_m2: float | None = None
    content_l: float | None = None


class Part(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """One part on the sheet. (x_m, height_m) is the middle of a large part's base, or a fitting's centre."""

    id: str
    kind: str
    name: str = ""
    x_m: float
    height_m: float
    turn: int = 0
    mirror: bool = False
    props: dict[str, PropValue] = {}
    tappings: tuple[Tapping, ...] = ()
    coils: tuple[Coil, ...] = ()
    existing: bool = False
    locked: bool = False

    def __post_init__(self) -> None:
        for label, value in (("x_m", self.x_m), ("height_m", self.height_m)):
            if not math.isfinite(value) or abs(value) > 1000:
                raise SheetError(f"Part “{self.id}” has {label} = {value}", do="Give a number of metres within 1000")
        for name, given in self.props.items():
            if isinstance(given, float) and not math.isfinite(given):
                raise SheetError(f"Part “{self.id}” has {name} = {given}", do="Give a number, or leave it out")
        if self.turn not in (0, 1, 2, 3):
            raise SheetError(f"Part “{self.id}” is turned by {self.turn} quarters", do="Use 0 to 3")
        msgspec.structs.force_setattr(self, "props", MappingProxyType(dict(self.props)))

    def tapping(self, letter: str) -> Tapping | None:
        """The tapping of that letter, or None."""
        return next((t for t in self.tappings if t.letter == letter), None)


class Pipe(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A pipe from end `a` to end `b`. `points` are its corners between the ports, not the ports themselves.

    `graded` names the end towards which level runs are laid to rise ("a", "b" or ""). `held` are numbers of runs a
    person placed. A `joint` is two parts screwed together: no length.
    """

    id: str
    a: End
    b: End
    points: tuple[Point, ...] = ()
    size: str = "22"
    material: str = "copper"
    extra_length_m: float = 0.0
    extra_bends: int = 0
    graded: Literal["", "a", "b"] = ""
    insulation_mm: float | None = None
    held: tuple[int, ...] = ()
    service: str = ""
    bypass: bool = False
    primary_loop: bool = False
    joint: bool = False

    def __post_init__(self) -> None:
        if self.a == self.b:
            raise SheetError(f"Pipe {self.id} has both ends on one port", do="End it somewhere else")
        flat = [c for p in self.points for c in p] + [self.extra_length_m]
        if not all(math.isfinite(c) and abs(c) <= 1000 for c in flat):
            raise SheetError(f"Pipe {self.id} has a corner that is no place on a sheet", do="Redraw it")

    @property
    def a_key(self) -> tuple[str, str]:
        """Part and port of end a."""
        return self.a.part, self.a.port

    @property
    def b_key(self) -> tuple[str, str]:
        """Part and port of end b."""
        return self.b.part, self.b.port

    def other(self, part: str) -> End:
        """The end that is not at `part`."""
        return self.b if self.a.part == part else self.a


class Level(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """A floor: its name and height above the ground floor."""

    name: str
    height_m: float


class ControlLink(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A sensor or control that drives a pump, valve or source.

    `sensor` and `second` are parts, or "store/C" for a pocket; `does` says what it does to `target`.
    """

    id: str
    sensor: str
    target: str
    does: Literal["runs_above", "runs_below", "difference", "stops_above", "opens_above", "shuts_above", "schedule"]
    second: str = ""
    setting_c: float | None = None
    off_c: float | None = None
    hysteresis_k: float | None = None
    manual_reset: bool = False
    on_power_loss: Literal["off", "on", "as_left"] = "off"

    @property
    def parts(self) -> frozenset[str]:
        """The parts it names, a vessel for its pocket."""
        return frozenset(name.partition("/")[0] for name in (self.sensor, self.target, self.second) if name)


class Note(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Words at a place on the sheet."""

    id: str
    x_m: float
    height_m: float
    text: str


class Foot(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What one end of a dimension stands on: a port of a part, a place beside a part's origin, a run of a pipe, or a
    place of the sheet.

    Without a part, (x_m, height_m) is the place itself; with a part and no port it is counted from the part's
    origin, so that the foot goes with the part; with a port it is not used. With a pipe it is the place on the pipe
    when the foot was put there: the foot goes with the nearest run that lies the same way.
    """

    part: str = ""
    port: str = ""
    pipe: str = ""
    run: Literal["", "level", "upright"] = ""
    x_m: float = 0.0
    height_m: float = 0.0


class Dimension(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A height between two feet, drawn as an upright line at x_m; with `level_m` a width, drawn as a level line at
    that height."""

    id: str
    a: Foot
    b: Foot
    x_m: float
    level_m: float | None = None


class TitleBlock(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What stands beside the title on paper, and the paper. A scale of 25 is 1 : 25; 0 is the largest that fits."""

    drawing: str = ""
    sheet: str = ""
    revision: str = ""
    drawn_by: str = ""
    date: str = ""
    page: Literal["A4", "A3", "A2", "A1"] = "A3"
    scale: float = 0.0


Verdict = Literal["to repair", "accepted", "not applicable"]


class Disposition(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """What a reviewer decided about a finding, and the state of the sheet it was decided on.

    `mark` is a digest of the finding and of what it is about: where it differs from today's, the decision is stale.
    `measured` is the value found then, in the finding's own unit.
    """

    rule: str
    subject: str
    verdict: Verdict
    reason: str = ""
    by: str = ""
    date: str = ""
    fingerprint: str = ""
    mark: str = ""
    measured: float | None = None


class Tried(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A condition that was looked at: the power on or off, pumps stopped, valves shut, sources out, by part id."""

    power: bool = True
    stopped: tuple[str, ...] = ()
    shut: tuple[str, ...] = ()
    out: tuple[str, ...] = ()


class Signature(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True, forbid_unknown_fields=True):
    """A reviewer's last word on a sheet, and the fingerprint of the drawing it was given on."""

    verdict: Literal["accepted", "refused"]
    by: str
    date: str
    fingerprint: str
    remark: str = ""


class Sheet(msgspec.Struct, frozen=True, kw_only=True, dict=True):
    """The whole drawing. Two sheets are equal when their records are; the derived graph is never compared."""

    title: str = "Untitled"
    levels: tuple[Level, ...] = (Level("Ground floor", 0.0),)
    parts: dict[str, Part] = {}
    pipes: dict[str, Pipe] = {}
    links: dict[str, ControlLink] = {}
    notes: tuple[Note, ...] = ()
    dimensions: tuple[Dimension, ...] = ()
    block: TitleBlock = TitleBlock()
    dispositions: tuple[Disposition, ...] = ()
    tried: tuple[Tried, ...] = ()
    signatures: tuple[Signature, ...] = ()
    limits: dict[str, float] = {}
    facts: dict[str, PropValue] = {}

    def __post_init__(self) -> None:
        for field in ("parts", "pipes", "links", "limits", "facts"):
            value = getattr(self, field)
            if not isinstance(value, MappingProxyType):
                msgspec.structs.force_setattr(self, field, MappingProxyType(dict(value)))

    @cached_property
    def drawing(self) -> nx.MultiGraph:
        """The frozen drawing graph: a node a part, an edge a pipe (key = pipe id, data `pipe`)."""
        import networkx as nx  # heavy, and no window needs it before its first check

        graph: nx.MultiGraph = nx.MultiGraph()
        graph.add_nodes_from((part.id, {"part": part}) for part in self.parts.values())
        graph.add_edges_from((p.a.part, p.b.part, p.id, {"pipe": p}) for p in self.pipes.values())
        return nx.freeze(graph)

    @cached_property
    def taken(self) -> Mapping[End, str]:
        """Pipe id at each port that holds a pipe end."""
        out: dict[End, str] = {}
        for pipe in self.pipes.values():
            out[pipe.a] = pipe.id
            out[pipe.b] = pipe.id
        return out

    def pipes_of(self, part_id: str) -> list[Pipe]:
        """Pipes that end on a part, those to one neighbour together."""
        return [pipe for pipes in self._beside.get(part_id, {}).values() for pipe in pipes]

    @cached_property
    def _beside(self) -> Mapping[str, dict[str, list[Pipe]]]:
        """Pipes by part and by the part at the other end: the drawing graph without the graph library, which takes
        longer to build than a frame of a drag may last."""
        out: dict[str, dict[str, list[Pipe]]] = {}
        for pipe in self.pipes.values():
            a, b = pipe.a.part, pipe.b.part
            out.setdefault(a, {}).setdefault(b, []).append(pipe)
            if a != b:
                out.setdefault(b, {}).setdefault(a, []).append(pipe)
        return out
