"""`loopwright run`: a power cut or a day, played in time on a sheet."""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from loopwright.cli import common
from loopwright.errors import LoopwrightError

if TYPE_CHECKING:
    from loopwright.engineering.runs.result import Run
    from loopwright.waterways.views import Condition

BAR = 30


@click.command()
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--power-cut", "cut", is_flag=True, help="Let the power fail while every fire burns well.")
@click.option("--day", metavar="NAME", help="Run a day: winter, spring, summer, away, or a file of your own.")
@click.option(
    "--condition",
    "conditions",
    multiple=True,
    metavar="WHAT",
    help="power-cut, pump-stopped:ID or shut:ID; may be given more than once.",
)
@click.option("--store-full", is_flag=True, help="Begin a power cut with the stores at their design temperature.")
@click.option("--sun", type=float, default=0.0, metavar="W/M2", help="Sun on the collectors during a power cut.")
@click.option("--beside", type=click.Path(path_type=Path), help="Another sheet to run likewise and compare with.")
@click.option("--format", "form", type=click.Choice(["text", "json", "csv"]), default="text", help="How to answer.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="Where to write it, instead of the screen.")
def run(
    file: Path,
    cut: bool,
    day: str | None,
    conditions: tuple[str, ...],
    store_full: bool,
    sun: float,
    beside: Path | None,
    form: str,
    out: Path | None,
) -> int:
    """Play a power cut or a day on a sheet: temperatures, flows and heat over time, and what comes of it.

    Exits with 1 when water boils in the power cut. Ctrl-C ends a run early and keeps what is done.

    Example: loopwright run house.loopwright --power-cut --condition shut:V1
    """
    if (cut and day) or not (cut or day or conditions):
        raise LoopwrightError("A run is a power cut or a day", do="Give either --power-cut or --day NAME")
    condition = condition_of(conditions, power_off=cut and not day)
    if not 0.0 <= sun <= 1400.0:
        raise LoopwrightError(f"A sun of {sun:g} W/m² cannot be", do="Give 0 to 1400")
    found = _run(file, day, condition, store_full, sun)
    other = _run(beside, day, condition, store_full, sun) if beside is not None else None
    said = _written(found, form) if other is None else _beside(found, other, form, file, beside)
    if out is not None:
        try:
            out.write_text(said + "\n", encoding="utf-8")
        except OSError as bad:
            raise LoopwrightError(
                f"The run cannot be written to {out}: {bad.strerror}", do="Name another file"
            ) from None
        click.echo(found.verdict)
    else:
        click.echo(said)
    boils = found.kind == "power cut" and found.outcome == "boils"
    return common.FOUND if boils else common.CLEAR


def condition_of(words: tuple[str, ...], power_off: bool) -> Condition:
    """A condition from its words. LoopwrightError where one is none."""
    from loopwright.waterways.views import Condition

    stopped: set[str] = set()
    shut: set[str] = set()
    for word in words:
        head, _, part = word.partition(":")
        if word == "power-cut":
            power_off = True
        elif head == "pump-stopped" and part:
            stopped.add(part)
        elif head == "shut" and part:
            shut.add(part)
        else:
            raise LoopwrightError(
                f"“{word}” is no condition", do="Write power-cut, pump-stopped:ID or shut:ID with the id of a part"
            )
    return Condition(power=not power_off, stopped=frozenset(stopped), shut=frozenset(shut))


def _run(file: Path, day: str | None, condition: Condition, store_full: bool, sun: float) -> Run:
    from loopwright.engineering.runs.cut import power_cut
    from loopwright.engineering.runs.day import day_named, run_day
    from loopwright.waterways import Waterways

    kinds = common.catalogue()
    ways = Waterways(common.load(file, kinds), kinds)
    with _stoppable() as cancelled:
        try:
            if day:
                return run_day(ways, day_named(day), condition=condition, progress=_bar, cancel=cancelled)
            return power_cut(ways, condition, store_full=store_full, sun_W_m2=sun, progress=_bar, cancel=cancelled)
        finally:
            common.progress("")


def _bar(share: float) -> None:
    done = round(BAR * share)
    common.progress(f"[{'=' * done}{' ' * (BAR - done)}] {100.0 * share:3.0f} %")


@contextmanager
def _stoppable() -> Iterator[Callable[[], bool]]:
    """Whether Ctrl-C was pressed, instead of its usual end; pressed again it ends at once."""
    pressed: list[int] = []

    def note(*_: object) -> None:
        if pressed:
            raise KeyboardInterrupt
        pressed.append(1)

    try:
        before = signal.signal(signal.SIGINT, note)
    except ValueError:  # not the main thread: then nobody can press it
        yield lambda: False
        return
    try:
        yield lambda: bool(pressed)
    finally:
        signal.signal(signal.SIGINT, before)


def _written(found: Run, form: str) -> str:
    if form == "json":
        return common.as_json(found.as_plain())
    return found.as_csv().rstrip("\n") if form == "csv" else text_of(found)


def _beside(found: Run, other: Run, form: str, file: Path, beside: Path | None) -> str:
    from loopwright.reports.two_runs import beside as told_beside

    kinds = common.catalogue()
    changes = told_beside(found, other, common.load(file, kinds), common.load(beside or file, kinds), kinds)
    if form == "json":
        return common.as_json({"first": found.as_plain(), "second": other.as_plain(), "changes": list(changes)})
    if form == "csv":
        raise LoopwrightError("Two runs do not go into one table", do="Write each by itself, or use --format json")
    lines = [text_of(found), "", text_of(other), "", "The second against the first:"]
    return "\n".join([*lines, *(f"  {words}" for words in changes)])


def text_of(found: Run) -> str:
    """A run for people: verdict, heat, events, notes."""
    from loopwright.engineering.runs.account import account_of

    lines = [click.style(found.title, bold=True), found.verdict]
    if not found.complete:
        lines.append("It was stopped by hand: what follows holds up to then.")
    account = account_of(found)
    for heading, side in (("Heat that came", account.came), ("Where it went", account.went)):
        if side:
            lines += ["", f"  {account.total_kwh:8.1f} kWh  {heading}:"]
            lines += [f"  {kwh:8.1f} kWh    {words}" for words, kwh in side]
    events = _gathered(found)
    if events:
        lines += ["", *events]
    if found.notes:
        lines += ["", *(f"  {note}." for note in found.notes)]
    return "\n".join(lines)


def _gathered(found: Run) -> list[str]:
    """Events by the clock; what happens over and over is told once, with how often."""
    often: dict[tuple[str, str], int] = {}
    for e in found.events:
        often[e.what, e.part] = often.get((e.what, e.part), 0) + 1
    told: set[tuple[str, str]] = set()
    lines = []
    for e in found.events:
        key = (e.what, e.part)
        many = often[key] > 3
        if many and key in told:
            continue
        told.add(key)
        more = f", {often[key]} times in all" if many else ""
        lines.append(f"  {clock(e.time_s)}  {e.words}{more}")
    return lines


def clock(seconds: float) -> str:
    """A time of a run as hours and minutes."""
    whole = int(seconds + 1e-6) // 60
    return f"{whole // 60:02d}:{whole % 60:02d}"
