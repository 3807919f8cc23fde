"""Marker sheets found in a photo, joined with what the field book says about them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.calibrate.limits import ScaleLimits
from analyzer.calibrate.markers import FoundSheet
from analyzer.calibrate.network import SheetBody
from analyzer.calibrate.target_sheet import RULER_MM
from analyzer.errors import CalibrationError
from analyzer.records import FieldBook, SheetEntry

_ORIGIN_U_MM = 1e-2
_UPRIGHT_U_RAD = 1e-4


def sheet_bodies(
    found: tuple[FoundSheet, ...],
    field: FieldBook,
    closeup: bool,
    limits: ScaleLimits,
    notes: list[str],
) -> tuple[tuple[SheetBody, ...], tuple[tuple[float, float], ...]]:
    """Found sheets as the adjustment wants them, and the printed scales (value, u) they refer to.

    Sheets without a ruler reading share one printed scale: they come from one printer. In a
    close-up the sheet itself is the frame: its cross the origin, its bottom edge the x axis.
    Remarks are appended to ``notes``.

    Raises
    ------
    CalibrationError
        A ruler reading that no print of the sheet can have.
    """
    typed = {s.number: s for s in field.sheets}
    scales: list[tuple[float, float]] = []
    shared: int | None = None
    bodies = []
    for sheet in found:
        entry = typed.get(sheet.number)
        scale = _printed_scale(entry, field.source, limits, notes)
        if scale is not None:
            scales.append(scale)
            group = len(scales) - 1
        else:
            if shared is None:
                scales.append((1.0, limits.sheet_scale_u))
                shared = len(scales) - 1
            group = shared
        per_mm = 1.0 / _mm_per_px(sheet)
        extent_px = float(np.ptp(sheet.px, axis=0).max())
        u_px = np.sqrt(
            sheet.u_px**2
            + limits.corner_u**2
            + (limits.sheet_flatness_u * per_mm) ** 2
            + (limits.lens_u * extent_px) ** 2
        )
        body = SheetBody(f"sheet {sheet.number}", sheet.sheet_mm, sheet.px, u_px, sheet.growth, group)
        if closeup:
            body = replace(
                body,
                centre_mm=(0.0, 0.0),
                centre_u_mm=_ORIGIN_U_MM,
                turn_rad=0.0,
                turn_u_rad=_UPRIGHT_U_RAD,
            )
        elif entry is not None:
            turn = entry.turned_deg
            body = replace(
                body,
                centre_mm=entry.centre_mm,
                centre_u_mm=entry.centre_u_mm or limits.sheet_centre_u,
                turn_rad=None if turn is None else float(np.radians(turn)),
                turn_u_rad=float(np.radians(limits.sheet_turn_u)),
            )
        bodies.append(body)
    if shared is not None:
        notes.append(
            "the printed ruler of a marker sheet was not measured: its scale is taken as 100 % within "
            f"{100 * limits.sheet_scale_u:.0f} %"
        )
    return tuple(bodies), tuple(scales)


def _printed_scale(
    entry: SheetEntry | None, source: str, limits: ScaleLimits, notes: list[str]
) -> tuple[float, float] | None:
    """Printed scale from the ruler reading, with its uncertainty; None if it was not measured."""
    if entry is None or entry.ruler is None:
        return None
    ruler = entry.ruler
    if not limits.ruler_least <= ruler.mm <= limits.ruler_greatest:
        raise CalibrationError(
            f"{source}, sheet {entry.number}",
            f"the 100 mm ruler is entered as {ruler.typed}, which no printer makes of it",
            "measure the printed ruler from end to end, or print the sheet again at 100 %",
            expected=RULER_MM,
            found=ruler.mm,
        )
    if abs(ruler.mm - RULER_MM) > 2.0:
        notes.append(f"marker sheet {entry.number} is printed at {ruler.mm:.1f} %; this was corrected")
    return ruler.mm / RULER_MM, (ruler.u_mm or limits.ruler_reading_u) / RULER_MM


def _mm_per_px(sheet: FoundSheet) -> float:
    """Rough pixel size at the sheet."""
    span_mm = np.ptp(sheet.sheet_mm, axis=0)
    span_px = np.linalg.norm(np.ptp(sheet.px, axis=0))
    return float(np.linalg.norm(span_mm) / span_px)
