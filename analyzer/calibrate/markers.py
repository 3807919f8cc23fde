"""Finds the numbered marker sheets in a photo, and their marker corners to a part of a pixel."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from analyzer import frames
from analyzer.calibrate.corner_lines import SquareCorners, fit_square
from analyzer.calibrate.homography import fit_homography
from analyzer.calibrate.target_sheet import (
    MARKERS_PER_SHEET,
    NUMBERS,
    dictionary,
    marker_bits,
    marker_corners_mm,
    sheet_of_marker,
)
from analyzer.records import Float, UInt8

_LEVELS_PX = (1600, 4096)
_SMALL_PX = 2048
_LEAST_SIDE_PX = 12.0


@dataclass(frozen=True, slots=True, eq=False)
class FoundSheet:
    """One sheet in a photo: N corners (N = 4 per marker) known in both frames.

    ``sheet_mm`` (N, 2) of (x, y) as printed at 100 %; ``px`` (N, 2) of (row, col); ``u_px`` (N,);
    ``growth`` (N, 2): shift of a corner in px when the dark outlines grow by one pixel.
    """

    number: int
    sheet_mm: Float
    px: Float
    u_px: Float
    growth: Float

    @property
    def n_markers(self) -> int:
        """Markers found, of four."""
        return len(self.px) // 4

    @property
    def px_from_sheet(self) -> Float:
        """Homography (3, 3) from sheet millimetres to (row, col)."""
        return fit_homography(self.sheet_mm, self.px)


@dataclass(frozen=True, slots=True, eq=False)
class SheetSearch:
    """Sheets found, numbers that lie in the photo twice, and whether the photo is mirrored."""

    sheets: tuple[FoundSheet, ...]
    seen_twice: tuple[int, ...] = ()
    mirrored: bool = False


def find_sheets(rgb: UInt8, wanted: frozenset[int] = frozenset(NUMBERS)) -> SheetSearch:
    """Find marker sheets in a photo (R, C, 3) uint8.

    The search goes from a small copy to larger ones and stops once all ``wanted`` sheets are
    complete, so the usual photo is never searched at full size; corners are always read at full
    size. A sheet with a hidden or cut-off marker is returned with the markers that remain. A
    number that lies in the photo twice is left out and named in ``seen_twice``. If nothing is
    found, a mirrored copy is tried, to tell a flipped photo from one without sheets.
    """
    quads: dict[int, list[Float]] = {}
    for step_px in _levels(rgb):
        for marker_id, quad in _detect(rgb, step_px):
            _merge(quads.setdefault(marker_id, []), quad)
        if _complete(quads, wanted):
            break
    long_side = max(rgb.shape[:2])
    if not quads and long_side > 1.3 * _LEVELS_PX[-1]:
        for marker_id, quad in _detect(rgb, max(1.0, long_side / (2 * _LEVELS_PX[-1]))):
            _merge(quads.setdefault(marker_id, []), quad)
    sheets, twice = [], []
    for number in NUMBERS:
        groups = _groups({k: quads[k] for k in marker_corners_mm(number) if k in quads})
        largest = max((len(g) for g in groups), default=0)
        rivals = [g for g in groups if len(g) == largest or len(g) >= 2]
        if len(rivals) > 1:
            twice.append(number)
        elif rivals and (sheet := _read_corners(rgb, number, rivals[0])) is not None:
            sheets.append(sheet)
    mirrored = not sheets and not twice and _looks_mirrored(rgb)
    return SheetSearch(tuple(sheets), tuple(twice), mirrored)


def _levels(rgb: UInt8) -> Iterator[float]:
    """Sizes to search at, as photo px per searched px, coarse first."""
    long_side = max(rgb.shape[:2])
    done = set()
    for size in _LEVELS_PX:
        step = max(1.0, long_side / size)
        if step not in done:
            done.add(step)
            yield step
    if long_side <= _SMALL_PX:
        yield 0.5


def _detect(rgb: UInt8, step_px: float) -> Iterator[tuple[int, Float]]:
    """Markers at one size: id and rough corners (4, 2) of (row, col) in full-size pixels."""
    size = (max(1, round(rgb.shape[1] / step_px)), max(1, round(rgb.shape[0] / step_px)))
    if size != (rgb.shape[1], rgb.shape[0]):
        how = cv2.INTER_AREA if step_px > 1 else cv2.INTER_CUBIC
        small = cv2.resize(rgb, size, interpolation=how)
    else:
        small = rgb
    grey = cv2.cvtColor(small, cv2.COLOR_RGB2GRAY)
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 13
    parameters.adaptiveThreshWinSizeMax = 43
    parameters.adaptiveThreshWinSizeStep = 30
    parameters.minMarkerPerimeterRate = 4 * _LEAST_SIDE_PX / max(grey.shape)
    parameters.perspectiveRemovePixelPerCell = 8
    parameters.errorCorrectionRate = 0.0
    found, ids, _ = cv2.aruco.ArucoDetector(dictionary(), parameters).detectMarkers(grey)
    if ids is None:
        return
    scale = np.array([rgb.shape[0] / grey.shape[0], rgb.shape[1] / grey.shape[1]])
    for corners, marker_id in zip(found, np.ravel(ids), strict=True):
        yield int(marker_id), (frames.xy_from_rc(corners.reshape(4, 2)) + 0.5) * scale - 0.5


def _merge(known: list[Float], quad: Float) -> None:
    """Keep one quad per place; the later one, from a finer level, replaces the earlier."""
    reach = np.linalg.norm(quad[0] - quad[2])
    for i, other in enumerate(known):
        if np.linalg.norm(other.mean(axis=0) - quad.mean(axis=0)) < 0.5 * reach:
            known[i] = quad
            return
    known.append(quad)


def _complete(quads: dict[int, list[Float]], wanted: frozenset[int]) -> bool:
    return bool(wanted) and all(k in quads for number in wanted for k in marker_corners_mm(number))


def _groups(quads: dict[int, list[Float]]) -> list[dict[int, Float]]:
    """Markers of one number, split into sets that can lie on one and the same sheet."""
    groups: list[dict[int, Float]] = []
    for marker_id, places in quads.items():
        for quad in places:
            for group in groups:
                if marker_id not in group and all(
                    _neighbours(other_id, other, marker_id, quad) for other_id, other in group.items()
                ):
                    group[marker_id] = quad
                    break
            else:
                groups.append({marker_id: quad})
    return groups


def _neighbours(first_id: int, first: Float, second_id: int, second: Float) -> bool:
    """Whether two markers lie to each other as they are printed, within half a marker."""
    printed = marker_corners_mm(sheet_of_marker(first_id))
    for a_id, a, b_id, b in ((first_id, first, second_id, second), (second_id, second, first_id, first)):
        expected = frames.apply(fit_homography(printed[a_id], a), printed[b_id])
        side_px = max(np.linalg.norm(b[0] - b[2]), np.linalg.norm(a[0] - a[2])) / np.sqrt(2)
        if np.linalg.norm(expected.mean(axis=0) - b.mean(axis=0)) < 0.5 * side_px:
            return True
    return False


def _read_corners(rgb: UInt8, number: int, quads: dict[int, Float]) -> FoundSheet | None:
    """Sub-pixel corners of one sheet, without markers that do not fit the others."""
    printed = marker_corners_mm(number)
    read = {k: fit for k, quad in quads.items() if (fit := fit_square(rgb, quad)) is not None}
    while len(read) > 2:
        ids = list(read)
        sheet_mm = np.concatenate([printed[k] for k in ids])
        px = np.concatenate([read[k].px for k in ids])
        rest = np.linalg.norm(frames.apply(fit_homography(sheet_mm, px), sheet_mm) - px, axis=1)
        per_marker = np.sqrt((rest.reshape(-1, 4) ** 2).mean(axis=1))
        side_px = np.linalg.norm(px.reshape(-1, 4, 2)[:, 0] - px.reshape(-1, 4, 2)[:, 2], axis=1).mean()
        if per_marker.max() < max(1.0, 0.03 * side_px):
            break
        del read[ids[int(per_marker.argmax())]]
    if not read:
        return None
    _add_missing(rgb, number, read)
    return FoundSheet(
        number=number,
        sheet_mm=np.concatenate([printed[k] for k in read]),
        px=np.concatenate([fit.px for fit in read.values()]),
        u_px=np.repeat([fit.u_px for fit in read.values()], MARKERS_PER_SHEET),
        growth=np.concatenate([fit.growth for fit in read.values()]),
    )


def _add_missing(rgb: UInt8, number: int, read: dict[int, SquareCorners]) -> None:
    """Read markers that the detector passed over where the others of the sheet say they lie."""
    printed = marker_corners_mm(number)
    for _ in range(MARKERS_PER_SHEET - 1):
        for marker_id in sorted(set(printed) - set(read)):
            px_from_sheet = fit_homography(
                np.concatenate([printed[k] for k in read]), np.concatenate([fit.px for fit in read.values()])
            )
            fit = fit_square(rgb, frames.apply(px_from_sheet, printed[marker_id]))
            if fit is not None and _bits_agree(rgb, fit.px, marker_id):
                read[marker_id] = fit


def _bits_agree(rgb: UInt8, corners_px: Float, marker_id: int) -> bool:
    """Whether the modules inside four corners are those of a marker, all but one."""
    bits = marker_bits(marker_id)
    n = len(bits)
    square = np.array([[0.0, 0.0], [0.0, n], [n, n], [n, 0.0]])
    rows, cols = np.meshgrid(np.arange(n) + 0.5, np.arange(n) + 0.5, indexing="ij")
    centres = frames.apply(fit_homography(square, corners_px), np.column_stack([rows.ravel(), cols.ravel()]))
    if (centres < 1).any() or (centres > np.array(rgb.shape[:2]) - 2).any():
        return False
    xy = frames.xy_from_rc(centres).astype(np.float32)
    low, high = np.floor(xy.min(axis=0)).astype(int) - 1, np.ceil(xy.max(axis=0)).astype(int) + 2
    crop = np.ascontiguousarray(rgb[max(low[1], 0) : high[1], max(low[0], 0) : high[0]])
    grey = cv2.cvtColor(crop, cv2.COLOR_RGB2GRAY)
    at = xy - np.maximum(low, 0).astype(np.float32)
    seen = cv2.remap(grey, at[:, 0].copy(), at[:, 1].copy(), cv2.INTER_LINEAR).ravel().astype(float)
    black = np.array(bits).ravel()
    middle = (np.median(seen[black]) + np.median(seen[~black])) / 2
    return bool(((seen < middle) != black).sum() <= 1)


def _looks_mirrored(rgb: UInt8) -> bool:
    """Whether at least two markers appear when the photo is flipped."""
    step_px = max(0.5, max(rgb.shape[:2]) / _LEVELS_PX[0])
    flipped = np.ascontiguousarray(rgb[:, ::-1])
    return len({marker_id for marker_id, _ in _detect(flipped, step_px)}) >= 2
