"""Pictures brought from the site, read upright in sRGB; the file on disk stays as it is."""

from __future__ import annotations

from pathlib import Path

from analyzer.acquire.decode import decode
from analyzer.acquire.exif import focal_px, turn_upright
from analyzer.errors import PictureError
from analyzer.records import Photo, PhotoNote

MIN_SIDE_PX = 64
MIN_MEGAPIXELS = 0.3
MAX_MEGAPIXELS = 200.0
PICTURE_SUFFIXES = frozenset(
    {".jpg", ".jpeg", ".jpe", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".hif", ".gif", ".bmp"}
)


def read_photo(
    path: str | Path,
    photo_id: str | None = None,
    min_megapixels: float = MIN_MEGAPIXELS,
    max_megapixels: float = MAX_MEGAPIXELS,
) -> Photo:
    """Read a photo to be measured on.

    Parameters
    ----------
    path : str or pathlib.Path
        JPEG, PNG, TIFF, WebP, HEIC/HEIF, GIF or BMP; the content decides, not the extension.
    photo_id : str, optional
        Its name in the job; the file's stem if not given.
    min_megapixels, max_megapixels : float
        Size that is taken, checked on the header before anything is decoded.

    Returns
    -------
    Photo
        ``rgb`` (R, C, 3) uint8 sRGB, upright, read-only. Transparency lies on white, 16-bit
        values keep their upper eight bits, of an animation the first frame is taken.

    Raises
    ------
    PictureError
        The file is missing, a folder, empty, no picture, cut off, damaged, too small or too
        large.
    """
    path = Path(path)
    stored = decode(path, MIN_SIDE_PX, min_megapixels * 1e6, max_megapixels * 1e6)
    rgb = turn_upright(stored.rgb, stored.turn)
    notes = stored.notes
    return Photo(
        photo_id=path.stem if photo_id is None else photo_id,
        file_name=path.name,
        rgb=rgb,
        sha256=stored.sha256,
        n_bytes=stored.n_bytes,
        orientation=notes.orientation,
        camera=notes.camera,
        taken_at=notes.taken_at,
        latitude_deg=notes.latitude_deg,
        longitude_deg=notes.longitude_deg,
        focal_px=focal_px(notes.focal_35mm, rgb.shape[0], rgb.shape[1]),
    )


def read_picture(path: str | Path) -> Photo:
    """Read any picture from 64 px a side up to 200 megapixels, for detection alone.

    Raises
    ------
    PictureError
        As :func:`read_photo`, without its lower limit of megapixels.
    """
    return read_photo(path, min_megapixels=0.0)


def note_photo(photo: Photo) -> PhotoNote:
    """What the record keeps of a photo: identity and camera notes, without pixels and place.

    Raises
    ------
    Nothing. Source: none.
    """
    n_rows, n_cols = photo.rgb.shape[:2]
    return PhotoNote(
        photo_id=photo.photo_id,
        file_name=photo.file_name,
        sha256=photo.sha256,
        n_bytes=photo.n_bytes,
        n_rows=n_rows,
        n_cols=n_cols,
        orientation=photo.orientation,
        camera=photo.camera,
        taken_at=None if photo.taken_at is None else photo.taken_at.isoformat(),
    )


def list_pictures(folder: str | Path) -> tuple[Path, ...]:
    """The picture files directly in a folder, by name; a picture file lists itself alone.

    Which files are pictures is told by extension here (reading then goes by content); hidden
    files are left out.

    Raises
    ------
    PictureError
        The path does not exist, or the folder holds no picture.
    """
    folder = Path(folder)
    if folder.is_file():
        return (folder,)
    if not folder.is_dir():
        raise PictureError(str(folder), "does not exist", "check the name of the picture or folder")
    try:
        found = [
            file
            for file in folder.iterdir()
            if file.suffix.lower() in PICTURE_SUFFIXES and not file.name.startswith(".") and file.is_file()
        ]
    except OSError as error:
        raise PictureError(str(folder), "cannot be listed", "check that you may read it") from error
    if not found:
        raise PictureError(
            str(folder), "holds no picture", "put JPEG, PNG, TIFF, WebP or HEIC files directly into it"
        )
    return tuple(sorted(found, key=lambda file: (file.name.casefold(), file.name)))
