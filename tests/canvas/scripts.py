"""A host without a window, and short words for events, so that tools can be tried as scripts."""

from __future__ import annotations

from itertools import pairwise
from math import dist

from barn import CATALOGUE, kiln_barn
from loopwright.canvas.tools.base import Event, Hit, Overlay
from loopwright.errors import LoopwrightError
from loopwright.sheet import routing
from loopwright.sheet.geometry import nearest_on, polyline
from loopwright.sheet.pipework import boxes_of, other_runs
from loopwright.sheet.ports import box_of, ports_of


class ScriptHost:
    """Does what a window does for a tool, and keeps a list of the commits."""

    catalogue = CATALOGUE
    reach_m = 0.06

    def __init__(self, sheet=None):
        self.sheet = sheet if sheet is not None else kiln_barn()[0]
        self.chosen = frozenset()
        self.commits, self.said, self.openings = [], [], []
        self.overlay, self.preview, self.done = Overlay(), None, 0

    def hit(self, at, ignore=frozenset()):
        for part in self.sheet.parts.values():
            for port in ports_of(part, CATALOGUE).values():
                if dist(port.at, at) < 0.05:
                    return Hit("port", part.id, port.name, at=port.at)
        for part in self.sheet.parts.values():
            x0, z0, x1, z1 = box_of(part, CATALOGUE)
            if x0 <= at[0] <= x1 and z0 <= at[1] <= z1:
                return Hit("part", part.id, at=at)
        for pipe in self.sheet.pipes.values():
            run, foot, far = nearest_on(polyline(self.sheet, pipe, CATALOGUE), at)
            if far < 0.05:
                return Hit("pipe", pipe.id, run=run, at=foot)
        return None

    def within(self, a, b, touched):
        x0, x1 = sorted((a[0], b[0]))
        return frozenset(k for k, p in self.sheet.parts.items() if x0 <= p.x_m <= x1)

    def snap(self, at, free=False):
        return at if free else (round(round(at[0] / 0.05) * 0.05, 3), round(round(at[1] / 0.05) * 0.05, 3))

    def snap_on(self, hit):
        return hit.at

    def route(self, start, start_dir, end, end_dir, quick=True):
        return routing.route(
            start, start_dir, end, end_dir, boxes_of(self.sheet, CATALOGUE), other_runs(self.sheet, CATALOGUE)
        ).corners

    def show(self, overlay, sheet=None):
        self.overlay, self.preview = overlay, sheet

    def commit(self, label, edit, choose=None):
        try:
            after = edit(self.sheet)
        except LoopwrightError as bad:
            self.said.append(bad.sentence)
            return False
        self.sheet = after
        self.commits.append(label)
        if choose is not None:
            self.chosen = frozenset(choose)
        return True

    def choose(self, ids):
        self.chosen = frozenset(ids)

    def hover(self, hit):
        pass

    def say(self, words):
        self.said.append(words)

    def opened(self, ident):
        self.openings.append(ident)

    def pan(self, dx_px, dy_px):
        self.panned = (dx_px, dy_px)

    def finished(self):
        self.done += 1


def event(host, kind, at, button="left", mods=(), key=""):
    """An event at a place in metres, 100 pixels a metre."""
    return Event(kind, at, (at[0] * 100, -at[1] * 100), host.hit(at), frozenset(mods), button, key)


def click(tool, at, mods=()):
    """Move there, press and release."""
    for kind in ("move", "press", "release"):
        tool.feed(event(tool.host, kind, at, mods=mods))


def drag(tool, places, mods=(), release=True):
    """Press at the first place, move through the others, release at the last."""
    tool.feed(event(tool.host, "press", places[0], mods=mods))
    for a, b in pairwise(places):
        for share in (0.5, 1.0):
            tool.feed(event(tool.host, "move", (a[0] + (b[0] - a[0]) * share, a[1] + (b[1] - a[1]) * share), mods=mods))
    if release:
        tool.feed(event(tool.host, "release", places[-1], mods=mods))


def key(tool, name, mods=()):
    """A key."""
    tool.feed(Event("key", key=name, modifiers=frozenset(mods)))
