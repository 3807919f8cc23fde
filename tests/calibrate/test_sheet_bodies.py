"""Sheets joined with what was typed: printed scale, place, turn, uncertainty of corners."""

from dataclasses import replace

import numpy as np
import pytest

from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.markers import FoundSheet
from analyzer.calibrate.sheet_bodies import sheet_bodies
from analyzer.calibrate.target_sheet import marker_corners_mm
from analyzer.errors import CalibrationError
from analyzer.units import Reading


def found(number: int, px_per_mm: float = 0.5) -> FoundSheet:
    local = np.concatenate(list(marker_corners_mm(number).values()))
    px = 300 + px_per_mm * local[:, ::-1] * [-1.0, 1.0]
    return FoundSheet(number, local, px, np.full(16, 0.02), np.zeros((16, 2)))


def test_sheets_without_a_ruler_share_one_scale(kit) -> None:
    places = {1: (0, 0, 0, 1.0), 2: (1000, 0, 0, 1.0), 3: (0, 900, 90, 1.0)}
    field = kit.field(places)
    measured = replace(field.sheets[1], ruler=Reading(96.5, 0.3, "96.5 mm"))
    field = replace(field, sheets=(field.sheets[0], measured, field.sheets[2]))
    notes: list[str] = []
    bodies, scales = sheet_bodies(tuple(found(n) for n in (1, 2, 3)), field, False, scale_limits(), notes)
    assert scales == ((1.0, scale_limits().sheet_scale_u), (0.965, 0.003))
    assert [b.scale_group for b in bodies] == [0, 1, 0]
    assert bodies[2].turn_rad == pytest.approx(np.pi / 2)
    assert bodies[0].centre_u_mm == scale_limits().sheet_centre_u
    assert any("96.5 %" in n for n in notes)
    assert any("not measured" in n for n in notes)


def test_corner_uncertainty_is_a_root_sum_square(kit) -> None:
    # JCGM 100:2008, 5.1.2 (from memory): independent parts add in quadrature; by hand for a sheet
    # of 96 px a side at 0.5 px per mm.
    limits = scale_limits()
    bodies, _ = sheet_bodies((found(1),), kit.field({1: (0, 0, 0, 1.0)}), False, limits, [])
    by_hand = np.sqrt(
        0.02**2 + limits.corner_u**2 + (limits.sheet_flatness_u * 0.5) ** 2 + (limits.lens_u * 96) ** 2
    )
    np.testing.assert_allclose(bodies[0].u_px, by_hand, rtol=1e-6)


def test_a_close_up_takes_the_sheet_as_its_frame(kit) -> None:
    bodies, _ = sheet_bodies((found(2),), kit.field({2: (700, 800, 30, 1.0)}), True, scale_limits(), [])
    assert bodies[0].centre_mm == (0.0, 0.0)
    assert bodies[0].turn_rad == 0.0


@pytest.mark.parametrize("ruler_mm", [25.4, 160.0])
def test_an_impossible_ruler_is_refused(kit, ruler_mm: float) -> None:
    field = kit.field({1: (0, 0, 0, 1.0)})
    field = replace(
        field, sheets=(replace(field.sheets[0], ruler=Reading(ruler_mm, None, f"{ruler_mm} mm")),)
    )
    with pytest.raises(CalibrationError, match="sheet 1: the 100 mm ruler is entered as"):
        sheet_bodies((found(1),), field, False, scale_limits(), [])
