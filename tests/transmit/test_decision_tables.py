"""The decision in tables: reading, limit and source in one row; loosened limits in bold."""

from __future__ import annotations

from analyzer.records import JobRecord
from analyzer.transmit import decision_tables
from analyzer.transmit.content import Line, Table, text_of
from analyzer.transmit.refs import FindingNumbers


def _rows(table: Table) -> list[list[str]]:
    return [[text_of(c).replace("\u00a0", " ") for c in row] for row in table.rows]


def test_every_row_fits_its_header(full: JobRecord) -> None:
    numbers = FindingNumbers(full)
    found = (
        *decision_tables.stops(full),
        *decision_tables.options(full, numbers),
        *decision_tables.panel_actions(full, numbers),
        *decision_tables.causes(full, numbers),
        *decision_tables.flips(full, numbers),
        *decision_tables.next_readings(full),
        *decision_tables.local_limits(full),
        *decision_tables.findings(full, numbers),
    )
    assert len(found) == 10
    for table in found:
        assert {len(row) for row in table.rows} == {len(table.columns)} == {len(table.numeric)}
        assert len(table.anchors) in {0, len(table.rows)}


def test_a_finding_row_shows_reading_limit_and_source(full: JobRecord) -> None:
    exceeded, within = decision_tables.findings(full, FindingNumbers(full))
    (row,) = _rows(exceeded)
    assert row[:4] == ["F1", "C1, crack width", "3.1 ± 0.3 mm", "at or over 3 mm"]
    assert "FHWA-HRT-13-092, 2014, ch. 2" in row[5]
    assert exceeded.anchors == ("F1",)
    assert _rows(within)[0][2] == "4.72 ± 0.06 in"


def test_a_loosened_safety_limit_is_bold_wherever_it_stands(full: JobRecord) -> None:
    (told,) = decision_tables.loosened(full)
    assert told.strong
    assert "looser than the usual limit that guards safety" in told.text
    (table,) = decision_tables.local_limits(full)
    assert all(isinstance(c, Line) and c.strong for c in table.rows[0])
    within = decision_tables.findings(full, FindingNumbers(full))[1]
    cell = within.rows[0][5]
    assert isinstance(cell, Line)
    assert cell.strong
    assert cell.text.startswith("LOOSENED LOCALLY")


def test_without_local_limits_nothing_is_said(record: JobRecord) -> None:
    assert decision_tables.loosened(record) == ()
    assert decision_tables.local_limits(record) == ()


def test_causes_stay_possible_and_carry_both_sides(full: JobRecord) -> None:
    (table,) = decision_tables.causes(full, FindingNumbers(full))
    assert "possible, never more: a laboratory or an engineer confirms" in table.note
    row = _rows(table)[0]
    assert row[1] == "possible; goes on"
    assert row[2:4] == ["A panel lies low.", "No step moves."]
    assert "it defeats: patch" in row[4]


def test_open_questions_stand_first_in_bold(record: JobRecord) -> None:
    (table,) = decision_tables.stops(record)
    assert table.rows[0][1] == Line("open", strong=True)
    assert table.anchors == ("stop-post_tension",)
    assert decision_tables.question_ref(record, "post_tension").label == "Q1"


def test_points_lead_to_findings(full: JobRecord) -> None:
    numbers = FindingNumbers(full)
    options, points = decision_tables.options(full, numbers)
    # One row a criterion, one column an option: 12 points for the first, none for the others.
    assert points.rows[0][1:4] == ("+12.0", "–", "–")
    assert _rows(points)[-1][:4] == ["together", "+12.0", "+0.0", "+3.0"]
    because = points.rows[0][4]
    assert isinstance(because, Line)
    assert [r.label for r in because.refs] == ["F1"]
    refused = next(r for r in _rows(options) if r[0] == "patch")
    assert refused[1:] == ["refused", "0", "Too much is broken."]


def test_flips_and_next_readings_keep_their_order(full: JobRecord) -> None:
    (flips,) = decision_tables.flips(full, FindingNumbers(full))
    assert _rows(flips)[1] == ["2", "A step of 9 in would turn the answer to a repair.", "patch"]
    (following,) = decision_tables.next_readings(full)
    assert [r[-1] for r in _rows(following)] == ["2.5", "1.0"]
    assert [r[3] for r in _rows(following)] == ["10 minutes", "5 minutes"]
