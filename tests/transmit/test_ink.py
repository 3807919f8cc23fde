"""Labels keep off each other; width is told by weight and words, not by colour."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.transmit import ink


def test_labels_do_not_cover_each_other() -> None:
    frame = ink.Box(0, 0, 1000, 1000)
    taken: list[ink.Box] = []
    for _ in range(12):
        box = ink.place_label((500, 500), (80, 20), taken, frame)
        assert box.inside(frame)
        assert not any(box.overlaps(other) for other in taken)
        taken.append(box)


def test_a_crowded_corner_still_gives_a_place() -> None:
    frame = ink.Box(0, 0, 100, 40)
    assert ink.place_label((5, 5), (300, 20), [], frame).width == 300


def test_a_preferred_side_is_tried_first() -> None:
    frame = ink.Box(0, 0, 1000, 1000)
    right = ink.place_label((500, 500), (80, 20), [], frame, (1.0, 0.0))
    left = ink.place_label((500, 500), (80, 20), [], frame, (-1.0, 0.0))
    assert right.x >= 500
    assert left.x + left.width <= 500


def test_weight_grows_with_width(record: JobRecord) -> None:
    crack = record.distress.cracks[0]
    weights = [ink.crack_weight(dataclasses.replace(crack, width_max_mm=w)) for w in (None, 0.5, 1.5, 4.0)]
    assert weights == sorted(weights)
    assert weights[0] < weights[-1]


def test_label_says_what_is_not_known(record: JobRecord) -> None:
    wide, fine = record.distress.cracks
    assert ink.crack_label(wide, "metric") == "C1: 3.1 mm"
    assert ink.crack_label(wide, "imperial") == "C1: 0.12 in (3.1 mm)"
    assert ink.crack_label(fine, "metric") == "C2: under 1.5 mm"
    assert ink.crack_label(dataclasses.replace(fine, width_upper_mm=None), "metric") == "C2: width unknown"


def test_label_points_at_the_middle_of_the_longest_branch() -> None:
    assert ink.longest_branch_middle([[(0, 0)], [(1, 1), (2, 2), (3, 3)]]) == (2, 2)
    assert ink.longest_branch_middle([]) is None
