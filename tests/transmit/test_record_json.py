"""record.json holds the whole record and reads back the same."""

from __future__ import annotations

import json

import pytest

from analyzer.errors import VerifyError
from analyzer.records import JobRecord
from analyzer.transmit import plain, record_from_json, record_to_json


def test_round_trip_keeps_every_value(record: JobRecord) -> None:
    text = record_to_json(record)
    back = record_from_json(text)
    assert plain(back) == plain(record)
    assert plain(record_from_json(record_to_json(back))) == plain(record)


def test_every_measured_length_has_its_uncertainty_beside_it(record: JobRecord) -> None:
    crack = json.loads(record_to_json(record))["distress"]["cracks"][0]
    for name in ("length", "width_mean", "width_max"):
        assert crack[f"{name}_mm"] is not None
        assert crack[f"{name}_u_mm"] > 0


def test_other_version_is_refused(record: JobRecord) -> None:
    data = json.loads(record_to_json(record))
    data["schema"] = 99
    with pytest.raises(VerifyError, match="schema version 99"):
        record_from_json(json.dumps(data))


@pytest.mark.parametrize(
    "change",
    [
        lambda d: d.update(surprise=1),
        lambda d: d["ranking"].update(headline="maybe"),
        lambda d: d["layout"].pop("panels"),
        lambda d: d["field"]["job"].update(date="yesterday"),
        lambda d: d["bill"]["quantities"][0].update(value="much"),
    ],
)
def test_what_does_not_fit_is_refused(record: JobRecord, change) -> None:
    data = json.loads(record_to_json(record))
    change(data)
    with pytest.raises(VerifyError, match="does not fit"):
        record_from_json(json.dumps(data))


def test_not_json() -> None:
    with pytest.raises(VerifyError, match="is not JSON"):
        record_from_json("{")


def test_nan_is_never_written(record: JobRecord) -> None:
    import dataclasses

    bad = dataclasses.replace(record.bill.quantities[0], value=float("nan"))
    broken = dataclasses.replace(record, bill=dataclasses.replace(record.bill, quantities=(bad,)))
    with pytest.raises(ValueError, match="Out of range"):
        record_to_json(broken)
