"""Loss and quick scores on cases with a known answer."""

from __future__ import annotations

import pytest

torch = pytest.importorskip("torch")

from analyzer.training.config import read_config  # noqa: E402
from analyzer.training.losses import f1_of, map_loss, tolerant_counts  # noqa: E402


def _case() -> tuple[torch.Tensor, torch.Tensor]:
    masks = torch.zeros(2, 4, 32, 32)
    masks[:, 0, 16] = 1
    masks[:, 1, :, 5] = 1
    masks[:, 3] = 1
    return masks, torch.ones(2, 1, 32, 32)


def test_right_answer_costs_nothing_and_wrong_ones_more() -> None:
    masks, weight = _case()
    how = read_config().loss
    right = (masks * 2 - 1) * 12
    swapped = right.clone()
    swapped[:, :2] = right[:, :2].flip(1)
    assert map_loss(right, masks, weight, how) < 1e-3
    assert map_loss(swapped, masks, weight, how) > map_loss(-torch.ones_like(masks), masks, weight, how)


def test_invisible_crack_has_no_gradient() -> None:
    masks, weight = _case()
    weight[:, :, 16] = 0
    logits = torch.zeros(2, 4, 32, 32, requires_grad=True)
    map_loss(logits, masks, weight, read_config().loss).backward()
    assert logits.grad is not None
    assert logits.grad[:, 0, 16].abs().max() == 0
    assert logits.grad[:, 0, 15].abs().max() > 0


def test_calling_a_joint_crack_costs_more_than_calling_plain_concrete_crack() -> None:
    masks, weight = _case()
    how = read_config().loss
    base = (masks * 2 - 1) * 6
    on_joint, on_plain = base.clone(), base.clone()
    on_joint[:, 0, :, 5] = 6
    on_plain[:, 0, :, 25] = 6
    assert map_loss(on_joint, masks, weight, how) > 1.3 * map_loss(on_plain, masks, weight, how)


def test_quick_f1_allows_the_tolerance_and_no_more() -> None:
    masks, weight = _case()
    t = torch.tensor([0.5])
    for shift, expected in ((0, 1.0), (2, 1.0), (3, 0.0)):
        found = masks[:, 0].roll(shift, 1)
        counts = tolerant_counts(found, masks[:, 0], weight[:, 0], t, 2)
        assert f1_of(counts)[0].item() == pytest.approx(expected)
