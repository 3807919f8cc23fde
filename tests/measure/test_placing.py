"""Where cracks lie: the two published corner cases, splitting, words of the manual."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from analyzer.measure import lay_out_panels
from analyzer.measure.placing import cut_panel, is_hairline, make_site, name_crack, place_crack, touched
from analyzer.measure.width import Width
from analyzer.terms import Answer, Distress

FT = 304.8
WIDE = Width(5.0, 0.4, 6.0, 0.4, None)
NO_ENDS = np.zeros((0, 2))


def _site(kit, width_ft=12.0, length_ft=20.0, joints=()):
    w, h = width_ft * FT, length_ft * FT
    return make_site(lay_out_panels(joints, kit.field_book([(0, 0), (w, 0), (w, h), (0, h)]), None, 0.0))


def _lines(*polylines):
    return shapely.MultiLineString([np.array(p, dtype=float) for p in polylines])


def _place(site, lines, others=(), ends=NO_ENDS, seen=()):
    return place_crack(lines, list(others), ends, list(seen), site)


def test_four_and_eight_feet_is_a_corner_break_on_12_by_20(kit) -> None:
    # TM 5-623 / UFC 3-270-08 app. B (read): slab 12 x 20 ft, crack 4 ft and 8 ft from the corner.
    site = _site(kit)
    place = _place(site, _lines([(4 * FT, 0), (2 * FT, 4 * FT), (0, 8 * FT)]))
    assert place.corner_break
    assert sorted((place.corner.leg_a_mm, place.corner.leg_b_mm)) == pytest.approx([4 * FT, 8 * FT], abs=3)
    assert sorted((place.corner.side_a_mm, place.corner.side_b_mm)) == pytest.approx([12 * FT, 20 * FT])
    assert name_crack(place, site, 120.0, 9 * FT, WIDE) is Distress.CORNER_BREAK
    assert place.splits is Answer.YES


def test_five_and_twelve_feet_is_a_diagonal_crack_on_12_by_20(kit) -> None:
    # The same source: 12 ft is more than half of the 20 ft side.
    site = _site(kit)
    lines = _lines([(5 * FT, 0), (0, 12 * FT)])
    place = _place(site, lines)
    assert not place.corner_break
    assert place.corner is not None
    assert place.splits is Answer.YES
    assert name_crack(place, site, 112.6, 13 * FT, WIDE) is Distress.DIAGONAL_CRACKING


def test_a_chip_of_less_than_a_foot_is_no_corner_break(kit) -> None:
    # LTPP corner breaks: side lengths from 0.3 m (from memory).
    place = _place(_site(kit), _lines([(200, 0), (0, 250)]))
    assert place.corner is not None
    assert not place.corner_break


def test_half_the_side_is_still_a_corner_break(kit) -> None:
    # "no more than half": at, and just over.
    assert _place(_site(kit), _lines([(6 * FT, 0), (0, 10 * FT)])).corner_break
    assert not _place(_site(kit), _lines([(6 * FT + 5, 0), (0, 10 * FT)])).corner_break


@pytest.mark.parametrize(("gap", "answer"), [(0, Answer.YES), (40, Answer.YES), (120, Answer.NO)])
def test_a_crack_splits_if_it_comes_near_enough_to_both_sides(kit, gap, answer) -> None:
    assert _place(_site(kit), _lines([(gap, 3000), (12 * FT - gap, 3100)])).splits is answer


def test_a_crack_that_leaves_what_was_seen_may_go_on(kit) -> None:
    lines, ends = _lines([(0, 3000), (2000, 3000)]), np.array([[0.0, 3000.0], [2000.0, 3000.0]])
    assert _place(_site(kit), lines, ends=ends, seen=(True, True)).splits is Answer.NO
    assert _place(_site(kit), lines, ends=ends, seen=(True, False)).splits is Answer.UNKNOWN


def test_two_cracks_split_together(kit) -> None:
    site = _site(kit)
    half = _lines([(0, 3000), (1800, 3000)])
    other = _lines([(1800, 0), (1810, 3020), (3650, 3030)])
    assert _place(site, half).splits is Answer.NO
    assert _place(site, half, [other]).splits is Answer.YES


def test_pieces_of_a_shattered_panel(kit) -> None:
    # Two crossing cracks leave four pieces: shapely.polygonize on exact lines as the check.
    site = _site(kit)
    panel = site.polygons[0]
    cross = [_lines([(0, 3000), (12 * FT, 3000)]), _lines([(1800, 0), (1800, 20 * FT)])]
    pieces = cut_panel(panel, cross)
    assert len(pieces) == 4
    assert sum(p.area for p in pieces) == pytest.approx(panel.area, rel=1e-6)
    assert len(cut_panel(panel, [])) == 1


def test_a_crack_over_a_joint_is_on_both_panels(kit) -> None:
    site = _site(kit, joints=[kit.joint("J1", (0, 3000), (12 * FT, 3000))])
    place = _place(site, _lines([(1800, 0), (1820, 20 * FT)]))
    assert place.panels == ("P1", "P2")
    assert place.splits is Answer.YES
    short = _lines([(1800, 500), (1820, 3010)])
    assert [site.names[i] for i, _ in touched(short, site)] == ["P1"]


def test_words_follow_the_long_side_of_the_panel(kit) -> None:
    # Convention of this tool, stated in name_crack: along the panel's long side is longitudinal.
    site = _site(kit)
    for direction, word in [
        (90.0, Distress.LONGITUDINAL_CRACKING),
        (65.0, Distress.LONGITUDINAL_CRACKING),
        (45.0, Distress.DIAGONAL_CRACKING),
        (20.0, Distress.TRANSVERSE_CRACKING),
        (179.0, Distress.TRANSVERSE_CRACKING),
    ]:
        place = _place(site, _lines([(1000, 2000), (2000, 2500)]))
        assert name_crack(place, site, direction, 3000.0, WIDE) is word


def test_a_square_panel_takes_the_long_side_of_the_slab(kit) -> None:
    w = 2000.0
    outline = [(0, 0), (3 * w, 0), (3 * w, w), (0, w)]
    joints = [kit.joint("J1", (w, 0), (w, w)), kit.joint("J2", (2 * w, 0), (2 * w, w))]
    site = make_site(lay_out_panels(joints, kit.field_book(outline), None, 0.0))
    place = _place(site, _lines([(500, 1000), (1500, 1010)]))
    assert name_crack(place, site, 1.0, 1000.0, WIDE) is Distress.LONGITUDINAL_CRACKING


def test_short_hairlines_that_do_not_cross_are_shrinkage_cracks(kit) -> None:
    # UFC 3-270-08 app. B (read): hairlines a few feet long that do not cross the slab.
    site = _site(kit)
    place = _place(site, _lines([(1000, 2000), (1600, 2300)]))
    thin = Width(upper_mm=1.2)
    assert name_crack(place, site, 30.0, 670.0, thin) is Distress.SHRINKAGE_CRACK
    assert name_crack(place, site, 20.0, 670.0, WIDE) is Distress.TRANSVERSE_CRACKING
    assert name_crack(place, site, 20.0, 2500.0, thin) is Distress.TRANSVERSE_CRACKING
    across = _place(site, _lines([(0, 3000), (12 * FT, 3000)]))
    assert name_crack(across, site, 0.0, 1000.0, thin) is Distress.TRANSVERSE_CRACKING


def test_unknown_width_is_no_hairline() -> None:
    assert not is_hairline(Width())
    assert not is_hairline(Width(upper_mm=4.0))
    assert is_hairline(Width(0.6, 0.1, 0.9, 0.1))


def test_off_the_slab_is_on_no_panel(kit) -> None:
    place = _place(_site(kit), _lines([(-900, -900), (-500, -700)]))
    assert place.panels == ()
    assert place.splits is Answer.UNKNOWN
