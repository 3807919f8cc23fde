"""Courses of map cracking: the edges of irregular cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from scipy.spatial import Voronoi

from analyzer.training.render.noise import generator
from analyzer.training.render.plan import CrackPlan, Point


def map_cracks(
    seed: int,
    within: Sequence[Point],
    cell_mm: float,
    width_mm: tuple[float, float],
    kept: float = 0.85,
    name: str = "M",
) -> tuple[CrackPlan, ...]:
    """Cracks along the borders of cells about ``cell_mm`` wide inside a polygon.

    ``kept`` is the share of the borders that have opened; widths are log-uniform. The cells are
    those of a jittered grid, so that none is much larger than its neighbours.
    """
    rng = generator(seed, 710)
    area = shapely.Polygon(within)
    x0, y0, x1, y1 = area.bounds
    nx, ny = int((x1 - x0) / cell_mm) + 4, int((y1 - y0) / cell_mm) + 4
    gx, gy = np.meshgrid(np.arange(nx) - 1.5, np.arange(ny) - 1.5)
    seeds = np.stack([x0 + cell_mm * gx.ravel(), y0 + cell_mm * gy.ravel()], axis=1)
    seeds[:, 0] += np.repeat(np.arange(ny) % 2, nx) * cell_mm / 2
    seeds += rng.uniform(-0.36, 0.36, seeds.shape) * cell_mm
    cells = Voronoi(seeds)
    cracks: list[CrackPlan] = []
    for a, b in cells.ridge_vertices:
        open_here, width = rng.random() < kept, float(np.exp(rng.uniform(*np.log(width_mm))))
        if a < 0 or b < 0 or not open_here:
            continue
        line = shapely.LineString(cells.vertices[[a, b]]).intersection(area)
        if line.geom_type != "LineString" or line.length < 25:
            continue
        points = tuple((float(x), float(y)) for x, y in line.coords)
        cracks.append(CrackPlan(points, width, roughness=0.6, name=f"{name}{len(cracks) + 1}"))
    return tuple(cracks)
