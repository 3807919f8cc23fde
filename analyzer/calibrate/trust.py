"""Where on the slab a photo's scale can be trusted, and how certain it is at the worst spot there."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from analyzer import frames
from analyzer.calibrate.homography import UncertainHomography
from analyzer.calibrate.limits import ScaleLimits
from analyzer.errors import CalibrationError
from analyzer.records import Float

_N_GRID = 28
_N_RAYS = 64
_N_STEPS = 96


@dataclass(frozen=True, slots=True)
class Trust:
    """Worst uncertainties within the trusted part; ``outline_mm`` is empty if that is all in view.

    ``share`` is the trusted part of the surface in view, 0 to 1.
    """

    length_u_rel: float
    position_u_mm: float
    outline_mm: tuple[tuple[float, float], ...]
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class Spread:
    """Everything that makes a scale uncertain: the fit, the lens, a surface that is not flat.

    ``lens_u`` is the relative uncertainty of a length from left-over lens distortion;
    ``with_position`` False leaves places out (a close-up without a place in plan).
    """

    homography: UncertainHomography
    limits: ScaleLimits
    lens_u: float
    with_position: bool = True

    def at(self, plan: Float) -> tuple[Float, Float]:
        """Relative uncertainty of lengths (N,) and uncertainty of places (N,) in mm at (N, 2).

        Infinite behind the camera. A surface ``h`` off the plane shifts a place by ``h`` times
        the cotangent of the camera's elevation, and a slope off the plane changes lengths by as
        many times the slope; the cotangent follows from the two pixel sizes, whose ratio is the
        sine of the elevation (exact for a pinhole camera near the picture's middle).
        """
        length_u, position_u = np.full(len(plan), np.inf), np.full(len(plan), np.inf)
        front = self.homography.depth(plan) > 1e-6
        places = plan[front]
        if not len(places):
            return length_u, position_u
        px = frames.apply(self.homography.px_from_plan, places)
        size = frames.mm_per_px_at(self.homography.plan_from_px, px)
        cotangent = np.sqrt(np.maximum((size[:, 0] / size[:, 1]) ** 2 - 1.0, 0.0))
        length_u[front] = np.sqrt(
            self.homography.length_u_rel(places) ** 2
            + self.lens_u**2
            + (self.limits.surface_slope_u * cotangent) ** 2
        )
        if not self.with_position:
            position_u[front] = 0.0
            return length_u, position_u
        off_centre = np.linalg.norm(places - self.homography.centre_mm, axis=1)
        position_u[front] = np.sqrt(
            self.homography.position_u_mm(places) ** 2
            + (self.lens_u * off_centre) ** 2
            + (self.limits.surface_u * cotangent) ** 2
        )
        return length_u, position_u

    def within(self, plan: Float) -> np.ndarray:
        """Whether both uncertainties are under their limits (N,) bool."""
        length_u, position_u = self.at(plan)
        ok: np.ndarray = (length_u <= self.limits.scale_u_greatest) & (
            position_u <= self.limits.position_u_greatest
        )
        return ok


def is_sure(
    spread: Spread, size: tuple[int, int], outline_mm: tuple[tuple[float, float], ...] | None, subject: str
) -> bool:
    """Whether all of the slab in view is within the limits; parameters and errors as :func:`judge`."""
    return bool(spread.within(_in_view(spread, size, outline_mm, subject)).all())


def judge(
    spread: Spread, size: tuple[int, int], outline_mm: tuple[tuple[float, float], ...] | None, subject: str
) -> Trust:
    """Hold the uncertainty on the slab in view against the limits.

    Parameters
    ----------
    size : (n_rows, n_cols) of the photo
    outline_mm : polygon of the slab, or None for a close-up, where the whole picture counts

    Raises
    ------
    CalibrationError
        No slab in view, or too little of it within the limits.
    """
    seen = _in_view(spread, size, outline_mm, subject)
    length_u, position_u = spread.at(seen)
    ok = spread.within(seen)
    share = float(ok.mean())
    limits = spread.limits
    if share < limits.trusted_share_least:
        places = f", places to {np.median(position_u):.0f} mm" if spread.with_position else ""
        raise CalibrationError(
            subject,
            f"its scale is too uncertain: over most of the slab in view lengths are known to "
            f"{100 * np.median(length_u):.0f} %{places} (limits {100 * limits.scale_u_greatest:.0f} %"
            + (f", {limits.position_u_greatest:.0f} mm)" if spread.with_position else ")"),
            "lay four marker sheets around the area, or mark more points far apart, and note their places",
            expected=limits.scale_u_greatest,
            found=float(np.median(length_u)),
        )
    polygon: tuple[tuple[float, float], ...] = ()
    if share < 1.0:
        excess = np.maximum(length_u / limits.scale_u_greatest, position_u / limits.position_u_greatest)
        polygon = _trusted_outline(spread, seen[int(excess.argmin())], seen)
    return Trust(float(length_u[ok].max()), float(position_u[ok].max()), polygon, share)


def _in_view(
    spread: Spread, size: tuple[int, int], outline_mm: tuple[tuple[float, float], ...] | None, subject: str
) -> Float:
    """Places (N, 2) on the slab in view, or all over the picture for a close-up."""
    if outline_mm is None:
        return _picture_points(spread.homography, size)
    return _seen_points(spread, size, outline_mm, subject)


def _picture_points(homography: UncertainHomography, size: tuple[int, int]) -> Float:
    rows, cols = np.meshgrid(np.linspace(0, size[0] - 1, 20), np.linspace(0, size[1] - 1, 20))
    plan = frames.apply(homography.plan_from_px, np.column_stack([rows.ravel(), cols.ravel()]))
    return plan[np.isfinite(plan).all(axis=1)]


def _seen_points(
    spread: Spread, size: tuple[int, int], outline_mm: tuple[tuple[float, float], ...], subject: str
) -> Float:
    """Places on the slab, spread evenly, that the photo shows at a usable pixel size."""
    slab = shapely.Polygon(outline_mm)
    x0, y0, x1, y1 = slab.bounds
    x, y = np.meshgrid(np.linspace(x0, x1, _N_GRID), np.linspace(y0, y1, _N_GRID))
    inside = shapely.intersects_xy(slab, x.ravel(), y.ravel())
    plan = np.column_stack([x.ravel(), y.ravel()])[inside]
    plan = np.vstack([plan, np.array(outline_mm, dtype=float)])
    plan = plan[spread.homography.depth(plan) > 1e-6]
    px = frames.apply(spread.homography.px_from_plan, plan) if len(plan) else np.empty((0, 2))
    shown = ((px >= 0) & (px <= np.array(size) - 1)).all(axis=1)
    plan, px = plan[shown], px[shown]
    if len(plan) < 3:
        raise CalibrationError(
            subject,
            "with these readings it shows no part of the slab's outline",
            "check the places of sheets and marks against the outline, and the outline's corners",
        )
    size_mm = frames.mm_per_px_at(spread.homography.plan_from_px, px)[:, 0]
    plan = plan[size_mm <= spread.limits.pixel_greatest]
    if len(plan) < 3:
        raise CalibrationError(
            subject,
            f"one pixel covers {np.median(size_mm):.0f} mm of the slab, too much to show cracks",
            "take it nearer, from higher up or with more pixels, and check the places of sheets and marks",
            expected=spread.limits.pixel_greatest,
            found=float(np.median(size_mm)),
        )
    return plan


def _trusted_outline(spread: Spread, start: Float, seen: Float) -> tuple[tuple[float, float], ...]:
    """Polygon around the most certain spot, up to where a limit is reached in each direction."""
    reach = float(np.linalg.norm(seen - start, axis=1).max()) * 1.05
    angles = np.arange(_N_RAYS) * 2 * np.pi / _N_RAYS
    radii = np.linspace(0.0, reach, _N_STEPS + 1)[1:]
    rays = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    plan = start + rays[:, None, :] * radii[None, :, None]
    ok = spread.within(plan.reshape(-1, 2)).reshape(_N_RAYS, _N_STEPS)
    steps = np.where(ok.all(axis=1), _N_STEPS, ok.argmin(axis=1))
    corners = start + rays * (steps * reach / _N_STEPS)[:, None]
    return tuple((float(x), float(y)) for x, y in corners)
