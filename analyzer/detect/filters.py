"""The plain detector: oriented line filters at several scales, no learned part.

A crack is a line darker than *both* its sides. Along each of eight directions the picture is averaged
over a short run; a pixel answers by how far that mean lies under the brighter-by-less of its two
flanks, so that the edge of a stain or of a shadow, which is dark on one side only, answers nothing.
Wide lines are found in reduced copies. The answers are divided by the local texture's own answer
and turned into a score by a logistic curve.

References
----------
.. [1] The smaller of two one-sided differences as line operator: Duda & Hart 1973, ch. 7; oriented
       means: Canny 1983 (both from memory).
"""

from __future__ import annotations

import math
import os
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
import numpy.typing as npt

from analyzer.records.picture import ScoreMaps, read_only
from analyzer.terms import DetectMethod

UInt8 = npt.NDArray[np.uint8]
Int16 = npt.NDArray[np.int16]
Float32 = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class FilterSettings:
    """Constants of the plain detector."""

    directions: int = 8
    """22.5 degrees apart: a run of eight pixels that is three wide accepts about 20 degrees."""
    doublings: int = 3
    """Run of 2 ** 3 = 8 px: shorter than the zigzag of a crack, long against a grain of sand."""
    flank_px: int = 3
    """Distance of the flanks' middle: lines of up to about 4 px at each scale."""
    levels: int = 4
    """Scales 1, 1/2, 1/4, 1/8: lines from 1 to about 32 px."""
    shading_px: int = 64
    """Shading broader than this is divided out (half the slab seen by a shadow of a fence post)."""
    texture_px: int = 96
    """Window over which the texture's own answer is averaged: wide against a crack."""
    level_gain: tuple[float, ...] = (1.0, 1.0, 0.9, 0.8)
    """Trust in each scale; coarse ones see stains as lines."""
    midpoint: float = 4.2
    """Answer in units of the texture's that scores one half."""
    slope: float = 1.1
    """Logistic slope per unit."""
    long_directions: int = 48
    """3.75 degrees apart: two cells of 4 px over half the run."""
    long_px: int = 240
    """Run over which a line must stay straight to count as joint."""


FILTERS = FilterSettings()
_BAND_PX = 4e6
"""Pixels worked on at a time by a thread: keeps a 100-megapixel photo within a gigabyte."""
_CELL = 4
_QUANTUM = 4


def score_filters(rgb: UInt8, mm_per_px: float | None = None, threads: int | None = None) -> ScoreMaps:
    """Score cracks and joints with line filters.

    Parameters
    ----------
    rgb : (R, C, 3) uint8
        Upright picture.
    mm_per_px : float, optional
        Not used by this method; the scales are in pixels.
    threads : int, optional
        Worker threads; default: the cores of this machine, at most four.

    Returns
    -------
    ScoreMaps
        ``crack`` and ``joint``; ``patch`` and ``slab`` are None: this method cannot tell them.
    """
    del mm_per_px
    gray = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY)
    rows, cols = gray.shape
    answer = np.zeros((rows, cols), np.uint8)
    workers = threads or min(4, os.cpu_count() or 1)
    level = gray
    with ThreadPoolExecutor(workers) as pool:
        for k in range(FILTERS.levels):
            if min(level.shape) < 24:
                break
            found = _level_answer(level, pool)
            gain = FILTERS.level_gain[k]
            if gain != 1.0:
                found = cv2.convertScaleAbs(found, alpha=gain)
            if k:
                found = _wider_only(found, answer, 2**k)
            cv2.max(answer, found, dst=answer)
            level = cv2.resize(
                level,
                (max(1, level.shape[1] // 2), max(1, level.shape[0] // 2)),
                interpolation=cv2.INTER_AREA,
            )
    straight = _straightness(answer)
    score = cv2.LUT(answer, _logistic_table())
    # what is straight over a long run is a joint; the crack score gives way to it
    joint = cv2.multiply(score, straight, scale=1.0 / 255.0)
    crack = cv2.subtract(score, joint)
    return ScoreMaps(crack=read_only(crack), joint=read_only(joint), method=DetectMethod.FILTERS)


def _wider_only(coarse: UInt8, finer: UInt8, cell: int) -> UInt8:
    """The coarse answer at full size, where no finer scale answers more strongly nearby.

    A thin line answers at coarse scales too, only broader; a wide one hardly answers at fine scales.
    """
    rows, cols = finer.shape
    whole = (coarse.shape[1] * cell, coarse.shape[0] * cell)
    part = finer[: whole[1], : whole[0]]
    reach = cell // 2 * 2 + 1
    part = cv2.dilate(part, np.ones((reach, reach), np.uint8))
    small = cv2.resize(part, (coarse.shape[1], coarse.shape[0]), interpolation=cv2.INTER_NEAREST)
    small = cv2.dilate(small, np.ones((2 * FILTERS.flank_px + 1,) * 2, np.uint8))
    kept = cv2.bitwise_and(coarse, cv2.compare(coarse, small, cv2.CMP_GT))
    return np.asarray(cv2.resize(kept, (cols, rows), interpolation=cv2.INTER_LINEAR), np.uint8)


_STEPS_PER_UNIT = 20.0


def _logistic_table() -> UInt8:
    """Score 0..255 for each stored answer."""
    z = np.arange(256) / _STEPS_PER_UNIT
    p = 1.0 / (1.0 + np.exp(-FILTERS.slope * (z - FILTERS.midpoint)))
    p -= p[0]
    return np.asarray(np.clip(np.rint(255.0 * p / (1.0 - p[0])), 0, 255), np.uint8)


def _level_answer(gray: UInt8, pool: ThreadPoolExecutor) -> UInt8:
    """Answer of one scale in units of the texture's answer, times ``_STEPS_PER_UNIT``."""
    rows, cols = gray.shape
    shade = _shading(gray)
    out = np.empty_like(gray)
    # bands of a whole number of texture cells, so that their grids coincide
    step = max(64, int(_BAND_PX / cols) // 16 * 16)

    def fill(top: int) -> None:
        bottom = min(rows, top + step)
        rim = 2 * _texture_cells(gray.shape) * _CELL
        first, last = max(0, top - rim), min(rows, bottom + rim)
        line, texture = _answers(gray[first:last], shade[first:last])
        side = _texture_cells(gray.shape)
        texture = cv2.blur(texture, (side, side))
        texture = cv2.resize(texture, (cols, last - first), interpolation=cv2.INTER_LINEAR)
        part = cv2.divide(line, texture, scale=_STEPS_PER_UNIT, dtype=cv2.CV_32F)
        part = cv2.convertScaleAbs(cv2.max(part, 0.0))
        out[top:bottom] = part[top - first : bottom - first]

    list(pool.map(fill, range(0, rows, step)))
    return out


def _texture_cells(shape: tuple[int, ...]) -> int:
    """Side of the window over which the texture is averaged, in cells, odd."""
    return max(3, min(FILTERS.texture_px, min(shape)) // (2 * _CELL) * 2 + 1)


def _shading(gray: UInt8) -> UInt8:
    """Brightness without anything narrower than ``shading_px``."""
    rows, cols = gray.shape
    cell = 8
    small = cv2.resize(gray, (max(1, cols // cell), max(1, rows // cell)), interpolation=cv2.INTER_AREA)
    shade = cv2.blur(small, (2 * (FILTERS.shading_px // cell) + 1,) * 2, borderType=cv2.BORDER_REFLECT)
    return np.asarray(cv2.resize(cv2.max(shade, 8), (cols, rows), interpolation=cv2.INTER_LINEAR), np.uint8)


def _answers(gray: UInt8, shade: UInt8) -> tuple[Int16, Float32]:
    """Greatest answer over all directions, and that of the texture on a grid of cells."""
    rows, cols = gray.shape
    # brightness over the shading, 128 x _QUANTUM on average
    flat = cv2.divide(gray, shade, scale=128.0 * _QUANTUM, dtype=cv2.CV_16S)
    flat = cv2.min(flat, 255 * _QUANTUM)
    rim = 2**FILTERS.doublings + 2 * FILTERS.flank_px
    flat = cv2.copyMakeBorder(flat, rim, rim, rim, rim, cv2.BORDER_REFLECT_101)
    flat = np.asarray(cv2.GaussianBlur(flat, (3, 3), 0.7), np.int16)
    best = np.full((rows, cols), -32768, np.int16)
    texture = np.zeros((-(-rows // _CELL), -(-cols // _CELL)), np.float32)
    for k in range(FILTERS.directions):
        angle = math.pi * k / FILTERS.directions
        ahead = (math.sin(angle), math.cos(angle))
        run, off_r, off_c = _run_mean(flat, ahead)
        sides = np.asarray(cv2.blur(run, (3, 3)), np.int16)
        dr, dc = round(FILTERS.flank_px * ahead[1]), -round(FILTERS.flank_px * ahead[0])
        r0, c0 = rim - off_r, rim - off_c
        left = sides[r0 + dr : r0 + dr + rows, c0 + dc : c0 + dc + cols]
        right = sides[r0 - dr : r0 - dr + rows, c0 - dc : c0 - dc + cols]
        dark = cv2.subtract(cv2.min(left, right), run[r0 : r0 + rows, c0 : c0 + cols])
        cv2.max(best, dark, dst=best)
        # what is brighter than its flanks is no crack: it tells how restless the texture is
        texture += np.maximum(-dark[::_CELL, ::_CELL], 0)
    return best, texture / FILTERS.directions + 0.5 * 2**FILTERS.doublings


def _run_mean(part: Int16, ahead: tuple[float, float]) -> tuple[Int16, int, int]:
    """Sum over a run of 2 ** doublings px by repeated doubling, and how far its middle was shifted."""
    total = part
    middle = [0.0, 0.0]
    for j in range(FILTERS.doublings):
        step_r, step_c = round(2**j * ahead[0]), round(2**j * ahead[1])
        rows, cols = total.shape[0] - abs(step_r), total.shape[1] - abs(step_c)
        r0, r1 = (0, step_r) if step_r >= 0 else (-step_r, 0)
        c0, c1 = (0, step_c) if step_c >= 0 else (-step_c, 0)
        total = cv2.add(total[r0 : r0 + rows, c0 : c0 + cols], total[r1 : r1 + rows, c1 : c1 + cols])
        # the sum at (0, 0) of the new array is centred half a step on
        middle[0] += r0 + step_r / 2
        middle[1] += c0 + step_c / 2
    return total, round(middle[0]), round(middle[1])


def _straightness(answer: UInt8) -> UInt8:
    """How far each pixel lies on a line that stays straight over a long run, 0..255."""
    cell = 4
    rows, cols = answer.shape
    if min(rows, cols) < 8 * cell:
        return np.zeros_like(answer)
    # the greatest answer of a cell, so that a thin line keeps its strength
    peak = cv2.dilate(answer, np.ones((cell, cell), np.uint8))
    small = cv2.resize(peak, (cols // cell, rows // cell), interpolation=cv2.INTER_NEAREST)
    on = cv2.threshold(small, FILTERS.midpoint * _STEPS_PER_UNIT * 0.7, 255, cv2.THRESH_BINARY)[1]
    run = FILTERS.long_px // cell // 2 * 2 + 1
    height, width = on.shape
    side = math.ceil(math.hypot(height, width))
    best = np.zeros_like(on)
    for k in range(FILTERS.long_directions):
        # turned so that the direction lies along the rows, averaged there, and turned back
        turn = cv2.getRotationMatrix2D(
            ((width - 1) / 2, (height - 1) / 2), 180.0 * k / FILTERS.long_directions, 1.0
        )
        turn[:, 2] += ((side - width) / 2, (side - height) / 2)
        turned = cv2.warpAffine(on, turn, (side, side), flags=cv2.INTER_LINEAR)
        along = cv2.blur(turned, (run, 1))
        back = cv2.warpAffine(along, turn, (width, height), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        cv2.max(best, back, dst=best)
    best = cv2.dilate(best, np.ones((3, 3), np.uint8))
    best = cv2.LUT(best, np.clip((np.arange(256) / 255.0 - 0.6) / 0.2 * 255, 0, 255).astype(np.uint8))
    return np.asarray(cv2.resize(best, (cols, rows), interpolation=cv2.INTER_LINEAR), np.uint8)
