"""Sheets in drawn photos are found where they lie, and what is wrong with them is told."""

import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate import markers
from analyzer.calibrate.markers import find_sheets

SIZE = (600, 800)
PLACES = {
    1: (500, 500, 10, 1.0),
    2: (1600, 450, -20, 1.0),
    3: (1550, 1300, 95, 1.0),
    4: (450, 1250, 180, 1.0),
}


def on_plan(sheet_mm, place):
    x, y, turn_deg, scale = place
    a = np.radians(turn_deg)
    return sheet_mm @ (scale * np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])) + [x, y]


@pytest.fixture(scope="module")
def camera(kit):
    return kit.camera(eye_mm=(1050, -500, 1500), look_at_mm=(1050, 850), focal_px=620, size=SIZE)


@pytest.fixture(scope="module")
def drawn(kit, camera):
    return kit.draw(camera, PLACES, SIZE)


def test_all_four_to_a_part_of_a_pixel(camera, drawn) -> None:
    search = find_sheets(drawn)
    assert [s.number for s in search.sheets] == [1, 2, 3, 4]
    assert not search.seen_twice
    assert not search.mirrored
    for sheet in search.sheets:
        assert sheet.n_markers == 4
        error = sheet.px - frames.apply(camera, on_plan(sheet.sheet_mm, PLACES[sheet.number]))
        assert np.sqrt((error**2).mean()) < 0.2
        assert np.abs(error.mean(axis=0)).max() < 0.12


@pytest.mark.parametrize("quarter_turns", [1, 2, 3])
def test_a_turned_photo_gives_the_same_sheets(drawn, quarter_turns: int) -> None:
    search = find_sheets(np.ascontiguousarray(np.rot90(drawn, quarter_turns)))
    assert [(s.number, s.n_markers) for s in search.sheets] == [(1, 4), (2, 4), (3, 4), (4, 4)]


def test_a_covered_marker_leaves_the_others(camera, drawn) -> None:
    covered = drawn.copy()
    r, c = frames.apply(camera, on_plan(np.array([[-54.0, 54.0]]), PLACES[1]))[0].astype(int)
    covered[r - 6 : r + 7, c - 6 : c + 7] = 90
    by_number = {s.number: s for s in find_sheets(covered).sheets}
    assert by_number[1].n_markers == 3
    assert by_number[2].n_markers == 4


def test_the_same_number_twice_is_named_and_left_out(kit, camera, drawn) -> None:
    twice = drawn.copy()
    other = kit.draw(camera, {1: (1050, 900, 40, 1.0)}, SIZE)
    r, c = frames.apply(camera, [[1050.0, 850.0]])[0].astype(int)
    twice[r - 70 : r + 70, c - 70 : c + 70] = other[r - 70 : r + 70, c - 70 : c + 70]
    search = find_sheets(twice)
    assert search.seen_twice == (1,)
    assert [s.number for s in search.sheets] == [2, 3, 4]


def test_a_flipped_photo_is_told_from_an_empty_one(kit, camera, drawn) -> None:
    assert find_sheets(np.ascontiguousarray(drawn[:, ::-1])).mirrored
    empty = find_sheets(kit.draw(camera, {}, SIZE))
    assert not empty.sheets
    assert not empty.mirrored


@pytest.mark.parametrize("name", ["brick", "gravel", "grass"])
def test_no_sheet_is_seen_where_there_is_none(name: str) -> None:
    # scikit-image's photographs of brick, gravel and grass as pictures without markers.
    import skimage.data

    grey = getattr(skimage.data, name)()
    assert not find_sheets(np.repeat(grey[..., None], 3, axis=2)).sheets


def test_a_marker_that_the_detector_misses_is_read_where_the_others_put_it(drawn, monkeypatch) -> None:
    detect = markers._detect

    def without_one(rgb, step_px):
        return ((k, quad) for k, quad in detect(rgb, step_px) if k not in (1, 10, 11))

    whole = {s.number: s for s in find_sheets(drawn).sheets}
    monkeypatch.setattr(markers, "_detect", without_one)
    search = {s.number: s for s in find_sheets(drawn).sheets}
    assert [search[n].n_markers for n in (1, 2, 3, 4)] == [4, 4, 4, 4]
    for n in (1, 3):
        order = {tuple(p): i for i, p in enumerate(whole[n].sheet_mm)}
        same = [order[tuple(p)] for p in search[n].sheet_mm]
        # The same corners from another start: to a part of a pixel, the smallest modules are 2 px.
        assert np.sqrt(((search[n].px - whole[n].px[same]) ** 2).mean()) < 0.15
