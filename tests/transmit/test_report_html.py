"""The HTML report is one file, safe and offline."""

from __future__ import annotations

import re

from analyzer.records import JobRecord
from analyzer.transmit.report import Figure, build_report
from analyzer.transmit.report_html import render_html


def _html(record: JobRecord) -> str:
    return render_html(
        build_report(record, Figure("p.jpg", "image/jpeg", b"JPEG", 'a "quoted" alt', "cap"), (), ())
    )


def test_nothing_comes_from_elsewhere(record: JobRecord) -> None:
    html = _html(record)
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?(?:https?:|//|file:)", html)
    assert "<script" not in html
    assert "default-src 'none'" in html


def test_typed_text_cannot_become_markup(record: JobRecord) -> None:
    html = _html(record)
    assert "<pump>" not in html
    assert "Apron of the &lt;pump&gt; house &amp; yard" in html
    assert 'alt="a &#34;quoted&#34; alt"' in html


def test_picture_comes_before_the_recommendation_and_tables_after(record: JobRecord) -> None:
    html = _html(record)
    places = [
        html.index(t)
        for t in ("data:image/jpeg;base64,SlBFRw==", 'class="answer"', "<h2>Why</h2>", "<table>")
    ]
    assert places == sorted(places)


def test_one_title_one_language_one_main(record: JobRecord) -> None:
    html = _html(record)
    assert html.count("<h1>") == 1
    assert '<html lang="en">' in html
    assert html.count("<main>") == 1
