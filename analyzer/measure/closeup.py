"""A close-up of one crack refines its width: the same reading on many more pixels."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import shapely

from analyzer import frames
from analyzer.errors import PictureError
from analyzer.measure.branches import Reading, draw_lines, pixel_of, read_lines
from analyzer.measure.profiles import Source
from analyzer.measure.width import Width
from analyzer.records import (
    Calibration,
    CrackBranch,
    CrackEntry,
    CrackSize,
    CrackSurvey,
    CrackTrace,
    FieldBook,
    Photo,
    PhotoEntry,
    PictureTraces,
    PxBranch,
)
from analyzer.terms import Answer, Distress, Grade
from analyzer.units import format_width

SAME_PLACE_MM = 300.0
"""A close-up's place, as typed, names the crack that passes within a foot of it (judgement)."""

COVERAGE = 2.0
"""Readings further apart than this many combined standard uncertainties disagree."""

_COMFORTABLE_PX = 60.0


def refine_width(
    crack: CrackSize, photo: Photo, calibration: Calibration, branches_px: Sequence[PxBranch]
) -> CrackSize:
    """Replace a crack's width by what a close-up shows.

    The close-up sees one stretch. Where the overview measured a greatest width that is clearly
    larger, that one stays (it lies elsewhere on the crack), and ``disagreement`` says so.

    Parameters
    ----------
    crack : CrackSize
    photo, calibration
        The close-up and its scale; a place in plan is not needed.
    branches_px : sequence of PxBranch
        The crack as traced on the close-up, (row, col).

    Returns
    -------
    CrackSize
        The same crack; unchanged where the close-up could not be read.

    Raises
    ------
    PictureError
        A traced point lies outside the picture.
    """
    rows, cols = photo.rgb.shape[:2]
    for branch in branches_px:
        points = np.asarray(branch.points_px, dtype=float)
        if len(points) and not ((points >= -1).all() and (points <= [rows, cols]).all()):
            raise PictureError(
                f"close-up {photo.photo_id}",
                "the traced crack runs out of the picture",
                "trace it on the upright picture",
            )
    width = _read(photo, calibration, branches_px)
    if width == Width():
        return crack
    greatest, greatest_u, told = width.max_mm, width.max_u_mm, crack.disagreement
    if crack.width_max_mm is not None:
        seen = greatest if greatest is not None else (width.upper_mm or 0.0)
        u = math.hypot(crack.width_max_u_mm or 0.0, greatest_u or 0.0)
        if crack.width_max_mm - seen > COVERAGE * u:
            told = (
                f"the overview shows up to {format_width(crack.width_max_mm)}, close-up {photo.photo_id} "
                f"up to {format_width(seen)} on its stretch; the greater one stays the greatest width"
            )
            greatest, greatest_u = crack.width_max_mm, crack.width_max_u_mm
    return replace(
        crack,
        width_mean_mm=width.mean_mm,
        width_mean_u_mm=width.mean_u_mm,
        width_max_mm=greatest,
        width_max_u_mm=greatest_u,
        width_upper_mm=width.upper_mm,
        grade=Grade.MEASURED,
        width_source=f"close-up {photo.photo_id}",
        disagreement=told,
    )


def refine_by_closeup(
    survey: CrackSurvey,
    entry: PhotoEntry,
    photo: Photo,
    calibration: Calibration,
    traces: PictureTraces,
    field: FieldBook,
) -> CrackSurvey:
    """Find the crack that a close-up shows and refine its width.

    The longest crack traced on the close-up is taken for the one that it was taken of. On the
    slab that is the typed crack it names, or the measured crack nearest to the place given. If no
    measured crack is there, one without length is added: the overview was too coarse to show it.

    Raises
    ------
    PictureError
        As :func:`refine_width`.
    """
    if not traces.cracks:
        return survey
    main = max(traces.cracks, key=lambda group: sum(len(branch.points_px) for branch in group))
    typed = next((c for c in field.cracks if c.name == entry.closeup_of), None)
    number = _find(survey.cracks, entry, typed)
    if number is not None:
        refined = refine_width(survey.cracks[number], photo, calibration, main)
        cracks = (*survey.cracks[:number], refined, *survey.cracks[number + 1 :])
        return replace(survey, cracks=cracks)
    probability = float(np.mean([branch.probability for branch in main]))
    added = refine_width(_unplaced(entry, probability), photo, calibration, main)
    if added.width_source is None:
        return survey
    return replace(survey, cracks=(*survey.cracks, added))


def _find(cracks: Sequence[CrackSize], entry: PhotoEntry, typed: CrackEntry | None) -> int | None:
    """Index of the measured crack that a close-up was taken of."""
    for number, crack in enumerate(cracks):
        if entry.closeup_of is not None and crack.crack_id == entry.closeup_of:
            return number
    where: shapely.Geometry | None = None
    if entry.closeup_at_mm is not None:
        where = shapely.Point(entry.closeup_at_mm)
    elif typed is not None and len(typed.line_mm) >= 2:
        where = shapely.LineString(typed.line_mm)
    elif typed is not None and typed.at_mm is not None:
        where = shapely.Point(typed.at_mm)
    if where is None:
        return None
    best = SAME_PLACE_MM
    nearest: int | None = None
    for i, crack in enumerate(cracks):
        for branch in crack.branches:
            distance = float(shapely.LineString(branch.points_mm).distance(where))
            if distance <= best:
                best, nearest = distance, i
    return nearest


def _unplaced(entry: PhotoEntry, probability: float) -> CrackSize:
    """A crack known from a close-up only."""
    return CrackSize(
        crack_id=entry.closeup_of or f"on {entry.photo_id}",
        panels=(),
        distress=Distress.SHRINKAGE_CRACK,
        length_mm=None,
        length_u_mm=None,
        width_mean_mm=None,
        width_mean_u_mm=None,
        width_max_mm=None,
        width_max_u_mm=None,
        width_upper_mm=None,
        direction_deg=None,
        splits_panel=Answer.UNKNOWN,
        corner_cut=None,
        branches=(),
        probability=probability,
        grade=Grade.UNKNOWN,
    )


def _read(photo: Photo, calibration: Calibration, branches_px: Sequence[PxBranch]) -> Width:
    """Width on the close-up, on a reduced copy where the crack is too wide for the windows."""
    traced = [b for b in branches_px if len(b.points_px) >= 2]
    best = Width()
    for factor in (1, 2, 4, 8):
        rows, cols = photo.rgb.shape[0] // factor, photo.rgb.shape[1] // factor
        if not traced or min(rows, cols) < 64:
            break
        rgb = photo.rgb[: rows * factor, : cols * factor]
        if factor > 1:
            rgb = cv2.resize(rgb, (cols, rows), interpolation=cv2.INTER_AREA)
        shift = (factor - 1) / 2.0
        small_from_px = np.diag([factor, factor, 1.0])
        small_from_px[:2, 2] = shift
        plan_from_small = calibration.plan_from_px @ small_from_px
        source = Source(replace(photo, rgb=rgb), frames.invert(plan_from_small), calibration.scale_u_rel)
        branches = tuple(
            CrackBranch(
                frames.apply(calibration.plan_from_px, b.points_px), b.probability, b.start_node, b.end_node
            )
            for b in traced
        )
        pixel_mm = pixel_of([b.points_mm for b in branches])
        lines = draw_lines([CrackTrace("close-up", branches, 1.0)], pixel_mm)
        if not lines:
            break
        reading = read_lines(lines, (source,), None, pixel_mm * factor)
        every = np.arange(len(reading.stations.branch))
        if _fits(reading):
            return reading.width_of(every)
        best = reading.width_of(every)
    return best


def _fits(reading: Reading) -> bool:
    """Whether most stations were read and the crack is comfortably inside the windows."""
    good = reading.widths.valid
    if good.sum() < 0.5 * max(len(good), 1):
        return False
    return float(np.quantile(reading.widths.width_px[good], 0.95)) <= _COMFORTABLE_PX
