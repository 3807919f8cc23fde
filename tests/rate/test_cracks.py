"""Crack widths, severities when the interval straddles, steps, corner breaks."""

from __future__ import annotations

from dataclasses import replace

import pytest
from invented_slab import Slab, crack

from analyzer.rate.cracks import ltpp_term, representative_width
from analyzer.records import Fault
from analyzer.terms import Answer, Distress, Grade, Verdict
from analyzer.units import MM_PER_IN

MODERATE, HIGH = "LTPP-JCP-TRANSVERSE.width-moderate@C1", "LTPP-JCP-TRANSVERSE.width-high@C1"


def test_a_gauge_reading_is_taken_as_it_is() -> None:
    # The photo's mean stays in the record, but the gauge outranks it.
    known = representative_width(crack("C1", "P1", 4.0, width_mean_mm=1.0, width_mean_u_mm=0.2))
    assert known.value == 4.0


def test_width_reached_by_a_tenth_of_an_evenly_varying_crack() -> None:
    # Widths spread evenly from 1 to 3 mm: the tenth widest part starts at 2.8 mm, by arithmetic.
    known = representative_width(
        crack("C1", "P1", 3.0, width_mean_mm=2.0, width_mean_u_mm=0.1, width_source="photo")
    )
    assert known.value == pytest.approx(2.8)


def test_too_thin_to_measure_is_bounded_and_unknown_is_unknown() -> None:
    thin = representative_width(crack("C1", "P1", None, width_upper_mm=0.6))
    assert (thin.value, thin.upper) == (0.3, 0.6)
    assert representative_width(crack("C1", "P1", None)).value is None


def test_both_levels_are_reported_when_the_width_straddles() -> None:
    # A photo at 0.5 mm per px: u(width) = 0.20 mm (computed from two edges of +- half a pixel).
    found = replace(Slab(), cracks=(crack("C1", "P1", 3.1, width_max_u_mm=0.20),)).by_id()
    assert found[MODERATE].verdict is Verdict.NOT_DETERMINED
    assert found[HIGH].verdict is Verdict.WITHIN
    found = replace(Slab(), cracks=(crack("C1", "P1", 6.1, width_max_u_mm=0.20),)).by_id()
    assert found[MODERATE].verdict is Verdict.EXCEEDS
    assert found[HIGH].verdict is Verdict.NOT_DETERMINED


def test_longitudinal_and_other_cracks_have_their_own_rows() -> None:
    assert ltpp_term(Distress.LONGITUDINAL_CRACKING) == "longitudinal cracking"
    assert ltpp_term(Distress.DIAGONAL_CRACKING) == "transverse cracking"
    assert ltpp_term(Distress.MAP_CRACKING) is None
    found = replace(
        Slab(), cracks=(crack("C1", "P1", 10.0, distress=Distress.LONGITUDINAL_CRACKING),)
    ).by_id()
    assert found["LTPP-JCP-LONGITUDINAL.width-moderate@C1"].verdict is Verdict.EXCEEDS
    assert found["LTPP-JCP-LONGITUDINAL.width-high@C1"].verdict is Verdict.WITHIN
    assert HIGH not in found


def test_a_crack_in_a_joint_is_a_joint_at_work() -> None:
    found = replace(Slab(), cracks=(crack("C1", "P1", 5.0, along_joint="J1"),)).by_id()
    assert not [name for name in found if name.endswith("@C1")]


def test_a_step_across_a_crack_and_its_absence() -> None:
    step = Fault((0.0, 0.0), 0.30 * MM_PER_IN, 0.02 * MM_PER_IN, "C1", ("P1",))
    slab = replace(Slab(), cracks=(crack("C1", "P1", 4.0),))
    trigger = "FHWA-FDR-TABLE1.transverse-crack@C1"
    assert replace(slab, faults=(step,)).by_id()[trigger].verdict is Verdict.EXCEEDS
    walked = slab.by_id()[trigger]
    assert (walked.verdict, walked.grade) == (Verdict.WITHIN, Grade.REPORTED)
    unsaid = slab.told(walked_over=Answer.UNKNOWN).by_id()[trigger]
    assert (unsaid.verdict, unsaid.value) == (Verdict.NOT_DETERMINED, None)


def test_steps_are_held_against_access_limits_and_joints_against_full_depth_repair() -> None:
    step = Fault((0.0, 0.0), 0.30 * MM_PER_IN, 0.005 * MM_PER_IN, "J2", ("P1", "P2"))
    found = replace(Slab(), faults=(step,)).by_id()
    assert found["ADA-303-2@step 1 at J2"].verdict is Verdict.EXCEEDS
    assert found["ADA-303-3@step 1 at J2"].verdict is Verdict.WITHIN
    assert found["FHWA-FDR-TABLE1.joint@J2"].verdict is Verdict.EXCEEDS


def test_corner_break_and_movement() -> None:
    slab = replace(
        Slab(), cracks=(crack("C1", "P1", 2.0, distress=Distress.CORNER_BREAK, moving=Answer.YES),)
    )
    found = slab.by_id()
    assert found["FHWA-FDR-TABLE1.corner-break@C1"].verdict is Verdict.EXCEEDS
    assert not found["FHWA-FDR-TABLE1.corner-break@C1"].binding
    assert found["CRACK-ACTIVE-FIRST.crack@C1"].verdict is Verdict.EXCEEDS
