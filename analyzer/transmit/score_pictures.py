"""Detector results of bare pictures as picture files, so that the detector can be scored alone."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.errors import OutputError
from analyzer.records import PictureTraces
from analyzer.transmit.photo_figure import annotated_picture

UInt8 = npt.NDArray[np.uint8]


def write_detection(folder: Path, stem: str, rgb: UInt8, traces: PictureTraces) -> tuple[str, ...]:
    """Write the score maps, the final crack mask and a picture to look at.

    ``STEM.crack.png`` and ``STEM.joint.png`` are 8-bit score maps at the picture's own size, 255 =
    certain; ``STEM.mask.png`` is the final crack mask, 0 or 255; ``STEM.seen.jpg`` shows the
    lines on the picture. Returns the file names.

    Raises
    ------
    OutputError
        A picture could not be encoded.
    OSError
        The disk is full or the folder not writable (told by the caller, who owns the folder).
    """
    names = []
    for kind, pixels in (
        ("crack", traces.maps.crack),
        ("joint", traces.maps.joint),
        ("mask", traces.crack_mask),
    ):
        done, data = cv2.imencode(".png", pixels, [cv2.IMWRITE_PNG_COMPRESSION, 3])
        if not done:
            raise OutputError(stem, f"the {kind} picture could not be encoded", "report this as a fault")
        names.append(f"{stem}.{kind}.png")
        (folder / names[-1]).write_bytes(data.tobytes())
    names.append(f"{stem}.seen.jpg")
    (folder / names[-1]).write_bytes(annotated_picture(rgb, traces))
    return tuple(names)


def is_detection_folder(folder: Path) -> bool:
    """Whether a folder holds nothing but what :func:`write_detection` writes."""
    endings = (".crack.png", ".joint.png", ".mask.png", ".seen.jpg")
    return all(p.is_file() and p.name.endswith(endings) for p in folder.iterdir())
