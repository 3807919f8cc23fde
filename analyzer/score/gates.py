"""Stops first, then hard requirements: what refuses an option, what is missing, what only has to be said."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.phrase_tables import ENGLISH, Phrases
from analyzer.records import FieldBook, Finding, GradePlan, Refusal, Stop
from analyzer.score.evidence import Bool, Evidence, Worlds
from analyzer.score.facts import Facts
from analyzer.score.options import Gate, Rules, ShareGate
from analyzer.terms import Abuts, Answer, HeightKind, Option, Verdict
from analyzer.units import MM_PER_IN, format_length, format_slope, format_width

_OVERLAYS = (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED)
_HOUSE_KINDS = (
    HeightKind.DOOR_SILL,
    HeightKind.GARAGE_FLOOR,
    HeightKind.RISER,
    HeightKind.SIDING,
    HeightKind.WEEP_SCREED,
)
_LIKELY = 0.5 + 1e-9
_KEPT = 1e-6
# Clearances that are below zero where the slab stands higher than what they are measured to.
_LETS_WATER_IN = ("door_weather_step", "garage_step")
_STANDS_OVER = (*_LETS_WATER_IN, "siding_gap", "weep_gap", "gate_gap")
_DIFFERENCES = ("riser_spread", "adjacent_riser_difference")
_ANSWERS = {Answer.YES: "yes", Answer.NO: "no", Answer.UNKNOWN: "not answered"}


@dataclass(frozen=True, slots=True)
class Verdicts:
    """Outcome of the gates for one option.

    ``refusals`` put it out. ``missing`` are quantities without which it cannot be admitted,
    ``notes`` those that only keep the answer from being firm; both as (quantity, sentence).
    """

    refusals: tuple[Refusal, ...]
    missing: tuple[tuple[str, str], ...]
    notes: tuple[tuple[str, str], ...]

    @property
    def admissible(self) -> bool | None:
        """True, False, or None where it cannot be told yet."""
        if self.refusals:
            return False
        return None if self.missing else True


def check_stops(field: FieldBook, rules: Rules) -> tuple[Stop, ...]:
    """The questions that come before any advice, each with its answer and whether it blocks.

    Only a plain "no" passes. "Yes" and an open question block alike, until a licensed person has
    cleared that stop by name.
    """
    clearings = {clearing.stop: clearing for clearing in field.stops.clearings}
    stops = []
    for rule in rules.stops:
        answer: Answer = getattr(field.stops, rule.id)
        cleared = clearings.get(rule.id)
        stops.append(
            Stop(
                stop_id=rule.id,
                question=rule.question,
                answer=_ANSWERS[answer],
                blocks=answer is not Answer.NO and cleared is None,
                reason=rule.reason,
                cleared_by=f"{cleared.who}, {cleared.date.isoformat()}: {cleared.says}" if cleared else None,
                source=rule.source,
            )
        )
    return tuple(stops)


def check_gates(
    evidence: Evidence,
    nominal: Facts,
    bounds: Facts,
    field: FieldBook,
    plans: Sequence[GradePlan],
    rules: Rules,
) -> Mapping[Option, Verdicts]:
    """Hold every option against every hard requirement.

    Parameters
    ----------
    evidence : Evidence
    nominal, bounds : Facts
        Of the likeliest world, and of the kindest and harshest (N = 2) that the verdicts allow.
    field, plans, rules

    Returns
    -------
    mapping of Option to Verdicts
        A missing reading never passes: it is in ``missing`` or in ``notes``.
    """
    by_option = {plan.option: plan for plan in plans}
    damaged = any(float(bounds.values[f"{name}_share"][1]) > 0 for name in ("broken", "settled", "cracked"))
    return {
        option: _check(option, evidence, nominal, bounds, field, by_option.get(option), damaged, rules)
        for option in rules.options
    }


def refused_in(
    worlds: Worlds, facts: Facts, evidence: Evidence, plans: Sequence[GradePlan], rules: Rules
) -> Bool:
    """(N, options): whether each option is refused in each world, the missing readings drawn."""
    refused = np.zeros((worlds.count, len(rules.options)), dtype=bool)
    conflicts = {plan.option: bool(plan.conflicts) for plan in plans}
    for column, option in enumerate(rules.options):
        for gate in rules.gates:
            if option in gate.options and gate.exceeds == "refuse":
                indices = _relevant(gate, option, evidence)
                for index in indices:
                    refused[:, column] |= worlds.exceeds[:, index]
        for share in rules.shares:
            if option in share.options:
                refused[:, column] |= facts.values[share.fact] > share.max
        if option in _OVERLAYS and conflicts.get(option, False):
            refused[:, column] = True
    return refused


def _relevant(gate: Gate, option: Option, evidence: Evidence) -> tuple[int, ...]:
    """Findings a gate looks at. One that does not bind here (a road limit under feet) never refuses alone."""
    indices = evidence.of(gate.limits, option if gate.when == "after" else None)
    return tuple(i for i in indices if evidence.findings[i].binding)


def _check(
    option: Option,
    evidence: Evidence,
    nominal: Facts,
    bounds: Facts,
    field: FieldBook,
    plan: GradePlan | None,
    damaged: bool,
    rules: Rules,
) -> Verdicts:
    say = rules.phrases
    refusals: list[Refusal] = []
    missing: dict[str, str] = {}
    notes: dict[str, str] = {}
    hurt = float(bounds.values["broken_share"][0] + bounds.values["settled_share"][0]) > 0.0
    for gate in rules.gates:
        if option not in gate.options:
            continue
        hit = []
        for index in _relevant(gate, option, evidence):
            finding = evidence.findings[index]
            quantity = finding.limit.quantity
            if finding.verdict is Verdict.WITHIN:
                continue
            if finding.verdict is Verdict.EXCEEDS:
                hit.append(finding)
            elif finding.probability is None:
                blocks = gate.missing == "blocks" or (gate.missing == "damaged" and damaged)
                (missing if blocks else notes)[quantity] = without_source(finding)
            elif finding.probability > _LIKELY:
                missing[quantity] = without_source(finding)
            else:
                notes[quantity] = without_source(finding)
        if hit:
            short = "; ".join(in_short(finding, field, say) for finding in hit[:2])
            told = say("reason.gate", reason=gate.reason, told=short)
            if gate.exceeds == "undecided":
                missing[hit[0].limit.quantity] = told
            elif gate.exceeds == "cause":
                (notes if hurt else missing)["cause"] = told
            else:
                refusals.append(Refusal(told, tuple(finding.finding_id for finding in hit)))
    for share in rules.shares:
        if option in share.options:
            _check_share(share, nominal, bounds, evidence, refusals, missing, notes, say)
    if option in _OVERLAYS:
        _check_plan(plan, field, refusals, missing, notes, say)
    if field.site.use is None:
        notes["use"] = say("missing.use")
    return Verdicts(
        tuple(refusals), tuple(missing.items()), (*notes.items(), *_needed(option, evidence, rules))
    )


def _needed(option: Option, evidence: Evidence, rules: Rules) -> tuple[tuple[str, str], ...]:
    """What has to be known of every panel before the advice is firm, and is open."""
    return tuple(
        (finding.limit.quantity, without_source(finding))
        for need in rules.needs
        if option in need.options
        for finding in (evidence.findings[i] for i in evidence.of(rules.limits_of(need.signals)))
        if finding.verdict is Verdict.NOT_DETERMINED
    )


def _check_share(
    share: ShareGate,
    nominal: Facts,
    bounds: Facts,
    evidence: Evidence,
    refusals: list[Refusal],
    missing: dict[str, str],
    notes: dict[str, str],
    say: Phrases,
) -> None:
    """Refuse on what is sure, ask for what is open: the share between the kindest and the harshest world."""
    low, high = (float(value) for value in bounds.values[share.fact])
    likely = float(nominal.values[share.fact][0])
    if low > share.max:
        told = say("reason.share", low=f"{low * 100:.0f}", most=f"{share.max * 100:.0f}")
        ids = tuple(f.finding_id for f in evidence.findings if _about_breaking(f))
        refusals.append(Refusal(say("reason.gate", reason=share.reason, told=told), ids))
        return
    open_quantities = _open_quantities(evidence)
    if likely > share.max or (high > share.max and high - low > share.known_within):
        for quantity in open_quantities or ("pieces",):
            missing.setdefault(quantity, _not_known(quantity, evidence, say))
    elif high > share.max:
        for quantity in open_quantities or ("pieces",):
            notes.setdefault(quantity, _not_known(quantity, evidence, say))


def _not_known(quantity: str, evidence: Evidence, say: Phrases) -> str:
    """Which answer is missing, or too close to call, of those that tell how much is broken."""
    close = all(
        finding.probability is not None
        for finding in evidence.findings
        if finding.limit.quantity == quantity and finding.verdict is Verdict.NOT_DETERMINED
    )
    return say("reason.broken close" if close else "reason.broken open", what=say(f"open.{quantity}"))


_BREAKING = ("pieces", "rocking", "crack_width", "crack_faulting", "settlement", "level_change")


def _about_breaking(finding: Finding) -> bool:
    return (
        finding.option is None and finding.limit.quantity in _BREAKING and finding.verdict is Verdict.EXCEEDS
    )


def _open_quantities(evidence: Evidence) -> tuple[str, ...]:
    """Quantities on which the state of the panels hangs and that are open, the most often open first."""
    counts: dict[str, int] = {}
    for finding in evidence.findings:
        quantity = finding.limit.quantity
        if finding.option is None and quantity in _BREAKING and finding.verdict is Verdict.NOT_DETERMINED:
            counts[quantity] = counts.get(quantity, 0) + 1
    return tuple(sorted(counts, key=lambda quantity: -counts[quantity]))


def _check_plan(
    plan: GradePlan | None,
    field: FieldBook,
    refusals: list[Refusal],
    missing: dict[str, str],
    notes: dict[str, str],
    say: Phrases,
) -> None:
    """An overlay needs levels, a plan without conflict, and all heights beside the slab."""
    if plan is None or not plan.levels_known:
        missing["fall"] = say("missing.levels")
    elif plan.conflicts:
        refusals.append(
            Refusal(say("missing.conflicts", conflicts=_conflicts(plan, field.job.units, say)), ())
        )
    if field.slab.heights_listed is Answer.YES:
        return
    at_house = any(edge.abuts is Abuts.HOUSE for edge in field.edges)
    said = len([edge for edge in field.edges if edge.abuts is not Abuts.UNKNOWN]) >= len(field.outline)
    measured = any(height.kind in _HOUSE_KINDS and height.above_slab is not None for height in field.heights)
    told = say("missing.heights")
    if field.slab.heights_listed is Answer.NO or ((at_house or not said) and not measured):
        missing["heights"] = told
    else:
        notes["heights"] = told


def in_short(finding: Finding, field: FieldBook, say: Phrases) -> str:
    """Subject, value and limit of a finding in a few plain words."""
    if finding.limit.unit == "answer" or finding.value is None:
        said = say("answer.yes" if finding.value else "answer.no")
        return say("reason.answered", answer=said, about=first_lower(finding.statement.split(":")[0]))
    over = finding.value < 0.0 and finding.limit.quantity in _STANDS_OVER
    value, limit = (
        _written(number, finding.unit, field, say)
        for number in (abs(finding.value) if over else finding.value, finding.limit.value)
    )
    key = "value"
    if over:
        key = "over water" if finding.limit.quantity in _LETS_WATER_IN else "over"
    elif finding.limit.quantity in _DIFFERENCES:
        key = "difference"
    return say(f"reason.{key}", subject=subject_in(finding.subject, say, field), value=value, limit=limit)


def without_source(finding: Finding) -> str:
    """The finding's sentence without the name of its limit, which the estimator's tables keep."""
    start = finding.statement.find(f" ({finding.limit.limit_id.split('.')[0]}, ")
    if start < 0:
        return finding.statement
    end = finding.statement.index(")", start)
    return finding.statement[:start] + finding.statement[end + 1 :]


def subject_in(subject: str, say: Phrases, field: FieldBook | None = None) -> str:
    """What a finding is about in words; names that people gave stay.

    An edge of the ``field`` book is named by what it lies against: "the edge at the house (C-D)".
    """
    for edge in field.edges if field is not None else ():
        if subject == f"edge {edge.name}":
            return say("subject.edge at", abuts=say(f"abuts.{edge.abuts}"), edge=edge.name)
    if say.language == ENGLISH:
        return subject
    for start, word in say.of("subject").items():
        if subject == start:
            return word
        if subject.startswith(f"{start} "):
            rest = subject[len(start) :]
            return word + (rest.replace(" at ", ", ") if start == "step" else rest)
    return subject


def first_lower(text: str) -> str:
    """For the middle of a sentence; names further on keep their capitals."""
    return text[:1].lower() + text[1:]


def _written(value: float, unit: str, field: FieldBook, say: Phrases) -> str:
    if unit == "in":
        return format_length(value * MM_PER_IN, field.job.units)
    if unit == "fraction":
        return f"{value * 100:.0f} %"
    if unit == "mm":
        return format_width(value, field.job.units)
    return f"{value:.3g} {say.word('unit', unit)}"


def _conflicts(plan: GradePlan, system: str, say: Phrases) -> str:
    """Which limits cannot be kept: as the plan tells it, in other languages by what it falls short."""
    if say.language == ENGLISH:
        return " ".join(_sentence(text) for text in plan.conflicts)
    told = " ".join(plan.conflicts)
    short = [held for held in plan.requirements if held.room < -_KEPT and held.sentence in told]
    if not short:
        return say("conflict.count", count=len(plan.conflicts))
    parts = []
    for held in short:
        by = format_slope(-held.room, "metric") if held.unit == "slope" else format_length(-held.room, system)
        parts.append(say("conflict.short", what=_requirement(held.name, say), by=by))
    return "; ".join(parts) + "."


def _requirement(name: str, say: Phrases) -> str:
    for start in sorted(say.of("requirement"), key=len, reverse=True):
        if name.startswith(start):
            return say(f"requirement.{start}", at=name[len(start) :].strip())
    return say("conflict.height", at=subject_in(name.split(",")[0], say))


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else text + "."
