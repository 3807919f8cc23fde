"""Rounding up, the odds of running short against random draws, stone by thickness."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.records import DesignChoices
from analyzer.takeoff.order import (
    largest_aggregate,
    order_line,
    order_volume,
    outlook,
    plant_step,
    round_up,
)
from analyzer.takeoff.rules import load_takeoff_rules
from analyzer.units import M3_PER_FT3, M3_PER_YD3, MM_PER_IN

YARD = M3_PER_YD3


@pytest.mark.parametrize(
    ("volume", "step", "expected"), [(2.37, 0.25, 2.5), (2.5, 0.25, 2.5), (2.5001, 0.25, 2.75), (0.1, 1, 1)]
)
def test_rounded_up_never_down(volume: float, step: float, expected: float) -> None:
    assert round_up(volume * YARD, step * YARD) / YARD == pytest.approx(expected)


def test_the_navy_example_is_rounded_up() -> None:
    """QTY-EX-NAVY, corrected inputs (read): 527.40 ft3 x 1.10 = 580.14 ft3 = 21.49 yd3, printed as 21."""
    total = 85.76 + 50.04 + 133.32 + 69.32 + 188.96
    assert total == pytest.approx(527.40)
    needed = total * 1.10 * M3_PER_FT3
    assert needed / YARD == pytest.approx(21.49, abs=0.005)
    assert order_volume(total * M3_PER_FT3, 0.10, YARD) / YARD == pytest.approx(22.0)
    assert order_volume(total * M3_PER_FT3, 0.10, 0.25 * YARD) / YARD == pytest.approx(21.5)


def test_odds_of_running_short_equal_random_draws() -> None:
    rng = np.random.default_rng(5)
    need = rng.normal(2.0, 0.1, 400_000) * 1.02 + 2.0 * rng.uniform(-0.02, 0.02, 400_000)
    for ordered in (1.9, 2.1, 2.3):
        short, left = outlook(2.0, 0.1, ordered, (0.0, 0.04))
        assert short == pytest.approx((need > ordered).mean(), abs=0.01)
        assert left == pytest.approx(np.maximum(ordered - need, 0).mean(), abs=0.002)
    assert outlook(2.0, 0.0, 2.0, (0.0, 0.0)) == (0.0, 0.0)
    assert outlook(2.0, 0.0, 1.9, (0.0, 0.0))[0] == 1.0


@pytest.mark.parametrize(
    ("inches", "stone"),
    [(1.0, None), (1.2, "3/8 in"), (2.0, "1/2 in"), (2.24, "1/2 in"), (2.25, "3/4 in"), (4, "1 in")],
)
def test_the_largest_stone_is_a_third_of_the_thinnest_spot(inches: float, stone: str | None) -> None:
    """MAT-AGG-MAX, from memory: 1/3 of the depth; a 2 in overlay takes 1/2 or 3/8 in."""
    found = largest_aggregate(inches * MM_PER_IN, load_takeoff_rules())
    assert (found and found[1]) == stone


def test_the_order_says_waste_step_short_load_and_stone(make_book, make_plan) -> None:
    rules = load_takeoff_rules()
    plan = make_plan([(0, 0, 51.0, 1), (1000, 0, 60.0, 1), (0, 1000, 60.0, 1)], [(0, 1, 2)])
    book = make_book([(0, 0), (1000, 0), (0, 1000)])
    line = order_line(plan, 2.37 * YARD, 0.1 * YARD, book, rules)
    assert line.order_m3 / YARD == pytest.approx(2.75)  # 2.37 x 1.075 = 2.548
    assert line.order_low_m3 / YARD == pytest.approx(2.5)
    assert line.order_high_m3 / YARD == pytest.approx(2.75)
    assert line.short_load  # below 3 to 6 yd3: common practice, no source
    assert line.loads == 1
    text = " ".join(line.sentences)
    assert "2.75 yd" in text
    assert "short load" in text
    assert "1/2 in" in text
    chosen = make_book(
        [(0, 0), (1000, 0), (0, 1000)], design=DesignChoices(waste_fraction=0.05, plant_step_m3=0.5 * YARD)
    )
    line = order_line(plan, 20.0 * YARD, 0.1 * YARD, chosen, rules)
    assert line.order_m3 / YARD == pytest.approx(21.0)
    assert not line.short_load
    assert line.loads == 3
    assert plant_step(book, rules) == pytest.approx(0.25 * YARD)


def test_too_thin_for_any_stone(make_book, make_plan) -> None:
    plan = make_plan([(0, 0, 20.0, 1), (1000, 0, 20.0, 1), (0, 1000, 20.0, 1)], [(0, 1, 2)])
    line = order_line(plan, 1.0, 0.1, make_book([(0, 0), (1000, 0), (0, 1000)]), load_takeoff_rules())
    assert line.aggregate_mm is None
    assert "sand mix" in " ".join(line.sentences)
