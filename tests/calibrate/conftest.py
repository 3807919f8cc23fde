"""Draws small photos of a slab with marker sheets, with the exact homography beside them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
import pytest

from analyzer import frames
from analyzer.calibrate.target_sheet import sheet_from_picture, sheet_picture
from analyzer.records import Corner, FieldBook, Float, JobHead, Photo, SheetEntry, UInt8
from analyzer.units import Reading

Place = tuple[float, float, float, float]
"""Centre x, y in mm, turn in degrees, printed scale of a sheet."""


def px_from_plan_of_camera(
    *,
    eye_mm: tuple[float, float, float],
    look_at_mm: tuple[float, float],
    focal_px: float,
    size: tuple[int, int],
) -> Float:
    """Homography (3, 3) from plan (x, y, 1) to (row, col, 1) of a pinhole camera over the slab.

    The projection P = K [R | -R C] of the plane z = 0 (Hartley & Zisserman 2004, sec. 8.1.1, from
    memory), independent of the code under test.
    """
    eye = np.array(eye_mm)
    forward = np.array([*look_at_mm, 0.0]) - eye
    forward = forward / np.linalg.norm(forward)
    up = np.array([0.0, 1.0, 0.0]) if abs(forward[2]) > 0.99 else np.array([0.0, 0.0, 1.0])
    right = np.cross(forward, up)
    right = right / np.linalg.norm(right)
    rotation = np.stack([right, np.cross(forward, right), forward])
    n_rows, n_cols = size
    camera = np.array([[focal_px, 0, (n_cols - 1) / 2], [0, focal_px, (n_rows - 1) / 2], [0, 0, 1.0]])
    projection = camera @ np.column_stack([rotation, -rotation @ eye])[:, [0, 1, 3]]
    swapped: Float = projection[[1, 0, 2]]
    return swapped / swapped[2, 2]


def draw_photo(
    px_from_plan: Float,
    places: dict[int, Place],
    size: tuple[int, int],
    *,
    seed: int = 1,
    noise: float = 4.0,
    oversample: int = 3,
) -> UInt8:
    """A photo (R, C, 3) of grainy concrete with sheets on it, averaged over each pixel's area."""
    rng = np.random.default_rng(seed)
    fine = np.diag([oversample, oversample, 1.0])
    fine[:2, 2] = (oversample - 1) / 2
    picture = cv2.GaussianBlur(rng.normal(0, 60, size).astype(np.float32), (0, 0), 1.5) + 150
    for number, (x, y, turn_deg, scale) in places.items():
        drawn = sheet_picture(number, "a4", 4.0)
        c, s = scale * np.cos(np.radians(turn_deg)), scale * np.sin(np.radians(turn_deg))
        plan_from_drawn = np.array([[c, -s, x], [s, c, y], [0, 0, 1]]) @ sheet_from_picture("a4", 4.0)
        to_fine = fine @ px_from_plan @ plan_from_drawn
        corners = frames.apply(
            px_from_plan @ plan_from_drawn,
            [[0, 0], [0, drawn.shape[1]], [drawn.shape[0], drawn.shape[1]], [drawn.shape[0], 0]],
        )
        r0, c0 = np.clip(np.floor(corners.min(axis=0)) - 2, 0, size).astype(int)
        r1, c1 = np.clip(np.ceil(corners.max(axis=0)) + 3, 0, size).astype(int)
        if r1 <= r0 or c1 <= c0:
            continue
        moved = np.eye(3)
        moved[:2, 2] = -r0 * oversample, -c0 * oversample
        matrix = (moved @ to_fine)[[1, 0, 2]][:, [1, 0, 2]]
        shape = ((c1 - c0) * oversample, (r1 - r0) * oversample)
        sheet = cv2.warpPerspective(drawn.astype(np.float32), matrix, shape, flags=cv2.INTER_LINEAR)
        mask = cv2.warpPerspective(np.ones(drawn.shape, np.float32), matrix, shape, flags=cv2.INTER_LINEAR)
        sheet, mask = (cv2.resize(a, (c1 - c0, r1 - r0), interpolation=cv2.INTER_AREA) for a in (sheet, mask))
        window = picture[r0:r1, c0:c1]
        window *= 1 - mask
        window += 0.9 * sheet
    picture = cv2.GaussianBlur(picture, (0, 0), 0.6) + rng.normal(0, noise, size)
    return np.repeat(np.clip(np.rint(picture), 0, 255).astype(np.uint8)[:, :, None], 3, axis=2)


def photo_of(rgb: UInt8, photo_id: str = "p1", focal_px: float | None = None) -> Photo:
    """A Photo record around drawn pixels."""
    return Photo(photo_id, f"{photo_id}.jpg", rgb, "0" * 64, rgb.nbytes, focal_px=focal_px)


def field_of(
    sheets: dict[int, Place] | None = None,
    *,
    outline: tuple[tuple[float, float], ...] = ((0, 0), (3000, 0), (3000, 2400), (0, 2400)),
    with_turn: bool = True,
    with_ruler: bool = False,
) -> FieldBook:
    """A field book with an outline A, B, C, ... and sheet entries as typed without a mistake."""
    entries = tuple(
        SheetEntry(
            number,
            (x, y),
            turned_deg=turn if with_turn else None,
            ruler=Reading(100 * scale, 0.3, "ruler") if with_ruler else None,
        )
        for number, (x, y, turn, scale) in (sheets or {}).items()
    )
    return FieldBook(
        job=JobHead("test", "Invented slab", dt.date(2024, 5, 2), "test", invented=True),
        outline=tuple(Corner("ABCDEFGH"[i], *p) for i, p in enumerate(outline)),
        source="field_book.toml",
        sha256="0" * 64,
        sheets=entries,
    )


@dataclass(frozen=True)
class Kit:
    """The helpers above, as one fixture."""

    camera: Callable[..., Float] = px_from_plan_of_camera
    draw: Callable[..., UInt8] = draw_photo
    photo: Callable[..., Photo] = photo_of
    field: Callable[..., FieldBook] = field_of


@pytest.fixture(scope="session")
def kit() -> Kit:
    """Camera, drawing, photo and field book makers."""
    return Kit()
