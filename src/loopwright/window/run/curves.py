"""The shapes behind the charts: which curves never rest, their means and bands, and lines of equal temperature.

Owns the arithmetic, on arrays. Refuses to know plots.
"""

from __future__ import annotations

import numpy as np

CLEAR = 0.14
BUSY_TURNS = 40
"""A curve that turns more often shows its mean and a band."""


def busy(values: np.ndarray) -> bool:
    """Whether a curve turns so often that its line would fill the chart."""
    span = float(np.ptp(values))
    if span <= 0.0:
        return False
    kept = np.round(values / (0.1 * span))
    steps = np.diff(kept)
    steps = steps[steps != 0.0]
    return int((np.diff(np.sign(steps)) != 0).sum()) > BUSY_TURNS


def smoothed(values: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Running least, mean and most of a curve over a fortieth of it."""
    half = max(1, len(values) // 80)
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(values, half, mode="edge"), 2 * half + 1)
    return windows.min(axis=1), windows.mean(axis=1), windows.max(axis=1)


def widened(span: tuple[float, float], curves: list[np.ndarray], step: float) -> tuple[float, float]:
    """A span of an axis, wider by whole steps where a curve leaves it."""
    low, high = span
    least, most = (
        min((float(v.min()) for v in curves), default=low),
        max((float(v.max()) for v in curves), default=high),
    )
    low -= step * np.ceil(max(0.0, low - least) / step)
    return float(low), float(high + step * np.ceil(max(0.0, most - high) / step))


def contour(layers: np.ndarray, level: float, high: float) -> np.ndarray:
    """The height at which each column (n, L) of layers passes a temperature, m; NaN where none does.

    From above: the lowest height over which all is at least that warm. Layers hold at their middles.
    """
    count = layers.shape[1]
    middles = (np.arange(count) + 0.5) * high / count
    out = np.full(len(layers), np.nan)
    under = layers < level
    k = count - 1 - np.argmax(under[:, ::-1], axis=1)  # the topmost layer under it, in each column
    rows = np.nonzero(under.any(axis=1) & (k < count - 1))[0]
    at = k[rows]
    below, above = layers[rows, at], layers[rows, at + 1]
    out[rows] = middles[at] + (level - below) / (above - below) * (middles[at + 1] - middles[at])
    return out


def figure_spot(
    times: np.ndarray, heights: np.ndarray, high: float, taken: list[tuple[float, float]], room: float
) -> tuple[float, float] | None:
    """Where a contour's figure stands: well inside, and away from the others in time (s) or in height."""
    fine = np.isfinite(heights) & (heights > 0.1 * high) & (heights < 0.9 * high)
    fine &= (times > times[0] + 0.5 * room) & (times < times[-1] - 0.5 * room)
    for time_s, height in taken:
        fine &= (np.abs(times - time_s) > room) | (np.abs(np.nan_to_num(heights) - height) > CLEAR * high)
    places = np.nonzero(fine)[0]
    if not len(places):
        return None
    i = int(places[len(places) // 2])
    return float(times[i]), float(heights[i])
