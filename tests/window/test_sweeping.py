"""Memory is tidied while the hand rests, and what is no longer used is found however often what stays was set aside:
checks of our own, no source."""

from __future__ import annotations

import gc
import weakref

import pytest
from PySide6.QtCore import QPoint

from loopwright.window import sweeping
from loopwright.window.sweeping import Sweeper


class Ring:
    """Something that only a collection frees."""

    def __init__(self):
        self.itself = self


@pytest.fixture
def hand(qapp, monkeypatch):
    monkeypatch.setattr(sweeping, "APART_S", 0.0)
    known = {"at": QPoint(3, 4), "held": False}
    yield known
    gc.unfreeze()


def ready():
    """Enough is new for a sweep to be worth it."""
    gc.collect(0)
    assert any(gc.get_count()[1:])


def test_a_sweep_waits_until_the_hand_rests(hand):
    sweeper = Sweeper(hand=lambda: (QPoint(hand["at"]), hand["held"]))
    ring = Ring()
    lost = weakref.ref(ring)
    gc.collect()
    del ring
    for at, held, swept in ((QPoint(9, 9), False, False), (QPoint(9, 9), True, False), (QPoint(9, 9), False, False)):
        hand["at"], hand["held"] = at, held
        ready()
        assert sweeper.look() is swept and lost() is not None
    ready()
    assert sweeper.look() and lost() is None


def test_what_was_set_aside_is_found_once_it_is_no_longer_used(hand):
    sweeper, ring = Sweeper(hand=lambda: (QPoint(), False)), Ring()
    lost = weakref.ref(ring)
    sweeper.sweep()
    assert gc.get_freeze_count() > 0
    del ring
    gc.collect()
    assert lost() is not None, "set aside: a collection of Python's own does not look there"
    sweeper.sweep()
    assert lost() is None
