"""Control links in plain words: what can be sensed and driven, what a new link most likely does, and its sentence.

Owns the words of conditions. Knows nothing of panels and tools, nor of what a link does to the water.
"""

from __future__ import annotations

from loopwright.catalogue import Catalogue, Kind
from loopwright.sheet.circuit import circuit_of
from loopwright.sheet.values import ControlLink, Part, Sheet
from loopwright.words import capital

DOES = {
    "runs_above": "runs while {sensor} is above {set}",
    "runs_below": "runs while {sensor} is below {set}",
    "difference": "runs while {sensor} is {set} above {second}",
    "stops_above": "stops when {sensor} is above {set}",
    "opens_above": "opens when {sensor} is above {set}",
    "shuts_above": "shuts when {sensor} is above {set}",
    "schedule": "runs by the clock of {sensor}",
}
"""What a link does to its target, as the end of a sentence that begins with the target."""
CHOICES = {
    "runs_above": "runs while above",
    "runs_below": "runs while below",
    "difference": "runs while so much above another",
    "stops_above": "stops when above",
    "opens_above": "opens when above",
    "shuts_above": "shuts when above",
    "schedule": "runs by the clock",
}
RUNS = ("runs_above", "runs_below", "difference", "schedule")
POWER_LOSS = {"off": "stands or shuts", "on": "runs or opens", "as_left": "stays as it was"}
USUAL_C, USUAL_STOP_C, USUAL_K, USUAL_OFF_K = 60.0, 85.0, 6.0, 3.0
"""Where a new link starts from: common practice, no source. They are shown at once and meant to be changed."""


def place_words(sheet: Sheet, place: str, catalogue: Catalogue) -> str:
    """A part, or a pocket of a vessel, in a sentence: its name, else its kind."""
    owner, _, letter = place.partition("/")
    part = sheet.parts.get(owner)
    if part is None:
        return owner or "nothing"
    kind = catalogue[part.kind].name.lower()
    alone = sum(other.kind == part.kind and not other.name for other in sheet.parts.values()) == 1
    name = part.name or (kind if alone else f"{kind} {part.id}")
    tapping = part.tapping(letter) if letter else None
    if tapping is None:
        return name
    return f"{name} at {tapping.height_m:.2f} m ({letter}{f', {tapping.name}' if tapping.name else ''})"


def sentence(sheet: Sheet, link: ControlLink, catalogue: Catalogue) -> str:
    """The whole condition: “Pump P3 runs while Collector is 6 K above Store at 0.30 m (C).”"""
    unit = "K" if link.does == "difference" else "°C"
    setting = f"{link.setting_c:g} {unit}" if link.setting_c is not None else "its setting"
    words = DOES[link.does].format(
        sensor=place_words(sheet, link.sensor, catalogue),
        second=place_words(sheet, link.second, catalogue) if link.second else "a second sensor",
        set=setting,
    )
    out = f"{capital(place_words(sheet, link.target, catalogue))} {words}"
    if link.off_c is not None and link.does == "difference":
        out += f", and stops at {link.off_c:g} K"
    elif link.off_c is not None:
        out += f", until {link.off_c:g} °C"
    if link.manual_reset:
        out += ", and waits to be reset by hand"
    return f"{out}."


def can_sense(part: Part, kind: Kind) -> bool:
    """Whether a link may begin at a part: a control or sensor, a source, or a vessel with its pockets."""
    return "control" in kind.tags or "sensor" in kind.tags or kind.source is not None or bool(part.tappings)


def can_drive(kind: Kind) -> bool:
    """Whether a link may end at a part: what runs, opens or burns."""
    ways = {way.does for way in kind.ways}
    return "pump" in ways or "powered" in ways or "thermal" in ways or kind.source is not None


def sensing_places(sheet: Sheet, catalogue: Catalogue) -> list[str]:
    """Everything a link may begin at: parts, then the pockets of each vessel."""
    out = []
    for part in sheet.parts.values():
        if can_sense(part, catalogue[part.kind]):
            if not part.tappings:
                out.append(part.id)
            out += [f"{part.id}/{t.letter}" for t in part.tappings if t.purpose == "sensor"]
    return out


def driven_places(sheet: Sheet, catalogue: Catalogue) -> list[str]:
    """Everything a link may end at."""
    return [part.id for part in sheet.parts.values() if can_drive(catalogue[part.kind])]


def _charges(sheet: Sheet, pump: str, catalogue: Catalogue) -> bool:
    """Whether a pump's circuit holds a source that can be switched on when a vessel is cold."""
    pipe = next(iter(sheet.pipes_of(pump)), None)
    around = circuit_of(sheet, pipe.id, catalogue) if pipe is not None else frozenset()
    sources = (catalogue[sheet.parts[i].kind].source for i in around if i in sheet.parts)
    return any(source is not None and source.stops in ("switched", "residual") for source in sources)


def likely(sheet: Sheet, ident: str, sensor: str, target: str, second: str, catalogue: Catalogue) -> ControlLink:
    """A new link that does what a link between such things most often does."""
    feels = catalogue[sheet.parts[sensor.partition("/")[0]].kind]
    drives = catalogue[sheet.parts[target].kind]
    driven = any(link.target == target and link.does in RUNS for link in sheet.links.values())
    if second:
        return ControlLink(
            id=ident,
            sensor=sensor,
            target=target,
            does="difference",
            second=second,
            setting_c=USUAL_K,
            off_c=USUAL_OFF_K,
        )
    own = next((spec.default for spec in feels.props if spec.name == "setting_c"), None)
    typed = sheet.parts[sensor.partition("/")[0]].props.get("setting_c", own)
    setting = float(typed) if isinstance(typed, int | float) else USUAL_C
    if feels.id == "programmer":
        return ControlLink(id=ident, sensor=sensor, target=target, does="schedule")
    if "high_limit" in feels.tags:
        return ControlLink(
            id=ident, sensor=sensor, target=target, does="stops_above", setting_c=setting, manual_reset=True
        )
    if driven and feels.body in ("store", "cylinder"):  # something starts it: the vessel's own sensor stops it
        return ControlLink(id=ident, sensor=sensor, target=target, does="stops_above", setting_c=USUAL_STOP_C)
    charges = feels.body in ("store", "cylinder") and _charges(sheet, target, catalogue)
    if drives.source is not None or feels.id == "room_thermostat" or charges:
        return ControlLink(id=ident, sensor=sensor, target=target, does="runs_below", setting_c=setting)
    pumps = any(way.does == "pump" for way in drives.ways)
    return ControlLink(
        id=ident, sensor=sensor, target=target, does="runs_above" if pumps else "opens_above", setting_c=setting
    )
