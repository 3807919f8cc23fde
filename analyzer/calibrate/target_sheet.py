"""The four numbered marker sheets: one drawing, to print and to find again in photos.

A sheet carries four square markers around a centre cross, a 100 mm ruler, its number and an arrow
along its bottom edge. Markers are sixteen of OpenCV's DICT_4X4_50 (black border one module wide,
four by four bits), chosen so that any two differ in at least four bits at every turn, mirrored or
not: a flipped photo shows no valid marker at all. Few bits, so that one module is as large as the
page allows: at 84 mm a module is 14 mm, and in a drawn 12 megapixel photo from 1.6 m height a
sheet is found up to about 6 m away, where it is foreshortened fourfold.

Two frames: *paper* millimetres from the top left corner, y downwards (what a typesetter wants),
and *sheet* millimetres from the centre cross, x along the arrow, y upwards (what plan wants).
"""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np

from analyzer.errors import CalibrationError
from analyzer.records import Float, SheetMarker, SheetRect, SheetText, TargetSheet, UInt8

NUMBERS = (1, 2, 3, 4)
MARKERS_PER_SHEET = 4
STOCK_IDS = (0, 2, 4, 12, 13, 15, 18, 20, 22, 24, 26, 27, 28, 30, 33, 36)
"""Number of each marker in OpenCV's DICT_4X4_50; here they are numbered 0 to 15."""
MARKER_BITS = 4
MARKER_SIDE_MM = 84.0
MARKER_GAP_MM = 24.0
RULER_MM = 100.0
PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height: ISO 216 A4; US Letter, 8 1/2 in by 11 in (from memory)."""

_TOP_MM = 12.0
_CENTRE_Y_MM = _TOP_MM + MARKER_SIDE_MM + MARKER_GAP_MM / 2
_INK = 20
_PAPER = 250


@cache
def dictionary() -> cv2.aruco.Dictionary:
    """The sixteen markers of the sheets alone, so that no other marker is taken for one of them."""
    full = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    return cv2.aruco.Dictionary(full.bytesList[list(STOCK_IDS)].copy(), MARKER_BITS, 0)


def target_sheets(paper: str = "letter") -> tuple[TargetSheet, ...]:
    """The four sheets for one paper size (``letter`` or ``a4``), in paper millimetres.

    Markers, cross and ruler have the same size on both papers.

    Raises
    ------
    CalibrationError
        Unknown paper.
    """
    return tuple(_sheet(number, paper) for number in NUMBERS)


def marker_corners_mm(number: int) -> dict[int, Float]:
    """Corners of each marker of a sheet in sheet millimetres, by marker id.

    Each (4, 2) of (x, y): top left, top right, bottom right, bottom left as printed (the order of
    OpenCV's detector).
    """
    near, far = MARKER_GAP_MM / 2, MARKER_GAP_MM / 2 + MARKER_SIDE_MM
    corners = {}
    for k, (left, top) in enumerate(((-far, far), (near, far), (-far, -near), (near, -near))):
        right, bottom = left + MARKER_SIDE_MM, top - MARKER_SIDE_MM
        corners[_first_id(number) + k] = np.array(
            [[left, top], [right, top], [right, bottom], [left, bottom]], dtype=float
        )
    return corners


def sheet_of_marker(marker_id: int) -> int:
    """Number of the sheet that carries a marker."""
    return marker_id // MARKERS_PER_SHEET + 1


def sheet_from_picture(paper: str, px_per_mm: float) -> Float:
    """Matrix (3, 3) from (row, col, 1) of :func:`sheet_picture` to sheet millimetres (x, y, 1)."""
    width_mm, _ = _paper_mm(paper)
    step = 1.0 / px_per_mm
    return np.array(
        [
            [0.0, step, step / 2 - width_mm / 2],
            [-step, 0.0, _CENTRE_Y_MM - step / 2],
            [0.0, 0.0, 1.0],
        ]
    )


def sheet_picture(number: int, paper: str = "letter", px_per_mm: float = 4.0) -> UInt8:
    """The sheet as a grey picture (rows, cols) uint8, black on white, edges by area coverage.

    Raises
    ------
    CalibrationError
        Unknown paper or number.
    """
    sheet = _sheet(number, paper)
    n_rows, n_cols = round(sheet.height_mm * px_per_mm), round(sheet.width_mm * px_per_mm)
    ink = np.zeros((n_rows, n_cols), np.float32)
    for marker in sheet.markers:
        module_mm = marker.side_mm / len(marker.bits)
        for i, line in enumerate(marker.bits):
            for j, black in enumerate(line):
                if black:
                    left, top = marker.left_mm + j * module_mm, marker.top_mm + i * module_mm
                    _add_ink(ink, SheetRect(left, top, module_mm, module_mm), px_per_mm)
    for rect in sheet.rects:
        _add_ink(ink, rect, px_per_mm)
    np.minimum(ink, 1.0, out=ink)
    picture = np.rint(_PAPER - ink * (_PAPER - _INK)).astype(np.uint8)
    head = np.rint((np.array(sheet.arrow_mm) * px_per_mm - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(picture, [head], (_INK,), cv2.LINE_AA, 4)
    for text in sheet.texts:
        _write(picture, text, px_per_mm)
    return picture


def _first_id(number: int) -> int:
    if number not in NUMBERS:
        raise CalibrationError(f"marker sheet {number}", "there is no such sheet", "use sheets 1 to 4")
    return (number - 1) * MARKERS_PER_SHEET


def _paper_mm(paper: str) -> tuple[float, float]:
    if paper not in PAPER_MM:
        raise CalibrationError(f"paper {paper!r}", "it is not known", "use letter or a4", found=paper)
    return PAPER_MM[paper]


def _sheet(number: int, paper: str) -> TargetSheet:
    width_mm, height_mm = _paper_mm(paper)
    x, y = width_mm / 2, _CENTRE_Y_MM
    markers = tuple(
        SheetMarker(k, marker_bits(k), x + c[0, 0], y - c[0, 1], MARKER_SIDE_MM)
        for k, c in marker_corners_mm(number).items()
    )
    cross = (SheetRect(x - 10, y - 0.3, 20, 0.6), SheetRect(x - 0.3, y - 10, 0.6, 20))
    ruler_top = _TOP_MM + 2 * MARKER_SIDE_MM + MARKER_GAP_MM + 9
    left = x - RULER_MM / 2
    tick = 0.4
    # The end ticks lie inside the 100 mm, so that the tape reads from outer edge to outer edge.
    places = [min(max(d - tick / 2, 0.0), RULER_MM - tick) for d in range(0, 101, 10)]
    ruler = (
        SheetRect(left, ruler_top + 6 - tick, RULER_MM, tick),
        *(
            SheetRect(left + p, ruler_top + (0 if i % 5 == 0 else 3), tick, 6 if i % 5 == 0 else 3)
            for i, p in enumerate(places)
        ),
    )
    arrow_y, tip = ruler_top + 46.0, x + 80.0
    shaft = SheetRect(x - 80, arrow_y - 0.8, 152, 1.6)
    lines = (
        ("100 mm from end to end: print at 100 %, measure this ruler, write it down", x, 10.0, 2.4),
        (str(number), x - 72, 25.0, 20.0),
        (f"Marker sheet {number} of 4", x + 12, 19.0, 5.0),
        ("Lay it flat, weigh it down at the edges, tape to the centre cross.", x + 12, 27.0, 2.6),
        ("Keep feet off it and take it up afterwards: paper slips.", x + 12, 33.0, 2.6),
        ("bottom edge: its turn is the angle of this arrow, anticlockwise from plan x", x, 51.0, 2.4),
    )
    texts = tuple(SheetText(text, at_x, ruler_top + below, size) for text, at_x, below, size in lines)
    return TargetSheet(
        number=number,
        paper=paper,
        width_mm=width_mm,
        height_mm=height_mm,
        centre_mm=(x, y),
        markers=markers,
        rects=(*cross, *ruler, shaft),
        arrow_mm=((tip - 8, arrow_y - 4), (tip, arrow_y), (tip - 8, arrow_y + 4)),
        texts=texts,
    )


@cache
def marker_bits(marker_id: int) -> tuple[tuple[bool, ...], ...]:
    """Modules of a marker row by row with its border, True = black."""
    picture = cv2.aruco.generateImageMarker(dictionary(), marker_id, MARKER_BITS + 2)
    return tuple(tuple(bool(v == 0) for v in line) for line in picture)


def _add_ink(ink: np.ndarray, rect: SheetRect, px_per_mm: float) -> None:
    """Add the part of each pixel that a rectangle covers, exactly."""

    def cover(start_mm: float, size_mm: float, n: int) -> tuple[slice, Float]:
        a, b = start_mm * px_per_mm, (start_mm + size_mm) * px_per_mm
        first, last = max(int(np.floor(a)), 0), min(int(np.ceil(b)), n)
        edges = np.arange(first, last)
        return slice(first, last), np.minimum(b, edges + 1) - np.maximum(a, edges)

    rows, by_row = cover(rect.top_mm, rect.height_mm, ink.shape[0])
    cols, by_col = cover(rect.left_mm, rect.width_mm, ink.shape[1])
    ink[rows, cols] += np.outer(by_row, by_col).astype(np.float32)


def _write(picture: UInt8, text: SheetText, px_per_mm: float) -> None:
    """Write a line with OpenCV's stroke font, capitals ``size_mm`` high, centred on its place."""
    font, capital_px = cv2.FONT_HERSHEY_SIMPLEX, 21.0
    scale = text.size_mm * px_per_mm / capital_px
    thickness = max(1, round(text.size_mm * px_per_mm * 0.12))
    (width, height), _ = cv2.getTextSize(text.text, font, scale, thickness)
    at = (round(text.x_mm * px_per_mm - width / 2), round(text.y_mm * px_per_mm + height / 2))
    cv2.putText(picture, text.text, at, font, scale, (_INK,), thickness, cv2.LINE_AA)
