"""Quantities, order, slip and prices side by side."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.terms import Option, UnitSystem
from analyzer.transmit import order_tables
from analyzer.transmit.content import Line, text_of


def _metric(record: JobRecord) -> JobRecord:
    job = dataclasses.replace(record.field.job, units=UnitSystem.METRIC)
    return dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))


def test_quantities_of_all_options_stand_side_by_side(full: JobRecord) -> None:
    table, basis = order_tables.quantities(full)
    assert table.columns == ("Item", "overlay, bonded", "removal")
    rows = {r[0]: r[1:] for r in table.rows}
    # 0.2 m3 / 0.764555 = 0.2616 yd3; 3 m2 = 32.29 ft2; 0.73 t = 0.805 short tons (NIST Handbook 44
    # app. C, factors from memory).
    assert rows["concrete"] == ("0.26 ± 0.01 yd³", "–")
    assert rows["area to bond"] == ("32 ± 0.1 ft²", "–")
    assert rows["mass to haul off"] == ("–", "0.80 ± 0.02 short tons")
    assert {r[3] for r in basis.rows} == {"–", "QTY-FORMULAS", "QTY-UNIT-WEIGHT"}
    assert order_tables.quantities(_metric(full))[0].rows[0][1] == "0.20 ± 0.01 m³"


def test_the_order_says_how_often_it_runs_short(full: JobRecord) -> None:
    (table,) = order_tables.orders(full)
    row = [text_of(c) for c in table.rows[0]]
    # 0.38 m3 / 0.764555 = 0.497 yd3.
    assert row[2:4] == ["7.5%", "0.50 yd³"]
    assert row[5] == "under 1 %"
    assert row[7:] == ["1, short load", '3/4"']


def test_what_is_still_to_choose_is_left_to_write_in(full: JobRecord) -> None:
    plant, day = order_tables.slip(full, Option.OVERLAY_BONDED)
    value = plant.rows[1][2]
    assert isinstance(value, Line)
    assert value.strong
    assert value.text.startswith("to be chosen")
    assert day.rows[0][1] == "curing"
    assert order_tables.slip(full, Option.PATCH) == ()


def test_invented_prices_say_so_in_bold(full: JobRecord) -> None:
    table, lines = order_tables.prices(full)
    assert [text_of(c) for c in table.rows[0]][1:4] == ["70 money", "1,090 money", "1,310 money"]
    assert table.rows[0][5] == "isolation strip"
    assert lines.rows[0][2] == "0.5 yd3"
    (warning,) = order_tables.invented_prices(full)
    assert warning.strong
    assert "invented" in warning.text


def test_without_prices_nothing_is_printed(record: JobRecord) -> None:
    assert order_tables.prices(record) == ()
    assert order_tables.invented_prices(record) == ()
