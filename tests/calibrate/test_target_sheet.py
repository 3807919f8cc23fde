"""The drawn sheets against OpenCV's own marker reader, and their stated geometry."""

import cv2
import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.target_sheet import (
    MARKER_SIDE_MM,
    NUMBERS,
    PAPER_MM,
    STOCK_IDS,
    dictionary,
    marker_corners_mm,
    sheet_from_picture,
    sheet_of_marker,
    sheet_picture,
    target_sheets,
)
from analyzer.errors import CalibrationError


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("number", NUMBERS)
def test_opencv_reads_every_marker_where_the_sheet_says(paper: str, number: int) -> None:
    # OpenCV's detector with its full stock dictionary as the independent reader.
    picture = sheet_picture(number, paper, 3.0)
    stock = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    found, ids, _ = cv2.aruco.ArucoDetector(stock).detectMarkers(picture)
    expected = marker_corners_mm(number)
    ours = [STOCK_IDS.index(k) for k in np.ravel(ids).tolist()]
    assert sorted(ours) == sorted(expected)
    for corners, marker_id in zip(found, ours, strict=True):
        assert sheet_of_marker(marker_id) == number
        on_sheet = frames.apply(sheet_from_picture(paper, 3.0), frames.xy_from_rc(corners.reshape(4, 2)))
        np.testing.assert_allclose(on_sheet, expected[marker_id], atol=0.5)


def test_sixteen_markers_far_apart_in_bits_even_mirrored() -> None:
    # Distance over all pairs and turns, as Garrido-Jurado et al. 2014 define it (from memory), here
    # from OpenCV's drawing and numpy's turns.
    bits = [cv2.aruco.generateImageMarker(dictionary(), k, 6)[1:5, 1:5] > 0 for k in range(16)]
    for i, a in enumerate(bits):
        for j, b in enumerate(bits):
            for turn in range(4):
                if i != j:
                    assert (np.rot90(a, turn) != b).sum() >= 4
                assert (np.rot90(a[:, ::-1], turn) != b).sum() >= 4


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_ruler_is_100_mm_and_all_lies_on_the_page(paper: str) -> None:
    sheets = target_sheets(paper)
    assert [s.number for s in sheets] == [1, 2, 3, 4]
    for sheet in sheets:
        assert (sheet.width_mm, sheet.height_mm) == PAPER_MM[paper]
        ticks = [r for r in sheet.rects if r.height_mm in (3, 6) and r.width_mm < 1]
        left, right = min(r.left_mm for r in ticks), max(r.left_mm + r.width_mm for r in ticks)
        assert right - left == pytest.approx(100.0, abs=1e-9)
        boxes = [(m.left_mm, m.top_mm, m.side_mm, m.side_mm) for m in sheet.markers]
        boxes += [(r.left_mm, r.top_mm, r.width_mm, r.height_mm) for r in sheet.rects]
        for x, y, w, h in boxes:
            # Common practice, no source: desktop printers leave about 6 mm unprinted.
            assert min(x, y, sheet.width_mm - x - w, sheet.height_mm - y - h) >= 6
        assert all(0 < t.y_mm < sheet.height_mm - 6 for t in sheet.texts)


def test_both_papers_carry_the_same_drawing_about_the_cross() -> None:
    a4, letter = target_sheets("a4")[2], target_sheets("letter")[2]
    for a, b in zip(a4.markers, letter.markers, strict=True):
        assert a.bits == b.bits
        assert a.left_mm - a4.centre_mm[0] == pytest.approx(b.left_mm - letter.centre_mm[0])
        assert a.side_mm == MARKER_SIDE_MM


def test_ink_covers_the_exact_area() -> None:
    # The area of black is that of the rectangles, whatever the resolution: markers of sheet 1.
    sheet = target_sheets("a4")[0]
    black = sum(bit for m in sheet.markers for line in m.bits for bit in line) * (MARKER_SIDE_MM / 6) ** 2
    top = int((sheet.centre_mm[1] + 98) * 2.3)
    ink = (250.0 - sheet_picture(1, "a4", 2.3)[:top].astype(float)).sum() / 230 / 2.3**2
    cross = 20 * 0.6 * 2 - 0.36
    assert ink == pytest.approx(black + cross, rel=2e-3)


def test_unknown_paper_and_number_are_refused() -> None:
    with pytest.raises(CalibrationError, match="letter or a4"):
        target_sheets("a3")
    with pytest.raises(CalibrationError, match="sheets 1 to 4"):
        sheet_picture(5)
