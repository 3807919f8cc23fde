"""What the report says, as plain text and tables, before it becomes HTML or PDF.

Both renderings print this one content, so that paper and screen cannot differ. Every number comes
from the record; nothing is computed here beyond writing a value in the units of the job.
"""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.records import Finding, JobRecord
from analyzer.terms import Firmness, Headline, Verdict
from analyzer.transmit import tables
from analyzer.transmit.tables import Table
from analyzer.units import format_area, format_width

_FIRMNESS = {
    Firmness.FIRM: "What was measured points one way.",
    Firmness.LEANING: "What was measured points this way, but a missing or close reading could change it.",
    Firmness.OPEN: "What was measured does not settle it yet.",
}
_HEADLINE = {
    Headline.OVERLAY: "Overlay: pour new concrete over the old slab",
    Headline.PATCH: "Patch: repair the slab and keep it",
    Headline.REMOVAL: "Removal: break the slab out and pour a new one",
    Headline.NONE_YET: "No recommendation yet",
}


@dataclass(frozen=True, slots=True)
class Figure:
    """A picture of the report. ``data`` is SVG text as bytes or a JPEG; ``name`` its file name."""

    name: str
    media_type: str
    data: bytes
    alt: str
    caption: str


@dataclass(frozen=True, slots=True)
class Section:
    """A heading with paragraphs, bullets and tables under it."""

    title: str
    paragraphs: tuple[str, ...] = ()
    bullets: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    figures: tuple[Figure, ...] = ()


@dataclass(frozen=True, slots=True)
class ReportContent:
    """The whole report in reading order."""

    title: str
    facts: tuple[tuple[str, str], ...]
    invented: bool
    headline: str
    sentence: str
    firmness: str
    lead_figure: Figure
    sections: tuple[Section, ...]
    footer: str


def build_report(
    record: JobRecord, lead: Figure, photos: tuple[Figure, ...], grades: tuple[Figure, ...]
) -> ReportContent:
    """Arrange the record for a reader who sees it for the first time.

    Parameters
    ----------
    record : JobRecord
        The finished job.
    lead : Figure
        The picture that comes first.
    photos, grades : tuple of Figure
        Annotated photos, and drawings of thicknesses, shown further back.
    """
    job = record.field.job
    ranking = record.ranking
    facts = (
        ("Job", job.job_id),
        ("Visited", job.date.isoformat()),
        ("By", job.by),
        ("Surface", str(job.surface)),
        *((("Weather", job.weather),) if job.weather else ()),
    )
    return ReportContent(
        title=job.title,
        facts=facts,
        invented=job.invented,
        headline=_HEADLINE[ranking.headline],
        sentence=ranking.sentence,
        firmness="" if ranking.headline is Headline.NONE_YET else _FIRMNESS[ranking.firmness],
        lead_figure=lead,
        sections=_sections(record, photos, grades),
        footer=(
            f"{record.provenance.software} {record.provenance.version}, "
            f"written {record.provenance.created_at[:16].replace('T', ' ')} UTC"
        ),
    )


def _sections(
    record: JobRecord, photos: tuple[Figure, ...], grades: tuple[Figure, ...]
) -> tuple[Section, ...]:
    """All sections in order; a section without content is left out."""
    ranking = record.ranking
    found = [
        Section("Questions that come first", bullets=tuple(_stop_lines(record))),
        Section("Why", bullets=tuple(r.sentence for r in ranking.reasons_for)),
        Section("What speaks against it", bullets=tuple(r.sentence for r in ranking.reasons_against)),
        Section("Panel by panel", tables=tables.panel_actions(record)),
        Section("What was not seen or not measured", bullets=tuple(_unknown_lines(record))),
        Section(
            "What to do next",
            bullets=tuple(f"{m.what}: {m.why} (effort: {m.effort})" for m in ranking.next_measurements),
        ),
        Section("What would change the answer", bullets=ranking.would_change),
        Section("Take care", bullets=ranking.cautions),
        Section("What this report is not", paragraphs=(_NOT_A,)),
        Section("Photos", figures=photos),
        Section("The other options", tables=tables.options(record)),
        Section("Cracks", paragraphs=_crack_notes(record), tables=tables.cracks(record)),
        Section("Panels and joints", tables=tables.panels(record)),
        Section("Levels", tables=tables.levels(record)),
        Section("Heights and new grades", tables=tables.heights(record), figures=grades),
        Section("Quantities", paragraphs=record.bill.notes, tables=tables.quantities(record)),
        Section("What was held against which limit", paragraphs=(_LIMITS,), tables=tables.findings(record)),
        Section("Where this comes from", tables=tables.evidence(record)),
    ]
    return tuple(s for s in found if s.paragraphs or s.bullets or s.tables or s.figures)


_NOT_A = (
    "It is not a code approval, not a warranty and not a structural opinion. Local codes and the "
    "people licensed to apply them come before it. Cracks in the old slab that still move will "
    "come through new concrete. Cracks thinner than the size stated above cannot be seen in these "
    "photos, so “none found” does not mean “none there”."
)
_LIMITS = (
    "“Within” and “exceeds” are said only where the reading leaves less than one chance in twenty "
    "of the other; everything between is “not determined”. Limits written for road or airfield "
    "pavement are marked: on a slab for people on foot they never decide alone. “From memory” means "
    "that the text of the source was not at hand when the limit was entered."
)


def _stop_lines(record: JobRecord) -> list[str]:
    """Open stops first, then those that were answered or cleared."""
    lines = []
    for stop in sorted(record.ranking.stops, key=lambda s: not s.blocks):
        cleared = f" Cleared by {stop.cleared_by}." if stop.cleared_by else ""
        state = "Open" if stop.blocks else "Answered"
        reason = f" {stop.reason}" if stop.blocks else ""
        lines.append(f"{state}: {stop.question} {stop.answer}.{reason}{cleared}")
    return lines


def _unknown_lines(record: JobRecord) -> list[str]:
    """What stays unknown, with the sizes a photo could not show."""
    system = str(record.field.job.units)
    lines = []
    for reach in record.reaches:
        lines.append(
            f"Photo {reach.photo_id}: cracks finer than about {format_width(reach.visible_width_mm, system)} "
            f"cannot be seen in it, and widths under about {format_width(reach.measurable_width_mm, system)} "
            "cannot be measured on it."
        )
    if record.distress.unseen_fraction:
        slab_mm2 = sum(p.area_mm2 for p in record.layout.panels)
        unseen = record.distress.unseen_fraction
        lines.append(
            f"No photo shows {unseen:.0%} of the slab ({format_area(unseen * slab_mm2, system)}): "
            "that part is unknown, not sound."
        )
    if not record.reaches:
        lines.append("No photo was used: what the field book does not name was not looked at.")
    lines += list(record.ranking.unknowns)
    lines += [f"{c.subject}: {c.sentence}" for c in record.distress.contradictions]
    return lines


def _crack_notes(record: JobRecord) -> tuple[str, ...]:
    """How the cracks were found, for the estimator."""
    if record.detection is None:
        return ("No photo was used; these cracks were written down on site.",)
    return (
        f"Found on photos by the {record.detection.method} method. A crack gauge outranks the photo. "
        "Plus-or-minus values are standard uncertainties.",
    )


def strongest(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings in the order a reader wants them: exceeded, not determined, within."""
    order = {Verdict.EXCEEDS: 0, Verdict.NOT_DETERMINED: 1, Verdict.WITHIN: 2}
    return tuple(sorted(findings, key=lambda f: order[f.verdict]))
