"""The order of the stages, and nothing else: the whole walk and the partial ones.

Command line, batch and page all call these functions. Every stage is imported when it is first
needed, so that ``slab --help`` does not load image libraries.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analyzer import errors, records
from analyzer.terms import DetectMethod

if TYPE_CHECKING:
    from analyzer.transmit.job_folder import JobFolder, JobLine, Verification

Progress = Callable[[str], None]
SLAB_PROBABILITY_MIN = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class AnalyzedJob:
    """A finished record with the pictures it was read from (kept for the figures)."""

    record: records.JobRecord
    photos: tuple[records.Photo, ...]
    calibrations: tuple[records.Calibration, ...]
    plan: records.PlanImage | None


def _quiet(_: str) -> None:
    """Progress that nobody watches."""


def analyze_job(
    field_book: Path,
    method: DetectMethod = DetectMethod.NETWORK,
    mm_per_px: float | None = None,
    local: Path | None = None,
    progress: Progress = _quiet,
    prices: Path | None = None,
) -> AnalyzedJob:
    """The whole walk: field book and photos to a finished record.

    ``method`` is the learned detector or plain filters, ``mm_per_px`` the resolution of the plan
    picture (chosen from the photos if None), ``local`` holds limits that replace or tighten the
    cited ones, ``prices`` is a price book of the firm's own in place of the invented one, and
    ``progress`` is told the name of each step as it begins.

    Raises
    ------
    SlabError
        Field book, a photo or its scale cannot be used; no slab is seen; no photo is named.
    """
    from analyzer import acquire, calibrate, detect, measure

    progress("reading the field book")
    field = acquire.read_field_book(field_book)
    if not field.photos:
        raise errors.FieldBookError(
            str(field_book), "names no photo", "add a [[photo]] entry, or use `slab assess`, which needs none"
        )
    photos = []
    for entry in field.photos:
        progress(f"reading photo {entry.photo_id}")
        photos.append(acquire.read_photo(field_book.parent / entry.file, entry.photo_id))
    progress("scaling the photos")
    calibrations = calibrate.calibrate_photos(photos, field)
    placed = [i for i, c in enumerate(calibrations) if c.has_plan_position]
    if not placed:
        raise errors.CalibrationError(
            str(field_book),
            "no photo has a place in plan, only close-ups",
            "add an overview photo with marker sheets or four marked points",
        )
    overview = [photos[i] for i in placed]
    overview_scale = [calibrations[i] for i in placed]
    progress("laying the photos on the plan")
    plan = calibrate.lay_plan_image(overview, overview_scale, field, mm_per_px)
    progress("finding joints and cracks")
    detection = detect.find_lines(plan, [(c.x_mm, c.y_mm) for c in field.outline], method)
    _refuse_if_not_a_slab(detection.slab_probability, str(field_book))
    progress("measuring")
    layout = measure.lay_out_panels(detection.joints, field, plan, max(c.scale_u_rel for c in overview_scale))
    survey = measure.size_cracks(detection, layout, overview, overview_scale, plan, field)
    for photo, calibration, entry in zip(photos, calibrations, field.photos, strict=True):
        if entry.closeup_of or entry.closeup_at_mm:
            progress(f"measuring on close-up {entry.photo_id}")
            traces = detect.detect_picture(
                photo.rgb, calibrate.mm_per_px_in_the_middle(photo, calibration), method=method
            )
            survey = measure.refine_by_closeup(survey, entry, photo, calibration, traces, field)
    unseen = plan.unseen_area_mm2 / plan.slab_area_mm2
    parameters = {"method": str(method), "mm_per_px": f"{plan.grid.mm_per_px:.3f}"}
    pictures = (photos, calibrations, plan, detection)
    record = _decide(field, layout, survey, unseen, *pictures, local, prices, progress, parameters)
    return AnalyzedJob(record, tuple(photos), tuple(calibrations), plan)


def assess_job(
    field_book: Path, local: Path | None = None, progress: Progress = _quiet, prices: Path | None = None
) -> AnalyzedJob:
    """The walk without photos: what was typed decides; unseen is unknown. Raises as :func:`analyze_job`."""
    from analyzer import acquire, measure

    progress("reading the field book")
    field = acquire.read_field_book(field_book, need_photos=False)
    layout = measure.lay_out_panels((), field, None, 0.0)
    survey = records.CrackSurvey((), ())
    parameters = {"method": "field book only"}
    record = _decide(field, layout, survey, None, (), (), None, None, local, prices, progress, parameters)
    return AnalyzedJob(record, (), (), None)


def _decide(
    field: records.FieldBook,
    layout: records.PanelLayout,
    survey: records.CrackSurvey,
    unseen_fraction: float | None,
    photos: Sequence[records.Photo],
    calibrations: Sequence[records.Calibration],
    plan: records.PlanImage | None,
    detection: records.Detection | None,
    local: Path | None,
    prices: Path | None,
    progress: Progress,
    parameters: dict[str, str],
) -> records.JobRecord:
    """From measured lines and typed readings to the finished record."""
    from analyzer import acquire, observe, propose, rate, score, takeoff, transmit

    progress("reading levels and heights")
    levels = observe.map_levels(field, layout)
    clearances = observe.read_clearances(field, levels)
    distress = observe.merge_distress(field, survey, layout, levels, unseen_fraction)
    progress("planning grades")
    plans = propose.plan_grades(levels, clearances, field, layout)
    progress("holding against limits")
    limits = rate.load_limits(local=local)
    findings = rate.compare(distress, layout, levels, clearances, plans, field, limits)
    progress("weighing the options")
    ranking = score.rank_options(findings, field, distress, layout, levels, plans, score.load_options())
    counted = takeoff.count_quantities(plans, layout, distress, field, levels=levels)
    bill = takeoff.price_bill(counted, takeoff.load_prices(prices) if prices else takeoff.load_prices())
    weights = detection.weights_sha256 if detection else None
    return records.JobRecord(
        provenance=transmit.collect_provenance(parameters, weights, (local, prices)),
        field=field,
        photos=tuple(acquire.note_photo(p) for p in photos),
        calibrations=tuple(calibrations),
        reaches=plan.reaches if plan else (),
        detection=detection,
        layout=layout,
        survey=survey,
        distress=distress,
        levels=levels,
        clearances=clearances,
        plans=plans,
        findings=findings,
        ranking=ranking,
        bill=bill,
    )


def file_job(
    job: AnalyzedJob, field_book: Path, out: Path, force: bool = False, progress: Progress = _quiet
) -> JobFolder:
    """Write the report and the job folder of a finished job, originals included.

    Raises
    ------
    OutputError
        The folder exists, cannot be written, the disk is full, or an original changed meanwhile.
    """
    from analyzer import transmit

    progress("writing the report")
    originals = {"field_book.toml": (field_book, job.record.field.sha256)}
    entries = {entry.photo_id: entry for entry in job.record.field.photos}
    for photo in job.photos:
        name = entries[photo.photo_id].file
        originals[name] = (field_book.parent / name, photo.sha256)
    files = transmit.report_files(job.record, job.photos, job.calibrations, job.plan, originals)
    return transmit.write_job(job.record, files, out, force)


def check_target(out: Path, force: bool) -> None:
    """Refuse an output folder before the work rather than after it.

    Raises
    ------
    OutputError
        The folder exists and may not be replaced, or its parent cannot be written to.
    """
    from analyzer.transmit.job_folder import is_job_folder
    from analyzer.transmit.safe_folder import check_target as check

    check(out, force, is_job_folder)


def detect_pictures(
    source: Path,
    out: Path,
    method: DetectMethod = DetectMethod.NETWORK,
    mm_per_px: float | None = None,
    force: bool = False,
    progress: Progress = _quiet,
) -> tuple[records.DetectedPicture, ...]:
    """Detect on one picture or on every picture of a folder, and write the score maps.

    A picture of a folder that cannot be read is reported in its line and the rest go on; a single
    picture that cannot be read is an error.

    Raises
    ------
    SlabError
        The source or the folder cannot be used.
    """
    from analyzer import acquire, detect, transmit

    single = not source.is_dir()
    paths = (source,) if single else acquire.list_pictures(source)
    if not paths:
        raise errors.PictureError(str(source), "holds no picture", "name a picture or a folder of pictures")
    stems = [path.stem for path in paths]
    lines = []
    with transmit.whole_folder(out, force, transmit.is_detection_folder) as part:
        for path in paths:
            progress(f"detecting on {path.name}")
            stem = path.stem if stems.count(path.stem) == 1 else path.name
            try:
                photo = acquire.read_picture(path)
            except errors.PictureError as error:
                if single:
                    raise
                lines.append(records.DetectedPicture(path.name, stem, 0, 0, None, 0.0, str(error)))
                continue
            traces = detect.detect_picture(photo.rgb, mm_per_px, method=method)
            transmit.write_detection(part, stem, photo.rgb, traces)
            counts = len(traces.cracks), len(traces.joints), traces.slab_probability, traces.crack_length_px
            lines.append(records.DetectedPicture(path.name, stem, *counts))
    return tuple(lines)


def write_target_sheets(paper: str, out: Path, force: bool = False) -> None:
    """Write the four numbered marker sheets as one PDF (``letter`` or ``a4``).

    Raises
    ------
    OutputError
        The file exists or cannot be written.
    """
    from analyzer import calibrate, transmit

    transmit.write_whole_file(out, transmit.target_sheets_pdf(calibrate.target_sheets(paper)), force)


def write_field_sheet(paper: str, out: Path, force: bool = False) -> None:
    """Write the pencil sheet as PDF (``letter`` or ``a4``); raises as :func:`write_target_sheets`."""
    from analyzer import transmit

    transmit.write_whole_file(out, transmit.field_sheet_pdf(paper), force)


def verify(folder: Path) -> Verification:
    """Check a job folder against its own sums; see :mod:`analyzer.transmit.job_folder`."""
    from analyzer import transmit

    return transmit.verify_job(folder)


def jobs(
    root: Path,
    word: str | None = None,
    since: str | None = None,
    until: str | None = None,
    recommendation: str | None = None,
) -> tuple[JobLine, ...]:
    """Job folders below ``root``; see :func:`analyzer.transmit.job_folder.list_jobs`."""
    from analyzer import transmit

    return transmit.list_jobs(root, word, since, until, recommendation)


def field_book_problems(field_book: Path) -> tuple[str, ...]:
    """Everything wrong in a field book and its photos' names, a sentence each; empty if it reads."""
    from analyzer import acquire

    try:
        acquire.read_field_book(field_book)
    except errors.ManyProblems as error:
        return tuple(str(problem) for problem in error.problems)
    except errors.SlabError as error:
        return (str(error),)
    return ()


def read_levels(field_book: Path) -> tuple[records.LevelMap | None, tuple[records.Clearance, ...]]:
    """Levels and heights beside the slab as typed, without deciding anything.

    Raises
    ------
    SlabError
        The field book cannot be used.
    """
    from analyzer import acquire, measure, observe

    field = acquire.read_field_book(field_book, need_photos=False)
    levels = observe.map_levels(field, measure.lay_out_panels((), field, None, 0.0))
    return levels, observe.read_clearances(field, levels)


def scale_photos(field_book: Path) -> tuple[records.Calibration, ...]:
    """Scale of every photo of a field book, without looking for lines; raises as :func:`analyze_job`."""
    from analyzer import acquire, calibrate

    field = acquire.read_field_book(field_book)
    photos = [acquire.read_photo(field_book.parent / e.file, e.photo_id) for e in field.photos]
    return calibrate.calibrate_photos(photos, field)


def upright_picture(photo_file: Path, long_side_px: int | None = None) -> tuple[bytes, int, int]:
    """JPEG of a photo as it stands upright, for a screen, with the rows and columns of the photo.

    Raises
    ------
    PictureError
        The photo cannot be read.
    """
    from analyzer import acquire, transmit

    rgb = acquire.read_picture(photo_file).rgb
    return transmit.plain_picture(rgb, long_side_px), rgb.shape[0], rgb.shape[1]


def samples() -> tuple[str, ...]:
    """Names of the shipped samples."""
    from analyzer import acquire

    return acquire.samples()


def sample_field_book(name: str | None = None) -> Path:
    """Field book of a shipped sample."""
    from analyzer import acquire

    return acquire.sample_field_book(name)


def field_book_schema() -> dict[str, Any]:
    """JSON Schema of the field book."""
    from analyzer import acquire

    return acquire.field_book_schema()


def blank_field_book() -> str:
    """A commented field book to fill in."""
    from analyzer import acquire

    return acquire.blank_field_book()


def told(record: records.JobRecord, folder: JobFolder | None, for_program: bool) -> str:
    """A finished job as text for a terminal, or as JSON."""
    from analyzer import transmit

    return transmit.job_json(record, folder) if for_program else "\n".join(transmit.job_lines(record, folder))


def told_plans(
    record: records.JobRecord, for_program: bool, out: Path | None = None, force: bool = False
) -> str:
    """Grades and quantities as text or JSON; drawings and set-out go into the folder ``out``, if given."""
    from analyzer import transmit

    files = transmit.write_plans(record, out, force) if out else ()
    if for_program:
        return transmit.plans_json(record, files)
    return "\n".join(transmit.plan_lines(record, files, str(out)))


def _refuse_if_not_a_slab(probability: float | None, source: str) -> None:
    """Stop rather than measure grass."""
    if probability is not None and probability < SLAB_PROBABILITY_MIN:
        raise errors.NotASlabError(
            source,
            f"the photos do not seem to show a concrete slab (probability {probability:.2f})",
            "check that the outline and the marks lie on the slab, or photograph it in even light",
            expected=SLAB_PROBABILITY_MIN,
            found=probability,
        )
