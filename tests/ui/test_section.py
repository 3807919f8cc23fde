"""The section follows what was typed."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import pytest

from ui.section import section_svg


def _top(svg: str) -> float:
    ET.fromstring(svg)
    rects = re.findall(r'<rect x="200" y="([-0-9.]+)"', svg)
    return float(rects[0])


def test_twice_the_height_is_drawn_twice_as_high() -> None:
    low, high, level = (_top(section_svg("door", mm, "")) for mm in (80.0, 160.0, 0.0))
    assert level - high == pytest.approx(2 * (level - low), abs=0.2)
    assert _top(section_svg("lawn", -60.0, "")) > level


def test_names_are_text_and_not_markup() -> None:
    svg = section_svg("<script>", 100.0, '4" & more')
    assert "<script>" not in svg
    ET.fromstring(svg)


def test_what_is_too_high_for_the_picture_says_so() -> None:
    assert "stroke-dasharray" in section_svg("wall", 2000.0, "6 ft")
    assert "stroke-dasharray" not in section_svg("door", 150.0, "6 in")
