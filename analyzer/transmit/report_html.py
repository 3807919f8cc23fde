"""The report as one HTML file that opens offline and asks nothing of the network."""

from __future__ import annotations

import base64
import re
from importlib.resources import files

import jinja2
from markupsafe import Markup, escape

from analyzer.transmit.content import Cell, Figure, Line, ReportContent

_LONG_CELL = 34
_HIGH_REM = 34.0
_HIGH_DRAWING_REM = 58.0
_HIGH_REASON_REM = 12.0


def render_html(content: ReportContent) -> str:
    """HTML text with pictures inside; a content policy in it forbids anything from elsewhere."""
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    known = content.anchors
    environment.globals["figure"] = _figure
    environment.globals["say"] = lambda cell: _say(cell, known)
    environment.globals["slug"] = slug
    environment.globals["wide"] = _wide
    template = environment.from_string(
        files("analyzer.transmit").joinpath("report.html.j2").read_text("utf-8")
    )
    return template.render(content=content)


def slug(anchor: str) -> str:
    """An anchor as an HTML id: letters, digits and hyphens."""
    return re.sub(r"[^A-Za-z0-9]+", "-", anchor).strip("-")


def _say(cell: Cell, known: frozenset[str]) -> Markup:
    """A sentence or cell, in bold if it is strong, with links to the rows it rests on."""
    if not isinstance(cell, Line):
        return escape(cell)
    text = Markup("<strong>{}</strong>").format(cell.text) if cell.strong else escape(cell.text)
    links = [
        Markup('<a href="#{}">{}</a>').format(slug(r.anchor), r.label) for r in cell.refs if r.anchor in known
    ]
    if not links:
        return text
    return Markup('{} <span class="refs">({}{})</span>').format(text, "see ", Markup(", ").join(links))


def _figure(figure: Figure, small: bool = False, drawing: bool = False) -> Markup:
    """A figure with its picture as a data address, no higher than a screen; a drawing has small words."""
    high = _HIGH_REASON_REM if small else (_HIGH_DRAWING_REM if drawing else _HIGH_REM) * figure.part
    caption = "" if small else Markup("<figcaption>{}</figcaption>").format(figure.caption)
    return Markup(
        '<figure style="width:{wide:.1f}rem;max-width:100%"><img alt="{alt}" src="data:{kind};base64,{data}">'
        "{caption}</figure>"
    ).format(
        wide=high * figure.aspect,
        alt=figure.alt,
        kind=figure.media_type,
        data=Markup(base64.b64encode(figure.data).decode("ascii")),
        caption=caption,
    )


def _wide(rows: tuple[tuple[Cell, ...], ...], column: int) -> bool:
    """Whether a column holds sentences, which need room to be read."""
    return any(len(c.text if isinstance(c, Line) else c) > _LONG_CELL for c in (r[column] for r in rows))
