"""Drawn samples: redrawn small they give the shipped truth, books agree, files read as photos."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
import shapely
from PIL import Image, ImageOps

from analyzer.training.scenes import JOBS, draw_job, job, truth_of
from analyzer.training.scenes.draw import book_text, save_photo, shoot
from analyzer.training.scenes.plan import Shot

pillow_heif.register_heif_opener()
SHIPPED = Path(__file__).resolve().parents[3] / "sample_images"


@pytest.mark.parametrize("name", JOBS)
def test_the_shipped_field_book_is_the_described_one(name: str) -> None:
    assert (SHIPPED / name / "field_book.toml").read_text(encoding="utf-8") == book_text(job(name))


@pytest.mark.parametrize("name", JOBS)
def test_the_shipped_truth_is_the_described_one(name: str) -> None:
    each = job(name)
    shipped = json.loads((SHIPPED / name / "truth.json").read_text(encoding="utf-8"))
    assert shipped["seed"] == each.seed
    assert shipped["expected"]["headline"] == each.expected.headline
    assert np.array(shipped["outline_mm"]) == pytest.approx(np.array(each.scene.outline_mm), abs=0.06)
    assert [p["id"] for p in shipped["photos"]] == [s.photo_id for s in each.shots]
    for photo, shot in zip(shipped["photos"], each.shots, strict=True):
        assert np.array(photo["plan_from_px"]) == pytest.approx(
            shot.camera().plan_from_px, rel=1e-9, abs=1e-9
        )
        with Image.open(SHIPPED / name / shot.file) as picture:
            assert ImageOps.exif_transpose(picture).size == shot.size_px[::-1]
    drawn = {crack["name"]: crack for crack in shipped["cracks"]}
    for plan in each.scene.cracks:
        crack = drawn[plan.name]
        ends = np.array(crack["points_mm"])[[0, -1]]
        assert ends == pytest.approx(np.array(plan.points_mm)[[0, -1]], abs=3.0)
        if crack["group"] != "map":
            assert crack["width_mean_mm"] == pytest.approx(np.mean(plan.width_mm), rel=0.25)
    mean = np.mean([crack["width_mean_mm"] for crack in shipped["cracks"]])
    assert mean == pytest.approx(np.mean([np.mean(c.width_mm) for c in each.scene.cracks]), rel=0.15)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("drawn") / "summerhouse_pad"
    draw_job(job("summerhouse_pad"), folder, scale=0.1)
    return folder


def test_redrawn_small_it_has_the_shipped_cracks(small: Path) -> None:
    truth, shipped = (
        json.loads((folder / "truth.json").read_text(encoding="utf-8"))
        for folder in (small, SHIPPED / "summerhouse_pad")
    )
    assert truth["joints"] == shipped["joints"]
    for one, two in zip(truth["cracks"], shipped["cracks"], strict=True):
        assert one == two


def test_truth_stays_near_the_drawn_line() -> None:
    """Stored centrelines against the drawn ones, by shapely's Hausdorff distance."""
    each = job("summerhouse_pad")
    picture = shoot(each, each.shots[0], 0.05)
    truth = truth_of(each, [picture])
    for line, crack in zip(picture.cracks, truth["cracks"], strict=True):
        kept = shapely.LineString(crack["points_mm"])
        assert kept.hausdorff_distance(shapely.LineString(line.centre_mm)) < 0.2
        assert crack["length_mm"] == pytest.approx(line.length_mm, rel=0.01)


def test_the_truth_leads_to_the_right_pixels() -> None:
    """On the shipped photo the true place of the joint is darker than a hand's breadth beside it."""
    folder = SHIPPED / "summerhouse_pad"
    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    photo = truth["photos"][0]
    with Image.open(folder / photo["file"]) as picture:
        grey = np.asarray(picture.convert("L"), float)
    y = np.linspace(300, 2300, 200)
    x = truth["joints"][0]["points_mm"][0][0]

    def along(dx: float) -> float:
        plan = np.column_stack([np.full_like(y, x + dx), y, np.ones_like(y)])
        q = plan @ np.linalg.inv(np.array(photo["plan_from_px"])).T
        rows, cols = (q[:, :2] / q[:, 2:]).round().astype(int).T
        return float(np.median(grey[rows, cols]))

    assert along(0.0) < min(along(d) for d in (-60.0, -12.0, 12.0, 60.0)) - 20


def test_the_note_says_where_it_comes_from(small: Path) -> None:
    note = (small / "SOURCE.md").read_text(encoding="utf-8")
    for word in ("seed", "python -m analyzer.training.scenes", "Invented", "MIT"):
        assert word in note


@pytest.mark.parametrize("stored", [1, 3, 6, 8])
def test_a_turned_file_shows_upright(tmp_path: Path, stored: int) -> None:
    """Pillow's own exif_transpose brings the stored pixels back upright."""
    rgb = np.zeros((40, 64, 3), np.uint8)
    rgb[:20, :32] = (200, 40, 40)
    shot = Shot("a", "a.jpg", (0.0, 0.0, 1.0), (0.0, 1.0), (40, 64), stored=stored, quality=95)
    save_photo(rgb, shot, "2025-01-02", tmp_path / "a.jpg")
    with Image.open(tmp_path / "a.jpg") as picture:
        upright = np.asarray(ImageOps.exif_transpose(picture))
        assert picture.getexif()[274] == stored
        assert picture.getexif().get_ifd(0x8769)[36867] == "2025:01:02 10:15:00"
    assert upright.shape == rgb.shape
    assert np.abs(upright.astype(int) - rgb).mean() < 6


def test_drawing_the_books_alone_leaves_photos(tmp_path: Path) -> None:
    draw_job(job("summerhouse_pad"), tmp_path, photos=False)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["SOURCE.md", "field_book.toml"]
