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
from analyzer.transmit.content import Cell, Figure, Line, ReportContent, Section, Table, text_of

STANDARDS: tuple[Literal["a-2a"], Literal["ua-1"]] = ("a-2a", "ua-1")

_TEXT_WIDE_MM = 170.0
_LEAD_HIGH_MM = 108.0
_TALL_LEAD_WIDE_MM, _TALL_LEAD_HIGH_MM = 72.0, 175.0
_DRAWING_HIGH_MM = 165.0
_PAIR_WIDE_MM, _PAIR_HIGH_MM = 82.0, 95.0
_REASON_WIDE_MM, _REASON_HIGH_MM = 40.0, 34.0
# At 8 pt a character takes about this much; a column of short cells keeps its natural width.
_CHARACTER_MM = 1.5
_SHORT = 18
_LEAST_TEXT_MM = 30.0


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
    setter = _Setter(content.anchors)
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
        "sentence": setter.line(content.sentence),
        "firmness": content.firmness,
        "footer": content.footer,
        "lead": _figure(content.lead_figure, *_lead_size(content.lead_figure)),
        "beside": content.beside,
        "homeowner": [setter.section(s) for s in content.homeowner],
        "estimator": [setter.section(s) for s in content.estimator],
    }
    return set_typst("report.typ", data, {f.name: f.data for f in content.figures})


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


class _Setter:
    """Turns content into what the template prints; every anchor is set once."""

    def __init__(self, known: frozenset[str]) -> None:
        self.known = known
        self.used: set[str] = set()

    def line(self, cell: Cell) -> dict[str, Any]:
        """Text, weight and the rows it leads to, those that exist."""
        if not isinstance(cell, Line):
            return {"text": _breakable(cell), "strong": False, "refs": [], "figure": None}
        figure = None
        if cell.figure is not None:
            figure = _figure(cell.figure, _REASON_WIDE_MM, _REASON_HIGH_MM)
        refs = [[r.label, r.anchor] for r in cell.refs if r.anchor in self.known]
        return {"text": _breakable(cell.text), "strong": cell.strong, "refs": refs, "figure": figure}

    def anchor(self, name: str) -> str:
        """The name at its first place, empty afterwards: a label stands once."""
        if not name or name in self.used:
            return ""
        self.used.add(name)
        return name

    def section(self, section: Section) -> dict[str, Any]:
        """A section with sizes for its figures."""
        figures = []
        for f in section.figures:
            pair = section.pairs or f.tall
            high = _PAIR_HIGH_MM if section.pairs else _DRAWING_HIGH_MM
            wide = _PAIR_WIDE_MM if pair else _TEXT_WIDE_MM
            figures.append({**_figure(f, wide, high if pair else high * f.part), "pair": pair})
        return {
            "title": section.title,
            "anchor": self.anchor(section.anchor),
            "paragraphs": [self.line(p) for p in section.paragraphs],
            "lines": [self.line(p) for p in section.lines],
            "ordered": section.ordered,
            "figures": figures,
            "tables": [self.table(t, section.title) for t in section.tables],
        }

    def table(self, table: Table, title: str) -> dict[str, Any]:
        """A table with its column widths; a caption that only repeats the heading is left out."""
        anchors = table.anchors or ("",) * len(table.rows)
        return {
            "caption": "" if table.caption == title else table.caption,
            "note": table.note,
            "columns": list(table.columns),
            "numeric": list(table.numeric),
            "widths": column_widths(table),
            "rows": [
                {"anchor": self.anchor(a), "cells": [self.line(c) for c in row]}
                for a, row in zip(anchors, table.rows, strict=True)
            ],
        }


def column_widths(table: Table) -> list[float]:
    """Width of each column: 0 = as wide as its cells, else its part of what is left.

    Columns of short cells keep their width; the others share the rest by their amount of text.
    Where short columns leave too little, all share.
    """
    cells = [[name, *(text_of(row[k]) for row in table.rows)] for k, name in enumerate(table.columns)]
    longest = [max(map(len, column)) for column in cells]
    words = [max((len(w) for c in column for w in c.split(" ")), default=1) for column in cells]
    mean = [sum(map(len, column)) / len(column) for column in cells]
    parts = zip(words, mean, longest, strict=True)
    shares = [min(40.0, max(4.0, min(w, 18) * 1.05, m**0.85 * 1.6, n**0.5 * 2.2)) for w, m, n in parts]
    short = [size <= _SHORT for size in longest]
    taken = sum(n * _CHARACTER_MM + 2.5 for n, s in zip(longest, short, strict=True) if s)
    left = _TEXT_WIDE_MM - taken
    if left < _LEAST_TEXT_MM * short.count(False):
        return shares
    return [0.0 if s else share for s, share in zip(short, shares, strict=True)]


def _lead_size(figure: Figure) -> tuple[float, float]:
    """Room for the first picture: a tall one stands beside the answer."""
    return (_TALL_LEAD_WIDE_MM, _TALL_LEAD_HIGH_MM) if figure.tall else (_TEXT_WIDE_MM, _LEAD_HIGH_MM)


def _figure(figure: Figure, wide_mm: float, high_mm: float) -> dict[str, Any]:
    """What the template needs of a figure: as wide as allowed, but no higher."""
    return {
        "name": figure.name,
        "alt": figure.alt,
        "caption": figure.caption,
        "width": round(min(wide_mm, high_mm * figure.aspect), 1),
    }


def _breakable(cell: str) -> str:
    """Let long hashes and file names break: a zero-width space every 16 characters of a long word."""
    words = []
    for word in cell.split(" "):
        words.append(
            "\u200b".join(word[i : i + 16] for i in range(0, len(word), 16)) if len(word) > 24 else word
        )
    return " ".join(words)
