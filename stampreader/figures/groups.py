"""Lines to stamps: what stands on one connector."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from stampreader.figures.lines import Line, column

ALONG, ACROSS = 7.0, 2.4  # space between lines of one connector, in heights


def group_lines(lines: Sequence[Line], reach: float = 1.0) -> list[list[int]]:
    """Lines that stand on one connector: near each other for their height.

    Args:
        lines: all lines of a photo.
        reach: 1 for the usual distances, less to cut a group into tighter ones.
    """
    groups: list[set[int]] = []
    rounds = [_round(line) for line in lines]
    for n, line in enumerate(lines):
        close = _within(rounds, n)
        touching = [g for g in groups if any(close[m] and _near(line, lines[m], reach) for m in g)]
        merged = {n}.union(*touching)
        groups = [g for g in groups if g not in touching] + [merged]
    return sorted(sorted(group) for group in groups)


def _round(line: Line) -> tuple[float, float, float, float]:
    """A circle round a line: centre, radius, height."""
    x, y = (column(line.glyphs, k) for k in ("x", "y"))
    cx, cy = float(x.mean()), float(y.mean())
    return cx, cy, float(np.hypot(x - cx, y - cy).max()), line.height_px


def _within(rounds: Sequence[tuple[float, float, float, float]], n: int) -> list[bool]:
    """Which lines may be near enough to one to belong to its connector."""
    x, y, radius, height = np.array(rounds).T
    apart = np.hypot(x - x[n], y - y[n]) - radius - radius[n]
    near: list[bool] = (apart < 1.6 * (ALONG + 2.0) * np.maximum(height, height[n])).tolist()
    return near


def _near(a: Line, b: Line, reach: float) -> bool:
    """Whether the smallest distance of two lines is within 7 heights along and 2.4 across."""
    size = min(max(a.height_px, b.height_px), 1.6 * min(a.height_px, b.height_px))
    turn = np.radians(a.tangents_deg)[:, None]
    dx, dy = (
        np.array([getattr(g, k) for g in b.glyphs])[None, :]
        - np.array([getattr(g, k) for g in a.glyphs])[:, None]
        for k in ("x", "y")
    )
    wide, tall = (
        np.array([getattr(g, k) for g in b.glyphs])[None, :]
        + np.array([getattr(g, k) for g in a.glyphs])[:, None]
        for k in ("width_px", "height_px")
    )
    gap = np.abs(dx * np.cos(turn) + dy * np.sin(turn)) - wide / 2
    leading = np.abs(dy * np.cos(turn) - dx * np.sin(turn)) - tall / 2
    far = np.maximum(gap / (ALONG * size), 0.0) + np.maximum(leading / (ACROSS * size), 0.0)
    return bool(far.min() < reach)
