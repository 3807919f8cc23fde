"""Tables print stored values in the units of the job."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.terms import UnitSystem
from analyzer.transmit import tables


def _metric(record: JobRecord) -> JobRecord:
    job = dataclasses.replace(record.field.job, units=UnitSystem.METRIC)
    return dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))


def test_every_row_fits_its_header(record: JobRecord) -> None:
    found = [
        t
        for make in (
            tables.panel_actions, tables.options, tables.cracks, tables.panels, tables.levels,
            tables.heights, tables.quantities, tables.findings, tables.evidence,
        )
        for t in make(record)
    ]  # fmt: skip
    assert len(found) >= 14
    for table in found:
        assert len(table.numeric) == len(table.columns)
        assert {len(row) for row in table.rows} == {len(table.columns)}


def test_lengths_in_both_systems(record: JobRecord) -> None:
    # 1500 mm is 4 ft 11 1/16 in (59.055 in), by hand; 7 mm is 0.276 in, 1/4 in to the sixteenth.
    assert "4' 11-1/16\" ± 0.24 in" in tables.panels(record)[0].rows[0]
    assert "1500 mm ± 6.0 mm" in tables.panels(_metric(record))[0].rows[0]
    steps = tables.cracks(record)[2].rows[0]
    assert steps[2].startswith('1/4"')


def test_volume_in_the_units_of_the_plant(record: JobRecord) -> None:
    # 0.2 m3 / 0.764555 = 0.2616 yd3 (NIST Handbook 44 app. C, factor from memory).
    assert tables.quantities(record)[0].rows[0][2] == "0.26 ± 0.01 yd³"
    assert tables.quantities(_metric(record))[0].rows[0][2] == "0.20 ± 0.01 m³"


def test_heights_show_every_option_beside_now(record: JobRecord) -> None:
    (heights, finished) = tables.heights(record)
    assert heights.columns == ("What", "Name", "Now", "overlay, bonded")
    assert heights.rows[0][:3] == ("door sill", "pump door", '4-3/4"')
    assert finished.rows[0][-1] == "The sill keeps less than 25 mm."


def test_refused_options_keep_their_reason(record: JobRecord) -> None:
    rows = {r[0]: r for r in tables.options(record)[0].rows}
    assert rows["patch"][1:] == ("refused", "0", "Too much is broken.")
    assert rows["removal"][3] == "missing: thickness"


def test_evidence_names_the_hash_of_each_photo(record: JobRecord) -> None:
    assert tables.evidence(record)[0].rows[0][-1] == "ab" * 32
