"""The shipped samples: complete, walked end to end, and each stop they answer holds advice back."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import ExifTags, Image, ImageOps

from analyzer import acquire, chain
from analyzer.acquire.tables import STOPS
from analyzer.detect.network import WEIGHTS
from analyzer.records import JobRecord
from analyzer.terms import DetectMethod, Headline

ROOT = Path(__file__).resolve().parents[1] / "sample_images"
NAMES = tuple(sorted(p.parent.name for p in ROOT.glob("*/field_book.toml")))
METHOD = DetectMethod.NETWORK if WEIGHTS.exists() else DetectMethod.FILTERS
QUICK = "summerhouse_pad"
MOST_BYTES = 30_000_000


def expected(name: str) -> dict:
    """Headline, options and reason that the trade would give, as stored with the truth."""
    return json.loads((ROOT / name / "truth.json").read_text(encoding="utf-8"))["expected"]


def changed_book(name: str, folder: Path, old: str, new: str) -> Path:
    """A copy of a sample's book with one line changed (no photos beside it)."""
    text = (ROOT / name / "field_book.toml").read_text(encoding="utf-8")
    assert len(re.findall(old, text)) == 1, old
    book = folder / "field_book.toml"
    book.write_text(re.sub(old, new, text), encoding="utf-8")
    return book


def test_the_chain_knows_them_in_order() -> None:
    assert chain.samples() == NAMES
    assert len(NAMES) == 6
    assert NAMES[0] == "chapel_walk"


def test_they_stay_small() -> None:
    assert sum(p.stat().st_size for p in ROOT.rglob("*") if p.is_file()) < MOST_BYTES


@pytest.mark.parametrize("name", NAMES)
def test_a_sample_is_complete_and_marked_as_invented(name: str) -> None:
    field = acquire.read_field_book(ROOT / name / "field_book.toml")
    assert field.job.invented
    there = {p.name for p in (ROOT / name).iterdir()}
    assert there == {"field_book.toml", "truth.json", "SOURCE.md", *(photo.file for photo in field.photos)}
    assert len(field.stations) >= 8
    assert "nvented" in (ROOT / name / "SOURCE.md").read_text(encoding="utf-8")
    assert len(expected(name)["reason"]) > 60


@pytest.mark.parametrize("name", NAMES)
def test_photos_carry_time_and_focal_length_but_no_place(name: str) -> None:
    field = acquire.read_field_book(ROOT / name / "field_book.toml")
    photo = acquire.read_photo(ROOT / name / field.photos[0].file, "a")
    assert photo.taken_at is not None
    assert photo.taken_at.date() == field.job.date
    assert photo.focal_px is not None
    assert photo.latitude_deg is None


def check(record: JobRecord, name: str) -> None:
    """The recommendation is the trade's, and it says why."""
    wanted = expected(name)
    assert record.ranking.headline == Headline(wanted["headline"]), record.ranking.sentence
    assert str(record.ranking.option) in wanted["options"]
    assert record.ranking.reasons_for
    assert record.ranking.cautions
    assert all(finding.limit.source for finding in record.findings)


def test_the_quick_sample_end_to_end() -> None:
    job = chain.analyze_job(ROOT / QUICK / "field_book.toml", METHOD)
    check(job.record, QUICK)
    truth = json.loads((ROOT / QUICK / "truth.json").read_text(encoding="utf-8"))
    assert len(job.record.layout.panels) == len(truth["panels_mm"])


@pytest.mark.slow
@pytest.mark.parametrize("name", [n for n in NAMES if n != QUICK])
def test_every_other_sample_end_to_end(name: str, tmp_path: Path) -> None:
    book = ROOT / name / "field_book.toml"
    job = chain.analyze_job(book, METHOD)
    check(job.record, name)
    truth = json.loads((ROOT / name / "truth.json").read_text(encoding="utf-8"))
    assert len(job.record.layout.panels) == len(truth["panels_mm"])
    folder = chain.file_job(job, book, tmp_path / "job")
    assert chain.verify(folder.folder).ok


@pytest.mark.parametrize("stop", STOPS)
@pytest.mark.parametrize("answer", ["unknown", "yes"])
def test_a_stop_that_is_open_holds_all_advice_back(tmp_path: Path, stop: str, answer: str) -> None:
    """The pad that needs only a seal: without the one answer there is no advice to seal it either."""
    book = changed_book(QUICK, tmp_path, rf'(?m)^{stop} = "no"$', f'{stop} = "{answer}"')
    ranking = chain.assess_job(book).record.ranking
    assert ranking.headline is Headline.NONE_YET
    assert [s.stop_id for s in ranking.stops if s.blocks] == [stop]
    assert ranking.panel_actions == ()
    answered = chain.assess_job(ROOT / QUICK / "field_book.toml").record.ranking
    assert answered.headline is Headline.PATCH


@pytest.mark.parametrize(("name", "stop"), list(zip(NAMES, STOPS, strict=False)))
def test_every_sample_has_its_stops(tmp_path: Path, name: str, stop: str) -> None:
    book = changed_book(name, tmp_path, rf'(?m)^{stop} = "no"\n', "")
    ranking = chain.assess_job(book).record.ranking
    assert ranking.headline is Headline.NONE_YET
    assert [s.stop_id for s in ranking.stops if s.blocks] == [stop]


@pytest.mark.parametrize("name", NAMES)
def test_a_book_with_nothing_in_it_gives_no_advice(tmp_path: Path, name: str) -> None:
    text = (ROOT / name / "field_book.toml").read_text(encoding="utf-8")
    tables = re.split(r"(?m)^(?=\[)", text)
    kept = [t for t in tables if t.startswith(("[job]", "[[corner]]")) or not t.startswith("[")]
    book = tmp_path / "field_book.toml"
    book.write_text("".join(kept), encoding="utf-8")
    assert chain.assess_job(book).record.ranking.headline is Headline.NONE_YET


@pytest.mark.slow
@pytest.mark.parametrize("stored", [3, 6, 8])
def test_a_photo_turned_by_its_tag_gives_the_same_result(tmp_path: Path, stored: int) -> None:
    """The same pixels, stored upright and stored turned with the tag that says so (Pillow turns them)."""
    field = acquire.read_field_book(ROOT / QUICK / "field_book.toml")
    with Image.open(ROOT / QUICK / field.photos[0].file) as picture:
        upright = ImageOps.exif_transpose(picture).convert("RGB")
        focal = picture.getexif().get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm]
    turn = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}[
        stored
    ]
    records = []
    for name, pixels, tag in (("plain", upright, 1), ("turned", upright.transpose(turn), stored)):
        folder = tmp_path / name
        folder.mkdir()
        text = (ROOT / QUICK / "field_book.toml").read_text(encoding="utf-8")
        assert field.photos[0].file in text
        (folder / "field_book.toml").write_text(
            text.replace(field.photos[0].file, "photo.png"), encoding="utf-8"
        )
        exif = Image.Exif()
        exif[ExifTags.Base.Orientation] = tag
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = focal
        pixels.save(folder / "photo.png", compress_level=1, exif=exif)
        records.append(chain.analyze_job(folder / "field_book.toml", METHOD).record)
        shutil.rmtree(folder)
    plain, turned = records
    assert turned.photos[0].orientation == stored
    assert turned.ranking.headline is plain.ranking.headline
    assert len(plain.survey.cracks) > 0
    for one, two in zip(plain.survey.cracks, turned.survey.cracks, strict=True):
        assert one.length_mm == pytest.approx(two.length_mm)
        assert one.width_mean_mm == (two.width_mean_mm and pytest.approx(two.width_mean_mm))
    for one, two in zip(plain.calibrations, turned.calibrations, strict=True):
        assert np.array(one.plan_from_px) == pytest.approx(np.array(two.plan_from_px))
