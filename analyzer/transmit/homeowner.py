"""The homeowner's page: the answer and its reasons in plain words, without prices or odds."""

from __future__ import annotations

import re
from collections.abc import Mapping

from analyzer.records import GradePlan, JobRecord, Reason
from analyzer.terms import Firmness, Headline
from analyzer.transmit.content import REASONS, Figure, Line, Ref, Section
from analyzer.transmit.decision_tables import loosened, question_ref
from analyzer.transmit.refs import FindingNumbers
from analyzer.transmit.writing import sentence
from analyzer.units import format_area, format_length, format_slope, format_width

HEADLINE = {
    Headline.OVERLAY: "Overlay: pour new concrete over the old slab",
    Headline.PATCH: "Patch: repair the slab and keep it",
    Headline.REMOVAL: "Removal: break the slab out and pour a new one",
    Headline.NONE_YET: "No recommendation yet",
}
FIRMNESS = {
    Firmness.FIRM: "What was measured points one way.",
    Firmness.LEANING: "What was measured points this way, but a missing or close reading could change it.",
    Firmness.OPEN: "What was measured does not settle it yet.",
}
NOT_A = (
    "It is not a code approval, not a warranty and not a structural opinion. Local codes and licensed "
    "people come first. Cracks in the old slab that still move will come through new concrete. Cracks "
    "thinner than the size named above cannot be seen in photos, so “none found” does not mean “none there”."
)
_WORKS = {
    "leave": "leave as it is",
    "keep": "leave as it is",
    "seal": "seal the cracks",
    "repair": "mend the bad spots",
    "grind": "grind down the edge",
    "lift": "lift it back",
    "replace": "take out and pour anew",
    "overlay": "pour over",
    "remove": "break out",
}
_MOST_UNKNOWN = 6
_MOST_FLIPS = 4
_MOST_REFS = 3
_SOURCE = re.compile(r"\s*\([^()]*(?:\([^()]*\)[^()]*)*\)\s*$")
_CLOSE = "too close to its limit to call"


def homeowner_page(
    record: JobRecord, numbers: FindingNumbers, pictures: Mapping[str, Figure]
) -> tuple[Section, ...]:
    """Sections in reading order; one without content is left out.

    ``pictures`` are those of the reasons, by sentence.
    """
    ranking = record.ranking
    plan = next((p for p in record.plans if p.option is ranking.option), None)
    found = [
        Section("First, these questions", lines=_questions(record)),
        Section("A local rule is looser", lines=loosened(record)),
        Section(REASONS[0], lines=_reasons(ranking.reasons_for, numbers, pictures)),
        Section(REASONS[1], lines=_reasons(ranking.reasons_against, numbers, pictures)),
        Section("What the new surface does", lines=_surface(record, plan)),
        Section("Panel by panel", lines=_panels(record)),
        Section("What it may come from", paragraphs=_may(record), lines=_causes(record, numbers)),
        Section("What was not seen or not measured", lines=_unknown(record, numbers)),
        Section("What to do next", lines=_next(record), ordered=True),
        Section("What would change the answer", lines=_flips(record, numbers)),
        Section("Take care", lines=tuple(Line(plain(c)) for c in ranking.cautions)),
        Section("What this report is not", paragraphs=(Line(NOT_A),)),
    ]
    return tuple(s for s in found if not s.empty)


def answer(record: JobRecord, numbers: FindingNumbers) -> Line:
    """The recommendation in a sentence, with the first reading behind each of its reasons."""
    open_stops = [question_ref(record, s.stop_id) for s in record.ranking.stops if s.blocks]
    if open_stops:
        return Line(record.ranking.sentence, tuple(open_stops))
    refs: dict[Ref, None] = {}
    for reason in record.ranking.reasons_for:
        refs.update(dict.fromkeys(numbers.refs(reason.finding_ids, 1)))
    if not refs:
        missing = " ".join(m for r in record.ranking.ratings for m in r.missing)
        refs.update(dict.fromkeys(numbers.about(missing, _MOST_REFS)))
    return Line(record.ranking.sentence, tuple(refs))


def plain(text: str) -> str:
    """A sentence without the names of its sources, which the estimator's tables keep."""
    shorter = _SOURCE.sub("", text)
    while shorter != text:
        text, shorter = shorter, _SOURCE.sub("", shorter)
    return sentence(text)


def plain_unknown(text: str) -> str:
    """What is not known, without limit and source: their row is named beside it."""
    head, _, rest = text.partition("; limit:")
    if rest and "not determined" in rest:
        return f"{head}: {_CLOSE}."
    return plain(head)


def _questions(record: JobRecord) -> tuple[Line, ...]:
    return tuple(
        Line(f"{s.question} {sentence(s.answer)} {s.reason}", (question_ref(record, s.stop_id),))
        for s in record.ranking.stops
        if s.blocks
    )


def _reasons(
    reasons: tuple[Reason, ...], numbers: FindingNumbers, pictures: Mapping[str, Figure]
) -> tuple[Line, ...]:
    return tuple(
        Line(r.sentence, numbers.refs(r.finding_ids, _MOST_REFS), figure=pictures.get(r.sentence))
        for r in reasons
    )


def _surface(record: JobRecord, plan: GradePlan | None) -> tuple[Line, ...]:
    """Thickness, fall and what is left at doors and steps, for the option advised."""
    if plan is None:
        return ()
    system = str(record.field.job.units)
    to_plan = (Ref("plan", f"plan-{plan.option.name.lower()}"),)
    thin, thick = (format_length(v, system) for v in (plan.thickness_min_mm, plan.thickness_max_mm))
    new = (
        f"The new concrete is {thin} thick"
        if thin == thick
        else f"The new concrete is {thin} to {thick} thick"
    )
    lines = [Line(f"{new}.", to_plan)]
    if plan.fall is not None:
        lines.append(
            Line(f"The surface falls {format_slope(plan.fall, system)}, so that water runs off.", to_plan)
        )
    for h in plan.heights_after:
        if h.before_mm is None or h.after_mm is None or abs(h.after_mm - h.before_mm) < 1.0:
            continue
        now, then = (_over(v, system) for v in (h.before_mm, h.after_mm))
        if now != then:
            what = sentence(f"{h.kind} {h.name}")[:-1]
            lines.append(Line(f"{what}: {now} now, {then} then.", to_plan))
    if plan.conflicts:
        lines.append(
            Line("Not every limit can be kept. The plan says which, and what would help.", to_plan, True)
        )
    return tuple(lines)


def _over(height_mm: float, system: str) -> str:
    """A height over or under the surface, without a sign."""
    side = "over the slab" if height_mm >= 0 else "below the slab"
    return f"{format_length(abs(height_mm), system)} {side}"


def _panels(record: JobRecord) -> tuple[Line, ...]:
    """Panels by what is to be done with them."""
    groups: dict[str, list[str]] = {}
    for action in record.ranking.panel_actions:
        works = [_WORKS.get(w, w) for w in action.action.split(" and ")]
        groups.setdefault(", ".join(works), []).append(action.panel_id)
    lines = []
    for told, ids in groups.items():
        listed = ids[0] if len(ids) == 1 else f"{', '.join(ids[:-1])} and {ids[-1]}"
        refs = tuple(Ref(i, f"panel-{i}") for i in ids[:_MOST_REFS])
        lines.append(Line(f"{'Panel' if len(ids) == 1 else 'Panels'} {listed}: {told}.", refs))
    return tuple(lines)


def _may(record: JobRecord) -> tuple[Line, ...]:
    if not _likely(record):
        return ()
    return (Line("Each of these is possible, no more. A laboratory or an engineer confirms."),)


def _likely(record: JobRecord) -> list[int]:
    return [k for k, c in enumerate(record.ranking.causes) if c.standing != "unlikely"]


def _causes(record: JobRecord, numbers: FindingNumbers) -> tuple[Line, ...]:
    lines = []
    for k in _likely(record):
        cause = record.ranking.causes[k]
        clues = " ".join(c.sentence for c in cause.clues_for[:2])
        ids = [i for c in cause.clues_for for i in c.finding_ids]
        going = " It may still go on." if cause.active else ""
        lines.append(
            Line(f"{sentence(cause.name)} {clues}{going} {cause.confirm}", numbers.refs(ids, _MOST_REFS))
        )
    return tuple(lines)


def _unknown(record: JobRecord, numbers: FindingNumbers) -> tuple[Line, ...]:
    """What stays unknown, with the sizes a photo could not show."""
    system = str(record.field.job.units)
    lines = []
    if record.reaches:
        sizes = [r.visible_width_mm for r in record.reaches]
        best, worst = (format_width(v, system) for v in (min(sizes), max(sizes)))
        size = f"about {worst}" if best == worst else f"{best} to {worst}, by photo,"
        lines.append(Line(f"Cracks finer than {size} cannot be seen in these photos."))
    else:
        lines.append(Line("No photo was used: what the field book does not name was not looked at."))
    unseen = record.distress.unseen_fraction
    if unseen and unseen >= 0.005:
        slab_mm2 = sum(p.area_mm2 for p in record.layout.panels)
        area = format_area(unseen * slab_mm2, system)
        lines.append(
            Line(f"No photo shows {unseen:.0%} of the slab ({area}). That part is unknown, not sound.")
        )
    told = dict.fromkeys(plain_unknown(u) for u in record.ranking.unknowns)
    refs = {plain_unknown(u): numbers.about(u, _MOST_REFS) for u in record.ranking.unknowns}
    lines += [Line(t, refs[t]) for t in list(told)[:_MOST_UNKNOWN]]
    if len(told) > _MOST_UNKNOWN:
        more = Ref("tables", "unknowns")
        lines.append(Line(f"And {len(told) - _MOST_UNKNOWN} more, in the tables.", (more,)))
    lines += [Line(sentence(f"{c.subject}: {c.sentence}")) for c in record.distress.contradictions]
    return tuple(lines)


def _next(record: JobRecord) -> tuple[Line, ...]:
    return tuple(
        Line(f"{sentence(m.what)[:-1]}: {m.why}. This takes {m.effort}.".replace("..", "."))
        for m in record.ranking.next_measurements
    )


def _flips(record: JobRecord, numbers: FindingNumbers) -> tuple[Line, ...]:
    known = {f.sentence: f for f in record.ranking.flips}
    texts = list(dict.fromkeys((*record.ranking.would_change, *known)))[:_MOST_FLIPS]
    return tuple(
        Line(t, numbers.behind(known[t], _MOST_REFS) if t in known else numbers.about(t, _MOST_REFS))
        for t in texts
    )
