"""The picture of a reason shows its place: on the photo that sees it, else on a small plan."""

from __future__ import annotations

import dataclasses
import io

import numpy as np
import pytest
from PIL import Image

from analyzer.records import Calibration, Contribution, Finding, JobRecord, Photo, Reason
from analyzer.terms import Verdict
from analyzer.transmit import ink
from analyzer.transmit.reason_figure import locator_svg, reason_pictures, target_of


def _on(record: JobRecord, subject: str, quantity: str = "crack width") -> JobRecord:
    one = record.findings[0]
    limit = dataclasses.replace(one.limit, quantity=quantity)
    found: Finding = dataclasses.replace(one, subject=subject, limit=limit, verdict=Verdict.EXCEEDS)
    return dataclasses.replace(record, findings=(found,))


REASON = Reason("It is so.", ("F1",))


@pytest.mark.parametrize(
    ("subject", "quantity", "name", "n_points"),
    [
        ("C1", "crack_width", "crack C1", 4),
        ("P2", "settlement", "panel P2", 4),
        ("edge C-D", "slope_from_house", "edge C-D", 2),
        ("door sill pump door", "door_drop", "door sill pump door", 1),
        ("slab", "worn_fraction", "spalling in panel P1", 4),
    ],
)
def test_reasons_have_a_place(
    record: JobRecord, subject: str, quantity: str, name: str, n_points: int
) -> None:
    target = target_of(REASON, _on(record, subject, quantity))
    assert target is not None
    assert target.name == name
    assert len(target.points_mm) == n_points


def test_what_holds_everywhere_has_no_picture(record: JobRecord) -> None:
    assert target_of(REASON, _on(record, "slab", "fall")) is None
    within = dataclasses.replace(record.findings[0], verdict=Verdict.WITHIN, subject="P1")
    many = tuple(dataclasses.replace(within, finding_id=f"W{k}") for k in range(9))
    sound = Reason("100 % of the slab is sound.", tuple(f.finding_id for f in many))
    assert target_of(sound, dataclasses.replace(record, findings=many)) is None


def test_praise_of_the_whole_is_not_shown_by_its_worst_place(record: JobRecord) -> None:
    marked = _on(record, "P2")
    praise = Contribution("sound panels", 20.0, "83 % of the slab is sound.", ("F1",), "tool")
    rating = dataclasses.replace(record.ranking.ratings[0], contributions=(praise,))
    praised = dataclasses.replace(marked, ranking=dataclasses.replace(record.ranking, ratings=(rating,)))
    assert target_of(Reason(praise.statement, ("F1",)), praised) is None
    assert target_of(Reason("It has settled.", ("F1",)), praised) is not None


def test_a_photo_that_shows_the_place_is_cut_out(
    record: JobRecord, photo: Photo, calibration: Calibration
) -> None:
    pictures = reason_pictures((REASON,), _on(record, "C1"), (photo,), (calibration,))
    figure = pictures["It is so."]
    assert figure.media_type == "image/jpeg"
    pixels = np.asarray(Image.open(io.BytesIO(figure.data)).convert("RGB")).astype(int)
    # The crack is drawn on the cut-out in its own red.
    assert ((pixels[..., 0] - pixels[..., 1] > 60) & (pixels[..., 0] > pixels[..., 2])).any()
    assert max(pixels.shape[:2]) == 760


def test_a_photo_that_looks_elsewhere_is_not_used(
    record: JobRecord, photo: Photo, calibration: Calibration
) -> None:
    away = np.array([[1.0, 0.0, 9000.0], [0.0, 1.0, 9000.0], [0.0, 0.0, 1.0]])
    elsewhere = dataclasses.replace(calibration, plan_from_px=away @ calibration.plan_from_px)
    pictures = reason_pictures((REASON,), _on(record, "C1"), (photo,), (elsewhere,))
    assert pictures["It is so."].media_type == "image/svg+xml"


def test_one_place_is_shown_once(record: JobRecord) -> None:
    again = Reason("It is also so.", ("F1",))
    assert set(reason_pictures((REASON, again), _on(record, "P2"))) == {"It is so."}


def test_the_small_plan_marks_the_place(record: JobRecord) -> None:
    marked = _on(record, "P2")
    target = target_of(REASON, marked)
    assert target is not None
    assert ink.HIGHLIGHT in locator_svg(marked, target)
