"""Printed sheets come out at true size, and the markers on them are found again."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import cv2
import numpy as np
import pytest
from pypdf import PdfReader

from analyzer import calibrate
from analyzer.acquire.kinds import Word
from analyzer.acquire.tables import BOOK
from analyzer.terms import Abuts, Answer, HeightKind, JointKind, Support
from analyzer.transmit import field_sheet_pdf, target_sheets_pdf
from analyzer.transmit.sheets import sheet_svg

MM_PER_POINT = 25.4 / 72


@pytest.mark.parametrize(("paper", "size_mm"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
def test_true_size_pages(paper: str, size_mm: tuple[float, float]) -> None:
    # ANSI A is 8.5 x 11 in, ISO 216 A4 is 210 x 297 mm; a point is 1/72 in.
    reader = PdfReader(io.BytesIO(target_sheets_pdf(calibrate.target_sheets(paper))))
    assert len(reader.pages) == 4
    for page in reader.pages:
        box = page.mediabox
        sides = sorted((float(box.width) * MM_PER_POINT, float(box.height) * MM_PER_POINT))
        assert sides == pytest.approx(sorted(size_mm), abs=0.1)


@pytest.mark.skipif(
    shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not on this machine"
)
def test_markers_are_found_on_the_printed_page(tmp_path: Path) -> None:
    # OpenCV's own ArUco detector as the reader, on the page rendered by poppler.
    sheets = calibrate.target_sheets("letter")
    (tmp_path / "s.pdf").write_bytes(target_sheets_pdf(sheets))
    subprocess.run(
        ["pdftoppm", "-r", "100", "-png", "-f", "2", "-l", "2", str(tmp_path / "s.pdf"), str(tmp_path / "p")],
        check=True,
    )
    picture = cv2.imread(str(next(tmp_path.glob("p*.png"))), cv2.IMREAD_GRAYSCALE)
    assert picture is not None
    found = calibrate.find_sheets(np.repeat(picture[..., None], 3, axis=2))
    assert [s.number for s in found.sheets] == [2]


def test_svg_holds_the_whole_geometry() -> None:
    sheet = calibrate.target_sheets("a4")[0]
    svg = sheet_svg(sheet)
    assert f'viewBox="0 0 {sheet.width_mm} {sheet.height_mm}"' in svg
    assert all(text.text in svg for text in sheet.texts if "&" not in text.text and '"' not in text.text)


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_pencil_sheet_asks_everything_on_two_pages(paper: str) -> None:
    reader = PdfReader(io.BytesIO(field_sheet_pdf(paper)))
    assert len(reader.pages) == 2
    text = " ".join(" ".join(p.extract_text() for p in reader.pages).split())
    for words in (
        "post-tensioned",
        "Level stations",
        "weep screed",
        "crack gauge",
        "empty means unknown",
        "Marker sheets",
    ):
        # A line may break behind a hyphen.
        assert words in text.replace("- ", "-")


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_pencil_sheet_uses_the_words_of_the_field_book(paper: str) -> None:
    reader = PdfReader(io.BytesIO(field_sheet_pdf(paper)))
    text = " ".join(" ".join(p.extract_text() for p in reader.pages).split())
    plain = text.replace("’", "'").replace("- ", "-").casefold()
    tables = {table.name: table for table in BOOK.tables}
    # Every question about site and slab stands there as the book asks it.
    for name in ("stops", "site", "slab"):
        for key in tables[name].keys:
            if isinstance(key.kind, Word) and tuple(key.kind.words) == tuple(Answer):
                assert key.doc.casefold() in plain, key.doc
    # Every word of these lists can be copied from the sheet.
    for words in (Abuts, Support, HeightKind, JointKind):
        for word in words:
            assert word == "unknown" or word in plain, word
    # Room for what a reading may be off, wherever the book's own example has it.
    for words in ("Thickness", "Deepest standing water", "Rod or height ±", "Width ±", "Step ±", "Gap ±"):
        assert words in text
    for names in (("A", "F"), ("S1", "S15"), ("C1", "C6"), ("J1", "J4")):
        assert set(names) <= set(text.split())


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_each_page_of_the_pencil_sheet_keeps_its_own_part(paper: str) -> None:
    first, second = (page.extract_text() for page in PdfReader(io.BytesIO(field_sheet_pdf(paper))).pages)
    assert "printed ruler" in first
    assert "Level stations" in second
