"""Plans on a terminal and for a program: everything to set out, order and price."""

from __future__ import annotations

import dataclasses
import json

from analyzer.records import JobRecord
from analyzer.transmit import plan_lines, plans_json
from analyzer.transmit.content import Line, Table
from analyzer.transmit.plan_console import table_lines


def test_plans_say_that_stops_are_open(record: JobRecord) -> None:
    text = "\n".join(plan_lines(record))
    assert "no advice to pour or remove" in text
    assert "NOT FOR WORK" in text
    assert 'thickness 2-3/8" ± 0.08 in to 3-1/8" ± 0.08 in' in text
    assert "cannot be met: The sill keeps less than 25 mm." in text
    assert "0.26 ± 0.01 yd³" in text


def test_everything_to_set_out_order_and_price(full: JobRecord) -> None:
    text = "\n".join(plan_lines(full, ("overlay_bonded.dxf",), "plans"))
    for words in (
        "Set-out heights:", '+3-9/16"', "What the finished surface keeps:", "over J1", "valley", "G1",
        "Quantities side by side:", "Concrete to order:", "Price of each option, side by side:",
        "These prices are invented", "to be chosen", "The day's list: overlay, bonded:", "Written to plans:",
        "  overlay_bonded.dxf",
    ):  # fmt: skip
        assert words in text, words


def test_nothing_is_ordered_while_a_question_is_open(full: JobRecord, record: JobRecord) -> None:
    ranking = dataclasses.replace(full.ranking, stops=record.ranking.stops)
    text = "\n".join(plan_lines(dataclasses.replace(full, ranking=ranking)))
    assert "Set-out heights:" in text
    assert "Order slip" not in text
    assert "day's list" not in text


def test_columns_stand_under_each_other() -> None:
    table = Table(
        "Heights", ("No.", "Set to"), (("1", Line('+2-3/8"')), ("12", '-1"')), (True, True), note="n"
    )
    assert table_lines(table) == ["Heights:", "  (n)", "  No.   Set to", '    1  +2-3/8"', '   12      -1"']


def test_json_for_programs(full: JobRecord, record: JobRecord) -> None:
    blocked = json.loads(plans_json(record))
    assert blocked["open_stops"] == ["post_tension"]
    assert blocked["warnings"]["overlay, bonded"].startswith("NOT FOR WORK")
    data = json.loads(plans_json(full, ("a.dxf",)))
    plan = data["plans"][0]
    assert plan["thickness_min_mm"] == 60.0
    assert plan["thickness_min_u_mm"] == 2.0
    assert plan["setout"]["points"][0]["rounded_mm"] == 60.325
    assert data["orders"][0]["order_m3"] == 0.38
    assert data["slips"][0]["day"][0]["item"] == "curing"
    assert data["prices"][0]["invented"] is True
    assert data["warnings"]["overlay, bonded"] is None
    assert data["files"] == ["a.dxf"]
