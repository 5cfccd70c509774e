"""Feeds one input and judges what came of it: taken, refused by a named error, or a defect.

Owns the limits: two seconds of the processor an input (so that a busy machine makes no hang), a minute by the clock,
500 MB a process. Knows which inputs led somewhere new.
"""

from __future__ import annotations

import re
import resource
import signal
import sys
import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType
from typing import Any

from loopwright.errors import LoopwrightError

from .targets import Target

LONGEST_S = 2.0
LONGEST_WAIT_S = 60.0
MOST_BYTES = 500_000_000
TRACE_EVERY = 10
"""One input in so many tells which lines it reached, and is spoiled further if one of them is new. It costs little; one
in a thousand would miss a tenth of the lines."""
TRACED_SLOWER = 60.0
"""A traced input may take so many times longer."""
LARGEST = 30_000
"""Letters of the largest input that is kept: spoiling it again and again would only make it larger."""
POOL = 300
"""Inputs kept for spoiling further, for each target."""


class Hang(BaseException):
    """An input took longer than it may."""


@dataclass
class Watch:
    """What came of all inputs so far."""

    counts: Counter[tuple[str, str]] = field(default_factory=Counter)
    defects: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    slowest: str = ""
    _seen: set[object] = field(default_factory=set)
    _lines: set[tuple[str, int]] = field(default_factory=set)
    _fed: int = 0

    def feed(self, target: Target, r: Random, folder: Path) -> None:
        """Draw one input of a target and judge it."""
        given = target.draw(r)
        self._fed += 1
        traced = self._fed % TRACE_EVERY == 0 and target.traced
        before = len(self._lines)
        began = time.process_time()
        shape: object
        if traced:
            sys.settrace(self._trace)
        slower = TRACED_SLOWER if traced else 1.0
        signal.setitimer(signal.ITIMER_PROF, target.longest_s * slower)
        signal.setitimer(signal.ITIMER_REAL, LONGEST_WAIT_S * slower)
        try:
            target.feed(given, folder)
            outcome = shape = "accepted"
        except LoopwrightError as bad:
            outcome = f"refused: {type(bad).__name__}"
            shape = (outcome, re.sub(r"“[^”]*”|[\d.]+|\[.*?\]", "_", bad.what)[:80])
            if not bad.what.strip():
                self._defect(target, given, "a refusal without words")
        except Hang:
            outcome = shape = "hang"
            self._defect(target, given, f"took longer than {target.longest_s} s")
        except Exception:
            outcome = shape = "traceback"
            self._defect(target, given, traceback.format_exc())
        finally:
            sys.settrace(None)
            signal.setitimer(signal.ITIMER_PROF, 0)
            signal.setitimer(signal.ITIMER_REAL, 0)
        took = time.process_time() - began
        if took > self.slowest_s and not traced:
            self.slowest_s, self.slowest = took, target.name
        if took > target.longest_s and not traced and outcome != "hang":
            self._defect(target, given, f"took {took:.1f} s")
        self.counts[target.name, outcome] += 1
        fresh = (target.name, shape) not in self._seen or len(self._lines) > before
        if fresh and _size(given) < LARGEST:
            self._seen.add((target.name, shape))
            if len(target.found) < POOL:
                target.found.append(given)
            else:
                target.found[r.randrange(POOL)] = given
        if self._fed % 500 == 0 and largest_bytes() > MOST_BYTES:
            self._defect(target, given, f"the process holds {largest_bytes() / 1e6:.0f} MB")

    def _defect(self, target: Target, given: Any, what: str) -> None:
        if len(self.defects) < 40:
            self.defects.append(f"{target.name}: {what}\n  input: {str(given)[:600]!r}")

    def _trace(self, frame: FrameType, event: str, _arg: object) -> Any:
        name = frame.f_code.co_filename
        if "loopwright" not in name:
            return None
        self._lines.add((name, frame.f_lineno))
        return self._trace


def _size(given: Any) -> int:
    return len(given) if isinstance(given, str | bytes) else len(repr(given))


def largest_bytes() -> int:
    """The most memory that this process ever held (Linux: kilobytes)."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def alarm() -> None:
    """Have an input that hangs end in `Hang`."""

    def ring(*_: object) -> None:
        raise Hang

    signal.signal(signal.SIGALRM, ring)
    signal.signal(signal.SIGPROF, ring)
