"""Where a crease may lie."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.propose.creases import candidate_creases, edge_strips
from analyzer.propose.site import describe_site
from analyzer.records import JointSize, PanelLayout
from analyzer.terms import Abuts, HeightKind, JointKind
from analyzer.units import MM_PER_FT


def site_of(make_site, layout, exact, clearances=(), **more):
    field, levels = make_site(lambda x, y: 0 * x, size=(20, 24), **more)
    return describe_site(field, levels, tuple(clearances), layout, exact)


def test_landing_house_band_drain_and_joints(make_site, no_panels, exact, clearance) -> None:
    items = [
        clearance(HeightKind.DOOR_SILL, (3000.0, 24 * MM_PER_FT), 200.0, "door"),
        clearance(HeightKind.DRAIN, (2000.0, 2000.0), 0.0, "gully"),
    ]
    joint = JointSize(
        "J1", JointKind.CONTRACTION, (0.0, 12 * MM_PER_FT), (6096.0, 12 * MM_PER_FT), 6096, 5, 1.0
    )
    lines = candidate_creases(site_of(make_site, PanelLayout((), (joint,), (), 5.0), exact, items))
    assert [line.why for group in lines for line in group] == [
        "end of the landing at door",
        "10 ft from the house at C-D",
        "through drain gully",
        "through drain gully",
        "over joint J1",
    ]
    assert len(lines) == 4  # both lines through the drain come together
    landing = lines[0][0]
    assert landing.distance(np.array([[0.0, 21 * MM_PER_FT]])) == pytest.approx([0.0])  # 36 in from the door
    assert landing.distance(np.array([[0.0, 0.0]]))[0] > 0


def test_the_same_line_comes_once_and_none_at_the_rim(make_site, exact) -> None:
    joints = tuple(
        JointSize(f"J{k}", JointKind.CONTRACTION, (0.0, y), (6096.0, y), 6096, 5, 1.0)
        for k, y in enumerate((3000.0, 3050.0, 20.0))
    )
    backwards = JointSize("J9", JointKind.CONTRACTION, (6096.0, 3000.0), (0.0, 3000.0), 6096, 5, 1.0)
    layout = PanelLayout((), (*joints, backwards), (), 5.0)
    lines = candidate_creases(site_of(make_site, layout, exact, abuts={}))
    assert [line.why for group in lines for line in group] == ["over joint J0"]


def test_between_facing_houses(make_site, no_panels, exact) -> None:
    place = site_of(make_site, no_panels, exact, abuts={0: Abuts.HOUSE, 2: Abuts.HOUSE})
    halfway = [ln for (ln,) in candidate_creases(place) if ln.why.startswith("halfway")]
    assert len(halfway) == 1
    assert halfway[0].distance(np.array([[100.0, 12 * MM_PER_FT]])) == pytest.approx([0.0])


def test_strips_lie_along_edges_that_people_cross(make_site, no_panels, exact) -> None:
    place = site_of(make_site, no_panels, exact, abuts={0: Abuts.WALK, 1: Abuts.HOUSE, 3: Abuts.FREE})
    strips = edge_strips(place)
    assert [edge.name for edge, _ in strips] == ["A-B", "D-A"]
    walk = strips[0][1]
    assert walk.distance(np.array([[500.0, 0.0], [500.0, 304.8], [500.0, 1000.0]])) == pytest.approx(
        [304.8, 0.0, -695.2]
    )
