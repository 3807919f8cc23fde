"""Annotated photos: what was found, drawn over the photo it was read from.

The pictures are encoded anew from pixels, so neither place nor serial numbers of the original
travel with them.
"""

from __future__ import annotations

import io

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image, ImageColor, ImageDraw, ImageFont

from analyzer import frames
from analyzer.records import Calibration, JobRecord, Photo, PictureTraces, PlanImage
from analyzer.transmit import ink

_LONG_SIDE_PX = 1800
_SHORTEST_PX = 900
_SHIFT = 4
_QUALITY = 84

UInt8 = npt.NDArray[np.uint8]
Float = npt.NDArray[np.float64]


def annotated_photo(photo: Photo, calibration: Calibration, record: JobRecord) -> bytes:
    """JPEG of one photo with outline, joints and cracks drawn on it, long side 1800 px at most.

    Only what lies within the photo is drawn; a close-up without a place in plan comes back
    without lines.
    """
    canvas, scale = _resized(photo.rgb)
    if not calibration.has_plan_position:
        return jpeg(canvas)
    sheet = PhotoSheet(canvas, px_from_plan(photo, calibration), scale)
    draw_record(sheet, record)
    return jpeg(sheet.finish())


def px_from_plan(photo: Photo, calibration: Calibration) -> Float:
    """Matrix (3, 3) from plan (x, y, 1) to (row, col, w) with w positive before the camera."""
    matrix = frames.invert(calibration.plan_from_px)
    # What the middle of the photo shows lies before the camera; the plan's origin may not.
    middle = calibration.plan_from_px @ [(photo.rgb.shape[0] - 1) / 2, (photo.rgb.shape[1] - 1) / 2, 1.0]
    scaled: Float = matrix * np.sign(matrix[2] @ (middle / middle[2]))
    return scaled


def annotated_plan(plan: PlanImage, record: JobRecord) -> bytes:
    """JPEG of the slab seen from above, put together from the photos, with the lines on it."""
    grid = plan.grid
    mosaic = np.full((grid.n_rows, grid.n_cols, 3), 255, np.uint8)
    for view in plan.views:
        window = mosaic[
            view.row0 : view.row0 + view.best.shape[0], view.col0 : view.col0 + view.best.shape[1]
        ]
        window[view.best] = view.rgb[view.best]
    canvas, scale = _resized(mosaic)
    sheet = PhotoSheet(canvas, frames.grid_from_plan(grid), scale)
    draw_record(sheet, record)
    return jpeg(sheet.finish())


def plain_picture(rgb: UInt8, long_side_px: int | None = None) -> bytes:
    """JPEG of a picture (R, C, 3) as it is, at most ``long_side_px`` long."""
    long_side = max(rgb.shape[:2])
    if long_side_px and long_side > long_side_px:
        scale = long_side_px / long_side
        size = (max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale)))
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=cv2.INTER_AREA), np.uint8)
    return jpeg(rgb)


def annotated_picture(rgb: UInt8, traces: PictureTraces) -> bytes:
    """JPEG of a bare picture with detected cracks (solid) and joints (dashed)."""
    canvas, scale = _resized(rgb)
    sheet = PhotoSheet(canvas, np.eye(3), scale)
    for joint in traces.joints:
        sheet.line(joint.points_px, ink.JOINT, 1.4, dashed=True)
    for branches in traces.cracks:
        for branch in branches:
            sheet.line(branch.points_px, ink.CRACK, 1.2)
    return jpeg(sheet.finish())


class PhotoSheet:
    """A canvas that takes points of some frame and draws them cased in white.

    ``px_from_source`` (3, 3) is scaled so that the third coordinate is positive before the camera.
    """

    def __init__(self, canvas: UInt8, px_from_source: Float, scale: float) -> None:
        self.canvas = canvas
        self.px_from_source = px_from_source
        self.scale = scale
        self.unit = max(canvas.shape[:2]) / 900.0
        self.labels: list[tuple[tuple[float, float], str, str]] = []

    def pixels(self, points: npt.ArrayLike) -> Float:
        """Canvas (x, y) of source points; nan where behind the camera."""
        rc = frames.apply(self.px_from_source, points)
        homogeneous = np.c_[np.atleast_2d(np.asarray(points, float)), np.ones(len(rc))]
        behind = homogeneous @ self.px_from_source[2] <= 0
        rc[behind] = np.nan
        return frames.xy_from_rc((rc + 0.5) * self.scale - 0.5)

    def line(self, points: npt.ArrayLike, colour: str, weight: float, dashed: bool = False) -> None:
        """A polyline with a white casing; ``weight`` in units of 1/900 of the long side."""
        xy = self.pixels(points)
        xy = xy[np.isfinite(xy).all(axis=1)]
        if len(xy) < 2:
            return
        pieces = _dashes(xy, 9 * self.unit) if dashed else [xy]
        width = max(1, round(weight * self.unit * 1.2))
        for rgb, extra in (((255, 255, 255), 2), (ImageColor.getrgb(colour), 0)):
            for piece in pieces:
                limit = 2.0**26
                fixed = np.clip(np.round(piece * 2**_SHIFT), -limit, limit).astype(np.int32)
                cv2.polylines(
                    self.canvas, [fixed[:, None]], False, rgb[:3], width + extra, cv2.LINE_AA, _SHIFT
                )

    def label(self, point: tuple[float, float], text: str, colour: str) -> None:
        """Remember a label; all are placed together in :meth:`finish`."""
        x, y = self.pixels([point])[0]
        height, width = self.canvas.shape[:2]
        if np.isfinite([x, y]).all() and 0 <= x < width and 0 <= y < height:
            self.labels.append(((float(x), float(y)), text, colour))

    def finish(self) -> UInt8:
        """Place the labels so that they do not cover each other, and return the pixels."""
        if not self.labels:
            return self.canvas
        image = Image.fromarray(self.canvas)
        draw = ImageDraw.Draw(image)
        font = ImageFont.load_default(size=max(11.0, 13 * self.unit))
        frame = ink.Box(0, 0, image.width, image.height)
        taken: list[ink.Box] = []
        pad = 3 * self.unit
        for anchor, text, colour in self.labels:
            x0, y0, x1, y1 = draw.textbbox((0, 0), text, font=font)
            box = ink.place_label(anchor, (x1 - x0 + 2 * pad, y1 - y0 + 2 * pad), taken, frame)
            taken.append(box)
            near = (
                min(max(anchor[0], box.x), box.x + box.width),
                min(max(anchor[1], box.y), box.y + box.height),
            )
            draw.line([anchor, near], fill=colour, width=max(1, round(self.unit)))
            draw.rounded_rectangle(
                (box.x, box.y, box.x + box.width, box.y + box.height),
                radius=pad,
                fill="#ffffff",
                outline=colour,
            )
            draw.text((box.x + pad - x0, box.y + pad - y0), text, fill=colour, font=font)
        return np.asarray(image)


def draw_record(sheet: PhotoSheet, record: JobRecord, labels: bool = True) -> None:
    """Outline, joints, cracks and, if wanted, labels of the record in plan millimetres."""
    outline = [(c.x_mm, c.y_mm) for c in record.field.outline]
    sheet.line([*outline, outline[0]], ink.OUTLINE, 1.2)
    for joint in record.layout.joints:
        sheet.line(_along(joint.start_mm, joint.end_mm), ink.JOINT, 1.6, dashed=True)
    many = {name for area in record.survey.map_areas for name in area.crack_ids}
    for crack in record.distress.cracks:
        for branch in crack.branches:
            sheet.line(branch.points_mm, ink.CRACK, 1.1 * ink.crack_weight(crack))
    if not labels:
        return
    system = str(record.field.job.units)
    for panel in record.layout.panels:
        x, y = np.mean(np.asarray(panel.outline_mm), axis=0)
        sheet.label((float(x), float(y)), panel.panel_id, ink.OUTLINE)
    for crack in record.distress.cracks:
        middle = ink.longest_branch_middle(b.points_mm for b in crack.branches)
        if middle and crack.crack_id not in many:
            sheet.label(middle, ink.crack_label(crack, system), ink.CRACK)


def _along(start: tuple[float, float], end: tuple[float, float], n: int = 24) -> Float:
    """Points along a plan segment, so that it stays on the slab in a tilted view."""
    return np.linspace(np.asarray(start), np.asarray(end), n)


def _dashes(xy: Float, length: float) -> list[Float]:
    """Cut a polyline into dashes of about ``length`` with gaps of 0.8 of it."""
    steps = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))]
    if steps[-1] < length:
        return [xy]
    starts = np.arange(0.0, steps[-1], 1.8 * length)
    pieces = []
    for start in starts:
        at = np.linspace(start, min(start + length, steps[-1]), 4)
        pieces.append(np.c_[np.interp(at, steps, xy[:, 0]), np.interp(at, steps, xy[:, 1])])
    return pieces


def _resized(rgb: UInt8) -> tuple[UInt8, float]:
    """A writable copy with the long side between 900 px (to have room for labels) and 1800 px."""
    long_side = max(rgb.shape[:2])
    scale = min(1.0, _LONG_SIDE_PX / long_side) if long_side > _SHORTEST_PX else _SHORTEST_PX / long_side
    if scale == 1.0:
        return np.ascontiguousarray(rgb).copy(), 1.0
    size = (max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale)))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(rgb, size, interpolation=how), np.uint8), scale


def jpeg(rgb: UInt8) -> bytes:
    """Encode pixels alone: no EXIF, no colour profile, nothing of the original file."""
    out = io.BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=_QUALITY, optimize=True, subsampling=0)
    return out.getvalue()
