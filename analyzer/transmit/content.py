"""The parts a report is made of, before it becomes HTML or PDF.

Both renderings print this one content, so that paper and screen cannot differ.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

from PIL import Image

REASONS = ("Why", "What speaks against it")
_TALL = 0.75
_VIEW_BOX = re.compile(rb'viewBox="0 0 ([\d.]+) ([\d.]+)"')


@dataclass(frozen=True, slots=True)
class Ref:
    """A way on: ``label`` is printed (F12), ``anchor`` is the row it leads to."""

    label: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture of the report. ``data`` is SVG text as bytes or a JPEG; ``name`` its file name.

    ``aspect`` is width over height; ``part`` is how much of the height that a page allows it may
    take.
    """

    name: str
    media_type: str
    data: bytes
    alt: str
    caption: str
    aspect: float = 1.5
    part: float = 1.0

    @property
    def tall(self) -> bool:
        """Whether it is so much higher than wide that text fits beside it."""
        return self.aspect < _TALL


@dataclass(frozen=True, slots=True)
class Line:
    """A sentence with the rows it rests on, and its picture; ``strong`` is printed in bold."""

    text: str
    refs: tuple[Ref, ...] = ()
    strong: bool = False
    figure: Figure | None = None


Cell = str | Line


@dataclass(frozen=True, slots=True)
class Table:
    """Header and rows; ``numeric`` says which columns are right-aligned.

    ``anchors`` names the rows that other parts lead to, empty where none does. ``note`` stands
    under the caption.
    """

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    numeric: tuple[bool, ...]
    anchors: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with what stands under it.

    ``ordered`` numbers the lines, ``pairs`` sets figures two by two, ``anchor`` is where other
    parts lead to.
    """

    title: str
    paragraphs: tuple[Line, ...] = ()
    lines: tuple[Line, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()
    ordered: bool = False
    pairs: bool = False
    anchor: str = ""

    @property
    def empty(self) -> bool:
        """Whether there is nothing under the heading."""
        return not (self.paragraphs or self.lines or self.tables or self.figures)


@dataclass(frozen=True, slots=True)
class ReportContent:
    """The whole report in reading order: the homeowner's page, then the estimator's part."""

    title: str
    facts: tuple[tuple[str, str], ...]
    invented: bool
    headline: str
    sentence: Line
    firmness: str
    lead_figure: Figure
    homeowner: tuple[Section, ...]
    estimator: tuple[Section, ...]
    footer: str

    @property
    def beside(self) -> int:
        """How many first sections stand with the answer beside a tall picture: as far as the reasons."""
        if not self.lead_figure.tall:
            return 0
        places = [k for k, s in enumerate(self.homeowner, 1) if s.title in REASONS]
        return max(places, default=min(1, len(self.homeowner)))

    @property
    def anchors(self) -> frozenset[str]:
        """Every row and section that a reference can lead to."""
        found = set()
        for section in (*self.homeowner, *self.estimator):
            found.add(section.anchor)
            for table in section.tables:
                found.update(table.anchors)
        return frozenset(found - {""})

    @property
    def figures(self) -> tuple[Figure, ...]:
        """Every picture once, in reading order."""
        found = {self.lead_figure.name: self.lead_figure}
        for section in (*self.homeowner, *self.estimator):
            for line in (*section.paragraphs, *section.lines):
                if line.figure:
                    found.setdefault(line.figure.name, line.figure)
            for figure in section.figures:
                found.setdefault(figure.name, figure)
        return tuple(found.values())


def svg_figure(name: str, svg: str, alt: str, caption: str, part: float = 1.0) -> Figure:
    """A drawing as a figure; its proportions are those of the view box."""
    data = svg.encode()
    match = _VIEW_BOX.search(data)
    aspect = float(match[1]) / float(match[2]) if match else 1.5
    return Figure(name, "image/svg+xml", data, alt, caption, aspect, part)


def jpeg_figure(name: str, data: bytes, alt: str, caption: str) -> Figure:
    """A JPEG as a figure."""
    with Image.open(io.BytesIO(data)) as image:
        width, height = image.size
    return Figure(name, "image/jpeg", data, alt, caption, width / height)


def text_of(cell: Cell) -> str:
    """The words of a cell without its references."""
    return cell if isinstance(cell, str) else cell.text


def make_table(
    caption: str,
    columns: tuple[str, ...],
    rows: list[tuple[Cell, ...]],
    numeric: str,
    anchors: list[str] | None = None,
    note: str = "",
) -> tuple[Table, ...]:
    """A table if it has rows, else nothing; ``numeric`` marks right-aligned columns with ``r``."""
    if not rows:
        return ()
    right = tuple(c == "r" for c in numeric)
    return (Table(caption, columns, tuple(rows), right, tuple(anchors or ()), note),)
