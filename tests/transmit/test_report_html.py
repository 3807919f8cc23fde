"""The HTML report is one file, safe and offline, and its links lead somewhere."""

from __future__ import annotations

import re

from analyzer.records import JobRecord
from analyzer.transmit.content import Figure
from analyzer.transmit.report import build_report
from analyzer.transmit.report_html import render_html, slug


def _html(record: JobRecord) -> str:
    return render_html(build_report(record, Figure("p.jpg", "image/jpeg", b"JPEG", 'a "quoted" alt', "cap")))


def test_nothing_comes_from_elsewhere(full: JobRecord) -> None:
    html = _html(full)
    assert not re.search(r"(?:src|href)\s*=\s*[\"']?(?:https?:|//|file:)", html)
    assert "<script" not in html
    assert "default-src 'none'" in html


def test_typed_text_cannot_become_markup(record: JobRecord) -> None:
    html = _html(record)
    assert "<pump>" not in html
    assert "Apron of the &lt;pump&gt; house &amp; yard" in html
    assert 'alt="a &#34;quoted&#34; alt"' in html


def test_picture_comes_before_the_recommendation_and_tables_after(full: JobRecord) -> None:
    html = _html(full)
    wanted = (
        "data:image/jpeg;base64,SlBFRw==",
        'class="answer"',
        "<h2>Why</h2>",
        "For the estimator",
        "<table>",
    )
    places = [html.index(t) for t in wanted]
    assert places == sorted(places)


def test_every_link_has_its_one_target(full: JobRecord) -> None:
    html = _html(full)
    links = set(re.findall(r'href="#([^"]+)"', html))
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(links) > 10
    assert links <= set(ids)
    assert len(ids) == len(set(ids))


def test_a_loosened_limit_is_bold(full: JobRecord) -> None:
    assert re.search(r"<strong>LOOSENED LOCALLY; [^<]*Town code", _html(full))


def test_a_caption_that_repeats_its_heading_is_left_out(full: JobRecord) -> None:
    html = _html(full)
    assert html.count(">Possible causes<") == 2  # the list of parts and the heading
    assert 'aria-label="Possible causes"' in html


def test_one_title_one_language_one_main(record: JobRecord) -> None:
    html = _html(record)
    assert html.count("<h1>") == 1
    assert '<html lang="en">' in html
    assert html.count("<main>") == 1


def test_anchors_become_ids() -> None:
    assert slug("stop-post_tension") == "stop-post-tension"
    assert slug("crack-C 1") == "crack-C-1"
