"""Whole cracks: sums over branches, panels, joints, names, maps, doubled scale, nothing twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.measure import lay_out_panels, size_cracks
from analyzer.records import CrackBranch, CrackEntry, CrackTrace, Detection
from analyzer.terms import Answer, DetectMethod, Distress, Grade

SIZE = 300


def _detection(cracks, joints=()) -> Detection:
    return Detection(tuple(joints), tuple(cracks), (), DetectMethod.FILTERS, None, None, 0.5)


def _job(kit, drawn, mm_per_px=1.0, joints=(), scale_u_rel=0.004, typed=()):
    """One drawn picture as a slab of its own size, seen straight down."""
    plan = kit.straight_down(mm_per_px)
    side = SIZE * mm_per_px
    field = kit.field_book([(0, -side), (side, -side), (side, 0), (0, 0)])
    field = replace(field, cracks=tuple(CrackEntry(name) for name in typed))
    layout = lay_out_panels(joints, field, None, scale_u_rel)
    chain = frames.apply(plan, kit.pixel_chain(drawn.center_px))
    detection = _detection([kit.crack(chain)], joints)
    return size_cracks(detection, layout, [drawn.photo], [kit.calibration(plan, scale_u_rel)], None, field)


@pytest.fixture(scope="module")
def drawn(kit):
    return kit.draw(6.0, 12.0, size=SIZE, seed=3, share=0.49)


def test_one_crack_is_measured(kit, drawn) -> None:
    (crack,) = _job(kit, drawn).cracks
    assert crack.length_mm == pytest.approx(0.98 * SIZE, rel=0.01)
    assert crack.width_mean_mm == pytest.approx(6.0, abs=0.3)
    assert crack.width_max_mm >= crack.width_mean_mm
    # Rows run down and y up: 12 degrees in (col, row) terms is read anticlockwise from plan x.
    assert crack.direction_deg == pytest.approx(12.0, abs=1.0)
    assert crack.panels == ("P1",)
    assert crack.splits_panel is Answer.YES
    assert crack.grade is Grade.MEASURED
    assert crack.width_source == "photo P1"
    assert crack.length_u_mm > 0.004 * crack.length_mm


def test_doubled_scale_doubles_lengths_and_widths(kit, drawn) -> None:
    (one,), (two,) = _job(kit, drawn).cracks, _job(kit, drawn, 2.0).cracks
    assert two.length_mm == pytest.approx(2 * one.length_mm, rel=0.005)
    assert two.width_mean_mm == pytest.approx(2 * one.width_mean_mm, rel=0.005)
    assert two.length_u_mm == pytest.approx(2 * one.length_u_mm, rel=0.02)


def test_branches_add_up_and_a_split_trace_gives_the_same_crack(kit, drawn) -> None:
    (whole,) = _job(kit, drawn).cracks
    plan = kit.straight_down(1.0)
    chain = frames.apply(plan, kit.pixel_chain(drawn.center_px))
    half = len(chain) // 2
    parts = CrackTrace(
        "C1", (CrackBranch(chain[: half + 1], 0.9, 0, 1), CrackBranch(chain[half:], 0.7, 1, 2)), 0.8
    )
    field = kit.field_book([(0, -SIZE), (SIZE, -SIZE), (SIZE, 0), (0, 0)])
    layout = lay_out_panels((), field, None, 0.0)
    (crack,) = size_cracks(
        _detection([parts]), layout, [drawn.photo], [kit.calibration(plan, 0.004)], None, field
    ).cracks
    assert crack.length_mm == pytest.approx(sum(b.length_mm for b in crack.branches))
    assert crack.length_mm == pytest.approx(whole.length_mm, rel=0.005)
    assert crack.width_mean_mm == pytest.approx(whole.width_mean_mm, abs=0.1)
    assert crack.probability == pytest.approx(0.8, abs=0.01)


def test_a_crack_over_a_joint_is_one_crack_on_two_panels(kit, drawn) -> None:
    joints = [kit.joint("J1", (150, -SIZE), (150, 0))]
    (crack,) = _job(kit, drawn, joints=joints).cracks
    assert crack.panels == ("P1", "P2")
    assert crack.along_joint is None


def test_a_crack_in_a_joint_is_that_joints_crack(kit) -> None:
    drawn = kit.draw(5.0, 0.0, size=SIZE, seed=3, share=0.49)
    joints = [kit.joint("J1", (0, -145), (SIZE, -160))]
    (crack,) = _job(kit, drawn, joints=joints).cracks
    assert crack.along_joint == "J1"


def test_a_name_typed_on_site_is_not_given_to_another_crack(kit, drawn) -> None:
    assert _job(kit, drawn).cracks[0].crack_id == "C1"
    assert _job(kit, drawn, typed=("C1",)).cracks[0].crack_id == "C2"
    assert _job(kit, drawn, typed=("C1", "C2")).cracks[0].crack_id == "C3"


def test_map_cracking_is_one_area_and_its_cracks_say_so(kit) -> None:
    from scipy.spatial import Voronoi

    rng = np.random.default_rng(2)
    mesh = Voronoi(rng.uniform(200, 1200, (80, 2)))
    branches = []
    for a, b in mesh.ridge_vertices:
        p, q = mesh.vertices[a], mesh.vertices[b]
        if min(a, b) >= 0 and min(*p, *q) > 200 and max(*p, *q) < 1200 and np.hypot(*(q - p)) > 15:
            n = int(np.hypot(*(q - p)))
            branches.append(CrackBranch(np.linspace(p, q, n + 1), 0.8, a, b))
    far = np.linspace((100, 1800), (1900, 1850), 1801)
    traces = [CrackTrace("C1", tuple(branches), 0.8), kit.crack(far, "C2")]
    field = kit.field_book([(0, 0), (2000, 0), (2000, 2000), (0, 2000)])
    layout = lay_out_panels((), field, None, 0.0)
    survey = size_cracks(_detection(traces), layout, [], [], None, field)
    (patch,) = survey.map_areas
    assert patch.crack_ids == ("C1",)
    assert patch.panel_id == "P1"
    hull = shapely.convex_hull(shapely.MultiLineString([b.points_mm for b in branches])).area
    assert patch.area_mm2 == pytest.approx(hull, rel=0.12)
    words = {c.crack_id: c.distress for c in survey.cracks}
    assert words["C1"] is Distress.MAP_CRACKING
    assert words["C2"] is not Distress.MAP_CRACKING


def test_a_through_crack_is_not_swallowed_by_a_map(kit) -> None:
    # A mesh whose trace also holds one long branch: the branch stays a crack of its own length.
    from scipy.spatial import Voronoi

    rng = np.random.default_rng(2)
    mesh = Voronoi(rng.uniform(200, 900, (50, 2)))
    branches = []
    for a, b in mesh.ridge_vertices:
        p, q = mesh.vertices[a], mesh.vertices[b]
        if min(a, b) >= 0 and min(*p, *q) > 200 and max(*p, *q) < 900 and np.hypot(*(q - p)) > 15:
            branches.append(CrackBranch(np.linspace(p, q, int(np.hypot(*(q - p))) + 1), 0.8, a, b))
    total = sum(np.hypot(*(b.points_mm[-1] - b.points_mm[0])) for b in branches)
    start = branches[0].points_mm[0]
    end = start + np.array([total, 0.0])
    long = CrackBranch(np.linspace(start, end, int(total) + 1), 0.9, branches[0].start_node, 10_000)
    field = kit.field_book([(0, 0), (total + 1500, 0), (total + 1500, 2000), (0, 2000)])
    layout = lay_out_panels((), field, None, 0.0)
    trace = CrackTrace("C1", (*branches, long), 0.8)
    survey = size_cracks(_detection([trace]), layout, [], [], None, field)
    (crack,) = survey.cracks
    assert len(survey.map_areas) == 1
    assert crack.distress is not Distress.MAP_CRACKING
    assert crack.length_mm == pytest.approx(total, rel=0.01)
    assert survey.map_areas[0].length_mm == pytest.approx(total, rel=0.05)


def test_nothing_found_is_an_empty_survey(kit) -> None:
    field = kit.field_book([(0, 0), (1000, 0), (1000, 1000), (0, 1000)])
    survey = size_cracks(_detection([]), lay_out_panels((), field, None, 0.0), [], [], None, field)
    assert survey.cracks == ()
    assert survey.map_areas == ()
