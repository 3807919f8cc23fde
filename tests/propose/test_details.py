"""The details of a plan hang together with the plan."""

from __future__ import annotations

import pytest

from analyzer.propose import plan_grades
from analyzer.units import MM_PER_FT, MM_PER_IN

FT, IN = MM_PER_FT, MM_PER_IN


def plans(make_site, no_panels, rules):
    field, levels = make_site(lambda x, y: 0.48 * IN * y / (12 * FT))
    return plan_grades(levels, (), field, no_panels, rules)


def test_a_two_inch_overlay_has_no_room_for_a_bar_where_it_is_thin(make_site, no_panels, exact) -> None:
    """MAT-COVER, from memory: 1 1/2 in of cover; a 2 in overlay has no room for it."""
    bonded, unbonded, new = plans(make_site, no_panels, exact)
    # 2.0 to 4.4 in over 12 ft: at least 2 3/4 in over (4.4 - 2.75) / 2.4 of the depth
    assert bonded.reinforceable_fraction == pytest.approx((4.4 - 2.75) / 2.4)
    assert any("69% of the overlay can hold a bar" in n for n in bonded.notes)
    assert any("everywhere" in n for n in unbonded.notes)
    assert any('leaves 2" of concrete under it' in n for n in new.notes)
    thin = plans(make_site, no_panels, exact.with_values(cover=5 * IN))[0]
    assert any("No part of the overlay" in n for n in thin.notes)


def test_contours_run_every_half_inch(make_site, no_panels, exact) -> None:
    bonded, _, new = plans(make_site, no_panels, exact)
    assert [c.thickness_mm / IN for c in bonded.contours] == pytest.approx([2.5, 3.0, 3.5, 4.0])
    assert new.contours == ()


def test_every_option_is_set_out_and_jointed(make_site, no_panels, exact) -> None:
    for plan in plans(make_site, no_panels, exact):
        assert plan.setout is not None
        assert plan.setout.satisfied
        assert any(j.name.startswith("isolation") for j in plan.joints)
