"""Score maps leave as 8-bit pictures at the size of the picture they belong to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PIL import Image

from analyzer.records import PictureTraces, ScoreMaps
from analyzer.terms import DetectMethod
from analyzer.transmit import write_detection


def test_names_sizes_and_values(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    crack = rng.integers(0, 256, (70, 90), np.uint8)
    mask = np.where(crack > 128, 255, 0).astype(np.uint8)
    traces = PictureTraces((), (), mask, mask, ScoreMaps(crack, mask, DetectMethod.FILTERS), None, 0.5)
    names = write_detection(tmp_path, "a", np.full((70, 90, 3), 100, np.uint8), traces)
    assert names == ("a.crack.png", "a.joint.png", "a.mask.png", "a.seen.jpg")
    # Pillow reads what OpenCV wrote: lossless, one channel, 8 bit.
    with Image.open(tmp_path / "a.crack.png") as image:
        assert image.mode == "L"
        np.testing.assert_array_equal(np.asarray(image), crack)
    with Image.open(tmp_path / "a.mask.png") as image:
        assert set(np.unique(np.asarray(image))) <= {0, 255}
