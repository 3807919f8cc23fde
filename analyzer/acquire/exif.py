"""What a camera wrote beside the pixels: orientation, camera, time, place, focal length.

Damaged or missing tags are unknown, never an error: a phone's notes must not stop a job.

References
----------
.. [1] JEITA CP-3451 (Exif 2.2), orientation tag p. 18 (read); the other tags (36867 time of
   taking, 36881 its offset, 41989 focal length as on 35 mm film, GPS directory) from memory.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from PIL import ExifTags, Image

from analyzer.records import UInt8

_FILM_DIAGONAL_MM = math.hypot(36.0, 24.0)
_MAX_CAMERA_CHARACTERS = 80


@dataclass(frozen=True, slots=True)
class ExifNotes:
    """Tags that the job uses. ``orientation`` is 1 to 8; everything else is None when unknown.

    ``focal_35mm`` is the focal length in millimetres that gives the same view on 36 x 24 mm film.
    """

    orientation: int = 1
    camera: str | None = None
    taken_at: dt.datetime | None = None
    latitude_deg: float | None = None
    longitude_deg: float | None = None
    focal_35mm: float | None = None


def read_notes(exif: Image.Exif) -> ExifNotes:
    """Read the tags of one picture; a tag that cannot be understood is left unknown.

    Raises
    ------
    Nothing. Source of the tag numbers: [1]_.
    """
    ifd = _directory(exif, ExifTags.IFD.Exif)
    gps = _directory(exif, ExifTags.IFD.GPSInfo)
    latitude = _degrees(gps.get(ExifTags.GPS.GPSLatitude), gps.get(ExifTags.GPS.GPSLatitudeRef), "S", 90.0)
    longitude = _degrees(
        gps.get(ExifTags.GPS.GPSLongitude), gps.get(ExifTags.GPS.GPSLongitudeRef), "W", 180.0
    )
    if latitude is None or longitude is None or latitude == longitude == 0.0:
        # Half a place is none, and 0, 0 is what a receiver without a fix writes.
        latitude = longitude = None
    return ExifNotes(
        orientation=_orientation(_value(exif, ExifTags.Base.Orientation)),
        camera=_camera(_value(exif, ExifTags.Base.Make), _value(exif, ExifTags.Base.Model)),
        taken_at=_time(ifd.get(ExifTags.Base.DateTimeOriginal), ifd.get(ExifTags.Base.OffsetTimeOriginal))
        or _time(_value(exif, ExifTags.Base.DateTime), ifd.get(ExifTags.Base.OffsetTime)),
        latitude_deg=latitude,
        longitude_deg=longitude,
        focal_35mm=_positive(ifd.get(ExifTags.Base.FocalLengthIn35mmFilm)),
    )


def focal_px(focal_35mm: float | None, n_rows: int, n_cols: int) -> float | None:
    """Focal length in pixels from its 35 mm equivalent, by the diagonal of the picture.

    Nominal: the tag is rounded to whole millimetres and a crop after taking is not in it.
    """
    if focal_35mm is None:
        return None
    return focal_35mm / _FILM_DIAGONAL_MM * math.hypot(n_rows, n_cols)


def turn_upright(rgb: UInt8, orientation: int) -> UInt8:
    """Turn stored pixels (R, C, 3) upright by the EXIF orientation 1 to 8; contiguous.

    May write into ``rgb`` (7) or return it (1); at most one more picture is held in memory.
    Source: table of tag 274 in [1]_, the place of stored row 0 and column 0 in the upright view.
    """
    if orientation == 2:  # row 0 at the top, column 0 at the right
        turned = cv2.flip(rgb, 1)
    elif orientation == 3:  # bottom, right
        turned = cv2.rotate(rgb, cv2.ROTATE_180)
    elif orientation == 4:  # bottom, left
        turned = cv2.flip(rgb, 0)
    elif orientation == 5:  # left, top
        turned = cv2.transpose(rgb)
    elif orientation == 6:  # right, top
        turned = cv2.rotate(rgb, cv2.ROTATE_90_CLOCKWISE)
    elif orientation == 7:  # right, bottom
        turned = cv2.transpose(cv2.flip(rgb, -1, dst=rgb))
    elif orientation == 8:  # left, bottom
        turned = cv2.rotate(rgb, cv2.ROTATE_90_COUNTERCLOCKWISE)
    else:
        return rgb
    return np.asarray(turned, dtype=np.uint8)


def _directory(exif: Image.Exif, tag: int) -> dict[int, Any]:
    try:
        return dict(exif.get_ifd(tag))
    except Exception:  # a damaged directory can raise anything; it is then as good as absent
        return {}


def _value(exif: Image.Exif, tag: int) -> Any:
    try:
        return exif.get(tag)
    except Exception:  # as above
        return None


def _orientation(raw: Any) -> int:
    return int(raw) if isinstance(raw, int) and 1 <= raw <= 8 else 1


def _text(raw: Any) -> str:
    if isinstance(raw, bytes):
        raw = raw.decode("utf-8", "replace")
    if not isinstance(raw, str):
        return ""
    printable = "".join(c if c.isprintable() else " " for c in raw.split("\x00")[0])
    return " ".join(printable.split())[:_MAX_CAMERA_CHARACTERS]


def _camera(make: Any, model: Any) -> str | None:
    make_text, model_text = _text(make), _text(model)
    if model_text.lower().startswith(make_text.lower()):
        make_text = ""
    return f"{make_text} {model_text}".strip() or None


def _time(raw: Any, offset: Any) -> dt.datetime | None:
    try:
        moment = dt.datetime.strptime(_text(raw), "%Y:%m:%d %H:%M:%S")
    except ValueError:
        return None
    match = re.fullmatch(r"([+-])(\d\d):(\d\d)", _text(offset))
    if match and int(match[2]) <= 14 and int(match[3]) < 60:
        minutes = int(match[1] + "1") * (60 * int(match[2]) + int(match[3]))
        moment = moment.replace(tzinfo=dt.timezone(dt.timedelta(minutes=minutes)))
    return moment


def _positive(raw: Any) -> float | None:
    try:
        value = float(raw)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    return value if math.isfinite(value) and value > 0 else None


def _degrees(raw: Any, reference: Any, negative: str, limit: float) -> float | None:
    try:
        degrees, minutes, seconds = (float(part) for part in raw)
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return None
    value = degrees + minutes / 60 + seconds / 3600
    if not (math.isfinite(value) and 0 <= value <= limit):
        return None
    return -value if _text(reference).upper() == negative else value
