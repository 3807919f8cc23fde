"""Values as people read them. Conversions by hand with NIST Handbook 44 app. C factors (from memory)."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import Finding, JobRecord
from analyzer.transmit import writing


@pytest.mark.parametrize(
    ("value", "u", "unit", "system", "text"),
    [
        # 1 m3 = 1.30795 yd3; 1 m2 = 10.7639 ft2; 1 m = 3.28084 ft; 1 t = 1.10231 short tons.
        (1.0, 0.1, "m3", "imperial", "1.31 ± 0.13 yd³"),
        (10.0, None, "m2", "imperial", "108 ft²"),
        (0.1, None, "m2", "imperial", "1.1 ft²"),
        (10.0, 0.5, "m", "imperial", "32.8 ± 1.6 ft"),
        (10.0, None, "t", "imperial", "11.0 short tons"),
        (10.0, None, "t", "metric", "10.0 t"),
        (3.0, None, "pieces", "metric", "3"),
        (0.0001, None, "m3", "metric", "under 0.01 m³"),
        (2.0, None, "bags", "metric", "2.000 bags"),
    ],
)
def test_quantities(value: float, u: float | None, unit: str, system: str, text: str) -> None:
    assert writing.quantity(value, u, unit, system) == text


def _finding(record: JobRecord, value: float | None, u: float | None, unit: str, limit: float) -> Finding:
    one = record.findings[0]
    bound = dataclasses.replace(one.limit, unit=unit, value=limit)
    return dataclasses.replace(one, limit=bound, value=value, u=u, unit=unit)


@pytest.mark.parametrize(
    ("value", "u", "unit", "limit", "reading", "bound"),
    [
        (2.083333, 0.04, "percent", 2.0, "2.08 ± 0.04 %", "at or over 2 %"),
        (0.3, 0.01, "fraction", 0.1, "30 ± 1 %", "at or over 10 %"),
        (1.0, 0.0, "pieces", 4.0, "1 piece", "at or over 4 pieces"),
        (0.0, 0.0, "answer", 1.0, "no", "yes"),
        (None, None, "in", 7.75, "unknown", "at or over 7.75 in"),
        (1.6, 0.01, "ratio", 1.5, "1.6 ± 0.01", "at or over 1.5"),
    ],
)
def test_readings_and_limits(
    record: JobRecord, value: float | None, u: float | None, unit: str, limit: float, reading: str, bound: str
) -> None:
    finding = _finding(record, value, u, unit, limit)
    assert writing.reading(finding).replace("\u00a0", " ") == reading
    assert writing.limit(finding).replace("\u00a0", " ") == bound


def test_sources_say_how_they_were_checked(record: JobRecord) -> None:
    text = writing.source(record.findings[0])
    assert text == (
        "FHWA-HRT-13-092, 2014, ch. 2 (from memory; written for other slabs); LTPP-JCP-TRANSVERSE"
    )


def test_unknown_is_a_word() -> None:
    assert writing.length(None, None, "metric") == "unknown"


def test_sentences_end() -> None:
    assert writing.sentence("cracks grow") == "Cracks grow."
    assert writing.sentence("Why?") == "Why?"
