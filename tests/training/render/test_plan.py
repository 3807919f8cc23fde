"""Plan descriptions refuse what nobody can draw."""

import numpy as np
import pytest

from analyzer.training.render import plan

BOX = ((0.0, 0.0), (2000.0, 0.0), (2000.0, 1500.0), (0.0, 1500.0))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: plan.JointPlan((0, 0), (1, 1), 5.0, "glued"),
        lambda: plan.SpallPlan(BOX, "hole"),
        lambda: plan.StainPlan("jam", (0, 0), 100.0),
        lambda: plan.ObjectPlan("whale", (0, 0), 100.0),
        lambda: plan.ShadowPlan("ghost"),
        lambda: plan.GroundPlan("sea", BOX),
        lambda: plan.SlabScene(BOX, surround="sea"),
        lambda: plan.SlabScene(BOX, finish="velvet"),
    ],
)
def test_unknown_kinds_are_refused_with_the_known_ones(wrong) -> None:
    with pytest.raises(ValueError, match="use one of"):
        wrong()


def test_outline_needs_three_corners() -> None:
    with pytest.raises(ValueError, match="three"):
        plan.SlabScene(BOX[:2])


def test_box_encloses_the_outline() -> None:
    low, high = plan.SlabScene(BOX).box_mm
    assert np.array_equal(low, [0, 0])
    assert np.array_equal(high, [2000, 1500])
