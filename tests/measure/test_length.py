"""Uncertainty of lengths: what is common adds straight, the rest in squares."""

from __future__ import annotations

import math

import pytest

from analyzer.measure.length import END_U_PX, measure_length, total_length


def test_free_ends_and_scale_combine_in_squares() -> None:
    # NIST TN 1297 sec. 5 (read): root-sum-of-squares of independent parts.
    part = measure_length(1000.0, 2.0, free_ends=2, scale_u_rel=0.01)
    ends, fit, scale = END_U_PX * 2.0 * math.sqrt(2), 6.0, 10.0
    assert part.u_mm == pytest.approx(math.sqrt(ends**2 + fit**2 + scale**2))


def test_a_branch_between_junctions_has_no_end_error() -> None:
    inner = measure_length(500.0, 1.0, free_ends=0, scale_u_rel=0.0)
    assert inner.u_mm == pytest.approx(3.0)
    assert measure_length(500.0, 1.0, free_ends=2, scale_u_rel=0.0).u_mm > inner.u_mm


def test_scale_is_common_to_all_parts() -> None:
    # JCGM 100:2008 eq. 16 (from memory): fully correlated parts add linearly.
    parts = [measure_length(1000.0, 1.0, free_ends=0, scale_u_rel=0.01) for _ in range(4)]
    whole = total_length(parts)
    assert whole.mm == pytest.approx(4000.0)
    assert whole.scale_u_rel == pytest.approx(0.01)
    assert whole.own_u_mm == pytest.approx(6.0 * 2)
    assert whole.u_mm == pytest.approx(math.hypot(12.0, 40.0))


def test_an_uneven_line_is_less_certain() -> None:
    smooth = measure_length(1000.0, 1.0, free_ends=0, scale_u_rel=0.0, fit_rms_mm=0.3)
    uneven = measure_length(1000.0, 1.0, free_ends=0, scale_u_rel=0.0, fit_rms_mm=0.9)
    assert uneven.u_mm > smooth.u_mm


def test_nothing_sums_to_nothing() -> None:
    assert total_length([]).mm == 0.0
