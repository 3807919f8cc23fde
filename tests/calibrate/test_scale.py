"""From photo and field book to a scale, by every method, and every refusal with its reason."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.calibrate import calibrate_photo, calibrate_photos, mm_per_px_in_the_middle
from analyzer.calibrate.limits import scale_limits
from analyzer.errors import CalibrationError, ManyProblems
from analyzer.records import MarkDistance, PhotoEntry, PhotoMark
from analyzer.terms import ScaleMethod
from analyzer.units import Reading

SIZE = (600, 800)
PLACES = {
    1: (500, 500, 10, 1.0),
    2: (2400, 450, -20, 1.0),
    3: (2450, 1800, 95, 1.0),
    4: (450, 1750, 180, 1.0),
}
ENTRY = PhotoEntry("p1", "p1.jpg")
CORNERS = {"A": (0, 0), "B": (3000, 0), "C": (3000, 2400), "D": (0, 2400)}


@pytest.fixture(scope="module")
def camera(kit):
    return kit.camera(eye_mm=(1500, -600, 2700), look_at_mm=(1500, 1150), focal_px=640, size=SIZE)


@pytest.fixture(scope="module")
def photo(kit, camera):
    return kit.photo(kit.draw(camera, PLACES, SIZE))


def spots_in_view(camera, outline=((0, 0), (3000, 0), (3000, 2400), (0, 2400))):
    x, y = np.meshgrid(np.linspace(0, 3000, 13), np.linspace(0, 2400, 11))
    plan = np.column_stack([x.ravel(), y.ravel()])
    px = frames.apply(camera, plan)
    shown = ((px >= 0) & (px <= np.array(SIZE) - 1)).all(axis=1)
    return plan[shown], px[shown]


def errors_mm(calibration, camera):
    plan, px = spots_in_view(camera)
    return np.linalg.norm(frames.apply(calibration.plan_from_px, px) - plan, axis=1)


def test_four_sheets(kit, camera, photo) -> None:
    found = calibrate_photo(photo, ENTRY, kit.field(PLACES))
    assert found.method is ScaleMethod.MARKER_SHEETS
    assert found.has_plan_position
    assert np.linalg.det(found.plan_from_px) > 0
    assert errors_mm(found, camera).max() < 12
    # Two standard uncertainties cover every spot in view (worst spot stated).
    assert errors_mm(found, camera).max() < 2 * found.position_u_mm
    assert found.scale_u_rel < 0.012
    assert found.position_u_mm < 25
    assert [t.name for t in found.tie_points] == ["sheet 1", "sheet 2", "sheet 3", "sheet 4"]
    assert found.residual_rms_mm < 8
    assert found.trusted_mm == ()


@pytest.mark.parametrize("numbers", [(1, 3), (2, 3, 4)])
def test_fewer_sheets_without_turns(kit, camera, photo, numbers) -> None:
    field = kit.field({n: PLACES[n] for n in numbers}, with_turn=False)
    found = calibrate_photo(photo, ENTRY, field)
    assert errors_mm(found, camera).max() < 2.5 * found.position_u_mm
    assert found.position_u_mm < 40


def test_a_turned_photo_changes_nothing(kit, camera, photo) -> None:
    turned = kit.photo(np.ascontiguousarray(np.rot90(photo.rgb, 1)))
    found = calibrate_photo(turned, ENTRY, kit.field(PLACES))
    plan, px = spots_in_view(camera)
    turned_px = np.column_stack([SIZE[1] - 1 - px[:, 1], px[:, 0]])
    error = np.linalg.norm(frames.apply(found.plan_from_px, turned_px) - plan, axis=1)
    assert error.max() < 12


def test_one_sheet_is_trusted_near_itself(kit) -> None:
    camera = kit.camera(eye_mm=(1200, -500, 1500), look_at_mm=(1300, 900), focal_px=640, size=SIZE)
    place = {1: (1200, 900, 25, 1.0)}
    photo = kit.photo(kit.draw(camera, place, SIZE))
    found = calibrate_photo(photo, ENTRY, kit.field(place, with_ruler=True))
    assert len(found.trusted_mm) > 8
    assert found.scale_u_rel <= scale_limits().scale_u_greatest
    assert any("scaled well enough" in n for n in found.notes)
    four = calibrate_photo(
        kit.photo(kit.draw(camera, PLACES, SIZE)), ENTRY, kit.field(PLACES, with_ruler=True)
    )
    assert four.scale_u_rel < found.scale_u_rel
    near = np.array([[1100.0, 800.0], [1300.0, 1000.0]])
    back = frames.apply(found.plan_from_px, frames.apply(camera, near))
    assert np.linalg.norm(back - near, axis=1).max() < 20


def test_the_focal_length_of_an_uncropped_picture_helps_a_single_sheet(kit) -> None:
    camera = kit.camera(eye_mm=(1200, -500, 1500), look_at_mm=(1300, 900), focal_px=640, size=SIZE)
    place = {1: (1200, 900, 25, 1.0)}
    rgb = kit.draw(camera, place, SIZE)
    field = kit.field(place, with_ruler=True)

    def share(found) -> float:
        x, y = np.meshgrid(np.linspace(0, 3000, 31), np.linspace(0, 2400, 25))
        if not found.trusted_mm:
            return 1.0
        return float(shapely.contains_xy(shapely.Polygon(found.trusted_mm), x, y).mean())

    bare = calibrate_photo(kit.photo(rgb), ENTRY, field)
    known = calibrate_photo(kit.photo(rgb, focal_px=650.0), ENTRY, field)
    assert share(known) > 1.5 * share(bare)
    assert any("not cropped" in n for n in known.notes)
    spots = np.array([[700.0, 1700.0], [1900.0, 1900.0], [1300.0, 300.0]])
    error = frames.apply(known.plan_from_px, frames.apply(camera, spots)) - spots
    assert np.linalg.norm(error, axis=1).max() < 2 * known.position_u_mm
    cropped = calibrate_photo(kit.photo(np.ascontiguousarray(rgb[:, 20:760]), focal_px=650.0), ENTRY, field)
    assert not any("not cropped" in n for n in cropped.notes)


@pytest.mark.parametrize(("wrong", "used"), [(1.0, True), (1.5, False), (2.0, False)])
def test_a_focal_length_that_does_not_fit_is_left_out(kit, wrong: float, used: bool) -> None:
    # One and a half times the real focal length and more, as after a crop that kept the file's entry.
    camera = kit.camera(eye_mm=(1200, -500, 1500), look_at_mm=(1300, 900), focal_px=640, size=SIZE)
    places = {1: (1100, 700, 25, 1.0), 2: (1400, 700, 0, 1.0)}
    rgb = kit.draw(camera, places, SIZE)
    found = calibrate_photo(kit.photo(rgb, focal_px=640.0 * wrong), ENTRY, kit.field(places))
    without = calibrate_photo(kit.photo(rgb), ENTRY, kit.field(places))
    assert any("not cropped" in n for n in found.notes) is used
    assert (found.trusted_mm == without.trusted_mm) is not used


def test_printed_scale_is_corrected_by_the_ruler_and_refused_without_it(kit, camera) -> None:
    small = {n: (x, y, t, 0.95) for n, (x, y, t, _) in PLACES.items()}
    photo = kit.photo(kit.draw(camera, small, SIZE))
    corrected = calibrate_photo(photo, ENTRY, kit.field(small, with_ruler=True))
    assert errors_mm(corrected, camera).max() < 12
    assert any("printed at 95.0 %" in n for n in corrected.notes)
    with pytest.raises(CalibrationError, match=r"printed at the wrong scale, 9[45]"):
        calibrate_photo(photo, ENTRY, kit.field(small))


def test_a_partly_hidden_sheet_is_used_and_told(kit, camera, photo) -> None:
    rgb = photo.rgb.copy()
    r, c = frames.apply(camera, [[PLACES[1][0] - 45, PLACES[1][1] + 60]])[0].astype(int)
    rgb[r - 6 : r + 6, c - 6 : c + 6] = 100
    found = calibrate_photo(kit.photo(rgb), ENTRY, kit.field(PLACES))
    assert any("sheet 1 is partly hidden or cut off: 3 of 4" in n for n in found.notes)
    assert errors_mm(found, camera).max() < 15


def picks(camera, places: dict[str, tuple[float, float]], plan: bool = False):
    seen = frames.apply(camera, list(places.values()))
    return tuple(
        PhotoMark(name, float(r), float(c), place if plan else None)
        for (name, place), (r, c) in zip(places.items(), seen, strict=True)
    )


@pytest.fixture(scope="module")
def wide(kit):
    return kit.camera(eye_mm=(1500, -1500, 2700), look_at_mm=(1500, 1150), focal_px=560, size=SIZE)


@pytest.fixture(scope="module")
def bare(kit, wide):
    return kit.photo(kit.draw(wide, {}, SIZE))


def test_four_named_corners(kit, wide, bare) -> None:
    found = calibrate_photo(bare, replace(ENTRY, marks=picks(wide, CORNERS)), kit.field())
    assert found.method is ScaleMethod.MARKED_POINTS
    assert errors_mm(found, wide).max() < 0.5
    assert found.residual_rms_mm < 0.01
    assert any("nothing checks" in n for n in found.notes)


def test_doubled_plan_doubles_lengths(kit, wide, bare) -> None:
    entry = replace(ENTRY, marks=picks(wide, CORNERS))
    half = kit.field(outline=tuple((0.5 * x, 0.5 * y) for x, y in CORNERS.values()))
    single, double = calibrate_photo(bare, entry, half), calibrate_photo(bare, entry, kit.field())
    _, px = spots_in_view(wide)
    ends = [frames.apply(c.plan_from_px, px) for c in (single, double)]
    np.testing.assert_allclose(ends[1], 2 * ends[0], atol=0.1)
    assert mm_per_px_in_the_middle(bare, double) == pytest.approx(2 * mm_per_px_in_the_middle(bare, single))
    large = kit.field(outline=tuple((4 * x, 4 * y) for x, y in CORNERS.values()))
    with pytest.raises(CalibrationError, match=r"one pixel covers \d\d mm"):
        calibrate_photo(bare, entry, large)


def test_marks_tied_by_tape_to_two_corners(kit, wide, bare) -> None:
    places = {"A": (0, 0), "B": (3000, 0), "x": (2700, 1900), "y": (400, 2100)}
    names = list(places)
    distances = tuple(
        MarkDistance(a, b, Reading(float(np.hypot(*np.subtract(places[a], places[b]))), None, ""))
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    )
    entry = replace(ENTRY, marks=picks(wide, places), distances=distances)
    found = calibrate_photo(bare, entry, kit.field())
    assert errors_mm(found, wide).max() < 1.0
    missing = replace(entry, distances=distances[:3])
    with pytest.raises(CalibrationError, match="tape distances do not fix where x, y lie"):
        calibrate_photo(bare, missing, kit.field())


def test_distances_alone_have_no_place_in_plan(kit, wide, bare) -> None:
    places = {"p": (300, 300), "q": (2700, 300), "r": (2700, 1900), "s": (400, 2100)}
    names = list(places)
    distances = tuple(
        MarkDistance(a, b, Reading(float(np.hypot(*np.subtract(places[a], places[b]))), None, ""))
        for i, a in enumerate(names)
        for b in names[i + 1 :]
    )
    entry = replace(ENTRY, marks=picks(wide, places), distances=distances)
    with pytest.raises(CalibrationError, match="no place in plan"):
        calibrate_photo(bare, entry, kit.field())
    close = calibrate_photo(bare, replace(entry, closeup_of="C1"), kit.field())
    assert not close.has_plan_position
    px = frames.apply(wide, [(800.0, 700.0), (1800.0, 1500.0)])
    ends = frames.apply(close.plan_from_px, px)
    assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(np.hypot(1000, 800), rel=0.01)


def test_two_points_need_the_statement(kit) -> None:
    camera = kit.camera(eye_mm=(1500, 1200, 2600), look_at_mm=(1500, 1200), focal_px=600, size=SIZE)
    photo = kit.photo(kit.draw(camera, {}, SIZE))
    two = {"x": (700, 1200), "y": (2300, 1200)}
    entry = replace(ENTRY, marks=picks(camera, two, plan=True))
    with pytest.raises(CalibrationError, match="straight_down = true"):
        calibrate_photo(photo, entry, kit.field())
    found = calibrate_photo(photo, replace(entry, straight_down=True), kit.field())
    assert found.method is ScaleMethod.TWO_POINTS
    assert found.scale_u_rel > 0.02
    assert errors_mm(found, camera).max() < 2
    assert any("2 degrees" in n for n in found.notes)
    no_place = replace(ENTRY, marks=picks(camera, two), straight_down=True)
    no_place = replace(no_place, distances=(MarkDistance("x", "y", Reading(1600.0, None, "1600 mm")),))
    with pytest.raises(CalibrationError, match="no place in plan"):
        calibrate_photo(photo, no_place, kit.field())
    close = calibrate_photo(photo, replace(no_place, closeup_of="C1"), kit.field())
    assert not close.has_plan_position
    assert mm_per_px_in_the_middle(photo, close) == pytest.approx(2600 / 600, rel=1e-3)


def test_close_up_of_one_sheet(kit) -> None:
    place = {2: (600, 500, 33, 1.0)}
    camera = kit.camera(eye_mm=(560, 300, 500), look_at_mm=(580, 480), focal_px=640, size=SIZE)
    photo = kit.photo(kit.draw(camera, place, SIZE))
    found = calibrate_photo(photo, replace(ENTRY, closeup_of="C1"), kit.field())
    assert not found.has_plan_position
    assert found.position_u_mm == 0.0
    ends = frames.apply(found.plan_from_px, frames.apply(camera, [(560.0, 380.0), (640.0, 420.0)]))
    assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(np.hypot(80, 40), rel=0.01)


def test_refusals_say_what_to_do(kit, camera, photo, bare) -> None:
    with pytest.raises(CalibrationError, match="no marker sheet was found"):
        calibrate_photo(bare, ENTRY, kit.field(PLACES))
    with pytest.raises(CalibrationError, match="there are no marker sheets and no point is marked"):
        calibrate_photo(bare, ENTRY, kit.field())
    with pytest.raises(CalibrationError, match="does not say where it lay"):
        calibrate_photo(photo, ENTRY, kit.field())
    flipped = kit.photo(np.ascontiguousarray(photo.rgb[:, ::-1]))
    with pytest.raises(CalibrationError, match="mirrored"):
        calibrate_photo(flipped, ENTRY, kit.field(PLACES))
    one = {1: (1200, 900, 25, 1.0)}
    alone = kit.photo(kit.draw(camera, one, SIZE))
    with pytest.raises(CalibrationError, match="sheet 1 alone does not say how it lies"):
        calibrate_photo(alone, ENTRY, kit.field(one, with_turn=False))


def test_a_misplaced_sheet_is_refused(kit, photo) -> None:
    wrong = PLACES | {3: (2450, 1450, 95, 1.0)}
    with pytest.raises(CalibrationError, match="sheet 3 contradicts"):
        calibrate_photo(photo, ENTRY, kit.field(wrong))


def test_all_problems_of_a_job_at_once(kit, photo, bare) -> None:
    field = replace(kit.field(PLACES), photos=(ENTRY, PhotoEntry("p2", "p2.jpg"), PhotoEntry("p3", "p3.jpg")))
    bad = [kit.photo(bare.rgb, "p2"), kit.photo(bare.rgb, "p3")]
    assert len(calibrate_photos([photo], field)) == 1
    with pytest.raises(ManyProblems) as refused:
        calibrate_photos([photo, *bad], field)
    assert len(refused.value.problems) == 2
    with pytest.raises(CalibrationError, match="does not name it"):
        calibrate_photos([kit.photo(bare.rgb, "p9")], field)
