"""Tables of what was measured print stored values in the units of the job."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.terms import UnitSystem
from analyzer.transmit import tables


def _metric(record: JobRecord) -> JobRecord:
    job = dataclasses.replace(record.field.job, units=UnitSystem.METRIC)
    return dataclasses.replace(record, field=dataclasses.replace(record.field, job=job))


def test_every_row_fits_its_header(record: JobRecord) -> None:
    makers = (tables.cracks, tables.panels, tables.levels, tables.evidence)
    found = [t for make in makers for t in make(record)]
    assert len(found) == 11
    for table in found:
        assert len(table.numeric) == len(table.columns)
        assert {len(row) for row in table.rows} == {len(table.columns)}


def test_lengths_in_both_systems(record: JobRecord) -> None:
    # 1500 mm is 4 ft 11 1/16 in (59.055 in), by hand; 7 mm is 0.276 in, 1/4 in to the sixteenth.
    assert "4' 11-1/16\" ± 0.24 in" in tables.panels(record)[0].rows[0]
    assert "1500 mm ± 6.0 mm" in tables.panels(_metric(record))[0].rows[0]
    steps = tables.cracks(record)[2].rows[0]
    assert str(steps[2]).startswith('1/4"')


def test_unknown_is_a_word_and_never_zero(record: JobRecord) -> None:
    row = next(r for r in tables.cracks(record)[0].rows if r[0] == "C2")
    assert "unknown" in row
    assert "under 0.06 in (1.5 mm)" in row


def test_levels_name_their_datum_and_the_gap_under_a_straightedge(record: JobRecord) -> None:
    assert record.levels is not None
    found = dataclasses.replace(record.levels, datum="station S1 is zero", straightedge_gap_mm=4.0)
    whole, stations, *_ = tables.levels(dataclasses.replace(record, levels=found))
    assert "station S1 is zero" in stations.note
    assert any("straightedge" in str(r[0]) for r in whole.rows)
    assert tables.levels(dataclasses.replace(record, levels=None)) == ()


def test_evidence_names_the_hash_of_each_photo(record: JobRecord) -> None:
    assert tables.evidence(record)[0].rows[0][-1] == "ab" * 32
