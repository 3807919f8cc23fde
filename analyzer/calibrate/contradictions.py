"""Finds which reading is wrong when the readings of a photo do not fit together.

Evidence that contradicts itself is reported and never averaged: the person who stands on the slab
can measure again, the program cannot.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import TypeVar

from analyzer import frames
from analyzer.calibrate.adjustment import Fit, solve
from analyzer.calibrate.limits import ScaleLimits
from analyzer.calibrate.network import Network
from analyzer.errors import CalibrationError

T = TypeVar("T")

TYPED = frozenset({"place", "turn", "scale", "tape", "pick"})
"""Readings that a person made; marker corners were not typed and only widen the uncertainty."""


def check_agreement(fit: Fit, subject: str, limits: ScaleLimits) -> None:
    """Refuse a fit in which a typed reading lies too far from what all others say.

    Raises
    ------
    CalibrationError
        Names the printed scale, two swapped names, or the one sheet, mark or distance without
        which the rest agrees; where several explanations fit, all that was tried is said.
    """
    worst, (kind, name) = fit.worst(TYPED)
    if worst <= limits.contradiction:
        return
    network = fit.network
    _check_printed_scale(fit, subject, limits)
    for named, other in _swaps(network):
        if _agrees(other, subject, limits):
            raise CalibrationError(
                subject,
                f"{named[0]} and {named[1]} seem to be swapped: exchanged, all readings agree",
                "correct the numbers or places in the field book",
            )
    suspects = [what for what, other in _without_one(network) if _agrees(other, subject, limits)]
    if len(suspects) == 1:
        raise CalibrationError(
            subject,
            f"{suspects[0]} contradicts the other readings, which agree among themselves"
            f"{_by_how_much(fit, suspects[0])}",
            "measure its place again, or leave it out of the field book",
            found=suspects[0],
        )
    one_of = f"one of {', '.join(suspects)} is wrong" if suspects else "more than one reading is wrong"
    raise CalibrationError(
        subject,
        f"the taped readings contradict each other by {worst:.0f} times their uncertainty "
        f"(most at the {kind} of {name}); {one_of}",
        "check the printed ruler, then measure the places again",
        found=worst,
    )


def _check_printed_scale(fit: Fit, subject: str, limits: ScaleLimits) -> None:
    """Whether all agrees once the printer's scaling is free."""
    network = fit.network
    n_placed = sum(s.centre_mm is not None for s in network.sheets)
    if n_placed < 2 or not network.scales:
        return
    other = _try(replace(network, scales=tuple((value, 1.0) for value, _ in network.scales)), subject)
    if other is None or other.worst(TYPED)[0] > limits.contradiction:
        return
    for group, (typed, u) in enumerate(network.scales):
        found = other.printed_scale(group)
        if abs(found - typed) > 3 * u:
            raise CalibrationError(
                subject,
                f"against the tape the marker sheets are printed at the wrong scale, "
                f"{100 * found:.1f} % instead of {100 * typed:.1f} %",
                "measure the printed ruler and enter it, or print again at 100 % unfitted"
                + ("" if n_placed > 2 else "; if the ruler is right, measure both places again"),
                expected=typed,
                found=found,
            )


def _swaps(network: Network) -> Iterator[tuple[tuple[str, str], Network]]:
    """Networks in which two placed sheets, or two placed marks, have exchanged their places."""
    for i, j in combinations([k for k, s in enumerate(network.sheets) if s.centre_mm is not None], 2):
        sheets = list(network.sheets)
        a, b = sheets[i], sheets[j]
        sheets[i] = replace(a, centre_mm=b.centre_mm, turn_rad=b.turn_rad)
        sheets[j] = replace(b, centre_mm=a.centre_mm, turn_rad=a.turn_rad)
        yield (a.name, b.name), replace(network, sheets=tuple(sheets))
    for i, j in combinations([k for k, m in enumerate(network.marks) if m.place_mm is not None], 2):
        marks = list(network.marks)
        m, n = marks[i], marks[j]
        marks[i], marks[j] = replace(m, place_mm=n.place_mm), replace(n, place_mm=m.place_mm)
        yield (f"mark {m.name}", f"mark {n.name}"), replace(network, marks=tuple(marks))


def _without_one(network: Network) -> Iterator[tuple[str, Network]]:
    """Networks that do without one typed reading."""
    for i, sheet in enumerate(network.sheets):
        for what, other in (
            (sheet.name, replace(sheet, centre_mm=None)),
            (f"the turn of {sheet.name}", replace(sheet, turn_rad=None)),
        ):
            gone = sheet.centre_mm if other.turn_rad == sheet.turn_rad else sheet.turn_rad
            if gone is not None:
                yield what, replace(network, sheets=_put(network.sheets, i, other))
    for i, mark in enumerate(network.marks):
        if mark.place_mm is not None:
            loose = _put(network.marks, i, replace(mark, place_mm=None))
            yield f"mark {mark.name}", replace(network, marks=loose)
    for i, tape in enumerate(network.tapes):
        name = f"{network.marks[tape.first].name}-{network.marks[tape.second].name}"
        yield f"distance {name}", replace(network, tapes=network.tapes[:i] + network.tapes[i + 1 :])


def _put(items: tuple[T, ...], index: int, item: T) -> tuple[T, ...]:
    return (*items[:index], item, *items[index + 1 :])


def _try(network: Network, subject: str) -> Fit | None:
    try:
        return solve(network, subject)
    except CalibrationError:
        return None


def _agrees(network: Network, subject: str, limits: ScaleLimits) -> bool:
    fit = _try(network, subject)
    return fit is not None and fit.n_redundant > 0 and fit.worst(TYPED)[0] <= limits.contradiction


def _by_how_much(fit: Fit, name: str) -> str:
    """How far a sheet's typed place lies from where the photo without it shows the sheet."""
    for i, sheet in enumerate(fit.network.sheets):
        if sheet.name == name and sheet.centre_mm is not None:
            other = solve(
                replace(fit.network, sheets=_put(fit.network.sheets, i, replace(sheet, centre_mm=None))), name
            )
            dx, dy = other.sheet_pose(i)[:2] - sheet.centre_mm
            return f"; they put it {abs(complex(dx, dy)):.0f} mm from where it was taped"
    for i, mark in enumerate(fit.network.marks):
        if f"mark {mark.name}" == name and mark.place_mm is not None:
            other = solve(
                replace(fit.network, marks=_put(fit.network.marks, i, replace(mark, place_mm=None))), name
            )
            shown = frames.apply(other.homography.plan_from_px, [mark.px])[0]
            distance = abs(complex(*(shown - mark.place_mm)))
            return f"; they put it {distance:.0f} mm from where it was taped"
    return ""
