"""What one sample job consists of: a drawn slab, the photos taken of it, and the story it tells."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from analyzer.calibrate.target_sheet import sheet_from_picture, sheet_picture
from analyzer.training.render.curves import F64
from analyzer.training.render.plan import Point, SheetPlan, SlabScene
from analyzer.training.render.projection import Camera, look_at_camera
from analyzer.training.scenes.book import Table

FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo: where the camera stood, where it looked, how the file is stored.

    ``size_px`` is (rows, cols) of the upright picture. ``stored`` is the EXIF orientation of the
    file: 6 for a phone held upright. ``focal_35mm`` is the nominal focal length on 35 mm film.
    """

    photo_id: str
    file: str
    position_mm: tuple[float, float, float]
    target_mm: Point
    size_px: tuple[int, int] = (3000, 4000)
    roll_deg: float = 0.0
    focal_35mm: float = 26.0
    quality: int = 86
    stored: int = 1
    time: str = "10:15:00"

    def camera(self, scale: float = 1.0) -> Camera:
        """The camera; ``scale`` < 1 gives a smaller picture of the same view."""
        rows, cols = (max(8, round(n * scale)) for n in self.size_px)
        focal_px = self.focal_35mm / FILM_DIAGONAL_MM * math.hypot(rows, cols)
        return look_at_camera(
            self.position_mm, self.target_mm, focal_px, (rows, cols), math.radians(self.roll_deg)
        )


@dataclass(frozen=True, slots=True)
class Sheet:
    """A marker sheet lying on the slab: its number, its centre cross and its turn."""

    number: int
    centre_mm: Point
    turned_deg: float = 0.0
    paper: str = "letter"


@dataclass(frozen=True, slots=True)
class Expected:
    """What the trade would do, and why; ``headline`` is a word of :class:`analyzer.terms.Headline`."""

    headline: str
    options: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class SampleJob:
    """A sample job. ``height_mm`` gives the surface height over the datum at plan points (n, 2).

    ``hairlines`` and ``map_cracks`` name drawn cracks that are reported apart: thinner than a
    photo can be asked to show, or one of many.
    """

    name: str
    seed: int
    scene: SlabScene
    shots: tuple[Shot, ...]
    sheets: tuple[Sheet, ...]
    panels_mm: tuple[tuple[Point, ...], ...]
    height_mm: Callable[[F64], F64]
    book: Callable[[SampleJob], tuple[Table, ...]]
    expected: Expected
    story: str
    hairlines: tuple[str, ...] = ()
    map_cracks: tuple[str, ...] = ()
    source: dict[str, str] = field(default_factory=dict)

    def with_sheets(self) -> SlabScene:
        """The scene with its marker sheets lying on it."""
        return replace(self.scene, sheets=tuple(lay_sheet(sheet) for sheet in self.sheets))

    def shot(self, photo_id: str) -> Shot:
        """The shot of a photo."""
        return next(shot for shot in self.shots if shot.photo_id == photo_id)


def lay_sheet(sheet: Sheet, px_per_mm: float = 3.0) -> SheetPlan:
    """A printed marker sheet on the slab, as the renderer takes it."""
    picture = sheet_picture(sheet.number, sheet.paper, px_per_mm)
    rows, cols = picture.shape
    corners = np.array(
        [[-0.5, -0.5, 1], [-0.5, cols - 0.5, 1], [rows - 0.5, cols - 0.5, 1], [rows - 0.5, -0.5, 1]]
    )
    local = (corners @ sheet_from_picture(sheet.paper, px_per_mm).T)[:, :2]
    a = math.radians(sheet.turned_deg)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    placed = local @ turn + np.array(sheet.centre_mm)
    points = [(float(x), float(y)) for x, y in placed]
    return SheetPlan(picture, (points[0], points[1], points[2], points[3]))


def rectangle(x0: float, y0: float, x1: float, y1: float) -> tuple[Point, ...]:
    """Corners of a rectangle, anticlockwise from the lower left."""
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
