"""Heights of doors, steps, cladding, walks, drains and edges over a surface: the old one or a planned one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from analyzer.rate.hold import UNKNOWN, Known, Scope, hold
from analyzer.records import Clearance, Finding, GradePlan
from analyzer.terms import Answer, HeightKind, Option

_QUANTITIES: dict[HeightKind, tuple[str, ...]] = {
    HeightKind.DOOR_SILL: ("door_weather_step", "door_drop"),
    HeightKind.GARAGE_FLOOR: ("garage_step", "riser_height"),
    HeightKind.RISER: ("riser_height",),
    HeightKind.SIDING: ("siding_gap", "cladding_gap"),
    HeightKind.WEEP_SCREED: ("weep_gap", "cladding_gap"),
    HeightKind.ADJOINING_WALK: ("level_change",),
    HeightKind.DRAIN: ("drain_cover",),
    HeightKind.FREE_EDGE: ("free_edge_drop",),
    HeightKind.GATE: ("gate_gap",),
    HeightKind.WALL: (),
    HeightKind.POST: (),
}
# Level changes and drops count whichever way they go; a drain is covered when the slab stands above it.
_ABSOLUTE = ("level_change", "free_edge_drop")


@dataclass(frozen=True, slots=True)
class _Height:
    kind: HeightKind
    name: str
    known: Known
    flight: str | None
    order: int | None


def height_findings(clearances: Sequence[Clearance], scope: Scope) -> tuple[Finding, ...]:
    """Every height over the slab as it lies now."""
    heights = [
        _Height(
            item.kind,
            item.name,
            UNKNOWN
            if item.height_mm is None
            else Known(item.height_mm, scope.reading_u_mm if item.height_u_mm is None else item.height_u_mm),
            item.flight,
            item.order,
        )
        for item in clearances
    ]
    return _findings(heights, clearances, scope, None)


def height_findings_after(
    plan: GradePlan, clearances: Sequence[Clearance], scope: Scope
) -> tuple[Finding, ...]:
    """Every height over the surface that an option would leave."""
    heights = [
        _Height(
            item.kind,
            item.name,
            UNKNOWN
            if item.after_mm is None
            else Known(item.after_mm, scope.reading_u_mm if item.after_u_mm is None else item.after_u_mm),
            item.flight,
            item.order,
        )
        for item in plan.heights_after
    ]
    return _findings(heights, clearances, scope, plan.option)


def _findings(
    heights: Iterable[_Height], clearances: Sequence[Clearance], scope: Scope, option: Option | None
) -> tuple[Finding, ...]:
    places = {(item.kind, item.name): item for item in clearances}
    findings: list[Finding] = []
    flights: dict[str, list[_Height]] = {}
    for height in heights:
        entry = places.get((height.kind, height.name))
        subject = f"{height.kind} {height.name}"
        quantities = _QUANTITIES[height.kind]
        known = height.known
        egress = _egress(entry) if height.kind is HeightKind.DOOR_SILL else 0.0
        if egress > 0.0:
            quantities = (*quantities, "egress_door_drop")
        for quantity in quantities:
            value = known
            if quantity == "egress_door_drop":
                value = replace(known, applies=egress)
            elif known.value is not None and quantity in _ABSOLUTE:
                value = Known(abs(known.value), known.u, known.grade)
            elif known.value is not None and quantity == "drain_cover":
                value = Known(-known.value, known.u, known.grade)
            findings += hold(
                scope,
                quantity,
                subject,
                scope.about(
                    "height",
                    option,
                    kind=scope.say.word("kind", height.kind),
                    name=height.name,
                    what=scope.say(f"what.{quantity}"),
                ),
                value,
                option=option,
                place_mm=entry.at_mm if entry else None,
            )
        if height.kind is HeightKind.RISER and height.flight is not None:
            flights.setdefault(height.flight, []).append(height)
    for flight, risers in flights.items():
        if len(risers) > 1:
            findings += _evenness(flight, risers, scope, option)
    return tuple(findings)


def _egress(entry: Clearance | None) -> float:
    """Probability that the near landing of the egress door is asked for here: 1, 0, or a half if unsaid."""
    answers = (entry.egress_door, entry.swings_over) if entry else (Answer.UNKNOWN, Answer.UNKNOWN)
    if Answer.NO in answers:
        return 0.0
    return 1.0 if answers == (Answer.YES, Answer.YES) else 0.5


def _evenness(flight: str, risers: list[_Height], scope: Scope, option: Option | None) -> tuple[Finding, ...]:
    """Largest against smallest riser (code) and neighbours against each other (building tolerance)."""
    risers = sorted(risers, key=lambda riser: riser.order if riser.order is not None else 0)
    known = [riser.known for riser in risers if riser.known.value is not None]
    partial = len(known) < len(risers)
    spread = neighbours = UNKNOWN
    if len(known) > 1:
        low = min(known, key=lambda one: one.value or 0.0)
        high = max(known, key=lambda one: one.value or 0.0)
        spread = _difference(high, low, partial)
        pairs = [
            _difference(first.known, second.known, partial)
            for first, second in pairwise(risers)
            if first.known.value is not None and second.known.value is not None
        ]
        neighbours = max(pairs, key=lambda one: one.value or 0.0, default=UNKNOWN)
    subject = f"flight {flight}"
    return hold(
        scope,
        "riser_spread",
        subject,
        scope.about("flight spread", option, flight=flight),
        spread,
        option=option,
    ) + hold(
        scope,
        "adjacent_riser_difference",
        subject,
        scope.about("flight neighbours", option, flight=flight),
        neighbours,
        option=option,
    )


def _difference(first: Known, second: Known, partial: bool) -> Known:
    if first.value is None or second.value is None:
        return UNKNOWN
    return Known(
        abs(first.value - second.value), math.hypot(first.u, second.u), first.grade, at_least=partial
    )
