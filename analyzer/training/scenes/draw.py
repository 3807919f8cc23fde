"""Draws a sample job into its folder: photos with EXIF, exact truth, field book, provenance."""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pillow_heif
from PIL import ExifTags, Image
from shapely import LineString

from analyzer.training.render.curves import F64
from analyzer.training.render.scene import LineTruth, RenderedPhoto, render_photo
from analyzer.training.scenes.book import to_toml
from analyzer.training.scenes.plan import SampleJob, Shot

TRUTH_FORMAT = 1
KEPT_WITHIN_MM = 0.15
"""Farthest that a stored centreline is off the drawn one."""

_UPRIGHT_TO_STORED = {
    3: Image.Transpose.ROTATE_180,
    6: Image.Transpose.ROTATE_90,
    8: Image.Transpose.ROTATE_270,
}
_HEAD = (
    "Field book of an invented job: {title}.\nPlace, people and readings are made up; the photos "
    "are drawn.\n\n"
    "Plan: seen from above, x to the right, y towards the top of the sketch. A point is [x, y].\n"
    'Whatever is not known is left out or "unknown".'
)


def draw_job(job: SampleJob, out: Path, scale: float = 1.0, photos: bool = True) -> None:
    """Write one sample job: ``field_book.toml``, photos, ``truth.json``, ``SOURCE.md``.

    Parameters
    ----------
    job : SampleJob
    out : Path
        Its folder; made if it is not there, files of the same name are replaced.
    scale : float
        Size of the photos against the real ones, for tests. Marks in the field book are those of
        the full size whatever the scale.
    photos : bool
        False leaves photos and truth as they are and writes the field book and note only.
    """
    out.mkdir(parents=True, exist_ok=True)
    (out / "field_book.toml").write_text(book_text(job), encoding="utf-8")
    (out / "SOURCE.md").write_text(_source_note(job), encoding="utf-8")
    if not photos:
        return
    drawn = []
    for shot in job.shots:
        picture = shoot(job, shot, scale)
        drawn.append(picture)
        save_photo(picture.rgb, shot, _date(job), out / shot.file)
    text = json.dumps(truth_of(job, drawn), separators=(",", ":"))
    (out / "truth.json").write_text(text.replace('},{"', '},\n{"') + "\n", encoding="utf-8")


def shoot(job: SampleJob, shot: Shot, scale: float = 1.0) -> RenderedPhoto:
    """Draw one photo of a job; a smaller one with a coarser texture."""
    scene = job.with_sheets()
    if scene.texture_mm is not None:
        scene = replace(scene, texture_mm=scene.texture_mm / scale)
    return render_photo(scene, shot.camera(scale), job.seed)


def book_text(job: SampleJob) -> str:
    """The field book of a job as TOML."""
    tables = job.book(job)
    title = str(tables[0].values["title"])
    return to_toml(tables, _HEAD.format(title=title[0].lower() + title[1:]))


def save_photo(rgb: np.ndarray, shot: Shot, date: str, path: Path) -> None:
    """Write a photo as its camera would: turned as held, with time, focal length and orientation.

    HEIF by the ending ``.heic``, else JPEG.
    """
    picture = Image.fromarray(rgb)
    turn = _UPRIGHT_TO_STORED.get(shot.stored)
    if turn is not None:
        picture = picture.transpose(turn)
    exif = Image.Exif()
    exif[ExifTags.Base.Make] = "Invented"
    exif[ExifTags.Base.Model] = "drawn phone camera"
    exif[ExifTags.Base.Orientation] = shot.stored
    inner = exif.get_ifd(ExifTags.IFD.Exif)
    inner[ExifTags.Base.DateTimeOriginal] = f"{date.replace('-', ':')} {shot.time}"
    inner[ExifTags.Base.FocalLengthIn35mmFilm] = round(shot.focal_35mm)
    if path.suffix == ".heic":
        # Readers of this format turn the picture by the box, not by the tag: store it upright.
        exif[ExifTags.Base.Orientation] = 1
        heif = pillow_heif.from_pillow(Image.fromarray(rgb))
        heif.save(path, quality=shot.quality, exif=exif.tobytes())
    else:
        picture.save(path, "JPEG", quality=shot.quality, subsampling="4:2:0", optimize=True, exif=exif)


def truth_of(job: SampleJob, drawn: Sequence[RenderedPhoto]) -> dict[str, Any]:
    """The exact truth of a job as plain data.

    Lines are the same on every photo; lengths are in plan mm. ``length_mm`` of a crack is that of
    its stored centreline. ``hidden_px`` are polygons [row, col] on the full-size upright photo
    where something lies on the slab.
    """
    first = drawn[0]
    darkness = {plan.name: plan.darkness for plan in job.scene.cracks}
    groups = dict.fromkeys(job.hairlines, "hairline") | dict.fromkeys(job.map_cracks, "map")
    return {
        "format": TRUTH_FORMAT,
        "name": job.name,
        "seed": job.seed,
        "expected": {
            "headline": job.expected.headline,
            "options": list(job.expected.options),
            "reason": job.expected.reason,
        },
        "outline_mm": _points(np.array(job.scene.outline_mm, float)),
        "panels_mm": [_points(np.array(p, float)) for p in job.panels_mm],
        "joints": [_joint(line) for line in first.joints],
        "cracks": [_crack(line, groups.get(line.name, "crack"), darkness) for line in first.cracks],
        "photos": [_photo(shot, picture) for shot, picture in zip(job.shots, drawn, strict=True)],
    }


def _points(points: F64, digits: int = 1) -> list[list[float]]:
    return [[round(float(a), digits), round(float(b), digits)] for a, b in points]


def _joint(line: LineTruth) -> dict[str, Any]:
    ends = line.centre_mm[[0, -1]]
    width = round(float(np.median(line.width_mm)), 2)
    return {"name": line.name, "kind": line.kind, "points_mm": _points(ends), "width_mm": width}


def _crack(line: LineTruth, group: str, darkness: Mapping[str, float]) -> dict[str, Any]:
    kept = np.asarray(LineString(line.centre_mm).simplify(KEPT_WITHIN_MM).coords)
    index = {tuple(p): k for k, p in enumerate(map(tuple, line.centre_mm))}
    at = [index[tuple(p)] for p in kept]
    # The width between two stored points is the mean of what was drawn there.
    bounds = np.concatenate([[0], (np.array(at[:-1]) + np.array(at[1:])) // 2, [len(line.width_mm)]])
    widths = [float(line.width_mm[a : max(b, a + 1)].mean()) for a, b in itertools.pairwise(bounds)]
    return {
        "name": line.name,
        "group": group,
        "look": line.kind,
        "darkness": darkness.get(line.name, 0.0),
        "points_mm": _points(kept, 2),
        "width_mm": [round(w, 2) for w in widths],
        "width_mean_mm": round(float(line.width_mm.mean()), 3),
        "width_max_mm": round(float(np.quantile(line.width_mm, 0.98)), 3),
        "length_mm": round(float(LineString(kept).length), 1),
    }


def _photo(shot: Shot, picture: RenderedPhoto) -> dict[str, Any]:
    rows, cols = shot.size_px
    factor = rows / picture.hidden.shape[0]
    rings, _ = cv2.findContours(picture.hidden, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    hidden = []
    for ring in rings:
        simple = cv2.approxPolyDP(ring, 2.0, True)[:, 0, ::-1]
        if len(simple) >= 3:
            hidden.append([[round(float(r) * factor), round(float(c) * factor)] for r, c in simple])
    matrix = shot.camera().plan_from_px
    return {
        "id": shot.photo_id,
        "file": shot.file,
        "size_px": [rows, cols],
        "plan_from_px": [[float(f"{v:.12g}") for v in row] for row in matrix],
        "hidden_px": hidden,
    }


def _date(job: SampleJob) -> str:
    return str(job.book(job)[0].values["date"])


def _source_note(job: SampleJob) -> str:
    lines: Mapping[str, str] = {
        "What": job.story,
        "Origin": (
            f"Drawn by `analyzer/training/render` from `analyzer/training/scenes/{job.name}.py`, "
            f"seed {job.seed}. "
            "No photograph of a real place was used."
        ),
        "People, place, readings": "Invented. Any likeness to a real person, firm or place is chance.",
        "Redraw": f"`python -m analyzer.training.scenes --out sample_images {job.name}`",
        "Truth": (
            "`truth.json`: crack centrelines and widths, joints, panels and outline in plan millimetres "
            "(x to the right, y up), and for each photo the matrix `plan_from_px` that takes (row, "
            "col, 1) of "
            "the upright picture to (x, y, w)."
        ),
        "Expected": f"{job.expected.headline}: {job.expected.reason}",
        "Licence": "MIT, as the package.",
    }
    return (
        f"# {job.name.replace('_', ' ').capitalize()}\n\n"
        + "\n".join(f"- **{key}.** {text}" for key, text in lines.items())
        + "\n"
    )
