"""Where a scale is trusted: limits hold inside the outline and are passed outside it."""

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.calibrate.homography import UncertainHomography, normaliser
from analyzer.calibrate.limits import scale_limits
from analyzer.calibrate.trust import Spread, judge
from analyzer.errors import CalibrationError

SIZE = (900, 1200)
OUTLINE = ((0.0, 0.0), (3000.0, 0.0), (3000.0, 2400.0), (0.0, 2400.0))


def spread(kit, *, perspective_u: float, pitch: bool = False, with_position: bool = True) -> Spread:
    """A camera over the slab whose perspective is uncertain, as from a single sheet in its middle."""
    eye = (1500.0, -1200.0, 1500.0) if pitch else (1500.0, 1200.0, 2600.0)
    px_from_plan = kit.camera(eye_mm=eye, look_at_mm=(1500.0, 1200.0), focal_px=800, size=SIZE)
    near = np.array([[1400.0, 1100], [1600, 1100], [1600, 1300], [1400, 1300]])
    to_plan, to_px = normaliser(near), normaliser(frames.apply(px_from_plan, near))
    matrix = to_px @ px_from_plan @ np.linalg.inv(to_plan)
    covariance = np.diag([1e-8] * 6 + [perspective_u**2] * 2)
    return Spread(
        UncertainHomography(matrix / matrix[2, 2], covariance, to_plan, to_px),
        scale_limits(),
        0.002,
        with_position,
    )


def test_a_sure_scale_is_trusted_everywhere(kit) -> None:
    trust = judge(spread(kit, perspective_u=1e-5), SIZE, OUTLINE, "photo")
    assert trust.outline_mm == ()
    assert trust.share == 1.0
    assert trust.length_u_rel < 0.005


def test_an_unsure_perspective_is_trusted_near_its_sheet_only(kit) -> None:
    one = spread(kit, perspective_u=2e-3)
    trust = judge(one, SIZE, OUTLINE, "photo")
    polygon = shapely.Polygon(trust.outline_mm)
    assert polygon.is_valid
    assert polygon.contains(shapely.Point(1500, 1200))
    assert not polygon.contains(shapely.Point(100, 100))
    centre = np.array([1500.0, 1200.0])
    corners = np.array(trust.outline_mm)
    assert one.within(centre + 0.97 * (corners - centre)).all()
    slab = shapely.Polygon(OUTLINE)
    outside = [p for p in centre + 1.06 * (corners - centre) if slab.contains(shapely.Point(p))]
    assert outside
    assert not one.within(np.array(outside)).any()
    assert trust.length_u_rel <= scale_limits().scale_u_greatest
    assert trust.position_u_mm <= scale_limits().position_u_greatest


def test_hopeless_scale_is_refused_with_its_size(kit) -> None:
    with pytest.raises(CalibrationError, match=r"too uncertain.*limits 5 %, 100 mm") as refused:
        judge(spread(kit, perspective_u=0.05), SIZE, OUTLINE, "photo")
    assert refused.value.found > 0.05


def test_a_surface_off_the_plane_counts_at_a_slant(kit) -> None:
    # A height h seen under the elevation e shifts the place by h / tan(e): with the eye 1500 mm up
    # and 2700 mm away level, 5 mm become 9 mm.
    flat, slanted = spread(kit, perspective_u=1e-6), spread(kit, perspective_u=1e-6, pitch=True)
    centre = np.array([[1500.0, 1200.0]])
    _, from_above = flat.at(centre)
    _, at_a_slant = slanted.at(centre)
    assert from_above[0] < 1.0
    assert at_a_slant[0] == pytest.approx(5.0 * 2400 / 1500, rel=0.05)


def test_close_ups_are_judged_on_the_whole_picture(kit) -> None:
    trust = judge(spread(kit, perspective_u=1e-5, with_position=False), SIZE, None, "photo")
    assert trust.position_u_mm == 0.0
    assert trust.share == 1.0


def test_no_slab_in_view(kit) -> None:
    far = tuple((x + 1e5, y) for x, y in OUTLINE)
    with pytest.raises(CalibrationError, match="no part of the slab"):
        judge(spread(kit, perspective_u=1e-5), SIZE, far, "photo")
