"""What a job is called: its title and its line of detail, in the names that the sheet gives.

Owns the words. Knows nothing of the order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from loopwright.lessons.order_jobs import Job, crossed
from loopwright.lessons.order_steps import Step
from loopwright.rules.registry import Case
from loopwright.rules.vents import line_m
from loopwright.sheet.values import ControlLink
from loopwright.waterways import Waterways, naming
from loopwright.waterways.waters import waters
from loopwright.words import capital, listed

SMALL = frozenset({"joint", "union", "open_end"})
"""Tags of fittings that go without saying in a list for people."""
DOES = {
    "runs_above": "runs {target} above {set}",
    "runs_below": "runs {target} below {set}",
    "difference": "runs {target} at a difference of {set}",
    "stops_above": "stops {target} above {set}",
    "opens_above": "opens {target} above {set}",
    "shuts_above": "shuts {target} above {set}",
    "schedule": "runs {target} by the clock",
}


def called(ways: Waterways, part_id: str) -> str:
    """What people call a part: its name, else its kind, with what it is at where there are several."""
    part = ways.sheet.parts[part_id]
    if part.name:
        return part.name
    head, _, tail = ways.kind(part_id).name.partition(", ")
    plain = tail and "," not in tail and not tail.endswith(("ports", "tappings", "flap"))
    words = (f"{tail} {head}" if plain else head).lower()
    alone = sum(p.kind == part.kind for p in ways.sheet.parts.values()) == 1
    return words if alone else naming.called(ways, part_id).removeprefix("the ")


def title(ways: Waterways, step: Step, job: Job) -> str:
    """The job in one line."""
    subject = called(ways, job.subject) if job.subject else ""
    return capital(step.title.replace("{subject}", subject).replace("{water}", water_words(ways, job) or subject))


def water_words(ways: Waterways, job: Job) -> str:
    """What the water of a job is called: its sources and its vessels."""
    own = next((w for w in waters(ways) if job.subject in w.parts and w.number in job.waters), None)
    if own is None:
        return ""
    names = [s.part for s in own.sources] + [b[1] for b in ways.bodies("store", "cylinder") if b in own.places]
    return listed(called(ways, p) for p in dict.fromkeys(names))


def detail(ways: Waterways, step: Step, job: Job) -> str:
    """Sizes, parts and figures, or an empty text. Never a figure that nobody typed or drew."""
    laid = "; ".join(x for x in (_pipes(ways, job), _parts(ways, job)) if x)
    figure = _FIGURES[step.key](ways, job) if step.key in _FIGURES else ""
    said = []
    for piece in step.how.split(". "):
        found = figure if "{figure}" in piece else laid
        if piece and found:
            said.append(capital(piece.replace("{list}", found).replace("{figure}", found)))
    return ". ".join(said)


def _pipes(ways: Waterways, job: Job) -> str:
    pipes = [ways.sheet.pipes[p] for p in job.pipes]
    sizes = Counter((p.size, p.material) for p in pipes if not p.joint)
    ordered = sorted(sizes, key=lambda s: (-_number(s[0]), s[1]))
    return ", ".join(f"{size} mm {material.replace('_', ' ')}" for size, material in ordered)


def _number(size: str) -> float:
    digits = "".join(c for c in size if c.isdigit() or c == ".")
    return float(digits) if digits.strip(".") else 0.0


def _parts(ways: Waterways, job: Job) -> str:
    return listing(ways, (p for p in job.parts if p != job.subject))


def listing(ways: Waterways, ids: Iterable[str]) -> str:
    """Names of parts, tees and the like left out."""
    told = [called(ways, p) for p in ids if SMALL.isdisjoint(ways.kind(p).tags) or "cap" in ways.kind(p).tags]
    return ", ".join(dict.fromkeys(told))


# -- figures ----------------------------------------------------------------------------------------------------------


def _weights(ways: Waterways, job: Job) -> str:
    told = []
    for part in job.parts:
        litres = ways.number(part, "volume_l") if ways.kind(part).prop("volume_l") else None
        if litres:
            told.append(f"{called(ways, part)} holds {litres:.0f} l, which is {litres:.0f} kg besides its own weight")
    return "; ".join(told)


def _floors(ways: Waterways, job: Job) -> str:
    through: dict[str, Counter[str]] = {}
    for pipe in job.pipes:
        for name in crossed(ways, pipe):
            through.setdefault(name, Counter())[ways.sheet.pipes[pipe].size] += 1
    told = []
    for level in sorted(ways.sheet.levels, key=lambda level: level.height_m):
        if level.name in through:
            sizes = sorted(through[level.name].items(), key=lambda item: -_number(item[0]))
            told.append(f"through the floor of {level.name}: {', '.join(f'{n} of {s} mm' for s, n in sizes)}")
    return "; ".join(told)


def _stands(ways: Waterways, job: Job) -> str:
    part = ways.sheet.parts[job.subject]
    base, top = ways.body_range(job.subject)
    return f"base at {part.height_m:.2f} m, {top - base:.2f} m high"


def _ratings(ways: Waterways, job: Job) -> str:
    own = [w for w in waters(ways) if w.number in job.waters]
    other = {b[1] for b in ways.bodies() if not any(b in w.places for w in own)}
    parts = {p for w in own for p in w.parts} - other
    rated = [(ways.number(p, "rating_bar"), p) for p in ways.sheet.parts if p in parts and ways.typed(p, "rating_bar")]
    known = [(bar, p) for bar, p in rated if bar is not None]
    if not known:
        return "no rating is typed on the sheet: read each part's plate"
    least = min(bar for bar, _ in known)
    weakest = next(p for bar, p in known if bar == least)
    return f"lowest rating typed: {called(ways, weakest)}, {least:g} bar"


def _lagging(ways: Waterways, job: Job) -> str:
    sizes = Counter((ways.sheet.pipes[p].insulation_mm or 0.0, ways.sheet.pipes[p].size) for p in job.pipes)
    told = ", ".join(f"{mm:g} mm round {size} mm pipe ({n})" for (mm, size), n in sorted(sizes.items()))
    return f"lagging drawn: {told}" if told else ""


def _precharge(ways: Waterways, job: Job) -> str:
    bar = ways.number(job.subject, "precharge_bar") if ways.typed(job.subject, "precharge_bar") else None
    return f"to {bar:g} bar" if bar is not None else "its pressure is not typed on the sheet"


def _line(ways: Waterways, job: Job) -> str:
    height = line_m(Case(ways), job.subject)
    return "" if height is None else f"at {height:.2f} m on the sheet"


def _mixed(ways: Waterways, job: Job) -> str:
    setting = ways.number(job.subject, "setting_c") if ways.typed(job.subject, "setting_c") else None
    return f"to {setting:g} °C" if setting is not None else "its setting is not typed on the sheet"


def _links(ways: Waterways, job: Job) -> str:
    return "; ".join(_link(ways, link) for link in ways.sheet.links.values())


def _link(ways: Waterways, link: ControlLink) -> str:
    part, _, pocket = link.sensor.partition("/")
    sensor = called(ways, part)
    tapping = ways.sheet.parts[part].tapping(pocket) if pocket else None
    if pocket:
        sensor += f" ({tapping.name if tapping and tapping.name else pocket})"
    unit = "K" if link.does == "difference" else "°C"
    value = f"{link.setting_c:g} {unit}" if link.setting_c is not None else "its setting"
    return f"{sensor} {DOES[link.does].format(target=called(ways, link.target), set=value)}"


def _pockets(ways: Waterways, job: Job) -> str:
    pockets = [t.name or t.letter for t in ways.sheet.parts[job.subject].tappings if t.purpose == "sensor"]
    return f"pockets: {', '.join(pockets)}" if pockets else ""


_FIGURES = {
    "bearing": _weights,
    "holes": _floors,
    "stand-store": _stands,
    "bosses": _pockets,
    "test-heat": _ratings,
    "close": _lagging,
    "set-vessels": _precharge,
    "water-line": _line,
    "set-mixers": _mixed,
    "live": _links,
}
