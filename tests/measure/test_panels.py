"""Panels against plain geometry and shapely: areas, names, sides, joints, what was seen."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from analyzer.errors import FieldBookError
from analyzer.measure import lay_out_panels
from analyzer.measure.panels import EDGE_U_MM
from analyzer.records import PlanGrid, PlanImage

FT = 304.8
OUTLINE = [(0.0, 0.0), (6000.0, 0.0), (6000.0, 4000.0), (0.0, 4000.0)]


def _grid_joints(kit):
    return [
        kit.joint("J1", (2000, 60), (2000, 3900)),
        kit.joint("J2", (4000, 60), (4000, 3900)),
        kit.joint("J3", (40, 2500), (5900, 2500)),
    ]


def test_areas_sum_to_the_slab_and_names_run_from_the_house(kit) -> None:
    # House edge A-B is the bottom edge: the first row is the lower one, from left to right.
    layout = lay_out_panels(_grid_joints(kit), kit.field_book(OUTLINE), None, 0.003)
    assert [p.panel_id for p in layout.panels] == ["P1", "P2", "P3", "P4", "P5", "P6"]
    assert sum(p.area_mm2 for p in layout.panels) == pytest.approx(24e6, rel=1e-6)
    centres = [shapely.Polygon(p.outline_mm).centroid.coords[0] for p in layout.panels]
    np.testing.assert_allclose(
        centres, [(1000, 1250), (3000, 1250), (5000, 1250), (1000, 3250), (3000, 3250), (5000, 3250)], atol=5
    )
    first = layout.panels[0]
    assert (first.length_mm, first.width_mm) == pytest.approx((2500, 2000), abs=2)
    assert first.aspect == pytest.approx(1.25, rel=0.01)


@pytest.mark.parametrize(
    ("house", "first", "second"),
    [(2, (1000, 3250), (3000, 3250)), (1, (5000, 3250), (5000, 1250)), (3, (1000, 3250), (1000, 1250)),
     (None, (1000, 1250), (3000, 1250))],
)  # fmt: skip
def test_rows_follow_the_house_edge(kit, house, first, second) -> None:
    layout = lay_out_panels(_grid_joints(kit), kit.field_book(OUTLINE, house), None, 0.003)
    centres = [shapely.Polygon(p.outline_mm).centroid.coords[0] for p in layout.panels]
    np.testing.assert_allclose(centres[:2], [first, second], atol=5)


def test_joints_carry_length_and_the_panels_on_both_sides(kit) -> None:
    layout = lay_out_panels(_grid_joints(kit), kit.field_book(OUTLINE), None, 0.003)
    by_id = {j.joint_id: j for j in layout.joints}
    assert by_id["J1"].panels == ("P1", "P2", "P4", "P5")
    assert by_id["J3"].panels == ("P1", "P2", "P3", "P4", "P5", "P6")
    assert by_id["J1"].length_mm == pytest.approx(4000, abs=5)
    assert by_id["J1"].length_u_mm == pytest.approx(math.hypot(math.sqrt(2) * EDGE_U_MM, 12.0), abs=0.1)
    assert sorted(layout.spacing_mm) == pytest.approx([1500, 2000, 2000, 2000, 2500], abs=3)


def test_area_uncertainty_is_the_root_sum_of_squares(kit) -> None:
    # GUM-VOL-EX style (computed): A = a b, each side with its two edges 6 mm uncertain.
    layout = lay_out_panels((), kit.field_book([(0, 0), (3000, 0), (3000, 2000), (0, 2000)]), None, 0.0)
    (panel,) = layout.panels
    expected = math.sqrt((2000 * math.sqrt(2) * EDGE_U_MM) ** 2 + (3000 * math.sqrt(2) * EDGE_U_MM) ** 2)
    assert panel.area_u_mm2 == pytest.approx(expected)
    assert panel.side_u_mm == pytest.approx(math.sqrt(2) * EDGE_U_MM)


def test_no_joint_is_one_panel_with_the_slabs_sides_as_spacing(kit) -> None:
    layout = lay_out_panels((), kit.field_book(OUTLINE), None, 0.0)
    assert [p.panel_id for p in layout.panels] == ["P1"]
    assert sorted(layout.spacing_mm) == pytest.approx([4000, 6000])


def test_an_l_shaped_slab_is_cut_where_its_joints_are(kit) -> None:
    ell = [(0.0, 0.0), (4000.0, 0.0), (4000.0, 2000.0), (2000.0, 2000.0), (2000.0, 5000.0), (0.0, 5000.0)]
    joints = [kit.joint("J1", (100, 2000), (2000, 2000)), kit.joint("J2", (2000, 100), (2000, 2000))]
    layout = lay_out_panels(joints, kit.field_book(ell), None, 0.0)
    assert sorted(p.area_mm2 for p in layout.panels) == pytest.approx([4e6, 4e6, 6e6], rel=1e-3)


def test_strips_along_an_edge_are_no_panels(kit) -> None:
    joints = [kit.joint("J1", (3000, 0), (3000, 4000)), kit.joint("J2", (0, 3930), (6000, 3930))]
    layout = lay_out_panels(joints, kit.field_book(OUTLINE), None, 0.0)
    assert len(layout.panels) == 2
    assert sum(p.area_mm2 for p in layout.panels) == pytest.approx(24e6, rel=1e-6)


def test_seen_fraction_counts_cells_of_the_coarse_map(kit) -> None:
    coarse = PlanGrid(50.0, 3950.0, 100.0, 40, 60)
    best = np.zeros((40, 60), dtype=np.int16)
    best[:, 50:] = -1
    plan = PlanImage(coarse, (), (), coarse, best, 24e6, 20e6)
    layout = lay_out_panels([kit.joint("J1", (4000, 0), (4000, 4000))], kit.field_book(OUTLINE), plan, 0.0)
    assert [p.seen_fraction for p in layout.panels] == pytest.approx([1.0, 0.5], abs=0.01)
    assert lay_out_panels((), kit.field_book(OUTLINE), None, 0.0).panels[0].seen_fraction is None


def test_a_turned_slab_has_the_same_panels(kit) -> None:
    a = math.radians(23)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])

    def spin(points):
        return [tuple(turn @ np.array(p)) for p in points]

    joints = [kit.joint(f"J{k}", *spin(p)) for k, p in enumerate(
        [[(2000, 60), (2000, 3900)], [(4000, 60), (4000, 3900)], [(40, 2500), (5900, 2500)]], 1)]  # fmt: skip
    straight = lay_out_panels(_grid_joints(kit), kit.field_book(OUTLINE), None, 0.0)
    turned = lay_out_panels(joints, kit.field_book(spin(OUTLINE)), None, 0.0)
    for one, other in zip(straight.panels, turned.panels, strict=True):
        assert other.area_mm2 == pytest.approx(one.area_mm2, rel=1e-3)
        assert other.length_mm == pytest.approx(one.length_mm, abs=2)


def test_an_outline_that_crosses_itself_is_refused(kit) -> None:
    with pytest.raises(FieldBookError, match="outline"):
        lay_out_panels((), kit.field_book([(0, 0), (10, 10), (10, 0), (0, 10)]), None, 0.0)
