"""Lines that cracks, twigs and cables follow; arrays (n, 2) of (row, col) in px."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

F64 = NDArray[np.float64]


def noise_1d(rng: np.random.Generator, n: int, length: float) -> F64:
    """Unit noise along a line of `n` points, correlated over about `length` points."""
    length = max(length, 1.0)
    knots = int(n / length) + 4
    values = rng.standard_normal(knots)
    x = np.arange(n) / length + rng.random()
    i = x.astype(int)
    t = x - i
    t = t * t * (3 - 2 * t)
    return np.asarray((values[i] * (1 - t) + values[i + 1] * t) * 1.25)


def fractal_1d(rng: np.random.Generator, n: int, length: float, octaves: int = 3) -> F64:
    """Sum of octaves of `noise_1d`, unit scale, the coarsest over `length` points."""
    out = np.zeros(n)
    power, amplitude = 0.0, 1.0
    for _ in range(octaves):
        out += amplitude * noise_1d(rng, n, length)
        power += amplitude**2
        amplitude *= 0.6
        length /= 2.3
        if length < 1:
            break
    return out / math.sqrt(power)


def resample(line: F64, step_px: float) -> F64:
    """Points at even spacing of about `step_px` along a polyline, ends kept."""
    seg = np.hypot(*np.diff(line, axis=0).T)
    keep = np.concatenate([[True], seg > 1e-9])
    line = line[keep]
    if len(line) < 2:
        return line
    along = np.concatenate([[0.0], np.cumsum(seg[seg > 1e-9])])
    n = max(2, round(along[-1] / step_px) + 1)
    at = np.linspace(0, along[-1], n)
    return np.stack([np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])], axis=1)


def length_of(line: F64) -> float:
    """Length of a polyline in px."""
    return float(np.hypot(*np.diff(line, axis=0).T).sum())


def turned(angle_rad: float) -> F64:
    """Unit vector (row, col) at an angle from the row axis towards the column axis."""
    return np.array([math.cos(angle_rad), math.sin(angle_rad)])


def walk(
    rng: np.random.Generator,
    length_px: float,
    heading_rad: float,
    wander: float = 0.3,
    kink: float = 0.4,
    kink_px: float = 25.0,
    jitter_px: float = 0.5,
    step_px: float = 1.5,
) -> F64:
    """Persistent walk from the origin.

    The heading drifts slowly (`wander`, rad), jumps between straight stretches of mean length
    `kink_px` (`kink`, rad), and the line is shaken across by `jitter_px` at grain size.
    """
    n = max(int(length_px / step_px), 3)
    slow = noise_1d(rng, n, max(kink_px * 4, 40.0) / step_px) * wander
    jumps = rng.random(n) < step_px / kink_px
    stretch = np.cumsum(jumps)
    turn = rng.normal(0.0, kink, int(stretch[-1]) + 1)[stretch]
    heading = heading_rad + slow + turn
    steps = np.stack([np.cos(heading), np.sin(heading)], axis=1) * step_px
    line = np.concatenate([np.zeros((1, 2)), np.cumsum(steps[:-1], axis=0)])
    if jitter_px > 0:
        across = np.stack([np.sin(heading), -np.cos(heading)], axis=1)
        line = line + across * (fractal_1d(rng, n, 6.0 / step_px + 1, 2) * jitter_px)[:, None]
    return line


def midpoint(rng: np.random.Generator, start: F64, end: F64, roughness: float) -> F64:
    """Midpoint-displacement fractal from start to end; `roughness` is the first displacement
    as a share of the length, halving (on average) at each level."""
    pts = np.stack([np.asarray(start, float), np.asarray(end, float)])
    size = float(np.hypot(*(pts[1] - pts[0])))
    levels = max(1, math.ceil(math.log2(max(size / 2.0, 2.0))))
    scale = roughness
    for _ in range(levels):
        mid = (pts[1:] + pts[:-1]) / 2
        d = np.diff(pts, axis=0)
        across = np.stack([d[:, 1], -d[:, 0]], axis=1)
        mid = mid + across * rng.normal(0, scale, (len(mid), 1))
        out = np.empty((2 * len(pts) - 1, 2))
        out[0::2], out[1::2] = pts, mid
        pts = out
        scale *= 0.93
    return pts


def fit_between(line: F64, start: F64, end: F64) -> F64:
    """Turns and scales a line so that it runs from start to end."""
    a, b = complex(*line[0]), complex(*line[-1])
    p, q = complex(*start), complex(*end)
    if abs(b - a) < 1e-6:
        return np.stack([start, end])
    z = (line[:, 0] + 1j * line[:, 1] - a) * ((q - p) / (b - a)) + p
    return np.stack([z.real, z.imag], axis=1)


def smooth_curve(
    rng: np.random.Generator, length_px: float, heading_rad: float, bend: float, step_px: float = 3.0
) -> F64:
    """A smooth curve from the origin (cable, hose, tyre track); `bend` in rad."""
    n = max(int(length_px / step_px), 8)
    heading = heading_rad + bend * noise_1d(rng, n, n / 3)
    steps = np.stack([np.cos(heading), np.sin(heading)], axis=1) * step_px
    return np.concatenate([np.zeros((1, 2)), np.cumsum(steps[:-1], axis=0)])
