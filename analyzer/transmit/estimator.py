"""The estimator's part: decision, plan, order and prices, measurements, findings with sources."""

from __future__ import annotations

from collections.abc import Mapping

from analyzer.records import GradePlan, JobRecord
from analyzer.terms import Option
from analyzer.transmit import decision_tables, order_tables, plan_tables, tables
from analyzer.transmit.content import Figure, Line, Section
from analyzer.transmit.refs import FindingNumbers
from analyzer.transmit.writing import sentence
from analyzer.units import format_area, format_width

_LIMITS = (
    "“Within” and “exceeded” are said only where the reading leaves less than one chance in twenty "
    "of the other; everything between is “not determined”. Limits written for road or airfield "
    "pavement are marked: on a slab for people on foot they never decide alone. “From memory” means "
    "that the text of the source was not at hand when the limit was entered. The last word of each "
    "row is the limit's name in the tool's table of limits."
)
_LEAST_UNSEEN = 0.0005
_NO_WORK = "Questions that come first are open: what follows is no advice to pour, saw, core or break out."


def shown_plans(record: JobRecord) -> tuple[GradePlan, ...]:
    """Plans that the report draws: of the option advised, or of all still open where none is.

    None while a question that comes first is open.
    """
    ranking = record.ranking
    if any(s.blocks for s in ranking.stops):
        return ()
    if ranking.option is not None:
        return tuple(p for p in record.plans if p.option is ranking.option)
    refused = {r.option for r in ranking.ratings if r.admissible is False}
    return tuple(p for p in record.plans if p.option not in refused)


def estimator_part(
    record: JobRecord,
    numbers: FindingNumbers,
    photos: tuple[Figure, ...],
    drawings: Mapping[Option, tuple[Figure, ...]],
) -> tuple[Section, ...]:
    """Sections in reading order; one without content is left out.

    ``photos`` are annotated photos and the plan, ``drawings`` those of the shown plans.
    """
    ranking = record.ranking
    blocked = any(s.blocks for s in ranking.stops)
    caution = (Line(_NO_WORK, strong=True),) if blocked else ()
    system = str(record.field.job.units)
    plans = [_plan(record, p, system, drawings.get(p.option, ())) for p in shown_plans(record)]
    slips = tuple(t for p in shown_plans(record) for t in order_tables.slip(record, p.option))
    loosened = decision_tables.loosened(record)
    found = [
        Section("Questions that come first", tables=decision_tables.stops(record)),
        Section("Local limits", paragraphs=loosened, tables=decision_tables.local_limits(record)),
        Section("The options", tables=decision_tables.options(record, numbers)),
        Section("Panel by panel", tables=decision_tables.panel_actions(record, numbers)),
        Section("Possible causes", tables=decision_tables.causes(record, numbers)),
        Section("What is not known", lines=_unknowns(record, numbers), anchor="unknowns"),
        Section("What to measure next", tables=decision_tables.next_readings(record)),
        Section("What would change the answer", tables=decision_tables.flips(record, numbers)),
        Section("Cautions and their sources", lines=tuple(Line(c) for c in ranking.cautions)),
        Section("Heights and new grades", paragraphs=caution, tables=plan_tables.heights(record)),
        *plans,
        Section(
            "Quantities and order",
            paragraphs=(*caution, *(Line(n) for n in record.bill.notes)),
            tables=order_tables.quantities(record) + order_tables.orders(record),
        ),
        Section("Order slip and the day's list", tables=slips),
        Section(
            "Prices", paragraphs=order_tables.invented_prices(record), tables=order_tables.prices(record)
        ),
        Section("Photos and plan", figures=photos, pairs=True),
        Section("Cracks", paragraphs=_crack_notes(record), tables=tables.cracks(record)),
        Section("Panels and joints", tables=tables.panels(record)),
        Section("Levels", tables=tables.levels(record)),
        Section(
            "What was held against which limit",
            paragraphs=(Line(_LIMITS),),
            tables=decision_tables.findings(record, numbers),
        ),
        Section("Where this comes from", tables=tables.evidence(record)),
    ]
    return tuple(s for s in found if not s.empty)


def _plan(record: JobRecord, plan: GradePlan, system: str, drawings: tuple[Figure, ...]) -> Section:
    """Everything to price, order and set out one option."""
    lines = [Line(c, strong=True) for c in plan.conflicts]
    lines += [Line(r) for r in plan.relaxations]
    lines += [Line(sentence(n)) for n in plan.notes]
    if plan.setout is not None:
        broken = not plan.setout.satisfied
        lines += [Line(sentence(n), strong=broken and k > 0) for k, n in enumerate(plan.setout.notes)]
    lines += [Line(f"Assumed: {a}") for a in plan.assumptions]
    return Section(
        f"Plan: {plan.option}",
        lines=tuple(lines),
        figures=drawings,
        tables=(
            *plan_tables.set_out(plan, system),
            *plan_tables.requirements(plan, system),
            *plan_tables.joints(plan, system),
            *plan_tables.breaks_and_grinding(plan, system),
        ),
        anchor=f"plan-{plan.option.name.lower()}",
    )


def _unknowns(record: JobRecord, numbers: FindingNumbers) -> tuple[Line, ...]:
    """Everything unknown with its finding, what each photo cannot show, what contradicts."""
    system = str(record.field.job.units)
    lines = [Line(u, numbers.about(u)) for u in record.ranking.unknowns]
    for r in record.reaches:
        seen, sized = (format_width(v, system) for v in (r.visible_width_mm, r.measurable_width_mm))
        lines.append(
            Line(
                f"Photo {r.photo_id}: cracks finer than about {seen} cannot be seen in it, and widths under "
                f"about {sized} cannot be measured on it."
            )
        )
    if record.distress.unseen_fraction and record.distress.unseen_fraction >= _LEAST_UNSEEN:
        slab_mm2 = sum(p.area_mm2 for p in record.layout.panels)
        area = format_area(record.distress.unseen_fraction * slab_mm2, system)
        lines.append(Line(f"No photo shows {record.distress.unseen_fraction:.1%} of the slab ({area})."))
    lines += [
        Line(sentence(f"{c.subject}: {c.sentence}"), strong=True) for c in record.distress.contradictions
    ]
    return tuple(lines)


def _crack_notes(record: JobRecord) -> tuple[Line, ...]:
    """How the cracks were found."""
    if record.detection is None:
        return (Line("No photo was used; these cracks were written down on site."),)
    return (
        Line(
            f"Found on photos by the {record.detection.method} method. A crack gauge outranks the photo. "
            "Plus-or-minus values are standard uncertainties; “certainty” is that of the detector."
        ),
    )
