"""A day in words that a person can type, back and forth, and as a file.

Owns the grammar: "05:00–22:30", "17:00, 19:00 x 0.6", "07:00 45 l in 6 min shower". Refuses to know widgets.
"""

from __future__ import annotations

import re
from pathlib import Path

from loopwright.engineering.runs.day import Day, Drawn, Lit, Span, load_day, seconds
from loopwright.errors import LoopwrightError, ValueRefused

_SPAN = re.compile(r"^(\d{1,2}:\d{2})\s*(?:[-–]|to)\s*(\d{1,2}:\d{2})$")
_LIT = re.compile(r"^(\d{1,2}:\d{2})(?:\s*[x×*]\s*(\d+(?:\.\d+)?))?(?:\s+at\s+(\S+))?$")
_DRAWN = re.compile(r"^(\d{1,2}:\d{2})\s+(\d+(?:\.\d+)?)\s*l(?:\s+in\s+(\d+(?:\.\d+)?)\s*min)?(?:\s+(\S+))?$")


def clock_of(time_s: float) -> str:
    """Seconds after midnight as "hh:mm"; 24:00 is the latest."""
    minutes = round(min(max(time_s, 0.0), 86400.0) / 60.0)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _pieces(text: str) -> list[str]:
    return [piece.strip() for piece in re.split(r"[,;\n]", text) if piece.strip()]


def _time(words: str, within: str) -> str:
    """A time of day, tidied. ValueRefused."""
    try:
        return clock_of(seconds(words))
    except LoopwrightError as bad:
        raise ValueRefused(f"“{words}” in “{within}” is no time of day", do="Write it as 07:30") from bad


def spans_text(spans: tuple[Span, ...]) -> str:
    """Hours in words."""
    return ", ".join(f"{a}–{b}" for a, b in spans)


def read_spans(text: str) -> tuple[Span, ...]:
    """Hours such as "05:00–22:30, 23:00–24:00"; none for an empty text. ValueRefused."""
    found = []
    for piece in _pieces(text):
        match = _SPAN.match(piece)
        if match is None:
            raise ValueRefused(f"“{piece}” is not a stretch of hours", do="Write it as 05:00–22:30")
        a, b = (_time(words, piece) for words in match.groups())
        if seconds(a) >= seconds(b):
            raise ValueRefused(f"“{piece}” ends before it begins", do="Write two stretches for hours over midnight")
        found.append((a, b))
    return tuple(sorted(found))


def fires_text(fires: tuple[Lit, ...]) -> str:
    """Fires in words."""
    return ", ".join(
        f.at + (f" × {f.charge:g}" if f.charge != 1.0 else "") + (f" at {f.source}" if f.source else "") for f in fires
    )


def read_fires(text: str) -> tuple[Lit, ...]:
    """Fires such as "17:00, 19:00 × 0.6", each lit with so much of a whole charge. ValueRefused."""
    found = []
    for piece in _pieces(text):
        match = _LIT.match(piece)
        if match is None:
            raise ValueRefused(f"“{piece}” is not a fire that is lit", do="Write it as 17:00 or 17:00 × 0.5")
        at, charge = _time(match[1], piece), float(match[2] or 1.0)
        if not 0.0 < charge <= 5.0:
            raise ValueRefused(f"“{piece}” lays {charge:g} charges", do="Lay up to 5")
        found.append(Lit(at, charge, match[3] or ""))
    return tuple(sorted(found, key=lambda f: f.at))


def draws_text(draws: tuple[Drawn, ...]) -> str:
    """Hot water in words."""
    return "; ".join(f"{d.at} {d.litres:g} l in {d.minutes:g} min{f' {d.tap}' if d.tap else ''}" for d in draws)


def read_draws(text: str) -> tuple[Drawn, ...]:
    """Draws such as "07:00 45 l in 6 min shower". ValueRefused."""
    found = []
    for piece in _pieces(text):
        match = _DRAWN.match(piece)
        if match is None:
            raise ValueRefused(f"“{piece}” is not hot water drawn", do="Write it as 07:00 45 l in 6 min shower")
        at, litres, minutes = _time(match[1], piece), float(match[2]), float(match[3] or 3.0)
        if litres > 1000.0:
            raise ValueRefused(f"“{piece}” draws {litres:g} l at once", do="Draw up to 1000 l")
        if not 0.0 < minutes <= 240.0:
            raise ValueRefused(f"“{piece}” takes {minutes:g} min", do="Give 1 to 240 min")
        found.append(Drawn(at, litres, minutes, match[4] or ""))
    return tuple(sorted(found, key=lambda d: d.at))


def read_hours(text: str, low: float, high: float, unit: str) -> tuple[float, ...]:
    """Twenty-four figures between two bounds. ValueRefused."""
    pieces = [p for p in re.split(r"[\s,;]+", text.strip()) if p]
    try:
        found = tuple(float(p.replace("−", "-")) for p in pieces)
    except ValueError:
        raise ValueRefused(f"“{text.strip()[:40]}” holds something that is no number", do="Give 24 figures") from None
    if len(found) != 24:
        raise ValueRefused(f"There are {len(found)} figures for the 24 hours", do="Give one for every hour")
    wrong = next((v for v in found if not low <= v <= high), None)
    if wrong is not None:
        raise ValueRefused(f"{wrong:g} {unit} cannot be", do=f"Give {low:g} to {high:g} {unit}")
    return found


def hours_text(values: tuple[float, ...]) -> str:
    """Twenty-four figures."""
    return ", ".join(f"{v:g}" for v in values)


def as_toml(day: Day) -> str:
    """A day as the file that `load_day` reads."""

    def quoted(words: str) -> str:
        return '"' + words.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'

    def spans(rows: tuple[Span, ...]) -> str:
        return "[" + ", ".join(f'["{a}", "{b}"]' for a, b in rows) + "]"

    lines = [f"name = {quoted(day.name)}", f"title = {quoted(day.title)}"]
    lines += [f"{key} = {float(getattr(day, key))!r}" for key in
              ("cold_c", "design_outdoor_c", "store_bottom_c", "store_top_c")]  # fmt: skip
    lines += [f"{key} = [{', '.join(repr(float(v)) for v in getattr(day, key))}]" for key in ("outdoor_c", "sun_w_m2")]
    lines += [f"{key} = {spans(getattr(day, key))}" for key in ("boiler", "programmer", "immersion")]
    lines.append(f"source = {quoted(day.source)}")
    for fire in day.fires:
        lines += ["", "[[fires]]", f'at = "{fire.at}"', f"charge = {fire.charge!r}"]
        lines += [f"source = {quoted(fire.source)}"] if fire.source else []
    for draw in day.draws:
        lines += ["", "[[draws]]", f'at = "{draw.at}"', f"litres = {draw.litres!r}", f"minutes = {draw.minutes!r}"]
        lines += [f"tap = {quoted(draw.tap)}"] if draw.tap else []
    return "\n".join(lines) + "\n"


def read_day(path: Path) -> Day:
    """A day from a file of a person's own. LoopwrightError where it makes no sense."""
    return load_day(path)
