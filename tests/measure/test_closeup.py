"""Close-ups: the same crack on more pixels, the right crack found, nothing invented."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from analyzer.errors import PictureError
from analyzer.measure import refine_by_closeup, refine_width
from analyzer.records import (
    BranchSize,
    CrackEntry,
    CrackSize,
    CrackSurvey,
    Photo,
    PhotoEntry,
    PictureTraces,
    PxBranch,
    ScoreMaps,
)
from analyzer.terms import Answer, DetectMethod, Distress, Grade

LINE = ((0.0, 0.0), (900.0, 50.0))


def _crack(name="C1", line=LINE, **changes) -> CrackSize:
    branch = BranchSize(line, 900.0, 5.0, None, None, None, None, 2.5, 3.0, "P1", 0.9)
    size = CrackSize(
        name, ("P1",), Distress.TRANSVERSE_CRACKING, 900.0, 5.0, None, None, None, None, 2.5, 3.0, Answer.NO,
        None, (branch,), 0.9, Grade.MEASURED, "photo P1",
    )  # fmt: skip
    return replace(size, **changes)


def _closeup(kit, width_px=10.0, mm_per_px=0.1, seed=2):
    drawn = kit.draw(width_px, 35.0, size=240, seed=seed, texture=0.04)
    photo = replace(drawn.photo, photo_id="K1")
    scale = replace(kit.calibration(kit.straight_down(mm_per_px), 0.01, "K1"), has_plan_position=False)
    return photo, scale, (PxBranch(kit.pixel_chain(drawn.center_px), 0.9, 0, 1),)


def _traces(branches, shape=(240, 240)) -> PictureTraces:
    blank = np.zeros(shape, np.uint8)
    maps = ScoreMaps(blank, blank, DetectMethod.FILTERS)
    return PictureTraces((branches,), (), blank, blank, maps, None, 0.5)


def test_a_closeup_measures_what_the_overview_could_not(kit) -> None:
    refined = refine_width(_crack(), *_closeup(kit))
    assert refined.width_mean_mm == pytest.approx(1.0, abs=0.05)
    assert refined.width_mean_u_mm < 0.1
    assert refined.width_source == "close-up K1"
    assert refined.width_upper_mm is None
    assert refined.length_mm == 900.0
    assert refined.disagreement is None


def test_a_greater_width_elsewhere_is_kept_and_told(kit) -> None:
    seen = _crack(width_mean_mm=2.0, width_mean_u_mm=0.3, width_max_mm=4.0, width_max_u_mm=0.4)
    refined = refine_width(seen, *_closeup(kit))
    assert refined.width_mean_mm == pytest.approx(1.0, abs=0.05)
    assert refined.width_max_mm == 4.0
    assert "K1" in refined.disagreement


def test_a_crack_too_wide_for_the_windows_is_read_on_a_reduced_copy(kit) -> None:
    photo, scale, branches = _closeup(kit, width_px=36.0, mm_per_px=0.1)
    big = cv2.resize(photo.rgb, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    big_photo = Photo("K1", "x", big, "0", 1)
    coarse_from_fine = np.array([[0.25, 0.0, -0.375], [0.0, 0.25, -0.375], [0.0, 0.0, 1.0]])
    big_scale = replace(scale, plan_from_px=scale.plan_from_px @ coarse_from_fine)
    fine = 4 * branches[0].points_px + 1.5
    refined = refine_width(_crack(), big_photo, big_scale, (PxBranch(fine, 0.9, 0, 1),))
    assert refined.width_mean_mm == pytest.approx(3.6, abs=0.1)


def test_an_unreadable_closeup_changes_nothing(kit) -> None:
    photo, scale, branches = _closeup(kit)
    blank = replace(photo, rgb=np.full_like(photo.rgb, 120))
    assert refine_width(_crack(), blank, scale, branches) == _crack()


def test_a_trace_outside_the_picture_is_refused(kit) -> None:
    photo, scale, branches = _closeup(kit)
    wrong = PxBranch(branches[0].points_px + 500, 0.9, 0, 1)
    with pytest.raises(PictureError, match="K1"):
        refine_width(_crack(), photo, scale, (wrong,))


def test_the_nearest_crack_to_the_place_is_refined(kit) -> None:
    photo, scale, branches = _closeup(kit)
    other = _crack("C2", ((0.0, 2000.0), (900.0, 2000.0)))
    entry = PhotoEntry("K1", "k.jpg", closeup_at_mm=(400.0, 1990.0))
    field = kit.field_book([(0, 0), (3000, 0), (3000, 3000), (0, 3000)])
    survey = refine_by_closeup(
        CrackSurvey((_crack(), other), ()), entry, photo, scale, _traces(branches), field
    )
    assert [c.width_source for c in survey.cracks] == ["photo P1", "close-up K1"]


def test_a_typed_crack_lends_its_place_to_the_closeup(kit) -> None:
    photo, scale, branches = _closeup(kit)
    field = kit.field_book([(0, 0), (3000, 0), (3000, 3000), (0, 3000)])
    field = replace(field, cracks=(CrackEntry("hall", at_mm=(500.0, 30.0)),))
    entry = PhotoEntry("K1", "k.jpg", closeup_of="hall")
    survey = refine_by_closeup(CrackSurvey((_crack(),), ()), entry, photo, scale, _traces(branches), field)
    assert [(c.crack_id, c.width_source) for c in survey.cracks] == [("C1", "close-up K1")]


def test_a_crack_that_only_the_closeup_shows_is_added_without_length(kit) -> None:
    photo, scale, branches = _closeup(kit)
    field = kit.field_book([(0, 0), (3000, 0), (3000, 3000), (0, 3000)])
    field = replace(field, cracks=(CrackEntry("hall", at_mm=(2500.0, 2500.0)),))
    entry = PhotoEntry("K1", "k.jpg", closeup_of="hall")
    survey = refine_by_closeup(CrackSurvey((_crack(),), ()), entry, photo, scale, _traces(branches), field)
    added = survey.cracks[-1]
    assert added.crack_id == "hall"
    assert added.length_mm is None
    assert added.branches == ()
    assert added.width_mean_mm == pytest.approx(1.0, abs=0.05)


def test_no_trace_on_the_closeup_changes_nothing(kit) -> None:
    photo, scale, _ = _closeup(kit)
    field = kit.field_book([(0, 0), (3000, 0), (3000, 3000), (0, 3000)])
    survey = CrackSurvey((_crack(),), ())
    empty = replace(_traces(()), cracks=())
    entry = PhotoEntry("K1", "k.jpg", closeup_of="C1")
    assert refine_by_closeup(survey, entry, photo, scale, empty, field) is survey
