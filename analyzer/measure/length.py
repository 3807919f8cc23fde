"""Length of a branch and of a crack, each with its standard uncertainty.

Three parts: the scale of the photo (common to everything on it, so it adds up in proportion),
the free ends (a trace starts and stops within a pixel or two of the crack) and the fit.

References
----------
.. [1] JCGM 100:2008, eqs. 10 and 13 (from memory); NIST TN 1297 sec. 5: root-sum-of-squares with
   covariances.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.measure.centerline import CUT_WAVELENGTH_PX

END_U_PX = 1.5
"""Standard uncertainty of where a trace ends, in pixels of the traced picture (judgement: one
pixel from the width of the mask, one from the threshold, together)."""

FIT_U_REL = 0.006
"""Relative standard uncertainty of a smoothed centreline: on drawn lines at all angles, circles
and waves the error stays under 1 %; a rectangular distribution of that half-width has 1 % / sqrt(3)."""


@dataclass(frozen=True, slots=True)
class Length:
    """A length in parts, so that sums treat what is common as common.

    ``scale_u_rel`` is fully correlated between lengths; ``own_u_mm`` (ends and fit) is not.
    """

    mm: float
    own_u_mm: float
    scale_u_rel: float

    @property
    def u_mm(self) -> float:
        """Combined standard uncertainty in mm."""
        return math.hypot(self.own_u_mm, self.mm * self.scale_u_rel)


def measure_length(
    length_mm: float, pixel_mm: float, *, free_ends: int, scale_u_rel: float, fit_rms_mm: float = 0.0
) -> Length:
    """Give a centreline length its uncertainty.

    Parameters
    ----------
    length_mm : float
        Length of the smooth centreline.
    pixel_mm : float
        Pixel size of the picture the line was traced in.
    free_ends : int
        0 for a ring or a branch between two junctions, else 1 or 2. A junction moves length from
        one branch to the next; the sum does not change.
    scale_u_rel : float
        Relative standard uncertainty of the photo's scale.
    fit_rms_mm : float
        What the smoothing took away across the line; above the third of a pixel that stairs
        explain, it counts as unevenness that may have been real length.
    """
    excess = max(0.0, fit_rms_mm - 0.35 * pixel_mm)
    # Real bends of rms height h and the shortest wavelength w kept lengthen a line by (pi h / w)^2 * 2.
    lost = 2.0 * (math.pi * excess / (CUT_WAVELENGTH_PX * pixel_mm)) ** 2
    own = math.hypot(
        END_U_PX * pixel_mm * math.sqrt(free_ends), length_mm * FIT_U_REL, length_mm * min(lost, 0.1)
    )
    return Length(length_mm, own, scale_u_rel)


def total_length(parts: Sequence[Length]) -> Length:
    """Sum of lengths: own parts add in squares, the scale adds straight (it is the same scale)."""
    total = sum(part.mm for part in parts)
    own = math.sqrt(sum(part.own_u_mm**2 for part in parts))
    common = sum(part.mm * part.scale_u_rel for part in parts)
    return Length(total, own, common / total if total > 0 else 0.0)
