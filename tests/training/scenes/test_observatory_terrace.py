"""The observatory terrace tells its story: map cracking over more than half of a plane slab."""

from __future__ import annotations

import numpy as np
import shapely

from analyzer.training.scenes import observatory_terrace as scene
from analyzer.units import parse_area


def test_more_than_half_is_map_cracked_and_typed_so() -> None:
    slab = shapely.Polygon(tuple(scene.CORNERS.values()))
    crazed = shapely.union_all([shapely.Polygon(ring) for ring in scene.CRAZED])
    assert crazed.area / slab.area > 0.5
    job = scene.describe()
    typed = sum(parse_area(str(t.values["area"])) for t in job.book(job) if t.name == "area")
    assert abs(typed / crazed.area - 1) < 0.02


def test_every_crack_is_one_of_many() -> None:
    job = scene.describe()
    assert len(scene.CRACKS) > 100
    assert set(job.map_cracks) == {crack.name for crack in scene.CRACKS}
    assert not job.hairlines


def test_the_slab_is_one_plane_that_falls_from_the_door() -> None:
    z = scene.height_mm(np.array([[0.0, scene.D], [0.0, 0.0], [scene.W, 0.0]]))
    assert z[0] > z[1] > z[2]
