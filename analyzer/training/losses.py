"""Loss of the four maps: weighted cross entropy plus Dice. Needs PyTorch."""

from __future__ import annotations

import torch
from torch import Tensor
from torch.nn import functional as fn

from .config import Loss


def map_loss(logits: Tensor, masks: Tensor, crack_weight: Tensor, how: Loss) -> Tensor:
    """Scalar loss of logits (n, 4, r, c) against masks of that shape.

    `crack_weight` (n, 1, r, c) is 0 where a crack cannot be seen, so that the net is not taught to
    guess. Joint pixels count more in the crack map and crack pixels in the joint map: telling these
    two apart is what the network is for. Dice (Milletari et al. 2016) is taken over the batch.
    """
    logits = logits.float()
    lines = masks[:, :2]
    swapped = lines.flip(1)
    weight = torch.ones_like(masks)
    line_weights = logits.new_tensor(how.line_weights).view(1, 2, 1, 1)
    weight[:, :2] = 1 + (line_weights - 1) * lines
    weight[:, :2] += (how.confusion_weight - 1) * swapped * (1 - lines)
    weight[:, :1] *= crack_weight
    entropy = fn.binary_cross_entropy_with_logits(logits, masks, reduction="none")
    per_class = (entropy * weight).mean(dim=(0, 2, 3))

    seen = torch.ones_like(masks)
    seen[:, :1] = crack_weight
    p = torch.sigmoid(logits)
    both = (p * masks * seen).sum(dim=(0, 2, 3))
    sums = ((p + masks) * seen).sum(dim=(0, 2, 3))
    dice = 1 - (2 * both + 50) / (sums + 50)

    class_weights = logits.new_tensor(how.class_weights)
    dice_weights = logits.new_tensor(how.dice)
    return 4 * (per_class * class_weights).sum() + (dice * dice_weights).sum()


def tolerant_counts(
    probability: Tensor, mask: Tensor, weight: Tensor, thresholds: Tensor, tolerance_px: int
) -> Tensor:
    """Counts for precision and recall of one class with a square tolerance, (t, 4).

    Columns: found pixels, found pixels near the truth, true pixels, true pixels near a find.
    Arguments are (n, r, c); pixels without weight count nowhere. A quick stand-in for the scoring
    command during training.
    """

    def near(x: Tensor) -> Tensor:
        side = 2 * tolerance_px + 1
        return fn.max_pool2d(x.unsqueeze(1), side, 1, tolerance_px).squeeze(1)

    truth_near = near(mask)
    unseen = (near((weight < 0.5).float()) > 0) & (truth_near > 0)
    rows = []
    for t in thresholds:
        found = (probability >= t).float()
        true = mask * (weight >= 0.5)
        rows.append(
            torch.stack(
                [
                    (found * ~unseen).sum(),
                    (found * truth_near * ~unseen).sum(),
                    true.sum(),
                    (true * near(found)).sum(),
                ]
            )
        )
    return torch.stack(rows)


def f1_of(counts: Tensor) -> Tensor:
    """F1 per threshold from summed :func:`tolerant_counts`."""
    precision = counts[:, 1] / counts[:, 0].clamp(min=1)
    recall = counts[:, 3] / counts[:, 2].clamp(min=1)
    return 2 * precision * recall / (precision + recall).clamp(min=1e-9)
