"""The yardstick of the accuracy figures, itself checked on made-up lines and cameras."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parent))

import bench_accuracy
import drawn_truth as dt

from analyzer.training.render.projection import look_at_camera

OUTLINE = np.array([[0.0, 0.0], [2000.0, 0.0], [2000.0, 1000.0], [0.0, 1000.0]])
LINE = np.array([[100.0, 500.0], [1900.0, 500.0]])


def straight_down(
    shift_mm: float = 0.0, scale: float = 1.0, hidden: shapely.Geometry | None = None
) -> dt.View:
    """A photo from above, 2 mm per px; the tool's scale of it may be shifted and stretched."""
    px_from_plan = np.array([[0.0, -0.5, 500.0], [0.5, 0.0, 0.0], [0.0, 0.0, 1.0]])
    wrong = np.array([[scale, 0.0, shift_mm], [0.0, scale, 0.0], [0.0, 0.0, 1.0]])
    own = wrong @ np.linalg.inv(px_from_plan)
    return dt.View(px_from_plan, (501, 1001), hidden or shapely.Polygon(), own)


def branch(points: np.ndarray, length: float | None = None, width: float | None = None) -> SimpleNamespace:
    """A measured branch as the record has it."""
    line = shapely.LineString(points)
    return SimpleNamespace(
        points_mm=tuple(map(tuple, points)), length_mm=length or line.length, width_mean_mm=width
    )


def test_pixel_size_of_a_tilted_view_equals_the_renderer_s() -> None:
    camera = look_at_camera((1000.0, -500.0, 2000.0), (1000.0, 500.0), 900.0, (900, 1200))
    view = dt.View(camera.px_from_plan, (900, 1200), shapely.Polygon(), camera.plan_from_px)
    points = np.array([[300.0, 200.0], [1500.0, 900.0]])
    expected = [camera.mm_per_px(px) for px in camera.project(points)]
    assert view.mm_per_px(points) == pytest.approx(expected, rel=2e-3)


def test_width_in_pixels_is_taken_across_the_line() -> None:
    samples = dt.sample_lines([LINE], [np.array([8.0, 8.0])], [straight_down()], OUTLINE)
    assert samples.width_px == pytest.approx(4.0)
    assert samples.length_mm == pytest.approx(1800.0, rel=0.01)


def test_what_is_hidden_or_out_of_view_does_not_count() -> None:
    hidden = shapely.box(200, 0, 300, 1000)  # rows and columns: rows 200 to 300 hold the line's row 250
    view = straight_down(hidden=hidden)
    assert len(dt.sample_lines([LINE], [np.ones(2)], [view], OUTLINE).line) == 0
    beyond = np.array([[1500.0, 500.0], [3000.0, 500.0]])
    samples = dt.sample_lines([beyond], [np.ones(2)], [straight_down()], OUTLINE)
    assert samples.points_mm[:, 0].max() < 2000.0
    assert samples.length_mm == pytest.approx(495.0, abs=8.0)


@pytest.mark.parametrize(("off_px", "found"), [(4.5, 1.0), (5.5, 0.0)])
def test_five_pixels_part_found_from_missed(off_px: float, found: float) -> None:
    samples = dt.sample_lines([LINE], [np.ones(2)], [straight_down()], OUTLINE)
    moved = shapely.LineString(LINE + np.array([0.0, 2.0 * off_px]))
    assert dt.found_share(samples, moved).mean() == found


def test_a_scale_that_is_off_is_no_missed_line() -> None:
    view = straight_down(shift_mm=40.0)
    across = np.array([[1000.0, 100.0], [1000.0, 900.0]])
    samples = dt.sample_lines([across], [np.ones(2)], [view], OUTLINE)
    assert dt.found_share(samples, shapely.LineString(across + np.array([40.0, 0.0]))).all()
    assert not dt.found_share(samples, shapely.LineString(across)).any()


def test_false_length_is_what_lies_beside_all_true_lines() -> None:
    found = [LINE, np.array([[100.0, 900.0], [1000.0, 900.0]])]
    wrong, whole = dt.false_length(found, shapely.LineString(LINE), [straight_down()])
    assert whole == pytest.approx(2700.0)
    assert wrong == pytest.approx(900.0, rel=0.01)


def test_a_found_piece_is_held_against_its_own_stretch_of_the_true_line() -> None:
    lines = [dt.dense(LINE)]
    view = straight_down()
    samples = dt.sample_lines(lines, [np.full(len(lines[0]), 8.0)], [view], OUTLINE)
    piece = branch(np.array([[400.0, 501.0], [1000.0, 501.0]]), length=630.0, width=9.0)
    ((measured, true, error),) = dt.compare_branches([piece], lines, lines, samples, [view])
    assert (measured, true) == (630.0, pytest.approx(600.0))
    assert error == pytest.approx(0.5)  # 1 mm at 2 mm per px
    assert not list(
        dt.compare_branches(
            [branch(np.array([[400.0, 700.0], [1000.0, 700.0]]))], lines, lines, samples, [view]
        )
    )


def test_true_length_is_in_true_millimetres_whatever_the_scale() -> None:
    lines = [dt.dense(LINE)]
    view = straight_down(scale=1.1)
    scaled = [dt.as_scaled(line, [view]) for line in lines]
    on = dt.spans(np.array([[440.0, 550.0], [1100.0, 550.0]]), lines, scaled, 10.0)
    assert on is not None
    assert on[2] - on[1] == pytest.approx(600.0)


def test_every_shipped_sample_has_figures_to_print() -> None:
    names = sorted(p.parent.name for p in bench_accuracy.SAMPLES.glob("*/truth.json"))
    assert len(names) == 6
    assert bench_accuracy.misses(bench_accuracy.Score("a", "network", matched_error=0.031)) == [
        "matched length off by over 3 %"
    ]
    text = bench_accuracy._text(bench_accuracy.Score("a", "network", headline=("patch", "removal")))
    assert "DIFFERS" in text
