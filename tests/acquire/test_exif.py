"""Camera notes and turning upright, against the published table and against Pillow."""

import datetime as dt
import math

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageOps

from analyzer.acquire.exif import ExifNotes, focal_px, read_notes, turn_upright

# JEITA CP-3451 (Exif 2.2) p. 18, tag 274 (read): where stored row 0 and stored column 0 lie in
# the upright view.
TABLE_274 = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


def upright_by_table(stored: np.ndarray, orientation: int) -> np.ndarray:
    """Place every stored pixel by the words of the table, one by one."""
    row_side, col_side = TABLE_274[orientation]
    n_i, n_j = stored.shape[:2]
    height, width = (n_i, n_j) if row_side in ("top", "bottom") else (n_j, n_i)
    upright = np.zeros((height, width, 3), np.uint8)
    for i in range(n_i):
        for j in range(n_j):
            place = {}
            for side, step in ((row_side, i), (col_side, j)):
                if side == "top":
                    place["row"] = step
                elif side == "bottom":
                    place["row"] = height - 1 - step
                elif side == "left":
                    place["col"] = step
                else:
                    place["col"] = width - 1 - step
            upright[place["row"], place["col"]] = stored[i, j]
    return upright


def numbered(n_rows: int, n_cols: int) -> np.ndarray:
    return np.arange(n_rows * n_cols * 3, dtype=np.uint8).reshape(n_rows, n_cols, 3)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_upright_as_the_published_table_says(orientation: int) -> None:
    stored = numbered(5, 7)
    expected = upright_by_table(stored, orientation)
    np.testing.assert_array_equal(turn_upright(stored.copy(), orientation), expected)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_upright_as_pillow_turns_it(orientation: int) -> None:
    # General library: PIL.ImageOps.exif_transpose.
    stored = numbered(6, 4)
    image = Image.fromarray(stored)
    image.getexif()[ExifTags.Base.Orientation] = orientation
    expected = np.asarray(ImageOps.exif_transpose(image))
    turned = turn_upright(stored.copy(), orientation)
    np.testing.assert_array_equal(turned, expected)
    assert turned.flags.c_contiguous


@pytest.mark.parametrize("raw", [0, 9, 255, "6", None])
def test_reserved_orientations_are_taken_as_upright(raw: object) -> None:
    # Same table: other values are reserved.
    exif = Image.Exif()
    if raw is not None:
        exif[ExifTags.Base.Orientation] = raw
    assert read_notes(exif).orientation == 1


def full_exif() -> Image.Exif:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = 6
    exif[ExifTags.Base.Make] = "Example"
    exif[ExifTags.Base.Model] = "Example One\x00"
    exif[ExifTags.Base.DateTime] = "2025:04:13 08:00:00"
    ifd = exif.get_ifd(ExifTags.IFD.Exif)
    ifd[ExifTags.Base.DateTimeOriginal] = "2025:04:12 14:03:20"
    ifd[ExifTags.Base.OffsetTimeOriginal] = "-05:30"
    ifd[ExifTags.Base.FocalLengthIn35mmFilm] = 26
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitudeRef] = "S"
    gps[ExifTags.GPS.GPSLatitude] = (12.0, 30.0, 36.0)
    gps[ExifTags.GPS.GPSLongitudeRef] = "W"
    gps[ExifTags.GPS.GPSLongitude] = (45.0, 15.0, 0.0)
    return exif


def test_notes_of_a_phone() -> None:
    notes = read_notes(full_exif())
    assert notes.orientation == 6
    assert notes.camera == "Example One"
    assert notes.taken_at == dt.datetime(
        2025, 4, 12, 14, 3, 20, tzinfo=dt.timezone(-dt.timedelta(hours=5, minutes=30))
    )
    # Worked by hand: 12 deg 30 min 36 s = 12.51 deg, south is negative.
    assert notes.latitude_deg == pytest.approx(-12.51)
    assert notes.longitude_deg == pytest.approx(-45.25)
    assert notes.focal_35mm == 26


def test_the_time_of_saving_stands_in_for_the_time_of_taking() -> None:
    exif = full_exif()
    del exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal]
    assert read_notes(exif).taken_at == dt.datetime(2025, 4, 13, 8, 0)


def test_nothing_noted_is_unknown() -> None:
    assert read_notes(Image.Exif()) == ExifNotes()


@pytest.mark.parametrize(
    ("tag", "raw"),
    [
        (ExifTags.GPS.GPSLatitude, (0.0, 0.0)),
        (ExifTags.GPS.GPSLatitude, (math.nan, 0.0, 0.0)),
        (ExifTags.GPS.GPSLatitude, (91.0, 0.0, 0.0)),
        (ExifTags.GPS.GPSLatitude, None),
        (ExifTags.GPS.GPSLongitude, (181.0, 0.0, 0.0)),
    ],
)
def test_a_damaged_place_is_unknown_as_a_whole(tag: int, raw: object) -> None:
    exif = full_exif()
    exif.get_ifd(ExifTags.IFD.GPSInfo)[tag] = raw
    notes = read_notes(exif)
    assert notes.latitude_deg is None
    assert notes.longitude_deg is None
    assert notes.camera == "Example One"


def test_a_receiver_without_a_fix_is_unknown() -> None:
    exif = full_exif()
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitude] = gps[ExifTags.GPS.GPSLongitude] = (0.0, 0.0, 0.0)
    assert read_notes(exif).latitude_deg is None


@pytest.mark.parametrize("raw", ["0000:00:00 00:00:00", "    :  :     :  :  ", "2025-04-12", 7, None])
def test_a_time_that_is_none_is_unknown(raw: object) -> None:
    exif = full_exif()
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = raw
    exif[ExifTags.Base.DateTime] = "junk"
    assert read_notes(exif).taken_at is None


def test_focal_length_in_pixels_on_a_film_shaped_picture() -> None:
    # 36 mm of film on 3600 columns: 100 px per mm, so 50 mm are 5000 px (worked by hand).
    assert focal_px(50.0, 2400, 3600) == pytest.approx(5000.0)
    assert focal_px(None, 2400, 3600) is None
