"""Cracks and steps: LTPP severity classes, full-depth triggers, corner breaks, movement."""

from __future__ import annotations

import math
from collections.abc import Sequence

from analyzer import units
from analyzer.rate.hold import UNKNOWN, Known, Scope, answered, below, hold
from analyzer.records import CrackSize, DistressSummary, Fault, Finding
from analyzer.terms import Answer, Distress, Grade

_TENTH = 0.1
_GAUGE = "gauge"
_POSSIBLE = 0.05


def representative_width(crack: CrackSize) -> Known:
    """The width that at least 10 % of the crack's length reaches, in mm, as LTPP rates it.

    A crack whose width varies evenly round its mean up to its greatest reaches
    ``mean + 0.8 (greatest - mean)`` on a tenth of its length (even variation: judgement of this
    tool; the tenth: FHWA-HRT-13-092 ch. 2, from memory). With only one of the two that one
    counts. Too thin to measure: between 0 and the smallest measurable width.
    """
    mean, greatest = crack.width_mean_mm, crack.width_max_mm
    if crack.width_source == _GAUGE and greatest is not None:
        mean = None  # read where the crack is widest and outranks the photo's mean
    mean_u, greatest_u = crack.width_mean_u_mm or 0.0, crack.width_max_u_mm or 0.0
    if mean is not None and greatest is not None:
        share = 1.0 - 2.0 * _TENTH
        return Known(
            mean + share * (greatest - mean),
            math.hypot((1.0 - share) * mean_u, share * greatest_u),
            crack.grade,
        )
    if greatest is not None:
        return Known(greatest, greatest_u, crack.grade)
    if mean is not None:
        return Known(mean, mean_u, crack.grade)
    if crack.width_upper_mm is not None and crack.width_upper_mm > 0:
        return below(crack.width_upper_mm, crack.grade)
    return UNKNOWN


def ltpp_term(distress: Distress) -> str | None:
    """Which LTPP row rates the width of a crack; None for map cracking, which has no levels.

    LTPP knows longitudinal and transverse cracks. A diagonal crack, a corner break and a
    shrinkage crack are rated on the stricter transverse row (judgement of this tool).
    """
    if distress is Distress.MAP_CRACKING:
        return None
    if distress is Distress.LONGITUDINAL_CRACKING:
        return Distress.LONGITUDINAL_CRACKING
    return Distress.TRANSVERSE_CRACKING


def crack_findings(distress: DistressSummary, scope: Scope) -> tuple[Finding, ...]:
    """Width, step, corner break and movement of every crack."""
    findings: list[Finding] = []
    for crack in distress.cracks:
        term = ltpp_term(crack.distress)
        if term is None:
            continue
        place = crack.branches[0].points_mm[0] if crack.branches else None
        width = representative_width(crack)
        if crack.along_joint is not None:
            continue  # a joint that has cracked through has done what a joint is for
        widths = hold(
            scope,
            "crack_width",
            crack.crack_id,
            scope.about("crack width", crack=crack.crack_id),
            width,
            term=term,
            place_mm=place,
        )
        findings += widths
        findings += hold(
            scope,
            "crack_width_any",
            crack.crack_id,
            scope.about("crack width", crack=crack.crack_id),
            width,
            place_mm=place,
        )
        wide = widths[0].probability if widths else None
        steps = [fault for fault in distress.faults if fault.along == crack.crack_id]
        if steps or wide is None or wide > _POSSIBLE:
            findings += hold(
                scope,
                "crack_faulting",
                crack.crack_id,
                scope.about("crack step", crack=crack.crack_id),
                _largest(steps) if steps else no_step_seen(scope),
                term=term,
                place_mm=steps[0].at_mm if steps else place,
            )
        if crack.distress is Distress.CORNER_BREAK:
            findings += hold(
                scope,
                "corner_breaks",
                crack.crack_id,
                scope.about("corner cut", crack=crack.crack_id),
                Known(1.0, 0.0, crack.grade),
                place_mm=crack.corner_cut.corner_mm if crack.corner_cut else place,
            )
        if crack.moving is not Answer.UNKNOWN:
            findings += hold(
                scope,
                "crack_moving",
                crack.crack_id,
                scope.about("crack moving", crack=crack.crack_id),
                answered(crack.moving),
                place_mm=place,
            )
    return tuple(findings)


def fault_findings(distress: DistressSummary, scope: Scope) -> tuple[Finding, ...]:
    """Every step as a tripping edge, and the largest step of every joint."""
    if not distress.faults:
        return hold(scope, "level_change", "slab", scope.about("steps"), no_step_seen(scope))
    crack_ids = {crack.crack_id for crack in distress.cracks}
    findings: list[Finding] = []
    by_joint: dict[str, list[Fault]] = {}
    for number, fault in enumerate(distress.faults, start=1):
        at = f" at {fault.along}" if fault.along else ""
        findings += hold(
            scope,
            "level_change",
            f"step {number}{at}",
            scope.about("step at", number=number, along=fault.along)
            if fault.along
            else scope.about("step", number=number),
            Known(abs(fault.step_mm), fault.step_u_mm),
            place_mm=fault.at_mm,
        )
        if fault.along and fault.along not in crack_ids:
            by_joint.setdefault(fault.along, []).append(fault)
    for joint, faults in by_joint.items():
        findings += hold(
            scope,
            "joint_faulting",
            joint,
            scope.about("joint step", joint=joint),
            _largest(faults),
            place_mm=faults[0].at_mm,
        )
    return tuple(findings)


def no_step_seen(scope: Scope) -> Known:
    """A walk-over without a step: one of under 1/8 in may have been overlooked. Else unknown."""
    if not scope.walked_over:
        return UNKNOWN
    return below(scope.limits.overlooked_step_in * units.MM_PER_IN, Grade.REPORTED)


def _largest(faults: Sequence[Fault]) -> Known:
    worst = max(faults, key=lambda fault: abs(fault.step_mm))
    return Known(abs(worst.step_mm), worst.step_u_mm)
