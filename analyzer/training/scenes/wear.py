"""Outlines of worn spots: lobed, ragged rings as frost and salt leave them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from analyzer.training.render.noise import generator
from analyzer.training.render.plan import Point

Ring = tuple[Point, ...]


def spot(seed: int, number: int, at_mm: Point, size_mm: float) -> Ring:
    """A ring about a point with a mean diameter; the same seed and number give the same ring."""
    rng = generator(seed, 700, number)
    t = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    r = np.ones_like(t)
    for n in range(2, 17):
        r += 0.22 / n**0.7 * rng.normal() * np.cos(n * t + rng.uniform(0, 2 * np.pi))
    r = np.clip(r, 0.35, 1.6) * size_mm / 2
    slim, turn = rng.uniform(0.6, 1.0), rng.uniform(0, np.pi)
    u, v = r * np.cos(t), r * np.sin(t) * slim
    x = at_mm[0] + u * np.cos(turn) - v * np.sin(turn)
    y = at_mm[1] + u * np.sin(turn) + v * np.cos(turn)
    return tuple(zip(x.tolist(), y.tolist(), strict=True))


def scattered(
    seed: int, within: Sequence[Point], count: int, sizes_mm: tuple[float, float], margin_mm: float = 60.0
) -> tuple[Ring, ...]:
    """Spots of log-uniform size strewn over a polygon, cut at ``margin_mm`` inside its edges."""
    rng = generator(seed, 701, count)
    room = shapely.Polygon(within).buffer(-margin_mm)
    x0, y0, x1, y1 = room.bounds
    rings: list[Ring] = []
    while len(rings) < count:
        x, y = rng.uniform(x0, x1), rng.uniform(y0, y1)
        size = float(np.exp(rng.uniform(*np.log(sizes_mm))))
        if not room.contains(shapely.Point(x, y)):
            continue
        cut = shapely.Polygon(spot(seed, len(rings), (x, y), size)).buffer(0).intersection(room)
        largest = max(getattr(cut, "geoms", [cut]), key=lambda part: part.area)
        rings.append(tuple((float(a), float(b)) for a, b in largest.exterior.coords[:-1]))
    return tuple(rings)


def area_within(rings: Sequence[Ring], panel: Sequence[Point]) -> float:
    """Area in mm2 that the rings cover inside a panel, overlaps counted once."""
    union = shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in rings])
    return float(union.intersection(shapely.Polygon(panel)).area)
