"""The six jobs: each its own kind, complete, and none like another."""

from __future__ import annotations

import dataclasses

import pytest
import shapely

from analyzer.terms import Headline
from analyzer.training.scenes import JOBS, job
from analyzer.training.scenes.plan import SampleJob

ALL = [job(name) for name in JOBS]


def test_an_unknown_job_is_refused() -> None:
    with pytest.raises(ValueError, match="unknown"):
        job("patio")


def test_what_the_six_show() -> None:
    assert sorted(JOBS) == list(JOBS)
    assert {j.expected.headline for j in ALL} == {"overlay", "patch", "removal"}
    assert max(len(j.shots) for j in ALL) >= 4
    assert {len(j.sheets) for j in ALL} >= {0, 1, 4}
    assert sum(s.size_px == (3000, 4000) or s.size_px == (4000, 3000) for j in ALL for s in j.shots) >= 2
    assert len({j.seed for j in ALL}) == len(ALL)


@pytest.mark.parametrize("each", ALL, ids=JOBS)
def test_panels_tile_the_slab_and_joints_lie_between_them(each: SampleJob) -> None:
    slab = shapely.Polygon(each.scene.outline_mm)
    panels = [shapely.Polygon(panel) for panel in each.panels_mm]
    assert shapely.union_all(panels).symmetric_difference(slab).area < 1.0
    assert sum(panel.area for panel in panels) == pytest.approx(slab.area)
    seams = shapely.union_all([panel.exterior for panel in panels]).difference(slab.exterior.buffer(0.5))
    joints = shapely.union_all([shapely.LineString([j.start_mm, j.end_mm]) for j in each.scene.joints])
    assert seams.difference(joints.buffer(0.5)).length < 1.0
    assert joints.difference(seams.buffer(1.5)).length < 1.0


@pytest.mark.parametrize("each", ALL, ids=JOBS)
def test_cracks_lie_on_the_slab_under_their_own_names(each: SampleJob) -> None:
    slab = shapely.Polygon(each.scene.outline_mm).buffer(0.5)
    names = [crack.name for crack in each.scene.cracks]
    assert len(set(names)) == len(names)
    assert set(each.hairlines) | set(each.map_cracks) <= set(names)
    for crack in each.scene.cracks:
        assert slab.covers(shapely.LineString(crack.points_mm)), crack.name
    assert each.expected.headline in [str(h) for h in Headline]
    assert dataclasses.is_dataclass(each)
