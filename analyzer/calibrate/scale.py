"""Gives one photo its scale: picks the method, fits, checks, and says how certain it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer import frames
from analyzer.calibrate.adjustment import Fit, solve
from analyzer.calibrate.contradictions import TYPED, check_agreement
from analyzer.calibrate.control_points import check_marks, fixed_marks, places_from_tape, read_marks
from analyzer.calibrate.homography import UncertainHomography, fit_homography
from analyzer.calibrate.lens import left_over_distortion, lens_u_rel
from analyzer.calibrate.limits import ScaleLimits, scale_limits
from analyzer.calibrate.markers import FoundSheet, SheetSearch, find_sheets
from analyzer.calibrate.network import CameraBody, MarkBody, Network, TapeBody
from analyzer.calibrate.sheet_bodies import sheet_bodies
from analyzer.calibrate.straight_down import fit_straight_down
from analyzer.calibrate.target_sheet import NUMBERS
from analyzer.calibrate.tie_points import LOOSE_U_MM, fitted_ties
from analyzer.calibrate.trust import Spread, is_sure, judge
from analyzer.errors import CalibrationError, ManyProblems
from analyzer.records import Calibration, FieldBook, Float, Photo, PhotoEntry, TiePoint
from analyzer.terms import ScaleMethod

_SENSOR_RATIOS = (4 / 3, 3 / 2, 16 / 9)
"""Shapes of whole pictures from phones and cameras; any other shape was cropped."""


@dataclass(frozen=True, slots=True, eq=False)
class _Job:
    """What is asked of one photo."""

    photo: Photo
    entry: PhotoEntry
    field: FieldBook
    limits: ScaleLimits
    subject: str

    @property
    def size(self) -> tuple[int, int]:
        return self.photo.rgb.shape[0], self.photo.rgb.shape[1]

    @property
    def closeup(self) -> bool:
        return self.entry.closeup_of is not None or self.entry.closeup_at_mm is not None

    @property
    def outline_mm(self) -> tuple[tuple[float, float], ...] | None:
        return None if self.closeup else tuple((c.x_mm, c.y_mm) for c in self.field.outline)


def calibrate_photo(photo: Photo, entry: PhotoEntry, field: FieldBook) -> Calibration:
    """The scale of one photo: homography ``plan_from_px`` with residual and uncertainty.

    Methods, in this order: marker sheets found in the photo (with marked points beside them
    where there are some); four or more marked points with known places or tape distances; two
    or three marked points if the entry says that the camera looked straight down. A close-up
    needs a scale only: one sheet, or two marks and their distance on the same statement.

    Parameters
    ----------
    photo : Photo
        ``rgb`` (R, C, 3) uint8, upright.
    entry : PhotoEntry
        Its entry in the field book: marks (row, col) in px, distances, statements.
    field : FieldBook
        For the outline (named corners count as known places) and the sheets' places, in mm.

    Returns
    -------
    Calibration
        ``position_u_mm`` and ``scale_u_rel`` hold at the worst spot of the part of the slab that
        the photo shows, or of ``trusted_mm`` where only a part of it is certain enough.

    Raises
    ------
    CalibrationError
        Nothing to scale with, sheets missing, mirrored, printed at the wrong scale or given twice,
        points in a line, in crossed order or mirrored, readings that contradict each other, or an
        uncertainty over the limits in ``limits.toml``. The text says what to do.
    """
    job = _Job(photo, entry, field, scale_limits(), f"photo {photo.photo_id} ({photo.file_name})")
    marks, tapes = read_marks(photo, entry, field, job.limits)
    listed = frozenset(s.number for s in field.sheets)
    search = SheetSearch(())
    if entry.markers and (listed or job.closeup or len(marks) < 2):
        search = find_sheets(photo.rgb, listed or frozenset(NUMBERS))
    notes = [
        f"marker sheet {n} lies in the photo twice and was left out; number each sheet differently"
        for n in search.seen_twice
    ]
    sheets = _usable_sheets(job, search, notes)
    if sheets:
        return _by_adjustment(job, sheets, marks, tapes, ScaleMethod.MARKER_SHEETS, notes)
    fixed, fixed_tapes = fixed_marks(marks, tapes)
    if len(fixed) >= 4:
        return _by_adjustment(job, (), fixed, fixed_tapes, ScaleMethod.MARKED_POINTS, notes)
    if len(marks) >= 4 and len(tapes) >= 3:
        places_from_tape(marks, tapes, job.subject)
    marks, tapes = fixed_marks(marks, tapes, least=1)
    if entry.straight_down and len(marks) >= 2:
        return _by_two_points(job, marks, tapes, notes)
    raise _nothing_to_scale_with(job, search, len(marks))


def calibrate_photos(photos: Sequence[Photo], field: FieldBook) -> tuple[Calibration, ...]:
    """The scale of every photo, each with its entry of the same ``photo_id`` in the field book.

    Raises
    ------
    CalibrationError
        A photo has no entry, or as :func:`calibrate_photo`.
    ManyProblems
        Several photos cannot be scaled.
    """
    entries = {e.photo_id: e for e in field.photos}
    done: list[Calibration] = []
    problems: list[CalibrationError] = []
    for photo in photos:
        try:
            if photo.photo_id not in entries:
                raise CalibrationError(
                    f"photo {photo.photo_id}", f"{field.source} does not name it", "add a photo entry"
                )
            done.append(calibrate_photo(photo, entries[photo.photo_id], field))
        except CalibrationError as error:
            problems.append(error)
    if len(problems) == 1:
        raise problems[0]
    if problems:
        raise ManyProblems(field.source, problems)
    return tuple(done)


def mm_per_px_in_the_middle(photo: Photo, calibration: Calibration) -> float:
    """Pixel size in mm at the middle of a photo, the geometric mean of both axes."""
    middle = [[(n - 1) / 2 for n in photo.rgb.shape[:2]]]
    larger, smaller = frames.mm_per_px_at(calibration.plan_from_px, middle)[0]
    return float(np.sqrt(larger * smaller))


def _usable_sheets(job: _Job, search: SheetSearch, notes: list[str]) -> tuple[FoundSheet, ...]:
    """Sheets that help: for a close-up the largest one, else those with a place, if any has one."""
    for sheet in search.sheets:
        if sheet.n_markers < 4:
            notes.append(
                f"marker sheet {sheet.number} is partly hidden or cut off: {sheet.n_markers} of 4 markers "
                "were read"
            )
    if job.closeup:
        return tuple(sorted(search.sheets, key=lambda s: -float(np.ptp(s.px, axis=0).prod()))[:1])
    listed = {s.number for s in job.field.sheets}
    placed = tuple(s for s in search.sheets if s.number in listed)
    for sheet in search.sheets:
        if sheet.number not in listed and placed:
            notes.append(f"marker sheet {sheet.number} is in the photo but its place was not noted")
    return search.sheets if placed else ()


def _nothing_to_scale_with(job: _Job, search: SheetSearch, n_marks: int) -> CalibrationError:
    """The refusal that fits what was found."""
    if search.mirrored:
        return CalibrationError(
            job.subject,
            "the marker sheets appear mirrored",
            "use the photo as the camera took it, not flipped",
        )
    if search.seen_twice:
        return CalibrationError(
            job.subject,
            f"marker sheet {search.seen_twice[0]} lies in the photo twice",
            "lay out sheets with different numbers and take the photo again",
        )
    if search.sheets:
        found = ", ".join(str(s.number) for s in search.sheets)
        return CalibrationError(
            job.subject,
            f"marker sheet {found} is in the photo but the field book does not say where it lay",
            "add an entry with its number and the place of its centre cross",
        )
    if n_marks in (2, 3):
        return CalibrationError(
            job.subject,
            f"{n_marks} marked points with a known place or distance do not fix a scale unless the camera "
            "looked straight down",
            "mark four points of which no three lie in a line, or state straight_down = true if that is so",
        )
    looked_for = bool(job.field.sheets) and job.entry.markers
    return CalibrationError(
        job.subject,
        ("no marker sheet was found and " if looked_for else "there are no marker sheets and ")
        + ("no point is marked" if n_marks == 0 else f"only {n_marks} point is marked with a known place"),
        "show a whole sheet sharply and in even light, or mark four points with known places or tape "
        "distances",
    )


def _by_adjustment(
    job: _Job,
    found: tuple[FoundSheet, ...],
    marks: tuple[MarkBody, ...],
    tapes: tuple[TapeBody, ...],
    method: ScaleMethod,
    notes: list[str],
) -> Calibration:
    """Sheets and marks together in one least-squares adjustment."""
    marks, tapes = fixed_marks(marks, tapes)
    bodies, scales = sheet_bodies(found, job.field, job.closeup, job.limits, notes)
    guesses: list[Float] = []
    n_placed = sum(s.centre_mm is not None for s in bodies) + sum(m.place_mm is not None for m in marks)
    if not bodies:
        if not job.closeup and n_placed < 2:
            raise _no_place(job)
        places = places_from_tape(marks, tapes, job.subject)
        px = np.array([m.px for m in marks])
        names = tuple(m.name for m in marks)
        check_marks(names, px, places, marks[0].u_px, job.subject, job.limits)
        guesses = [fit_homography(places, px)]
        if n_placed == 0:
            marks = tuple(
                replace(m, place_mm=(float(p[0]), float(p[1])), place_u_mm=LOOSE_U_MM)
                for m, p in zip(marks, places, strict=True)
            )
    turned = any(s.turn_rad is not None for s in bodies)
    if bodies and not job.closeup and n_placed < 2 and not turned:
        raise CalibrationError(
            job.subject,
            f"{bodies[0].name} alone does not say how it lies in plan",
            "note its turn (turned_deg: the angle of its bottom edge, anticlockwise from plan x), or lay out "
            "a second sheet",
        )
    network = Network(bodies, scales, marks, tapes)
    fit = solve(network, job.subject, guesses)
    check_agreement(fit, job.subject, job.limits)
    spread, lens = _spread(job, fit)
    if (camera := _camera(job)) and not is_sure(spread, job.size, job.outline_mm, job.subject):
        guesses = [fit.homography.px_from_plan]
        helped = solve(replace(network, camera=camera), job.subject, guesses)
        if helped.worst(TYPED | {"camera"})[0] <= job.limits.contradiction:
            fit = helped
            spread, lens = _spread(job, fit)
            notes.append(
                "the scale away from the sheets or marks rests on the focal length that the file gives, "
                "which holds for a picture that was not cropped"
            )
    notes += _fit_notes(fit, lens, method)
    ties, rms_mm = fitted_ties(fit)
    return _accept(job, spread, method, ties, rms_mm, notes)


def _spread(job: _Job, fit: Fit) -> tuple[Spread, tuple[float, float] | None]:
    """Everything that makes the fitted scale uncertain, and the left-over lens distortion."""
    lens = left_over_distortion(fit, job.size)
    return Spread(fit.homography, job.limits, lens_u_rel(job.limits.lens_u, lens), not job.closeup), lens


def _camera(job: _Job) -> CameraBody | None:
    """What the file says of the camera; None where it says nothing or the picture looks cropped."""
    n_rows, n_cols = job.size
    long_side = max(n_rows, n_cols)
    ratio = long_side / min(n_rows, n_cols)
    if job.photo.focal_px is None or min(abs(ratio / r - 1) for r in _SENSOR_RATIOS) > 0.01:
        return None
    middle = ((n_rows - 1) / 2, (n_cols - 1) / 2)
    axis_u_px = job.limits.camera_axis_u * long_side
    return CameraBody(job.photo.focal_px, job.limits.focal_u, middle, axis_u_px)


def _no_place(job: _Job) -> CalibrationError:
    return CalibrationError(
        job.subject,
        "the distances between its marks give a scale but no place in plan",
        "give two of the marks the names of outline corners, or their plan positions",
    )


def _fit_notes(fit: Fit, lens: tuple[float, float] | None, method: ScaleMethod) -> list[str]:
    notes = []
    if fit.inflation > 1.0:
        notes.append(
            f"points fit {fit.inflation:.1f} times worse than their uncertainties; all uncertainties of the "
            "scale were enlarged by that"
        )
    if lens is not None:
        notes.append(
            f"left-over lens distortion at the picture's corner {100 * lens[0]:.2f} % of its distance from "
            f"the middle, standard uncertainty {100 * lens[1]:.2f} %"
        )
    if method is ScaleMethod.MARKED_POINTS and fit.n_redundant <= 1:
        notes.append("nothing checks these marks: one more point or distance would show a mistake")
    return notes


def _by_two_points(
    job: _Job, marks: tuple[MarkBody, ...], tapes: tuple[TapeBody, ...], notes: list[str]
) -> Calibration:
    """Two or three marks and the statement that the camera looked straight down."""
    limits = job.limits
    n_placed = sum(m.place_mm is not None for m in marks)
    if job.closeup:
        marks = tuple(replace(m, place_mm=None) for m in marks) if tapes else marks
    elif n_placed < 2:
        raise _no_place(job)
    if n_placed < 2 and not tapes:
        raise CalibrationError(job.subject, "its marks have no distance", "measure from mark to mark")
    focal_px = job.photo.focal_px or limits.focal_part * max(job.size)
    homography = fit_straight_down(marks, tapes, job.size, focal_px, limits, job.subject)
    ties = []
    for mark in marks:
        shown = frames.apply(homography.plan_from_px, [mark.px])[0]
        place = shown if mark.place_mm is None else np.array(mark.place_mm)
        rest = float(np.linalg.norm(shown - place))
        ties.append(TiePoint(mark.name, mark.px[0], mark.px[1], float(place[0]), float(place[1]), rest))
    rms_mm = float(np.sqrt(np.mean([t.residual_mm**2 for t in ties])))
    notes.append(
        "scaled by two points on the word that the camera looked straight down; a tilt of "
        f"{limits.straight_down_tilt_u:.0f} degrees (standard uncertainty) is allowed for"
    )
    spread = Spread(homography, limits, limits.lens_u, not job.closeup)
    return _accept(job, spread, ScaleMethod.TWO_POINTS, tuple(ties), rms_mm, notes)


def _accept(
    job: _Job,
    spread: Spread,
    method: ScaleMethod,
    ties: tuple[TiePoint, ...],
    rms_mm: float,
    notes: list[str],
) -> Calibration:
    """Hold the uncertainty against the limits and write the record."""
    homography: UncertainHomography = spread.homography
    if np.linalg.det(homography.plan_from_px) <= 0:
        raise CalibrationError(
            job.subject,
            "its points lie as in a mirror, not as seen from above",
            "use the photo as the camera took it and give plan positions as seen from above",
        )
    trust = judge(spread, job.size, job.outline_mm, job.subject)
    if trust.outline_mm:
        notes.append(
            f"only {100 * trust.share:.0f} % of the slab in view is scaled well enough to be used; more "
            "sheets or marks around the rest would add it"
        )
    return Calibration(
        photo_id=job.photo.photo_id,
        plan_from_px=homography.plan_from_px,
        method=method,
        residual_rms_mm=rms_mm,
        scale_u_rel=trust.length_u_rel,
        position_u_mm=trust.position_u_mm,
        tie_points=ties,
        has_plan_position=not job.closeup,
        notes=tuple(notes),
        trusted_mm=trust.outline_mm,
    )
