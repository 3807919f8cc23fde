"""The plan image: grid, ownership of spots, unseen area and reach, with shapely as the ruler."""

import numpy as np
import pytest
import shapely

from analyzer import frames
from analyzer.calibrate import choose_mm_per_px, lay_plan_image
from analyzer.calibrate.plan_image import BORDER_PX, MARGIN_MM
from analyzer.errors import CalibrationError
from analyzer.records import Calibration
from analyzer.terms import ScaleMethod

SIZE = (450, 600)


def scaled(px_from_plan, photo_id: str, **more) -> Calibration:
    return Calibration(
        photo_id, np.linalg.inv(px_from_plan), ScaleMethod.MARKED_POINTS, 1.0, 0.01, 5.0, (), **more
    )


@pytest.fixture(scope="module")
def two(kit):
    """Two photos, each over one half of the slab and a bit more."""
    photos, scales = [], []
    for k, (photo_id, x) in enumerate((("p1", 900), ("p2", 2100))):
        camera = kit.camera(eye_mm=(x, 700, 2300), look_at_mm=(x, 1200), focal_px=480, size=SIZE)
        places = {1: (900, 1200, 0, 1.0), 2: (2100, 1200, 0, 1.0)}
        photos.append(kit.photo(kit.draw(camera, places, SIZE, seed=k), photo_id))
        scales.append(scaled(camera, photo_id))
    return photos, scales


def seen_polygon(calibration, field):
    """Part of the slab inside a photo's usable frame, by shapely."""
    b, (r, c) = BORDER_PX, (SIZE[0] - 1 - BORDER_PX, SIZE[1] - 1 - BORDER_PX)
    frame = frames.apply(calibration.plan_from_px, [[b, b], [b, c], [r, c], [r, b]])
    slab = shapely.Polygon([(p.x_mm, p.y_mm) for p in field.outline])
    return shapely.Polygon(frame).intersection(slab)


def test_grid_covers_outline_and_margin(kit, two) -> None:
    plan = lay_plan_image(*two, kit.field(), 5.0)
    assert (plan.grid.x0_mm, plan.grid.y0_mm) == (-MARGIN_MM, 2400 + MARGIN_MM)
    assert plan.grid.n_cols == 3200 / 5 + 1
    assert plan.grid.n_rows == 2600 / 5 + 1


def test_sheets_appear_where_they_lie(kit, two) -> None:
    # The middle of a sheet's top left marker is at (-54, 54) mm of its cross, its paper is light.
    plan = lay_plan_image(*two, kit.field(), 4.0)
    for view, (x, y) in zip(plan.views, ((900, 1200), (2100, 1200)), strict=True):

        def grey(dx, dy, view=view, x=x, y=y):
            r, c = frames.apply(frames.grid_from_plan(plan.grid), [[x + dx, y + dy]])[0]
            return int(view.rgb[round(r) - view.row0, round(c) - view.col0, 0])

        assert grey(0, 20) > 180
        for dx, dy in ((-89, 54), (89, 54), (-89, -54), (54, 89)):
            assert grey(dx, dy) < 90


def test_every_spot_is_owned_once_by_the_sharper_photo(kit, two) -> None:
    field = kit.field()
    plan = lay_plan_image(*two, field, 8.0)
    owners = np.zeros((plan.grid.n_rows, plan.grid.n_cols), int)
    for view in plan.views:
        h, w = view.best.shape
        owners[view.row0 : view.row0 + h, view.col0 : view.col0 + w] += view.best
    assert owners.max() == 1
    photos, scales = two
    # Away from the seam the photo whose pixels are smaller there (numpy's SVD of a numerical
    # derivative) owns the spot.
    for view, me, other in ((plan.views[0], 0, 1), (plan.views[1], 1, 0)):
        rows, cols = np.nonzero(view.best)
        pick = np.random.default_rng(1).choice(len(rows), 200, replace=False)
        cells = np.column_stack([rows[pick] + view.row0, cols[pick] + view.col0])
        places = frames.apply(frames.plan_from_grid(plan.grid), cells)
        sizes = []
        for k in (me, other):
            to_px = np.linalg.inv(scales[k].plan_from_px)
            steps = [frames.apply(to_px, places + d) - frames.apply(to_px, places - d) for d in np.eye(2)]
            least = np.linalg.svd(np.stack(steps, axis=2) / 2, compute_uv=False)[:, 1]
            px = frames.apply(to_px, places)
            inside = ((px > BORDER_PX) & (px < np.array(SIZE) - 1 - BORDER_PX)).all(axis=1)
            sizes.append(np.where(inside, 1 / least, np.inf))
        assert (sizes[0] <= 1.02 * sizes[1]).all()
    assert len(photos) == 2


def test_seen_and_unseen_area(kit, two) -> None:
    field = kit.field()
    plan = lay_plan_image(*two, field, 4.0)
    expected = shapely.union_all([seen_polygon(c, field) for c in two[1]]).area
    assert plan.slab_area_mm2 == pytest.approx(3000 * 2400)
    assert plan.seen_area_mm2 == pytest.approx(expected, rel=5e-3)
    assert plan.unseen_area_mm2 == pytest.approx(3000 * 2400 - expected, rel=0.03)
    assert sum(r.area_best_mm2 for r in plan.reaches) == pytest.approx(plan.seen_area_mm2)
    coarse = plan.best_photo
    assert set(np.unique(coarse)) == {-2, -1, 0, 1}
    share = (coarse >= 0).sum() / (coarse >= -1).sum()
    assert share == pytest.approx(plan.seen_area_mm2 / plan.slab_area_mm2, abs=0.02)


def test_reach_is_one_and_three_pixels(kit, two) -> None:
    # PHOTO-PIXELS, common practice: a crack shows from 1 px and is measured from 3 px.
    plan = lay_plan_image(*two, kit.field(), 2.0)
    for reach, calibration in zip(plan.reaches, two[1], strict=True):
        middle = frames.mm_per_px_at(calibration.plan_from_px, [[(SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2]])[0, 0]
        assert reach.mm_per_px_median == pytest.approx(middle, rel=0.1)
        assert reach.mm_per_px_median < reach.visible_width_mm < reach.mm_per_px_worst
        assert reach.measurable_width_mm == pytest.approx(3 * reach.visible_width_mm)
    coarse = lay_plan_image(*two, kit.field(), 20.0)
    assert all(r.visible_width_mm == 20.0 for r in coarse.reaches)


def test_cell_size_is_the_median_pixel(kit, two) -> None:
    field = kit.field()
    chosen = choose_mm_per_px(*two, field)
    at_middle = [np.sqrt(frames.mm_per_px_at(c.plan_from_px, [[225.0, 300.0]])[0].prod()) for c in two[1]]
    assert chosen == pytest.approx(np.mean(at_middle), rel=0.15)
    # A slab of 60 m by 48 m at this pixel size would need 130 million cells: bounded.
    huge = kit.field(outline=((-30000, -24000), (30000, -24000), (30000, 24000), (-30000, 24000)))
    bounded = choose_mm_per_px(*two, huge)
    assert 60200 * 48200 / bounded**2 == pytest.approx(40e6, rel=0.01)
    with pytest.raises(CalibrationError, match="million cells"):
        lay_plan_image(*two, huge, chosen)


def test_untrusted_parts_are_unseen(kit, two) -> None:
    photos, scales = two
    trusted = ((600.0, 900.0), (1200.0, 900.0), (1200.0, 1500.0), (600.0, 1500.0))
    only = scaled(np.linalg.inv(scales[0].plan_from_px), "p1", trusted_mm=trusted)
    plan = lay_plan_image(photos[:1], [only], kit.field(), 4.0)
    assert plan.seen_area_mm2 == pytest.approx(600 * 600, rel=0.02)
    window = plan.views[0].rgb.shape
    assert window[0] <= (600 + 2 * 100) / 4 + 3


def test_beyond_the_horizon_nothing_is_seen(kit) -> None:
    # A camera that looks nearly level: the far slab has pixels over 10 mm, or lies behind the sky.
    camera = kit.camera(eye_mm=(1500, -800, 1500), look_at_mm=(1500, 9000), focal_px=480, size=SIZE)
    long_slab = kit.field(outline=((0, 0), (3000, 0), (3000, 60000), (0, 60000)))
    photo = kit.photo(np.full((*SIZE, 3), 120, np.uint8))
    plan = lay_plan_image([photo], [scaled(camera, "p1")], long_slab, 20.0)
    view = plan.views[0]
    cells = np.argwhere(view.best) + np.array([view.row0, view.col0])
    ys = frames.apply(frames.plan_from_grid(plan.grid), cells)
    assert 0 < plan.seen_area_mm2 < 0.12 * plan.slab_area_mm2
    assert ys[:, 1].max() < 6000


def test_close_ups_are_passed_over_and_order_is_checked(kit, two) -> None:
    photos, scales = two
    close = scaled(np.eye(3), "p2", has_plan_position=False)
    plan = lay_plan_image(photos, [scales[0], close], kit.field(), 8.0)
    assert [v.photo_id for v in plan.views] == ["p1"]
    with pytest.raises(CalibrationError, match="no scaled photo"):
        lay_plan_image(photos[1:], [close], kit.field(), 8.0)
    with pytest.raises(CalibrationError, match="one order"):
        lay_plan_image(photos, scales[::-1], kit.field(), 8.0)
