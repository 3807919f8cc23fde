"""Rows of the requirements against the geometry they stand for."""

from __future__ import annotations

import numpy as np
import pytest

from analyzer.propose.requirements import requirements_of, setout_u_mm
from analyzer.propose.site import describe_site
from analyzer.propose.surface import Basis, Line, cut
from analyzer.records import SiteUse
from analyzer.terms import Abuts, Answer, HeightKind, Option, Use
from analyzer.units import MM_PER_IN


def build(site, layout, rules, clearances=(), option=Option.OVERLAY_BONDED, lines=()):
    field, levels = site
    place = describe_site(field, levels, tuple(clearances), layout, rules)
    basis = Basis(np.array([3000.0, 1800.0]), 6000.0, tuple(lines))
    surface = cut(place.old, tuple(lines))
    found = requirements_of(place, option, basis, surface, (2 * MM_PER_IN, "test"), None)
    return place, basis, {r.name: r for r in found}


def coefficients(basis: Basis, a: float, b: float, c: float, *bends: float) -> np.ndarray:
    height = a * basis.centre[0] + b * basis.centre[1] + c
    return np.array([a * basis.scale_mm, b * basis.scale_mm, height, *(d * basis.scale_mm for d in bends)])


def test_thickness_rows_are_heights_over_every_vertex(make_site, no_panels, exact) -> None:
    place, basis, found = build(make_site(lambda x, y: 0.01 * y + 3), no_panels, exact)
    r = found["thickness"]
    room = r.rows @ coefficients(basis, 0.0, 0.02, 60.0) - r.rhs
    old = place.old
    assert room == pytest.approx(0.02 * old.xy[:, 1] + 60 - old.z - 2 * MM_PER_IN)
    assert r.places == old.names
    assert "thickness" not in build(make_site(lambda x, y: 0 * x), no_panels, exact, option=Option.REMOVAL)[2]


@pytest.mark.parametrize("deg", [0.0, 37.0, 90.0, 200.0, 270.0])
def test_steepest_slope_holds_in_every_direction(make_site, no_panels, exact, deg: float) -> None:
    site = make_site(lambda x, y: 0 * x, site=SiteUse(use=Use.FOOT), abuts={})
    _, basis, found = build(site, no_panels, exact)
    r = found["steepest slope of the surface"]
    way = np.array([np.cos(np.radians(deg)), np.sin(np.radians(deg))])
    inside = coefficients(basis, *(0.0495 * way), 0.0)
    outside = coefficients(basis, *(0.0501 * way), 0.0)
    assert (r.rows @ inside >= r.rhs).all()  # 1:20, ADA 403.3, from memory; a yardstick on private ground
    assert not (r.rows @ outside >= r.rhs).all()


def test_fall_beyond_ten_feet_is_its_own_requirement(make_site, no_panels, exact) -> None:
    deep = make_site(lambda x, y: 0 * x, size=(20.0, 24.0), cells=(4, 8))
    _, _, found = build(deep, no_panels, exact)
    assert "fall beyond 10 ft of C-D" in found
    crease = Line((0.0, 1.0), 14 * 12 * MM_PER_IN, "10 ft from the house")
    _, basis, found = build(deep, no_panels, exact, lines=(crease,))
    # 1 % far from the house, bent up by 1 % more within 10 ft of it
    falls = coefficients(basis, 0.0, 0.0105, 0.0, 0.0095)
    near, far = found["fall away from the house at C-D"], found["fall beyond 10 ft of C-D"]
    assert near.rows @ falls - near.rhs == pytest.approx([0.0], abs=1e-12)
    assert (far.rows @ falls - far.rhs).min() == pytest.approx(0.0105 - 0.125 / 12)


def test_heights_are_bound_from_the_side_that_matters(make_site, no_panels, exact, clearance) -> None:
    items = [
        clearance(HeightKind.DOOR_SILL, (3000.0, 3657.6), 100.0, "door"),
        clearance(HeightKind.GARAGE_FLOOR, (0.0, 1000.0), 80.0, "garage floor"),
        clearance(HeightKind.GATE, (0.0, 500.0), 70.0, "gate"),
        clearance(HeightKind.POST, (0.0, 500.0), 70.0, "post"),
        clearance(HeightKind.SIDING, (0.0, 500.0), None, "boards"),
    ]
    flat = make_site(lambda x, y: 0 * x)
    place, basis, found = build(flat, no_panels, exact, items)
    raised = coefficients(basis, 0.0, 0.0, 60.0)

    def room(name: str) -> float:
        return float((found[name].rows @ raised - found[name].rhs)[0])

    assert room("door sill door, least height") == pytest.approx(100 - 60 - MM_PER_IN)
    assert room("garage floor, least height") == pytest.approx(20.0)
    assert room("gate, least height") == pytest.approx(10.0)
    assert not any("post" in n or "boards" in n or "greatest" in n for n in found)
    removal = build(flat, no_panels, exact, items, Option.REMOVAL)[2]
    assert "door sill door, greatest height" in removal
    assert setout_u_mm(place) == pytest.approx(MM_PER_IN / 8 / np.sqrt(3))


def test_an_egress_door_that_swings_over_the_landing_asks_for_less(
    make_site, no_panels, exact, clearance
) -> None:
    door = clearance(
        HeightKind.DOOR_SILL, (3000.0, 3657.6), 100.0, "door", egress_door=Answer.YES, swings_over=Answer.YES
    )
    found = build(make_site(lambda x, y: 0 * x), no_panels, exact, [door], Option.REMOVAL)[2]
    # IRC 2021 R311.3.1: 1 1/2 in below the threshold (read as quoted)
    assert '1-1/2"' in found["door sill door, greatest height"].sentence


def test_the_margin_is_two_combined_uncertainties(make_site, no_panels, clearance) -> None:
    from analyzer.propose.design import load_design

    site = make_site(lambda x, y: 0 * x, u_mm=1.5, abuts={0: Abuts.FREE})
    weep = clearance(HeightKind.WEEP_SCREED, (0.0, 0.0), 120.0, "wall", height_u_mm=0.8)
    place, _, found = build(site, no_panels, load_design(), [weep])
    expected = 2 * np.sqrt(1.5**2 + 0.8**2 + setout_u_mm(place) ** 2)  # root-sum-square, NIST TN 1297 5.1
    assert found["weep screed wall, least height"].margin == pytest.approx([expected])
