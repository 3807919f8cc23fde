"""Marked points: where they lie in plan, by name, as typed or from tape distances, and whether
they can fix a perspective at all."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from analyzer import frames
from analyzer.calibrate.limits import ScaleLimits
from analyzer.calibrate.network import MarkBody, TapeBody
from analyzer.errors import CalibrationError
from analyzer.records import FieldBook, Float, Photo, PhotoEntry

_DEPTH_STRETCH = (1.0, 2.0, 4.0, 0.5)
"""Starts for places from distances: a slanted view shortens the depth, by up to about four."""


def read_marks(
    photo: Photo, entry: PhotoEntry, field: FieldBook, limits: ScaleLimits
) -> tuple[tuple[MarkBody, ...], tuple[TapeBody, ...]]:
    """Marks of one photo with the places that are known, and the tape distances between them.

    A mark with the name of an outline corner lies at that corner unless its place is typed.

    Raises
    ------
    CalibrationError
        A name used twice, a mark outside the picture, a distance to an unknown mark or of zero.
    """
    subject = f"photo {photo.photo_id}"
    corners = {c.name: (c.x_mm, c.y_mm) for c in field.outline}
    n_rows, n_cols = photo.rgb.shape[:2]
    u_px = max(limits.mark_pick_least_u, limits.mark_pick_u * max(n_rows, n_cols))
    marks: dict[str, MarkBody] = {}
    for mark in entry.marks:
        if mark.name in marks:
            raise CalibrationError(subject, f"mark {mark.name} is there twice", "give each its own name")
        if not (0 <= mark.row_px <= n_rows - 1 and 0 <= mark.col_px <= n_cols - 1):
            raise CalibrationError(
                subject,
                f"mark {mark.name} at row {mark.row_px:g}, column {mark.col_px:g} is outside the picture of "
                f"{n_rows} rows and {n_cols} columns",
                "mark it on the upright photo at full size",
            )
        marks[mark.name] = MarkBody(
            mark.name,
            (mark.row_px, mark.col_px),
            u_px,
            mark.plan_mm or corners.get(mark.name),
            limits.mark_place_u,
        )
    at = {name: i for i, name in enumerate(marks)}
    tapes = []
    for typed in entry.distances:
        name = f"{typed.first}-{typed.second}"
        for end in (typed.first, typed.second):
            if end not in at:
                raise CalibrationError(
                    subject,
                    f"distance {name} names mark {end}, which is not marked",
                    f"mark {end} on the photo",
                )
        if typed.first == typed.second or typed.distance.mm <= 0:
            raise CalibrationError(
                subject, f"distance {name} is not a length between two marks", "measure from mark to mark"
            )
        u_mm = typed.distance.u_mm or limits.tape_u
        tapes.append(TapeBody(at[typed.first], at[typed.second], typed.distance.mm, u_mm))
    return tuple(marks.values()), tuple(tapes)


def fixed_marks(
    marks: tuple[MarkBody, ...], tapes: tuple[TapeBody, ...], least: int = 2
) -> tuple[tuple[MarkBody, ...], tuple[TapeBody, ...]]:
    """Only those marks that have a place or at least so many distances to marks that remain.

    Two distances fix a place in plan; with a camera straight above, one fixes the scale.
    """
    keep = set(range(len(marks)))
    while True:
        count = dict.fromkeys(keep, 0)
        for tape in tapes:
            if tape.first in keep and tape.second in keep:
                count[tape.first] += 1
                count[tape.second] += 1
        loose = {i for i in keep if marks[i].place_mm is None and count[i] < least}
        if not loose:
            break
        keep -= loose
    order = {old: new for new, old in enumerate(sorted(keep))}
    kept_tapes = tuple(
        replace(t, first=order[t.first], second=order[t.second])
        for t in tapes
        if t.first in order and t.second in order
    )
    return tuple(marks[i] for i in sorted(keep)), kept_tapes


def places_from_tape(marks: tuple[MarkBody, ...], tapes: tuple[TapeBody, ...], subject: str) -> Float:
    """Plan positions (N, 2) in mm of all marks, from known places and tape distances.

    Nonlinear least squares started from the marks as they lie in the photo, which settles which
    of two mirror images is the slab: a photo from above keeps left and right. Without known
    places the result is right up to a shift and a turn.

    Raises
    ------
    CalibrationError
        The distances leave the shape open.
    """
    picture = frames.xy_from_rc([m.px for m in marks]) * [1.0, -1.0]
    known = [i for i, m in enumerate(marks) if m.place_mm is not None]
    places = np.array([m.place_mm or (0.0, 0.0) for m in marks], dtype=float)
    if len(known) == len(marks):
        return places
    place_u = np.array([m.place_u_mm for m in marks])
    first = np.array([t.first for t in tapes], dtype=int)
    second = np.array([t.second for t in tapes], dtype=int)
    lengths = np.array([t.mm for t in tapes])
    tape_u = np.array([t.u_mm for t in tapes])

    def rest(flat: Float) -> Float:
        xy = flat.reshape(-1, 2)
        taped = np.linalg.norm(xy[first] - xy[second], axis=1) - lengths
        return np.concatenate([taped / tape_u, ((xy - places) / place_u[:, None])[known].ravel()])

    best = None
    for stretch in _DEPTH_STRETCH:
        start = _similar(picture * [1.0, stretch], places, known, first, second, lengths)
        found = least_squares(rest, start.ravel(), x_scale=100.0)
        turned = _flipped_triples(picture, found.x.reshape(-1, 2))
        key = (turned, float(found.cost))
        if best is None or key < best[0]:
            best = (key, found)
    assert best is not None
    singular = np.linalg.svd(best[1].jac, compute_uv=False)
    free = {0: 3, 1: 1}.get(len(known), 0)
    rank = int((singular > 1e-6 * singular[0]).sum())
    if rank < 2 * len(marks) - free:
        names = ", ".join(m.name for m in marks if m.place_mm is None)
        raise CalibrationError(
            subject,
            f"the tape distances do not fix where {names} lie",
            "measure more of them; four marks need all four sides and both diagonals",
        )
    solved: Float = best[1].x.reshape(-1, 2)
    return solved


def check_marks(
    names: tuple[str, ...], px: Float, plan: Float, u_px: float, subject: str, limits: ScaleLimits
) -> None:
    """Refuse marks that cannot fix a perspective or that contradict a view from above.

    A photo from above keeps the sense (clockwise or not) of every three points in front of the
    camera; a homography fits through four wrong points as exactly as through four right ones, so
    this has to be looked at before.

    Raises
    ------
    CalibrationError
        Three in a line, crossed order (with the pair to swap where one swap cures it), mirrored.
    """
    thin = _thin_triples(px, plan, u_px, limits)
    n = len(names)
    if not any(not any(t in thin for t in combinations(q, 3)) for q in combinations(range(n), 4)):
        line = ", ".join(names[i] for i in min(thin))
        raise CalibrationError(
            subject,
            f"marks {line} lie in one line, which leaves the perspective open",
            "mark four points of which no three lie in a line, far apart, for example the corners of a panel",
        )
    picture = frames.xy_from_rc(px) * [1.0, -1.0]
    triples = [t for t in combinations(range(n), 3) if t not in thin]

    def wrong(order: list[int]) -> int:
        return sum(_area(picture, t) * _area(plan[order], t) < 0 for t in triples)

    same = list(range(n))
    n_wrong = wrong(same)
    if n_wrong == 0:
        return
    if n_wrong == len(triples):
        raise CalibrationError(
            subject,
            "the marks run the other way round than in plan, as in a mirror",
            "use the photo as the camera took it and give plan positions as seen from above",
        )
    for i, j in combinations(range(n), 2):
        swapped = same.copy()
        swapped[i], swapped[j] = j, i
        if wrong(swapped) == 0:
            raise CalibrationError(
                subject,
                f"the marks are in crossed order, as if {names[i]} and {names[j]} were swapped",
                "correct their names or places",
            )
    raise CalibrationError(
        subject,
        f"the marks {', '.join(names)} are in crossed order: no view from above shows them like this",
        "check which mark is which",
    )


def _similar(
    picture: Float,
    places: Float,
    known: list[int],
    first: npt.NDArray[np.int_],
    second: npt.NDArray[np.int_],
    mm: Float,
) -> Float:
    """The marks of the photo, shifted, turned and scaled onto known places or to taped lengths."""
    z = picture[:, 0] + 1j * picture[:, 1]
    if len(known) >= 2:
        w = places[known, 0] + 1j * places[known, 1]
        zc, wc = z[known] - z[known].mean(), w - w.mean()
        factor = (np.conj(zc) @ wc) / (np.conj(zc) @ zc)
        z = w.mean() + factor * (z - z[known].mean())
    else:
        factor = mm.sum() / max(float(np.abs(z[first] - z[second]).sum()), 1e-9)
        origin = z[known[0]] if known else z.mean()
        target = complex(*places[known[0]]) if known else 0j
        z = target + factor * (z - origin)
    return np.stack([z.real, z.imag], axis=1)


def _flipped_triples(picture: Float, plan: Float) -> int:
    return sum(_area(picture, t) * _area(plan, t) < 0 for t in combinations(range(len(plan)), 3))


def _area(points: Float, triple: tuple[int, ...]) -> float:
    """Twice the signed area of a triangle, positive anticlockwise."""
    (ax, ay), (bx, by), (cx, cy) = points[list(triple)]
    return float((bx - ax) * (cy - ay) - (by - ay) * (cx - ax))


def _thin_triples(px: Float, plan: Float, u_px: float, limits: ScaleLimits) -> set[tuple[int, ...]]:
    thin: set[tuple[int, ...]] = set()
    for triple in combinations(range(len(plan)), 3):
        for points, least in ((plan, None), (px, 3.0 * u_px)):
            corners = points[list(triple)]
            longest = max(float(np.linalg.norm(corners[i] - corners[i - 1])) for i in range(3))
            height = abs(_area(points, triple)) / max(longest, 1e-9)
            if height <= (limits.thin_triangle * longest if least is None else least):
                thin.add(triple)
    return thin
