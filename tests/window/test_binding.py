"""The window binding itself: a canary for a known defect of one release on older interpreters."""

from __future__ import annotations

import sys

from PySide6.QtCore import QObject


def test_void_calls_keep_none_alive(qapp):
    """A bound method that gives nothing must not use up references to None.

    Source: `sys.getrefcount` of the Python library reference; one release of the binding lost one reference a call and
    aborted the process after some thousands. From Python 3.12 on None is immortal (PEP 683) and the count never moves.
    """
    probe = QObject()
    probe.setObjectName("warm-up")
    before = sys.getrefcount(None)
    for _ in range(300):
        probe.setObjectName("tap")
    assert sys.getrefcount(None) >= before - 20  # a leaking binding loses 300
