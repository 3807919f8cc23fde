"""Grades in tables: heights to a sixteenth or a millimetre, limits kept and not kept."""

from __future__ import annotations

from analyzer.records import JobRecord
from analyzer.transmit import plan_tables
from analyzer.transmit.content import Line, text_of


def _rows(table: object) -> list[list[str]]:
    return [[text_of(c) for c in row] for row in table.rows]  # type: ignore[attr-defined]


def test_set_out_to_a_sixteenth(full: JobRecord) -> None:
    (table,) = plan_tables.set_out(full.plans[0], "imperial")
    # 60.325 mm = 2 3/8 in; 90.4875 mm = 3 9/16 in; 10 mm = 0.394 in, 3/8 to the sixteenth: by hand.
    first, _, third, _ = _rows(table)
    assert first == ["1", "A", "form", '0", 0"', '0"', '+2-3/8"', '2-3/8"']
    assert third[2] == "wall"
    assert third[4:6] == ['3/8"', '+3-9/16"']
    assert "Rounded to 1/16 in" in table.note
    assert "station S1 is zero" in table.note


def test_set_out_to_a_millimetre(full: JobRecord) -> None:
    (table,) = plan_tables.set_out(full.plans[0], "metric")
    assert _rows(table)[0][5] == "+60 mm"
    assert "Rounded to 1 mm" in table.note


def test_signs() -> None:
    assert plan_tables.signed(-25.4, "imperial") == '-1"'
    assert plan_tables.signed(0.0, "imperial") == '0"'


def test_what_is_not_kept_comes_first_in_bold(full: JobRecord) -> None:
    (table,) = plan_tables.requirements(full.plans[0], "metric")
    assert table.rows[0][0] == Line("not kept", strong=True)
    assert _rows(table)[0][1:3] == ["-10 mm", "-10 mm"]
    assert _rows(table)[2][1:3] == ["none to spare", "none to spare"]


def test_joints_breaks_and_grinding(full: JobRecord) -> None:
    joints, rules = plan_tables.joints(full.plans[0], "metric")
    assert _rows(rules)[0] == ["over J1", "Saw over the old joint.", "CPTECH-SAW-DEPTH"]
    row = _rows(joints)[1]
    assert row[:3] == ["isolation at C-D", "isolation", "2000 mm, 1500 mm to 0 mm, 1500 mm"]
    assert row[3:6] == ["2000 mm", "80 mm", "13 mm"]
    breaks, spots = plan_tables.breaks_and_grinding(full.plans[0], "metric")
    assert _rows(breaks)[0][1] == "valley"
    assert _rows(spots)[0] == ["G1", "500 mm, 400 mm", "6 mm", "0.1 m²", "0.01 m³"]


def test_heights_show_every_option_beside_now(record: JobRecord) -> None:
    surfaces, heights = plan_tables.heights(record)
    assert heights.columns == ("What", "Now", "overlay, bonded")
    assert heights.rows[0][:2] == ("door sill pump door", '4-3/4"')
    assert surfaces.rows[0][-1] == "not all can be kept"


def test_a_plan_without_set_out_has_no_table(record: JobRecord) -> None:
    assert plan_tables.set_out(record.plans[0], "metric") == ()
