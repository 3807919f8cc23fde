"""A small section through slab and door, drawn from what was typed: it follows the typing."""

from __future__ import annotations

from html import escape

_WIDTH, _HEIGHT = 320, 150
_SLAB_TOP = 96.0
_LARGEST_PX = 66.0
_PX_PER_MM = 0.25


def section_svg(name: str, above_mm: float, text: str) -> str:
    """SVG of the slab and of what stands ``above_mm`` over it (below it with a minus).

    Heights are to one scale up to about 260 mm; a larger one is drawn at that height with a broken line.
    """
    rise = max(-_LARGEST_PX / 2, min(_LARGEST_PX, above_mm * _PX_PER_MM))
    cut = abs(rise - above_mm * _PX_PER_MM) > 0.5
    top = _SLAB_TOP - rise
    dash = ' stroke-dasharray="5 4"' if cut else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {_HEIGHT}" width="{_WIDTH}" '
        'font-family="sans-serif">'
        f'<rect x="0" y="{_SLAB_TOP}" width="200" height="34" fill="#d5d0c6" stroke="#111" stroke-width="2"/>'
        f'<rect x="200" y="{top:.1f}" width="118" height="{_HEIGHT - 2 - top:.1f}" fill="#fff" stroke="#111" '
        'stroke-width="2"/>'
        f'<path d="M 168 {_SLAB_TOP} V {top:.1f}" stroke="#7a2230" stroke-width="3"{dash}/>'
        f'<path d="M 156 {_SLAB_TOP} H 180 M 156 {top:.1f} H 200" stroke="#7a2230" stroke-width="2"/>'
        f'<text x="150" y="{(_SLAB_TOP + top) / 2 + 5:.1f}" font-size="17" font-weight="700" fill="#111" '
        f'text-anchor="end">{escape(text)}</text>'
        f'<text x="8" y="119" font-size="15" fill="#111">old slab</text>'
        f'<text x="259" y="{top - 7:.1f}" font-size="15" fill="#111" text-anchor="middle">'
        f"{escape(name[:16])}</text>"
        "</svg>"
    )
