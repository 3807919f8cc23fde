"""One traced crack that a person wrote down as several: shared out before it is matched.

The detector follows lines: four legs that meet are one crack to it. On site each leg gets its own
name, place and gauge reading.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from analyzer.records import BranchSize, CrackEntry, CrackSize
from analyzer.terms import Distress


def share_out(
    cracks: Sequence[CrackSize], entries: Sequence[CrackEntry], same_place_mm: float
) -> tuple[CrackSize, ...]:
    """Split each traced crack on which several typed ones lie, branch by branch.

    A branch goes to the typed crack whose place or line is nearest to it. Parts are named after
    the crack with a letter; lengths are sums over branches, widths means weighted by length. A
    crack with one branch, or with one typed crack on it, stays as it is; so does map cracking.

    Parameters
    ----------
    cracks : sequence of CrackSize
        As traced on photos.
    entries : sequence of CrackEntry
        As typed; those without a place take no part.
    same_place_mm : float
        How near a typed place must be to lie on a crack.
    """
    places = [place for entry in entries if (place := _place(entry)) is not None]
    return tuple(part for crack in cracks for part in _shared(crack, places, same_place_mm))


def _place(entry: CrackEntry) -> shapely.Geometry | None:
    if len(entry.line_mm) >= 2:
        return shapely.LineString(entry.line_mm)
    return shapely.Point(entry.at_mm) if entry.at_mm is not None else None


def _shared(
    crack: CrackSize, places: Sequence[shapely.Geometry], same_place_mm: float
) -> tuple[CrackSize, ...]:
    if crack.distress is Distress.MAP_CRACKING:
        return (crack,)
    branches = [b for b in crack.branches if len(b.points_mm) >= 2]
    if len(branches) < 2 or len(branches) < len(crack.branches):
        return (crack,)
    lines = [shapely.LineString(b.points_mm) for b in branches]
    whole = shapely.MultiLineString(lines)
    here = [place for place in places if place.distance(whole) <= same_place_mm]
    if len(here) < 2:
        return (crack,)
    away = np.array(
        [[line.hausdorff_distance(p) if p.length else line.distance(p) for p in here] for line in lines]
    )
    owner = away.argmin(axis=1)
    # Two places beside one leg: the one left without a leg takes the leg that it lies nearest to.
    for k in range(len(here)):
        nearest = int(away[:, k].argmin())
        if k not in owner and np.count_nonzero(owner == owner[nearest]) > 1:
            owner[nearest] = k
    groups = [[b for b, o in zip(branches, owner, strict=True) if o == k] for k in range(len(here))]
    groups = [group for group in groups if group]
    if len(groups) < 2:
        return (crack,)
    return tuple(_part(crack, group, chr(97 + k)) for k, group in enumerate(groups))


def _part(crack: CrackSize, branches: Sequence[BranchSize], letter: str) -> CrackSize:
    known = [b for b in branches if b.width_mean_mm is not None]
    weight = sum(b.length_mm for b in known)
    mean = mean_u = None
    if known and weight > 0:
        mean = sum((b.width_mean_mm or 0.0) * b.length_mm for b in known) / weight
        mean_u = math.sqrt(sum(((b.width_mean_u_mm or 0.0) * b.length_mm) ** 2 for b in known)) / weight
    widest = max(
        (b for b in branches if b.width_max_mm is not None), key=lambda b: b.width_max_mm or 0.0, default=None
    )
    upper = [b.width_upper_mm for b in branches if b.width_upper_mm is not None]
    longest = max(branches, key=lambda b: b.length_mm)
    return replace(
        crack,
        crack_id=f"{crack.crack_id}{letter}",
        length_mm=sum(b.length_mm for b in branches),
        length_u_mm=math.sqrt(sum(b.length_u_mm**2 for b in branches)),
        width_mean_mm=mean,
        width_mean_u_mm=mean_u,
        width_max_mm=widest.width_max_mm if widest else None,
        width_max_u_mm=widest.width_max_u_mm if widest else None,
        width_upper_mm=max(upper) if upper else None,
        direction_deg=longest.direction_deg,
        branches=tuple(branches),
        probability=max(b.probability for b in branches),
    )
