"""The report on paper: text as in the record, tagged, dated, with the claims it makes."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from analyzer.errors import OutputError
from analyzer.records import JobRecord
from analyzer.transmit.content import Figure, Table
from analyzer.transmit.report import build_report
from analyzer.transmit.report_pdf import _breakable, column_widths, render_pdf, set_typst

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 10 5"><rect width="9" height="4"/></svg>'


@pytest.fixture
def reader(record: JobRecord) -> PdfReader:
    content = build_report(record, Figure("plan.svg", "image/svg+xml", SVG, "plan of the slab", "cap"))
    return PdfReader(io.BytesIO(render_pdf(content, record.field.job.date, record.field.job.by)))


def test_text_is_that_of_the_record(reader: PdfReader, record: JobRecord) -> None:
    # pypdf as the independent reader; line breaks and zero-width breaks are taken out.
    text = " ".join("\n".join(p.extract_text() for p in reader.pages).replace("\u200b", "").split())
    for words in (
        record.ranking.sentence,
        "Apron of the <pump> house & yard",
        "This job is invented.",
        "0.12 in (3.1 mm)",
        "not a warranty",
        "F1",
    ):
        assert words in text, words


def test_metadata_and_claims(reader: PdfReader, record: JobRecord) -> None:
    assert reader.metadata is not None
    assert reader.metadata.title == record.field.job.title
    xmp = reader.xmp_metadata
    assert xmp is not None
    raw = xmp.stream.get_data().decode()
    # ISO 19005-2 and ISO 14289-1 put these marks into the metadata (from memory).
    assert "<pdfaid:part>2</pdfaid:part>" in raw
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in raw
    assert "<pdfuaid:part>1</pdfuaid:part>" in raw
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in root
    assert str(root["/Lang"]).startswith("en")


def test_same_record_gives_the_same_paper_size_as_its_units(record: JobRecord) -> None:
    content = build_report(record, Figure("plan.svg", "image/svg+xml", SVG, "plan", "cap"))
    letter = PdfReader(io.BytesIO(render_pdf(content, record.field.job.date, "x"))).pages[0].mediabox
    a4 = PdfReader(io.BytesIO(render_pdf(content, record.field.job.date, "x", "a4"))).pages[0].mediabox
    # ISO 216: A4 is 210 x 297 mm; ANSI A is 8.5 x 11 in; a point is 1/72 in.
    assert (round(float(letter.width)), round(float(letter.height))) == (612, 792)
    assert (round(float(a4.width)), round(float(a4.height))) == (595, 842)


def test_links_of_the_first_page_lead_on_and_say_their_page(full: JobRecord) -> None:
    content = build_report(full, Figure("plan.svg", "image/svg+xml", SVG, "plan", "cap", 0.5))
    reader = PdfReader(io.BytesIO(render_pdf(content, full.field.job.date, "x")))
    text = " ".join(reader.pages[0].extract_text().split())
    said = re.search(r"\(see F2, p. (\d+)\)", text)
    assert said is not None
    # pypdf as the independent reader: on that page stands the row with reading, limit and source.
    there = " ".join(reader.pages[int(said[1]) - 1].extract_text().replace("\xa0", " ").split())
    assert "F2 door sill pump door" in there
    assert "Town code" in there
    assert any(a.get_object()["/Subtype"] == "/Link" for a in reader.pages[0]["/Annots"])


def test_prices_stay_off_the_homeowners_pages(full: JobRecord) -> None:
    content = build_report(full, Figure("plan.svg", "image/svg+xml", SVG, "plan", "cap"))
    pages = [
        p.extract_text() for p in PdfReader(io.BytesIO(render_pdf(content, full.field.job.date, "x"))).pages
    ]
    first = next(k for k, text in enumerate(pages) if "For the estimator" in text)
    assert first > 0
    assert not any("money" in text for text in pages[:first])
    assert any("1,090 money" in text for text in pages[first:])


def test_short_columns_keep_their_width_and_sentences_share_the_rest() -> None:
    sentence = "A sentence that is long enough to need several lines in a narrow column of the table."
    table = Table("t", ("No.", "Because", "Source"), (("F1", sentence, sentence),), (False,) * 3)
    number, because, source = column_widths(table)
    assert number == 0
    assert because == source > 0
    short = Table("t", ("a", "b"), (("1", "2"),), (False, False))
    assert column_widths(short) == [0, 0]
    crowded = Table("t", tuple("abcdefghij"), (("1234567890123456",) * 9 + (sentence,),), (False,) * 10)
    assert min(column_widths(crowded)) > 0


def test_a_picture_without_alternative_text_is_refused(record: JobRecord) -> None:
    # PDF/UA-1 (ISO 14289-1) asks for alternative text; the engine holds us to it.
    with pytest.raises(OutputError, match="could not be set"):
        set_typst(
            "target_sheets.typ", {"pages": [{"name": "missing.svg", "width_mm": 10, "height_mm": 10}]}, {}
        )


def test_long_hashes_may_break() -> None:
    broken = _breakable("sha " + "a" * 64)
    assert broken.replace("\u200b", "") == "sha " + "a" * 64
    assert max(len(w) for w in broken.replace("\u200b", " ").split()) <= 16
