"""Sheets to print: numbered markers to lay on the slab, and the pencil sheet for the field book."""

from __future__ import annotations

from html import escape

from analyzer.records import TargetSheet
from analyzer.transmit.report_pdf import set_typst

_TYPST_PAPER = {"letter": "us-letter", "a4": "a4"}


def target_sheets_pdf(sheets: tuple[TargetSheet, ...]) -> bytes:
    """One PDF page a marker sheet, at true size when printed at 100 %."""
    pages = []
    pictures = {}
    for sheet in sheets:
        name = f"sheet-{sheet.number}.svg"
        pictures[name] = sheet_svg(sheet).encode()
        pages.append(
            {
                "name": name,
                "width_mm": sheet.width_mm,
                "height_mm": sheet.height_mm,
                "alt": f"Marker sheet {sheet.number} with four square markers round a centre cross",
            }
        )
    return set_typst("target_sheets.typ", {"pages": pages}, pictures)


def field_sheet_pdf(paper: str) -> bytes:
    """The pencil sheet: two pages with every question of the field book, ``letter`` or ``a4``."""
    return set_typst("field_sheet.typ", {"paper": _TYPST_PAPER[paper]}, {})


def sheet_svg(sheet: TargetSheet) -> str:
    """SVG of one marker sheet, one user unit a millimetre."""
    parts = []
    for marker in sheet.markers:
        cell = marker.side_mm / len(marker.bits)
        for row, bits in enumerate(marker.bits):
            start = 0
            while start < len(bits):
                end = start
                while end < len(bits) and bits[end] == bits[start]:
                    end += 1
                if bits[start]:
                    # One rectangle a run of black cells, with a hair of overlap: no white seams.
                    parts.append(
                        _rect(
                            marker.left_mm + start * cell,
                            marker.top_mm + row * cell,
                            (end - start) * cell,
                            min(cell * 1.02, marker.side_mm - row * cell),
                        )
                    )
                start = end
    parts += [_rect(r.left_mm, r.top_mm, r.width_mm, r.height_mm) for r in sheet.rects]
    arrow = " ".join(f"{x:.3f},{y:.3f}" for x, y in sheet.arrow_mm)
    parts.append(f'<polygon points="{arrow}"/>')
    for text in sheet.texts:
        # Capitals of the face are about 0.66 of its size high; the record gives their height.
        parts.append(
            f'<text x="{text.x_mm:.2f}" y="{text.y_mm + text.size_mm / 2:.2f}" '
            f'font-size="{text.size_mm / 0.66:.2f}" '
            f'font-family="Libertinus Serif" text-anchor="middle">{escape(text.text)}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{sheet.width_mm}mm" height="{sheet.height_mm}mm" '
        f'viewBox="0 0 {sheet.width_mm} {sheet.height_mm}">' + "".join(parts) + "</svg>"
    )


def _rect(left: float, top: float, width: float, height: float) -> str:
    return f'<rect x="{left:.4f}" y="{top:.4f}" width="{width:.4f}" height="{height:.4f}"/>'
