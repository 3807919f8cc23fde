"""The partial walks that the page calls, against the whole walk and against plain arithmetic."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from analyzer import chain
from analyzer.errors import PictureError, SlabError


def test_problems_of_a_field_book_are_sentences(book: Path, book_text: str) -> None:
    assert chain.field_book_problems(book) == ()
    book.write_text(book_text.replace('"4 in"', '"4 inn"').replace('use = "foot"', 'use = "feet"'), "utf-8")
    problems = chain.field_book_problems(book)
    assert len(problems) == 2
    assert any("inn" in p for p in problems)
    assert any('"foot"' in p for p in problems)
    book.write_text("[job", "utf-8")
    assert len(chain.field_book_problems(book)) == 1


def test_levels_alone_are_those_of_the_whole_walk(book: Path) -> None:
    levels, clearances = chain.read_levels(book)
    assert levels
    # By hand: rods 48 in at A and B, 47 1/2 in at C and D; heights run the other way round.
    by_name = {s.station_id: s.z_mm for s in levels.stations}
    assert by_name["S3"] - by_name["S1"] == pytest.approx(12.7)
    assert clearances[0].height_mm == pytest.approx(177.8)  # 7 in
    book.write_text("[job", "utf-8")
    with pytest.raises(SlabError):
        chain.read_levels(book)


def test_a_picture_for_the_screen_stands_upright_and_tells_its_size(tmp_path: Path) -> None:
    pixels = np.full((300, 400, 3), 200, np.uint8)
    pixels[:40, :40] = (255, 0, 0)
    exif = Image.Exif()
    exif[0x0112] = 6  # EXIF 2.3, orientation 6: turn 90 degrees clockwise to stand upright
    Image.fromarray(pixels).save(tmp_path / "a.jpg", exif=exif, quality=95)
    data, n_rows, n_cols = chain.upright_picture(tmp_path / "a.jpg", 200)
    assert (n_rows, n_cols) == (400, 300)
    seen = Image.open(io.BytesIO(data))
    assert seen.size == (150, 200)
    assert seen.getexif() == {}
    red = np.asarray(seen.convert("RGB"))[5, -5]
    assert red[0] > 200
    assert red[1] < 80
    (tmp_path / "b.jpg").write_bytes(b"no picture")
    with pytest.raises(PictureError):
        chain.upright_picture(tmp_path / "b.jpg")


@pytest.mark.slow
def test_scales_alone_are_those_of_the_whole_walk() -> None:
    source = chain.sample_field_book("chapel_walk")
    alone = chain.scale_photos(source)
    whole = chain.analyze_job(source).calibrations
    for one, other in zip(alone, whole, strict=True):
        assert one.photo_id == other.photo_id
        assert np.array_equal(one.plan_from_px, other.plan_from_px)
