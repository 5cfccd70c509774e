"""The order of work for people and scripts: a checklist as text, a page to print, and plain values for JSON.

Owns the layout. Knows nothing of how the order is found.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Set
from html import escape
from itertools import groupby
from typing import Any

from loopwright.lessons.order import Task, WorkOrder
from loopwright.lessons.order_steps import NO_SOURCE
from loopwright.lessons.precedence import Broken, Precedence

WIDTH = 100
CAUTION = (
    "It supports a competent person and never replaces one. Local codes, the makers' instructions and licensed "
    "practice take precedence."
)
UNSOURCED = f"Where no source stands behind a reason, it is {NO_SOURCE}."
_STYLE = """
body { font-family: sans-serif; font-size: 10pt; color: #111; margin: 2em auto; max-width: 50em; }
h1 { font-size: 16pt; margin: 0 0 4px 0; }
h2 { font-size: 12pt; margin: 14px 0 4px 0; }
table { border-collapse: collapse; width: 100%; }
td { vertical-align: top; padding: 3px 6px 3px 0; }
.box { width: 1.4em; font-size: 12pt; }
.no { width: 2em; text-align: right; }
.more { color: #444; font-size: 8.5pt; }
tr { break-inside: avoid; } h2 { break-after: avoid; } @page { margin: 18mm; }
@media print { body { margin: 0; max-width: none; } }
"""
"""Plain tables: what sets text for a printer inside a program understands them as well as a browser does."""


def text(order: WorkOrder, done: Set[str] = frozenset(), *, reasons: bool = False) -> str:
    """A checklist of one line and more a job. `reasons` adds why each job comes after those it names."""
    lines = [f"Order of work: {order.title}", *textwrap.wrap(_intro(order, done), WIDTH)]
    if reasons:
        lines += textwrap.wrap(UNSOURCED, WIDTH)
    for stage, tasks in groupby(order.tasks, key=lambda t: t.stage):
        lines += ["", stage.upper()]
        for task in tasks:
            lines += _task_lines(order, task, task.key in done, reasons)
    lines += _notes(order)
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines)


def _intro(order: WorkOrder, done: Set[str]) -> str:
    ticked = sum(t.key in done for t in order.tasks)
    jobs = "1 job" if len(order.tasks) == 1 else f"{len(order.tasks)} jobs"
    return (
        f"{jobs}, {ticked} done. Start a job when those that it comes after are done; jobs that do not name each other "
        "may be done in any order, or side by side."
    )


def _task_lines(order: WorkOrder, task: Task, is_done: bool, reasons: bool) -> Iterator[str]:
    number = order.number[task.key]
    place = f"  [{task.place}]" if task.place else ""
    head = f"[{'x' if is_done else ' '}] {number:>3}  "
    yield from textwrap.wrap(task.title + place, WIDTH, initial_indent=head, subsequent_indent=" " * 9)
    if task.detail:
        yield from _indented(task.detail)
    before = _shown(order, task.key)
    if not before:
        return
    if reasons:
        for reason in _reasons(order, task.key):
            yield from _indented(reason)
    else:
        yield from _indented("after " + ", ".join(str(order.number[arrow.before]) for arrow in before))


def _reasons(order: WorkOrder, key: str) -> list[str]:
    """What a job comes after and why, jobs of one reason in one line."""
    by_reason: dict[tuple[str, str], list[int]] = {}
    for arrow in _shown(order, key):
        source = f" ({arrow.source})" if arrow.sources else ""
        by_reason.setdefault((arrow.why, source), []).append(order.number[arrow.before])
    return [f"after {', '.join(map(str, nos))}: {why}{source}" for (why, source), nos in by_reason.items()]


def _indented(words: str) -> list[str]:
    return textwrap.wrap(words, WIDTH, initial_indent=" " * 9, subsequent_indent=" " * 11)


def _shown(order: WorkOrder, key: str) -> list[Precedence]:
    return sorted((p for p in order.shown if p.after == key), key=lambda p: order.number[p.before])


def _notes(order: WorkOrder) -> list[str]:
    lines: list[str] = []
    for words in order.unclear:
        lines += ["", *textwrap.wrap(f"Not clear: {words}.", WIDTH)]
    if order.needs_none:
        lines += ["", *textwrap.wrap(f"In no job: {', '.join(order.needs_none)}.", WIDTH)]
    return lines


def html(order: WorkOrder, done: Set[str] = frozenset()) -> str:
    """A page that prints, complete in itself, with every reason below its job. Names are escaped."""
    out = [
        "<!doctype html>",
        '<html lang="en"><head><meta charset="utf-8">',
        f"<title>{escape(f'Order of work: {order.title}')}</title>",
        f"<style>{_STYLE}</style></head><body>",
        f"<h1>Order of work: {escape(order.title)}</h1>",
        f"<p>{escape(_intro(order, done))}</p>",
    ]
    for stage, tasks in groupby(order.tasks, key=lambda t: t.stage):
        out += [f"<h2>{escape(stage)}</h2>", '<table width="100%" cellspacing="0">']
        out += [_row(order, task, task.key in done) for task in tasks]
        out.append("</table>")
    out += [f"<p>{escape(' '.join(lines))}</p>" for lines in [_notes(order)] if lines]
    out += [f"<p>{escape(UNSOURCED)}</p>"]
    out += [f"<p>{escape(CAUTION)}</p>", "</body></html>"]
    return "\n".join(out) + "\n"


def _row(order: WorkOrder, task: Task, is_done: bool) -> str:
    place = f' <span class="more">[{escape(task.place)}]</span>' if task.place else ""
    more = [task.detail] if task.detail else []
    more += _reasons(order, task.key)
    small = "".join(f'<br><span class="more">{escape(words)}</span>' for words in more)
    box = "&#9745;" if is_done else "&#9744;"
    return (
        f'<tr><td class="box">{box}</td><td class="no">{order.number[task.key]}</td>'
        f"<td>{escape(task.title)}{place}{small}</td></tr>"
    )


def plain(order: WorkOrder, done: Set[str] = frozenset()) -> dict[str, Any]:
    """The order of work as values for JSON: every job, every precedence, implied ones too."""
    return {
        "title": order.title,
        "jobs": [
            {
                "number": order.number[t.key],
                "key": t.key,
                "stage": t.stage,
                "title": t.title,
                "detail": t.detail,
                "place": t.place,
                "parts": list(t.parts),
                "pipes": list(t.pipes),
                "sources": list(t.sources),
                "done": t.key in done,
            }
            for t in order.tasks
        ],
        "precedences": [
            {"before": p.before, "after": p.after, "why": p.why, "sources": list(p.sources), "source": p.source}
            for p in order.precedences
        ],
        "in_no_job": list(order.needs_none),
        "not_clear": list(order.unclear),
    }


def broken_words(order: WorkOrder, fault: Broken) -> str:
    """A broken precedence in words: what came too early, what had to come first, and why."""
    early, first = order.by_key[fault.after].title, order.by_key[fault.before].title
    between = [order.by_key[key].title for key in fault.chain[1:-1]]
    through = f", by way of: {'; '.join(between)}" if between else ""
    return f"“{early}” comes after “{first}”{through}. Why: {'; then: '.join(fault.why)}."


__all__ = ["NO_SOURCE", "broken_words", "html", "plain", "text"]
