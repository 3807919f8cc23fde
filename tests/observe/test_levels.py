"""Old surfaces of known shape come back from their readings."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
import shapely

from analyzer.errors import FieldBookError
from analyzer.observe import map_levels
from analyzer.records import HeightEntry, StationReading
from analyzer.terms import Abuts, HeightKind
from analyzer.units import Reading

GRID = [(x, y) for y in (0.0, 2000.0, 4000.0) for x in (0.0, 1500.0, 3000.0, 4500.0, 6000.0)]


def plane(x: float, y: float) -> float:
    return 0.02 * x - 0.01 * y + 50.0


@pytest.mark.parametrize("rod", [False, True])
def test_a_plane_comes_back_with_its_fall(make_field, make_layout, rod: bool) -> None:
    field = make_field([(x, y, plane(x, y)) for x, y in GRID], rod=rod, abuts={2: Abuts.HOUSE})
    levels = map_levels(field, make_layout((0, 0, 6000, 4000)))
    assert levels is not None
    assert levels.plane[:2] == pytest.approx((0.02, -0.01))
    assert levels.plane[2] == pytest.approx(0.0 if rod else 50.0, abs=1e-6)
    assert levels.fall == pytest.approx(math.hypot(0.02, 0.01))
    assert levels.fall_direction_deg == pytest.approx(math.degrees(math.atan2(0.01, -0.02)))
    assert levels.residual_rms_mm == pytest.approx(0.0, abs=1e-9)
    assert levels.ponds == ()
    assert levels.corners == ()
    # edge 2 (C-D) is at y = 4000: the slab rises away from it by 1 %, so it falls toward the house
    house = next(e for e in levels.edges if e.abuts is Abuts.HOUSE)
    assert house.slope == pytest.approx(-0.01)
    assert [e.slope for e in levels.edges] == pytest.approx([0.01, 0.02, -0.01, -0.02])


def test_fewer_than_three_or_all_on_a_line_give_no_map(make_field, make_layout) -> None:
    assert map_levels(make_field([(0, 0, 1), (1, 1, 2)]), make_layout()) is None
    line = [(x, 2000.0, 1.0) for x in (0.0, 1000.0, 5000.0)]
    assert map_levels(make_field(line), make_layout()) is None
    assert map_levels(make_field(), make_layout()) is None


def test_settlement_of_one_panel_with_its_uncertainty(make_field, make_layout) -> None:
    boxes = [(x, y, x + 2000.0, y + 2000.0) for y in (0.0, 2000.0) for x in (0.0, 2000.0, 4000.0)]
    places = [(b[0] + dx, b[1] + dy) for b in boxes for dx in (200, 1800) for dy in (200, 1800)]
    rng = np.random.default_rng(2)
    stations = []
    for k, (x, y) in enumerate(places):
        drop = 30.0 if k // 4 == 4 else 0.0
        stations.append((x, y, plane(x, y) - drop + rng.normal(0, 0.5)))
    levels = map_levels(make_field(stations), make_layout(*boxes))
    assert levels is not None
    by_name = {p.panel_id: p for p in levels.panels}
    settled = by_name["P5"]
    assert not settled.sound
    assert settled.settlement_mm == pytest.approx(30.0, abs=3 * settled.settlement_u_mm)
    assert 0.2 < settled.settlement_u_mm < 1.0
    assert settled.n_stations == 4
    for name in ("P1", "P2", "P3", "P4", "P6"):
        assert by_name[name].sound
        assert abs(by_name[name].settlement_mm) < 3 * by_name[name].settlement_u_mm
    assert levels.plane[:2] == pytest.approx((0.02, -0.01), abs=0.001)
    residual = [s.residual_mm for s in levels.stations if s.panel_id == "P5"]
    assert residual == pytest.approx([-30.0] * 4, abs=3.0)


def test_a_tilted_panel_shows_its_tilt_and_lowest_corner(make_field, make_layout) -> None:
    boxes = [(x, 0.0, x + 2000.0, 4000.0) for x in (0.0, 2000.0, 4000.0)]
    places = [
        (x, y) for x in (200, 1000, 1800, 2200, 3000, 3800, 4200, 5000, 5800) for y in (200, 2000, 3800)
    ]
    stations = [(x, y, -max(0.0, x - 4200.0) * 0.02) for x, y in places]
    levels = map_levels(make_field(stations), make_layout(*boxes))
    assert levels is not None
    odd = levels.panels[2]
    assert odd.tilt == pytest.approx(0.02, rel=0.02)
    assert odd.lowest_mm == pytest.approx(32.0, abs=0.5)
    assert odd.settlement_mm == pytest.approx(16.0, abs=0.5)


def test_stations_read_twice_give_misclosure_and_widen_the_uncertainty(make_field, make_layout) -> None:
    again = StationReading(
        "S1-again", 0.0, 0.0, height=Reading(plane(0, 0) + 6.0, 0.5, "typed"), check_of="S1"
    )
    field = make_field([(x, y, plane(x, y)) for x, y in GRID])
    field = dataclasses.replace(field, stations=(*field.stations, again))
    levels = map_levels(field, make_layout())
    assert levels is not None
    assert levels.misclosure_mm == pytest.approx(6.0)
    assert levels.stations[0].z_u_mm == pytest.approx(6.0 / math.sqrt(2.0))  # one difference of two readings
    assert len(levels.stations) == len(GRID)


def test_corners_without_a_reading_are_carried_over_with_more_uncertainty(make_field, make_layout) -> None:
    places = [(x, y) for x in (1000, 3000, 5000) for y in (1000, 2000, 3000)]
    inner = [(x, y, plane(x, y) + 4.0 * (-1) ** k) for k, (x, y) in enumerate(places)]
    levels = map_levels(make_field(inner), make_layout())
    assert levels is not None
    assert {c.station_id for c in levels.corners} >= {"A", "B", "C", "D"}
    surface = levels.surface
    area = sum(
        shapely.Polygon([(surface[k].x_mm, surface[k].y_mm) for k in t]).area for t in levels.triangles
    )
    assert area == pytest.approx(6000 * 4000)
    for corner in levels.corners:
        assert corner.z_mm == pytest.approx(plane(corner.x_mm, corner.y_mm), abs=12.0)
        assert corner.z_u_mm > 2.0 * levels.stations[0].z_u_mm


def test_a_birdbath_against_the_house_ponds(make_field, make_layout) -> None:
    stations = [(x, y, 0.0 if (x, y) != (3000.0, 4000.0) else -15.0) for x, y in GRID]
    open_edge = map_levels(make_field(stations), make_layout())
    closed = map_levels(make_field(stations, abuts={2: Abuts.HOUSE}), make_layout())
    assert open_edge is not None
    assert closed is not None
    assert open_edge.ponds == ()
    assert closed.ponds[0].depth_mm == pytest.approx(15.0)
    assert closed.ponds[0].depth_u_mm == pytest.approx(math.hypot(0.5, 0.5))
    drain = HeightEntry(HeightKind.DRAIN, "drain", (3000.0, 3990.0), Reading(0.0, 1.0, "0 in"))
    drained = map_levels(make_field(stations, abuts={2: Abuts.HOUSE}, heights=(drain,)), make_layout())
    assert drained is not None
    assert drained.ponds == () or drained.ponds[0].depth_mm < 1.0


def test_a_station_on_a_joint_belongs_to_no_panel(make_field, make_layout) -> None:
    layout = make_layout((0, 0, 2990, 4000), (3010, 0, 6000, 4000))
    levels = map_levels(make_field([(x, y, plane(x, y)) for x, y in GRID]), layout)
    assert levels is not None
    panel_of = {(s.x_mm, s.y_mm): s.panel_id for s in levels.stations}
    assert panel_of[(3000.0, 2000.0)] is None
    assert panel_of[(1500.0, 2000.0)] == "P1"
    assert panel_of[(6000.0, 4000.0)] == "P2"


def test_mixed_kinds_and_stations_off_the_slab_are_refused(make_field, make_layout) -> None:
    field = make_field([(x, y, plane(x, y)) for x, y in GRID])
    rod = StationReading("R", 10.0, 10.0, rod=Reading(900.0, 0.5, "typed"))
    with pytest.raises(FieldBookError, match="some are rod readings"):
        map_levels(dataclasses.replace(field, stations=(*field.stations, rod)), make_layout())
    far = StationReading("F", 9000.0, 10.0, height=Reading(900.0, 0.5, "typed"))
    with pytest.raises(FieldBookError, match="off the slab"):
        map_levels(dataclasses.replace(field, stations=(*field.stations, far)), make_layout())


def test_scaling_and_order_change_nothing(make_field, make_layout) -> None:
    rng = np.random.default_rng(9)
    stations = [(x, y, plane(x, y) + rng.normal(0, 4)) for x, y in GRID]
    first = map_levels(make_field(stations), make_layout((0, 0, 6000, 4000)))
    turned = map_levels(make_field(stations[::-1]), make_layout((0, 0, 6000, 4000)))
    assert first is not None
    assert turned is not None
    assert turned.plane == pytest.approx(first.plane)
    assert turned.straightedge_gap_mm == pytest.approx(first.straightedge_gap_mm)
    assert sum(p.area_mm2 for p in turned.ponds) == pytest.approx(sum(p.area_mm2 for p in first.ponds))
