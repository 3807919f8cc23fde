"""The learned detector: crack, joint, patch and slab maps of a picture, by a small network.

The network runs in ONNX Runtime, in 8-bit arithmetic, tile by tile, at two or three scales that
:mod:`analyzer.detect.scales` chooses and fuses. How it was trained, how it scores and where it
fails stands in ``analyzer/training/MODEL_CARD.md``.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.errors import PictureError, RuleError
from analyzer.records import ScoreMaps, read_only
from analyzer.terms import DetectMethod

from .scales import CLASSES, Fusion, Look, choose_scales, classes_at, fuse, read_fusion

UInt8 = npt.NDArray[np.uint8]

WEIGHTS = Path(__file__).with_name("weights") / "slab_lines.onnx"

MARGIN_PX = 128
"""Least overlap of a tile with its neighbour. Measured on drawn tiles: at 96 px one crack pixel in
1,000 changed by over half a logit, at 128 px one in 10,000, at 192 px none."""

TILE_PX2 = 2_600_000
"""Largest tile, margins included: about 160 MB of working memory."""

LEAST_SIDE_PX = 16


@dataclass(frozen=True, slots=True)
class Weights:
    """The loaded network with what its companion file says."""

    session: Any
    stride_px: int
    sha256: str
    fusion: Fusion


def score_network(rgb: UInt8, mm_per_px: float | None = None, threads: int | None = None) -> ScoreMaps:
    """Scores a picture with the network.

    Parameters
    ----------
    rgb : (R, C, 3) uint8, sRGB, at least 16 px a side.
    mm_per_px : scale of the picture if known; scales are chosen from the picture otherwise.
    threads : processor threads; all cores when not given.

    Returns
    -------
    ScoreMaps : four (R, C) uint8 maps, 255 x calibrated probability, with the hash of the weights.

    Raises
    ------
    PictureError
        If the array is no such picture.
    RuleError
        If the weights or their companion file are missing or do not belong together.
    """
    if rgb.ndim != 3 or rgb.shape[2] != 3 or rgb.dtype != np.uint8:
        raise PictureError(
            "picture",
            f"it has shape {rgb.shape} and type {rgb.dtype}",
            "give rows x columns x 3 bytes",
        )
    if min(rgb.shape[:2]) < LEAST_SIDE_PX:
        raise PictureError(
            "picture",
            f"it is {rgb.shape[1]} x {rgb.shape[0]} px",
            f"give one of at least {LEAST_SIDE_PX} px a side",
        )
    weights = load_weights(threads or os.cpu_count() or 1)
    scales = choose_scales(rgb, mm_per_px)
    looks = [
        score_at_scale(rgb, scale, weights, classes=names)
        for scale, names in zip(scales, classes_at(scales), strict=True)
    ]
    _release_arena(weights)
    maps = fuse(looks, scales, (rgb.shape[0], rgb.shape[1]), weights.fusion)
    crack, joint, patch, slab = (read_only(m) for m in maps)
    return ScoreMaps(
        crack=crack,
        joint=joint,
        patch=patch,
        slab=slab,
        method=DetectMethod.NETWORK,
        weights_sha256=weights.sha256,
    )


@lru_cache(maxsize=4)
def load_weights(threads: int, path: Path = WEIGHTS) -> Weights:
    """The network ready to run on `threads` threads; checks that file and companion agree."""
    import onnxruntime

    companion = path.with_suffix(".json")
    if not path.is_file() or not companion.is_file():
        raise RuleError(str(path.name), "the network's weights are missing", "install the package again")
    about = json.loads(companion.read_text(encoding="utf-8"))
    sha256 = hashlib.sha256(path.read_bytes()).hexdigest()
    if about["sha256"] != sha256:
        raise RuleError(
            path.name,
            "the weights differ from those its companion file describes",
            "install the package again",
            expected=about["sha256"],
            found=sha256,
        )
    _share_arena()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    options.log_severity_level = 3
    options.add_session_config_entry("session.use_env_allocators", "1")
    session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    return Weights(session, int(about["stride_px"]), sha256, read_fusion(about))


@lru_cache(maxsize=1)
def _share_arena() -> None:
    """One memory arena for all sessions that grows by what is asked for and not by doubling.

    Measured on tiles of 3 megapixels: 190 MB instead of 250 MB.
    """
    import onnxruntime

    memory = onnxruntime.OrtMemoryInfo(
        "Cpu", onnxruntime.OrtAllocatorType.ORT_ARENA_ALLOCATOR, 0, onnxruntime.OrtMemType.DEFAULT
    )
    as_requested = onnxruntime.OrtArenaCfg(0, 1, -1, -1)
    onnxruntime.create_and_register_allocator(memory, as_requested)


def _release_arena(weights: Weights) -> None:
    """Gives the working memory of the tiles back: what follows needs some of its own."""
    import onnxruntime

    options = onnxruntime.RunOptions()
    options.add_run_config_entry("memory.enable_memory_arena_shrinkage", "cpu:0")
    side = weights.stride_px
    weights.session.run(None, {"rgb": np.zeros((1, side, side, 3), np.uint8)}, options)


def score_at_scale(
    rgb: UInt8,
    scale: float,
    weights: Weights,
    tile_px2: int = TILE_PX2,
    classes: Sequence[str] = CLASSES,
) -> Look:
    """8-bit logits (r, c) of each class, of the picture resized by `scale` to r x c pixels."""
    if scale != 1.0:
        size = (max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale)))
        how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        rgb = np.asarray(cv2.resize(rgb, size, interpolation=how), np.uint8)
    rows, cols = rgb.shape[:2]
    out = {name: np.empty((rows, cols), np.uint8) for name in classes}
    row_spans, col_spans = tile_grid(rows, cols, tile_px2, weights.stride_px)
    for r0, r1, top, bottom in row_spans:
        for c0, c1, left, right in col_spans:
            part = _padded(rgb[top:bottom, left:right], weights.stride_px)
            logits = weights.session.run(None, {"rgb": part[None]})[0][0]
            for name, plane in out.items():
                tile = logits[CLASSES.index(name)]
                plane[r0:r1, c0:c1] = tile[r0 - top : r1 - top, c0 - left : c1 - left]
    return out


Span = tuple[int, int, int, int]
"""From, to, from with margin, to with margin."""


def tile_grid(rows: int, cols: int, tile_px2: int, stride: int) -> tuple[list[Span], list[Span]]:
    """The cheapest grid of tiles of at most `tile_px2`, as spans of rows and of columns.

    Tiles begin on multiples of the stride, so that each sees the pooling grid that the whole
    picture would see; that and the margin make tiles and one pass agree.
    """
    margin = -(-MARGIN_PX // stride) * stride
    best: tuple[float, list[Span], list[Span]] | None = None
    most = 2 + int((rows * cols / tile_px2) ** 0.5) * 2
    for parts in range(1, most + 1):
        down = _spans(rows, parts, margin, stride)
        tall = max(b - a for _, _, a, b in down)
        room = tile_px2 / tall - 2 * margin
        across_parts = 1 if cols * tall <= tile_px2 else -(-cols // max(int(room), stride))
        across = _spans(cols, across_parts, margin, stride)
        work = sum(b - a for _, _, a, b in down) * sum(b - a for _, _, a, b in across)
        if best is None or work < best[0]:
            best = (work, down, across)
    assert best is not None
    return best[1], best[2]


def _spans(side: int, parts: int, margin: int, stride: int) -> list[Span]:
    """`side` in about `parts` equal spans."""
    core = -(-side // (parts * stride)) * stride
    return [
        (a, min(a + core, side), max(a - margin, 0), min(a + core + margin, side))
        for a in range(0, side, core)
    ]


def _padded(part: UInt8, stride: int) -> UInt8:
    """The part with its lower and right sides mirrored up to a multiple of the stride."""
    rows, cols = part.shape[:2]
    bottom, right = -rows % stride, -cols % stride
    if bottom or right:
        part = np.asarray(cv2.copyMakeBorder(part, 0, bottom, 0, right, cv2.BORDER_REFLECT), np.uint8)
    return np.ascontiguousarray(part)
