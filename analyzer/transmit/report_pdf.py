"""The report on paper: PDF/A-2a that is also PDF/UA-1, set by Typst from the same content.

PDF/A-2 is ISO 19005-2, PDF/UA-1 is ISO 14289-1; Typst refuses to write a file that breaks the
rules it knows (missing alternative text, missing title), so a written file has passed these.
"""

from __future__ import annotations

import datetime as dt
import json
import tempfile
from collections.abc import Mapping
from importlib.resources import files
from pathlib import Path
from typing import Any, Literal

import typst

from analyzer.errors import OutputError
from analyzer.transmit.report import Figure, ReportContent
from analyzer.transmit.tables import Table

STANDARDS: tuple[Literal["a-2a"], Literal["ua-1"]] = ("a-2a", "ua-1")


def render_pdf(content: ReportContent, date: dt.date, author: str, paper: str = "us-letter") -> bytes:
    """PDF bytes of the report.

    Parameters
    ----------
    content : ReportContent
        What to print.
    date : datetime.date
        Date of the visit, kept as the document's date so that the same record gives the same file.
    paper : str
        ``us-letter`` or ``a4``.
    """
    pictures = {f.name: f.data for f in _figures(content)}
    data = {
        "title": content.title,
        "author": author,
        "year": date.year,
        "month": date.month,
        "day": date.day,
        "paper": paper,
        "facts": [list(f) for f in content.facts],
        "invented": content.invented,
        "headline": content.headline,
        "sentence": content.sentence,
        "firmness": content.firmness,
        "footer": content.footer,
        "lead": {**_figure(content.lead_figure), "tall": True},
        "sections": [
            {
                "title": s.title,
                "paragraphs": list(s.paragraphs),
                "bullets": list(s.bullets),
                "figures": [_figure(f) for f in s.figures],
                "tables": [_table(t) for t in s.tables],
            }
            for s in content.sections
        ],
    }
    return set_typst("report.typ", data, pictures)


def set_typst(template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """Set one of the package's Typst templates with its data and pictures.

    Raises
    ------
    OutputError
        Typst refuses the document.
    """
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "main.typ").write_text(
            files("analyzer.transmit").joinpath(template).read_text("utf-8"), "utf-8"
        )
        (place / "content.json").write_text(json.dumps(data, ensure_ascii=False), "utf-8")
        for name, picture in pictures.items():
            (place / name).write_bytes(picture)
        try:
            pdf = typst.compile(
                str(place / "main.typ"), ignore_system_fonts=True, pdf_standards=list(STANDARDS)
            )
        except typst.TypstError as error:
            raise OutputError("PDF", f"could not be set ({error})", "report this as a fault") from error
    return bytes(pdf)


def _figures(content: ReportContent) -> list[Figure]:
    """Every figure once."""
    return [content.lead_figure, *(f for s in content.sections for f in s.figures)]


def _figure(figure: Figure) -> dict[str, Any]:
    """What the template needs of a figure."""
    return {"name": figure.name, "alt": figure.alt, "caption": figure.caption}


def _table(table: Table) -> dict[str, Any]:
    """A table with column widths that follow its longest words and its amount of text."""
    widths = []
    for i, column in enumerate(table.columns):
        cells = [column, *(row[i] for row in table.rows)]
        longest_word = max((len(word) for cell in cells for word in cell.split()), default=1)
        mean = sum(map(len, cells)) / len(cells)
        widths.append(min(40.0, max(4.0, min(longest_word, 18) * 1.05, mean**0.85 * 1.6)))
    return {
        "caption": table.caption,
        "columns": list(table.columns),
        "numeric": list(table.numeric),
        "widths": widths,
        "rows": [[_breakable(cell) for cell in row] for row in table.rows],
    }


def _breakable(cell: str) -> str:
    """Let long hashes and file names break: a zero-width space every 16 characters of a long word."""
    words = []
    for word in cell.split(" "):
        words.append(
            "\u200b".join(word[i : i + 16] for i in range(0, len(word), 16)) if len(word) > 24 else word
        )
    return " ".join(words)
