"""The estimator's part: all to price, order and set out; what stays shut while a question is open."""

from __future__ import annotations

import dataclasses

from analyzer.records import JobRecord
from analyzer.terms import Headline, Option
from analyzer.transmit.content import Figure, Section
from analyzer.transmit.estimator import estimator_part, shown_plans
from analyzer.transmit.refs import FindingNumbers

DRAWING = Figure("d.svg", "image/svg+xml", b"<svg/>", "alt", "cap")


def _part(record: JobRecord) -> dict[str, Section]:
    found = estimator_part(record, FindingNumbers(record), (), {Option.OVERLAY_BONDED: (DRAWING,)})
    return {s.title: s for s in found}


def test_the_plan_carries_drawings_heights_limits_and_joints(full: JobRecord) -> None:
    plan = _part(full)["Plan: overlay, bonded"]
    assert plan.figures == (DRAWING,)
    assert plan.anchor == "plan-overlay_bonded"
    assert [t.caption for t in plan.tables] == [
        "Set-out heights", "What the finished surface keeps", "Joints of the new concrete",
        "Rules for these joints", "Grade breaks",
        "High spots to grind",
    ]  # fmt: skip
    text = " ".join(line.text for line in plan.lines)
    for words in ("It would fit if the step gave way", "Ground is missing", "rounded to 1/16 in",
                  "Assumed: No level was read at B."):  # fmt: skip
        assert words in text


def test_conflicts_are_bold(full: JobRecord) -> None:
    broken = dataclasses.replace(full.plans[0], conflicts=("The sill keeps less than 25 mm.",))
    line = _part(dataclasses.replace(full, plans=(broken,)))["Plan: overlay, bonded"].lines[0]
    assert line.strong
    assert line.text == "The sill keeps less than 25 mm."


def test_order_slip_and_prices_stand_here(full: JobRecord) -> None:
    part = _part(full)
    assert [t.caption for t in part["Order slip and the day's list"].tables] == [
        "Order slip for the plant: overlay, bonded",
        "The day's list: overlay, bonded",
    ]
    assert part["Prices"].paragraphs[0].strong


def test_an_open_question_shuts_plans_and_slip(record: JobRecord, full: JobRecord) -> None:
    assert shown_plans(record) == ()
    blocked = dataclasses.replace(full, ranking=dataclasses.replace(full.ranking, stops=record.ranking.stops))
    part = _part(blocked)
    assert not any(title.startswith("Plan:") for title in part)
    assert "Order slip and the day's list" not in part
    assert part["Quantities and order"].paragraphs[0].strong
    assert "no advice to pour" in part["Quantities and order"].paragraphs[0].text


def test_without_a_recommendation_every_plan_that_is_not_refused_is_drawn(full: JobRecord) -> None:
    plans = tuple(
        dataclasses.replace(full.plans[0], option=o)
        for o in (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.REMOVAL)
    )
    ratings = tuple(
        dataclasses.replace(r, admissible=r.option is not Option.OVERLAY_BONDED) for r in full.ranking.ratings
    )
    ranking = dataclasses.replace(full.ranking, headline=Headline.NONE_YET, option=None, ratings=ratings)
    found = shown_plans(dataclasses.replace(full, plans=plans, ranking=ranking))
    assert [p.option for p in found] == [Option.OVERLAY_UNBONDED, Option.REMOVAL]


def test_photos_say_what_they_cannot_show_and_contradictions_are_bold(record: JobRecord) -> None:
    lines = _part(record)["What is not known"].lines
    assert any("Photo overview: cracks finer than" in line.text for line in lines)
    assert lines[-1].strong
    assert "Gauge 2.0 mm, photo 3.1 mm." in lines[-1].text
