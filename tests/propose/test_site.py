"""Edges, falls and ways of a site."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from analyzer.propose.site import describe_site, outline_edges, same_way
from analyzer.records import DesignChoices
from analyzer.terms import Abuts, HeightKind


def describe(site, layout, exact, clearances=()):
    field, levels = site
    return describe_site(field, levels, tuple(clearances), layout, exact)


def test_edges_point_inward_and_keep_their_neighbour(make_site) -> None:
    outline = [(0, 0), (6000, 0), (6000, 3000), (3000, 3000), (3000, 6000), (0, 6000)]
    field, _ = make_site(lambda x, y: 0 * x, outline=outline, abuts={3: Abuts.HOUSE})
    polygon = shapely.Polygon(outline)
    edges = outline_edges(field)
    assert [e.abuts for e in edges].index(Abuts.HOUSE) == 3
    for edge in edges:
        middle = (edge.start + edge.end) / 2
        assert polygon.contains(shapely.Point(middle + 10 * edge.inward))
        line = shapely.LineString([edge.start, edge.end])
        points = np.random.default_rng(1).uniform(-1000, 7000, (20, 2))
        assert edge.distance(points) == pytest.approx(shapely.distance(line, shapely.points(points)))


def test_the_fall_is_2_percent_at_a_house_and_an_eighth_elsewhere(make_site, no_panels, exact) -> None:
    house = describe(make_site(lambda x, y: 0.01 * y), no_panels, exact)
    assert house.fall == pytest.approx(0.02)  # IRC R401.3 (read as quoted)
    assert house.ways == ()
    free = describe(make_site(lambda x, y: 0.01 * y, abuts={0: Abuts.FREE}), no_panels, exact)
    assert free.fall == pytest.approx(0.125 / 12)  # 1/8 in per ft: common practice, no source
    assert [name for name, _ in free.ways] == ["the way it falls now", "edge A-B"]
    assert free.ways[0][1] == pytest.approx([0.0, -1.0])
    typed = describe(make_site(lambda x, y: 0.01 * y, design=DesignChoices(fall=0.015)), no_panels, exact)
    assert typed.fall == 0.015


def test_fall_toward_an_edge_a_corner_or_a_drain(make_site, no_panels, exact, clearance) -> None:
    def way(name, clearances=()):
        site = make_site(lambda x, y: 0.01 * y, abuts={}, design=DesignChoices(fall_toward=name))
        return describe(site, no_panels, exact, clearances).ways[0]

    assert way("B-C")[1] == pytest.approx([1.0, 0.0])
    assert way("C-B")[1] == pytest.approx([1.0, 0.0])
    corner = way("A")[1]
    assert corner @ corner == pytest.approx(1.0)
    assert (corner < 0).all()
    drain = clearance(HeightKind.DRAIN, (6096.0, 1828.8), 0.0, "gully")
    assert way("gully", [drain])[1] == pytest.approx([1.0, 0.0], abs=1e-9)


def test_same_way_is_within_30_degrees() -> None:
    def unit(deg: float) -> np.ndarray:
        return np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])

    assert same_way(unit(0), unit(29.9))
    assert not same_way(unit(0), unit(30.1))
