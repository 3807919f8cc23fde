"""Both ways into the stage, by the plain filters (no weights needed), on drawn slabs."""

import subprocess
import sys

import cv2
import numpy as np
import pytest
from skimage import data

from analyzer.detect.picture import detect_picture, find_lines
from analyzer.errors import PictureError
from analyzer.frames import apply, grid_from_plan
from analyzer.records.picture import PlanGrid, PlanImage, PlanView
from analyzer.terms import DetectMethod

FILTERS = DetectMethod.FILTERS
OUTLINE = [(0.0, 0.0), (2000.0, 0.0), (2000.0, 1400.0), (0.0, 1400.0)]
GRID = PlanGrid(x0_mm=-100.0, y0_mm=1500.0, mm_per_px=3.0, n_rows=534, n_cols=734)
CRACK_MM = np.array([(300, 200), (420, 330), (500, 520), (640, 640), (700, 860), (850, 1100), (900, 1400)])


def slab_picture(seed=0):
    """Plan picture of a slab with one crack, one joint at x = 1400 mm and grass around it."""
    rng = np.random.default_rng(seed)
    gray = 160 + cv2.GaussianBlur(rng.normal(0, 8, (GRID.n_rows, GRID.n_cols)), (0, 0), 0.8)
    to_px = grid_from_plan(GRID)
    lines = np.zeros(gray.shape, np.float32)
    crack = np.rint(apply(to_px, CRACK_MM)[:, ::-1]).astype(np.int32)
    cv2.polylines(lines, [crack[:, None]], False, 1.0, 3)
    joint = np.rint(apply(to_px, [(1400, 0), (1400, 1400)])[:, ::-1]).astype(np.int32)
    cv2.polylines(lines, [joint[:, None]], False, 1.0, 3)
    gray -= 60 * cv2.GaussianBlur(lines, (0, 0), 0.6)
    inside = np.zeros(gray.shape, np.uint8)
    ring = np.rint(apply(to_px, OUTLINE)[:, ::-1]).astype(np.int32)
    cv2.fillPoly(inside, [ring[:, None]], 1)
    grass = rng.normal(90, 40, gray.shape)
    gray = np.where(inside > 0, gray, grass)
    rgb = np.repeat(np.clip(gray, 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)
    return rgb, inside.astype(bool)


def plan_of(*views):
    n = np.zeros((2, 2), np.int16)
    return PlanImage(GRID, tuple(views), (), GRID, n, 2.8e6, 2.8e6)


def whole_view(rgb, best):
    return PlanView("p1", rgb, best, 0, 0)


def halves(rgb, best):
    """Two photos with a seam at column 350; the second is darker."""
    left, right = best.copy(), best.copy()
    left[:, 350:] = False
    right[:, :350] = False
    first = rgb.copy()
    first[:, 500:] = 0
    second = (rgb * 0.6).astype(np.uint8)
    return (
        PlanView("p1", first, left, 0, 0),
        PlanView("p2", second[:, 200:].copy(), right[:, 200:].copy(), 0, 200),
    )


def length_mm(trace):
    return sum(np.hypot(*np.diff(b.points_mm[::5], axis=0).T).sum() for b in trace.branches)


def test_a_slab_gives_its_crack_and_its_joint_in_plan():
    rgb, best = slab_picture()
    found = find_lines(plan_of(whole_view(rgb, best)), OUTLINE, FILTERS)
    true = np.hypot(*np.diff(CRACK_MM, axis=0).T).sum()
    assert [j.joint_id for j in found.joints] == ["J1"]
    assert found.joints[0].points_mm[:, 0] == pytest.approx(1400.0, abs=6.0)
    assert np.ptp(found.joints[0].points_mm[:, 1]) > 1300
    assert found.cracks[0].crack_id == "C1"
    assert sum(length_mm(c) for c in found.cracks) == pytest.approx(true, rel=0.06)
    assert found.method is FILTERS
    assert found.slab_probability is None
    assert found.spalls == ()


def test_a_seam_between_photos_is_no_line_and_breaks_none():
    rgb, best = slab_picture()
    found = find_lines(plan_of(*halves(rgb, best)), OUTLINE, FILTERS)
    seam_mm = GRID.x0_mm + 350 * GRID.mm_per_px
    assert len(found.joints) == 1
    for c in found.cracks:
        for b in c.branches:
            assert np.mean(np.abs(b.points_mm[:, 0] - seam_mm) < 6) < 0.1
    true = np.hypot(*np.diff(CRACK_MM, axis=0).T).sum()
    assert sum(length_mm(c) for c in found.cracks) == pytest.approx(true, rel=0.08)


def test_sheets_on_the_slab_leave_no_lines():
    rgb, best = slab_picture()
    sheet_mm = [(1000.0, 300.0), (1210.0, 300.0), (1210.0, 580.0), (1000.0, 580.0)]
    sheet_px = np.rint(apply(grid_from_plan(GRID), sheet_mm)[:, ::-1]).astype(np.int32)
    cv2.fillPoly(rgb, [sheet_px[:, None]], (250, 250, 250))
    cv2.line(rgb, tuple(sheet_px[0].tolist()), tuple(sheet_px[2].tolist()), (0, 0, 0), 3)
    plain = find_lines(plan_of(whole_view(rgb, best)), OUTLINE, FILTERS)
    known = find_lines(plan_of(whole_view(rgb, best)), OUTLINE, FILTERS, ignore_mm=[sheet_mm])

    def on_sheet(detection):
        points = [b.points_mm for c in detection.cracks for b in c.branches] + [
            j.points_mm for j in detection.joints
        ]
        p = np.concatenate(points)
        return np.sum((p[:, 0] > 990) & (p[:, 0] < 1220) & (p[:, 1] > 290) & (p[:, 1] < 590))

    assert on_sheet(plain) > 0
    assert on_sheet(known) == 0


def test_numbers_do_not_depend_on_the_order_of_photos():
    rgb, best = slab_picture()
    one, two = halves(rgb, best)
    a, b = (find_lines(plan_of(*v), OUTLINE, FILTERS) for v in ((one, two), (two, one)))
    assert [c.crack_id for c in a.cracks] == [c.crack_id for c in b.cracks]
    assert all(np.array_equal(x.points_mm, y.points_mm) for x, y in zip(a.joints, b.joints, strict=True))


def test_a_bare_picture_of_any_size_from_64_px():
    tiny = np.full((64, 64, 3), 150, np.uint8)
    found = detect_picture(tiny, method=FILTERS)
    assert found.crack_mask.shape == (64, 64)
    assert found.cracks == ()


@pytest.mark.parametrize("bad", [np.zeros((63, 200, 3), np.uint8), np.zeros((80, 80), np.uint8)])
def test_a_wrong_picture_is_refused(bad):
    with pytest.raises(PictureError, match="give"):
        detect_picture(bad, method=FILTERS)


@pytest.mark.parametrize("threshold", [0.0, 1.0, 1.5, -0.2])
def test_a_threshold_outside_0_to_1_is_refused(threshold):
    with pytest.raises(PictureError, match="between 0 and 1"):
        detect_picture(np.zeros((80, 80, 3), np.uint8), method=FILTERS, threshold=threshold)


def test_gravel_is_not_full_of_long_cracks():
    """Crack-free texture from scikit-image; the filters' own weakness is bounded, not denied."""
    rgb = np.repeat(data.gravel()[:, :, None], 3, axis=2)
    found = detect_picture(rgb, method=FILTERS)
    assert np.mean(found.crack_mask > 0) < 0.05


def test_the_filters_load_no_engine():
    code = (
        "import sys, numpy as np; from analyzer.detect import detect_picture; "
        "from analyzer.terms import DetectMethod; "
        "detect_picture(np.full((80, 80, 3), 120, np.uint8), method=DetectMethod.FILTERS); "
        "sys.exit('onnxruntime' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
