"""The parts of a report: proportions of pictures, anchors, what stands beside a tall picture."""

from __future__ import annotations

import io

from PIL import Image

from analyzer.transmit.content import (
    Figure,
    Line,
    ReportContent,
    Section,
    Table,
    jpeg_figure,
    make_table,
    svg_figure,
    text_of,
)


def test_proportions_are_read_from_the_picture() -> None:
    # Pillow as the independent writer of the JPEG.
    out = io.BytesIO()
    Image.new("RGB", (300, 100)).save(out, "JPEG")
    assert jpeg_figure("a.jpg", out.getvalue(), "alt", "cap").aspect == 3.0
    assert svg_figure("a.svg", '<svg viewBox="0 0 50 100"/>', "alt", "cap").aspect == 0.5


def test_no_rows_no_table() -> None:
    assert make_table("x", ("a",), [], "l") == ()
    (table,) = make_table("x", ("a", "b"), [("1", Line("2"))], "lr")
    assert table.numeric == (False, True)
    assert [text_of(c) for c in table.rows[0]] == ["1", "2"]


def _content(aspect: float) -> ReportContent:
    lead = Figure("a.svg", "image/svg+xml", b"", "alt", "cap", aspect)
    small = Figure("b.svg", "image/svg+xml", b"", "alt", "cap")
    why = Section("Why", lines=(Line("x", figure=small),))
    table = Table("t", ("a",), (("1",),), (False,), ("F1",))
    part = Section("Findings", tables=(table,), figures=(small,), anchor="part")
    return ReportContent("t", (), False, "h", Line("s"), "", lead, (why, Section("Take care")), (part,), "")


def test_reasons_stand_beside_a_tall_picture_only() -> None:
    assert _content(0.4).beside == 1
    assert _content(1.4).beside == 0


def test_anchors_and_figures_come_once() -> None:
    content = _content(1.0)
    assert content.anchors == {"F1", "part"}
    assert [f.name for f in content.figures] == ["a.svg", "b.svg"]
