"""Lines found on drawn photos against their truth: what a photo shows of a line, found, false, lengths.

True places are taken through the true camera into the photo that resolves them best and back through
the scale that the tool gave that photo, so that a scale a little off does not look like a line missed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

NEAR_PX = 5.0
WIDE_PX = 3.0
STEP_MM = 2.0
MARGIN_PX = 3.0
LEAST_COMPARED_MM = 150.0
"""Shorter pieces say nothing about length or width: their ends weigh more than their middle."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One photo of the truth: what it shows and at which scale."""

    px_from_plan: Float
    size_px: tuple[int, int]
    hidden: shapely.Geometry
    plan_from_px: Float

    def project(self, plan_mm: Float) -> Float:
        """Pixels (N, 2) of plan points; nan behind the camera."""
        q = plan_mm @ self.px_from_plan[:, :2].T + self.px_from_plan[:, 2]
        w = np.where(q[:, 2] > 1e-9, q[:, 2], np.nan)
        return np.asarray(q[:, :2] / w[:, None])

    def shows(self, plan_mm: Float) -> Bool:
        """Whether the points lie inside the frame."""
        px = self.project(plan_mm)
        inside = (px >= MARGIN_PX) & (px <= np.array(self.size_px) - 1 - MARGIN_PX)
        return np.asarray(inside.all(axis=1))

    def mm_per_px(self, plan_mm: Float) -> Float:
        """Geometric mean of both pixel sizes at plan points (N,)."""
        east, north = np.array([0.5, 0.0]), np.array([0.0, 0.5])
        du = self.project(plan_mm + east) - self.project(plan_mm - east)
        dv = self.project(plan_mm + north) - self.project(plan_mm - north)
        area = np.abs(du[:, 0] * dv[:, 1] - du[:, 1] * dv[:, 0])
        return np.asarray(1.0 / np.sqrt(np.maximum(area, 1e-12)))


def as_scaled(plan_mm: Float, views: Sequence[View]) -> Float:
    """True places (N, 2) where the tool's scale of the best photo puts them; unseen ones stay."""
    size = np.stack([np.where(v.shows(plan_mm), v.mm_per_px(plan_mm), np.inf) for v in views])
    best, seen = size.argmin(axis=0), np.isfinite(size.min(axis=0))
    moved = plan_mm.copy()
    for k, view in enumerate(views):
        mine = seen & (best == k)
        if mine.any():
            q = view.project(plan_mm[mine]) @ view.plan_from_px[:, :2].T + view.plan_from_px[:, 2]
            moved[mine] = q[:, :2] / q[:, 2:]
    return moved


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points every 2 mm along true lines, those that some photo shows.

    ``line`` (N,) numbers the true line, ``along_mm`` (N,) is the distance from its start,
    ``mm_per_px`` that of the photo that resolves the place best, ``width_px`` the true width as
    that photo shows it, across the line; ``scaled_mm`` (N, 2) is where the tool's scale puts them.
    """

    points_mm: Float
    scaled_mm: Float
    line: npt.NDArray[np.intp]
    along_mm: Float
    width_mm: Float
    width_px: Float
    mm_per_px: Float

    def pick(self, keep: Bool) -> Samples:
        """Some of the points."""
        return Samples(*(getattr(self, name)[keep] for name in self.__slots__))

    @property
    def length_mm(self) -> float:
        """Length that the points stand for."""
        return STEP_MM * len(self.line)


def views_of(truth: dict[str, Any], scales: dict[str, Float]) -> tuple[View, ...]:
    """The photos of a sample's truth, each with the scale (3, 3) that the tool gave it, by photo id."""
    views = []
    for photo in truth["photos"]:
        if photo["id"] not in scales:
            continue
        hidden = [shapely.Polygon(ring).buffer(0) for ring in photo["hidden_px"]]
        views.append(
            View(
                np.linalg.inv(np.array(photo["plan_from_px"])),
                (photo["size_px"][0], photo["size_px"][1]),
                shapely.union_all(hidden),
                scales[photo["id"]],
            )
        )
    return tuple(views)


def sample_lines(
    lines: Sequence[Float], widths: Sequence[Float], views: Sequence[View], outline_mm: Float
) -> Samples:
    """Points along true lines with what the best photo makes of them; unseen ones are left out."""
    points, line, along, width, normal = [], [], [], [], []
    for number, (track, opening) in enumerate(zip(lines, widths, strict=True)):
        steps = np.hypot(*np.diff(track, axis=0).T)
        at = np.concatenate([[0.0], np.cumsum(steps)])
        n = max(1, int(at[-1] / STEP_MM))
        here = (np.arange(n) + 0.5) * at[-1] / n
        xy = np.stack([np.interp(here, at, track[:, k]) for k in (0, 1)], axis=1)
        ahead = np.stack([np.interp(here + 4, at, track[:, k]) for k in (0, 1)], axis=1)
        behind = np.stack([np.interp(here - 4, at, track[:, k]) for k in (0, 1)], axis=1)
        direction = ahead - behind
        direction /= np.maximum(np.hypot(*direction.T), 1e-9)[:, None]
        points.append(xy)
        normal.append(np.stack([-direction[:, 1], direction[:, 0]], axis=1))
        line.append(np.full(n, number))
        along.append(here)
        width.append(np.interp(here, at, opening))
    xy, across = np.concatenate(points), np.concatenate(normal)
    opening = np.concatenate(width)
    size = np.stack([np.where(v.shows(xy), v.mm_per_px(xy), np.inf) for v in views])
    best = size.argmin(axis=0)
    seen = np.isfinite(size.min(axis=0))
    seen &= shapely.contains_xy(shapely.Polygon(outline_mm), xy[:, 0], xy[:, 1])
    width_px = np.zeros(len(xy))
    for k, view in enumerate(views):
        mine = seen & (best == k)
        if not mine.any():
            continue
        px = view.project(xy[mine])
        clear = ~shapely.contains_xy(view.hidden, px[:, 0], px[:, 1])
        half = across[mine] * opening[mine, None] / 2
        width_px[mine] = np.hypot(*(view.project(xy[mine] + half) - view.project(xy[mine] - half)).T)
        seen[np.flatnonzero(mine)] = clear
    whole = Samples(
        xy,
        as_scaled(xy, views),
        np.concatenate(line),
        np.concatenate(along),
        opening,
        width_px,
        size.min(axis=0),
    )
    return whole.pick(seen)


def found_share(samples: Samples, found: shapely.Geometry) -> Bool:
    """Which points of true lines lie within 5 px of a found line (N,)."""
    if found.is_empty or not len(samples.line):
        return np.zeros(len(samples.line), dtype=bool)
    shapely.prepare(found)
    distance = shapely.distance(shapely.points(samples.scaled_mm), found)
    return np.asarray(distance <= NEAR_PX * samples.mm_per_px)


def false_length(
    found: Sequence[Float], true: shapely.Geometry, views: Sequence[View]
) -> tuple[float, float]:
    """Length of found lines farther than 5 px from any true line, and their whole length, in mm."""
    wrong = whole = 0.0
    for track in found:
        line = shapely.LineString(track)
        n = max(2, int(line.length / STEP_MM) + 1)
        points = shapely.line_interpolate_point(line, (np.arange(n - 1) + 0.5) / (n - 1), normalized=True)
        xy = shapely.get_coordinates(points)
        size = np.min([np.where(v.shows(xy), v.mm_per_px(xy), np.inf) for v in views], axis=0)
        size = np.where(np.isfinite(size), size, 1.0)
        off = shapely.distance(points, true) > NEAR_PX * size
        whole += line.length
        wrong += line.length * float(off.mean())
    return wrong, whole


def spans(
    track: Float, lines: Sequence[Float], scaled: Sequence[Float], near_mm: float
) -> tuple[int, float, float] | None:
    """The true line along which a found one runs, and where it starts and ends on it; None if on none.

    ``scaled`` are the same vertices as the tool's scale puts them; start and end are true millimetres.
    """
    found = shapely.LineString(track)
    n = max(3, int(found.length / STEP_MM))
    points = shapely.line_interpolate_point(found, np.linspace(0, 1, n), normalized=True)
    for number, line in enumerate(scaled):
        seen = shapely.LineString(line)
        if float((shapely.distance(points, seen) <= near_mm).mean()) < 0.9:
            continue
        ends = [float(shapely.line_locate_point(seen, points[k])) for k in (0, -1)]
        along, true = (
            np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(vertices, axis=0).T))])
            for vertices in (line, lines[number])
        )
        start, end = np.interp(sorted(ends), along, true)
        return number, float(start), float(end)
    return None


def compare_branches(
    branches: Sequence[Any],
    lines: Sequence[Float],
    scaled: Sequence[Float],
    samples: Samples,
    views: Sequence[View],
) -> Iterator[tuple[float, float, float | None]]:
    """Measured against true length of each matched branch, and its error of width in px where wide.

    Yields (measured mm, true mm, error px or None); the width is compared where the true width is
    3 px or more on the photo.
    """
    for branch in branches:
        track = np.array(branch.points_mm)
        middle = track[len(track) // 2][None]
        sizes = [v.mm_per_px(middle)[0] for v in views if v.shows(middle)[0]]
        if branch.length_mm < LEAST_COMPARED_MM or not sizes:
            continue
        on = spans(track, lines, scaled, NEAR_PX * min(sizes))
        if on is None or on[2] - on[1] < 0.5 * branch.length_mm:
            continue
        number, start, end = on
        here = (samples.line == number) & (samples.along_mm >= start) & (samples.along_mm <= end)
        error = None
        if here.any() and branch.width_mean_mm is not None:
            px = float(np.median(samples.width_px[here]))
            true = float(samples.width_mm[here].mean())
            if px >= WIDE_PX:
                error = (branch.width_mean_mm - true) * px / true
        yield branch.length_mm, end - start, error


def dense(line: Float) -> Float:
    """The same line with a vertex at least every 50 mm."""
    return np.asarray(shapely.segmentize(shapely.LineString(line), 50.0).coords)
