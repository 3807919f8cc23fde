"""Whether a picture holds light enough to be read: blown-out and black pixels show nothing."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

UInt8 = npt.NDArray[np.uint8]
Bool = npt.NDArray[np.bool_]

WHITE = 250
BLACK = 8
_SAMPLE_PX = 250_000


def read_share(rgb: UInt8, where: Bool | None = None) -> float:
    """Share of pixels that are neither blown out (all channels 250 and more) nor black (8 and less).

    Parameters
    ----------
    rgb : (R, C, 3) uint8
    where : (R, C) bool, optional
        Only these pixels count.

    Returns
    -------
    float
        0..1, from an even sample of about a quarter of a million pixels; 0 where none counts.
        The two levels are judgement of this tool: a well-lit slab has next to no such pixels, a
        blown-out photo, a page of text or a drawing consists of them.
    """
    step = max(1, int((rgb.shape[0] * rgb.shape[1] / _SAMPLE_PX) ** 0.5))
    sample = rgb[::step, ::step]
    good = (sample.min(axis=2) < WHITE) & (sample.max(axis=2) > BLACK)
    if where is not None:
        good = good[where[::step, ::step]]
    return float(good.mean()) if good.size else 0.0
