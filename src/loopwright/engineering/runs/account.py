"""The heat of a run as an account that adds up as it is printed: what came in, and where it went.

Owns the lines and their rounding. Knows nothing of how they are set. What the water, metal and floors held at the start
and no longer hold came out of them; what they hold more was left in them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from loopwright.engineering.runs.result import Run

LEAST_KWH = 0.05


class Line(NamedTuple):
    """Words and tenths of a kilowatt-hour that stand before them."""

    words: str
    kwh: float


class Account(NamedTuple):
    """Both sides, each largest first, with the one sum of both, in tenths of a kilowatt-hour."""

    came: tuple[Line, ...]
    went: tuple[Line, ...]
    total_kwh: float


def account_of(run: Run) -> Account:
    """The account of a run. What is under 0.05 kWh is gathered in one line of its side."""
    books, name = run.books, run.called
    signed: list[tuple[float, str, str]] = [
        (kwh, f"from {name(p)}", f"lost by {name(p)}") for p, kwh in books.sources.items()
    ]
    metered = set(run.powers)  # a cooling coil is in the books alone
    signed += [
        (-kwh, f"given back by {name(p)}", f"{'to' if p in metered else 'carried off through'} {name(p)}")
        for p, kwh in books.loads.items()
    ]
    signed += [
        (-books.pipes, "from rooms into colder pipes", "lost by pipes to the rooms about them"),
        (-books.stores, "from the room into colder stores", "lost by stores through their casing"),
        (-books.boiled, "", "boiled away"),
        (-books.into_held, "from water that came in", "carried off by other water"),
    ]
    stores = {p: run.figures.get(f"kept_{p}_kwh", run.figures.get(f"carried_{p}_kwh", 0.0)) for p in run.layers}
    signed += [(-kwh, f"out of {name(p)}, which ends cooler", f"left in {name(p)}") for p, kwh in stores.items()]
    rest = books.stored - sum(stores.values())
    signed.append((-rest, "out of other water, metal and floors that were warm", "left in other water and metal"))
    came = [(kwh, words) for kwh, words, _ in signed if kwh > 0.0]
    went = [(-kwh, words) for kwh, _, words in signed if kwh < 0.0]
    total = round(max(sum(kwh for kwh, _ in came), sum(kwh for kwh, _ in went)), 1)
    return Account(_side(came, total), _side(went, total), total)


def _side(lines: Sequence[tuple[float, str]], total_kwh: float) -> tuple[Line, ...]:
    """Lines in tenths that add up to the total in tenths: those cut shortest get what rounding left over."""
    large = sorted((x for x in lines if x[0] >= LEAST_KWH), reverse=True)
    small = sum(kwh for kwh, _ in lines if kwh < LEAST_KWH)
    if small >= LEAST_KWH:
        large.append((small, "in smaller amounts"))
    tenths = [int(10.0 * kwh) for kwh, _ in large]
    short = round(10.0 * total_kwh) - sum(tenths)
    order = sorted(range(len(large)), key=lambda i: 10.0 * large[i][0] - tenths[i], reverse=True)
    for i in order[: max(0, short)]:
        tenths[i] += 1
    return tuple(Line(words, tenth / 10.0) for (_, words), tenth in zip(large, tenths, strict=True) if tenth)
