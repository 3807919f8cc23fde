"""Map cracking: every crack inside its area, as many and as long as the cells ask for."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes.networks import map_cracks

AREA = ((0.0, 0.0), (2000.0, 0.0), (2000.0, 1500.0), (0.0, 1500.0))


def test_cracks_stay_inside_and_within_their_widths() -> None:
    cracks = map_cracks(5, AREA, 200.0, (0.5, 1.5))
    area = shapely.Polygon(AREA).buffer(1e-6)
    assert all(area.contains(shapely.LineString(c.points_mm)) for c in cracks)
    widths = np.array([c.width_mm for c in cracks], dtype=float)
    assert widths.min() >= 0.5
    assert widths.max() <= 1.5
    assert len({c.name for c in cracks}) == len(cracks)


def test_length_by_cell_size() -> None:
    """The borders of Poisson-Voronoi cells of mean area a are 2 / sqrt(a) long per area (Okabe et al.,
    Spatial Tessellations, from memory); a jittered grid is more regular: within 15 %."""
    cracks = map_cracks(5, AREA, 100.0, (0.5, 1.5), kept=1.0)
    length = sum(shapely.LineString(c.points_mm).length for c in cracks)
    assert abs(length / (2000 * 1500 * 2 / 100.0) - 1) < 0.15


def test_some_borders_stay_closed() -> None:
    every, some = (map_cracks(5, AREA, 150.0, (0.5, 1.5), kept=k) for k in (1.0, 0.6))
    assert 0.45 < len(some) / len(every) < 0.75


def test_the_same_seed_gives_the_same_cracks() -> None:
    assert map_cracks(9, AREA, 300.0, (0.5, 1.5)) == map_cracks(9, AREA, 300.0, (0.5, 1.5))
