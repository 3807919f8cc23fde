"""Writes down a fit point by point: what each known place or sheet leaves over."""

from __future__ import annotations

import numpy as np

from analyzer import frames
from analyzer.calibrate.adjustment import Fit
from analyzer.calibrate.network import sheet_corners
from analyzer.records import TiePoint

LOOSE_U_MM = 1e3
"""Uncertainty of a place that is only there to hold the frame and was not measured."""


def fitted_ties(fit: Fit) -> tuple[tuple[TiePoint, ...], float]:
    """Sheet centres and marks with what the fit left over, and the residual in mm.

    The residual is the larger of two root mean squares: of the tie points, and of marker corners
    laid on the plan against the fitted sheets.
    """
    homography, network = fit.homography, fit.network
    ties, corner_rest = [], [np.zeros(0)]
    growth = fit.unknowns[8]
    for i, sheet in enumerate(network.sheets):
        pose = fit.sheet_pose(i)
        scale = fit.printed_scale(sheet.scale_group)
        on_plan = frames.apply(homography.plan_from_px, sheet.px - growth * sheet.growth)
        corner_rest.append(np.linalg.norm(on_plan - sheet_corners(sheet.local_mm, pose, scale), axis=1))
        row, col = frames.apply(homography.px_from_plan, pose[None, :2])[0]
        x, y = sheet.centre_mm or (float(pose[0]), float(pose[1]))
        rest = float(np.hypot(x - pose[0], y - pose[1]))
        ties.append(TiePoint(sheet.name, float(row), float(col), float(x), float(y), rest))
    for i, mark in enumerate(network.marks):
        known = mark.place_mm is not None and mark.place_u_mm < LOOSE_U_MM
        place = np.array(mark.place_mm) if known else fit.mark_place(i)
        rest = float(np.linalg.norm(frames.apply(homography.plan_from_px, [mark.px])[0] - place))
        ties.append(TiePoint(mark.name, mark.px[0], mark.px[1], float(place[0]), float(place[1]), rest))
    corners = np.concatenate(corner_rest)
    tie_rms = float(np.sqrt(np.mean([t.residual_mm**2 for t in ties])))
    corner_rms = float(np.sqrt(np.mean(corners**2))) if len(corners) else 0.0
    return tuple(ties), max(tie_rms, corner_rms)
