"""What the report says, as plain text and tables, before it becomes HTML or PDF.

The homeowner's page comes first, the estimator's part under its own heading. Every number comes
from the record; nothing is computed here beyond writing a value in the units of the job.
"""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.records import JobRecord
from analyzer.terms import Headline, Option
from analyzer.transmit.content import Figure, ReportContent
from analyzer.transmit.estimator import estimator_part
from analyzer.transmit.homeowner import FIRMNESS, HEADLINE, answer, homeowner_page
from analyzer.transmit.refs import FindingNumbers


def build_report(
    record: JobRecord,
    lead: Figure,
    photos: tuple[Figure, ...] = (),
    drawings: Mapping[Option, tuple[Figure, ...]] | None = None,
    reasons: Mapping[str, Figure] | None = None,
) -> ReportContent:
    """Arrange the record for a reader who sees it for the first time.

    Parameters
    ----------
    record : JobRecord
        The finished job.
    lead : Figure
        The picture that comes first.
    photos : tuple of Figure
        Annotated photos and the plan, shown in the estimator's part.
    drawings : mapping of Option to figures, optional
        Drawings of the plans that are shown.
    reasons : mapping of str to Figure, optional
        Pictures of the reasons by their sentence.
    """
    job = record.field.job
    ranking = record.ranking
    numbers = FindingNumbers(record)
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
        headline=HEADLINE[ranking.headline],
        sentence=answer(record, numbers),
        firmness="" if ranking.headline is Headline.NONE_YET else FIRMNESS[ranking.firmness],
        lead_figure=lead,
        homeowner=homeowner_page(record, numbers, reasons or {}),
        estimator=estimator_part(record, numbers, photos, drawings or {}),
        footer=(
            f"{record.provenance.software} {record.provenance.version}, "
            f"written {record.provenance.created_at[:16].replace('T', ' ')} UTC"
        ),
    )
