"""The report as one HTML file that opens offline and asks nothing of the network."""

from __future__ import annotations

import base64
from importlib.resources import files

import jinja2
from markupsafe import Markup, escape

from analyzer.transmit.report import Figure, ReportContent


def render_html(content: ReportContent) -> str:
    """HTML text with pictures inside; a content policy in it forbids anything from elsewhere."""
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.globals["figure"] = _figure
    template = environment.from_string(
        files("analyzer.transmit").joinpath("report.html.j2").read_text("utf-8")
    )
    return template.render(content=content)


def _figure(figure: Figure) -> Markup:
    """A figure with its picture as a data address."""
    data = base64.b64encode(figure.data).decode("ascii")
    return Markup(
        '<figure><img alt="{alt}" src="data:{kind};base64,{data}"><figcaption>{caption}</figcaption></figure>'
    ).format(
        alt=escape(figure.alt),
        kind=escape(figure.media_type),
        data=Markup(data),
        caption=escape(figure.caption),
    )
