"""The ranking in words: the sentence, reasons for and against, what is unknown, what to measure next.

Every sentence carries a number or names what is unknown, and the findings it rests on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyzer import units
from analyzer.records import (
    Contribution,
    DistressSummary,
    FieldBook,
    GradePlan,
    LevelMap,
    Measurement,
    OptionRating,
    PanelAction,
    Reason,
    Stop,
)
from analyzer.score.evidence import Evidence
from analyzer.score.facts import Facts, Layout
from analyzer.score.gates import Verdicts, first_lower
from analyzer.score.options import Rules
from analyzer.terms import Option, Verdict

_MOST = 3
_WORN_PCT = 2.0
_TELLING = 1.0
_REFUSED = 30.0
_EFFORT = "work it takes"
_VERBS = (
    ("replace", "replace"),
    ("lift", "lift"),
    ("grind", "grind the edge of"),
    ("repair", "mend spots in"),
    ("seal", "seal cracks in"),
)
_NAMES = {
    Option.PATCH: "a repair",
    Option.OVERLAY_BONDED: "a bonded overlay",
    Option.OVERLAY_UNBONDED: "an unbonded overlay",
    Option.REMOVAL: "a new slab",
}


def fact_words(
    facts: Facts,
    laid: Layout,
    evidence: Evidence,
    levels: LevelMap | None,
    field: FieldBook,
) -> dict[str, str]:
    """Numbers of the likeliest world for the sentences of the criteria."""
    system = field.job.units
    words = {"panel_count": str(len(laid.panel_ids))}
    for name in ("broken", "settled", "cracked"):
        words[f"{name}_count"] = str(int(facts.states[name][0].sum()))
        words[f"{name}_pct"] = f"{float(facts.values[f'{name}_share'][0]) * 100:.0f}"
    for name in ("sound", "worn", "hollow"):
        words[f"{name}_pct"] = f"{float(facts.values[f'{name}_share'][0]) * 100:.0f}"
    slopes = [edge.slope for edge in levels.edges if edge.abuts == "house"] if levels else []
    if slopes:
        words["fall_text"] = f"{min(slopes) * 100:.1f} %"
    else:
        words["fall_text"] = f"{levels.fall * 100:.1f} %" if levels else "unknown, as nobody levelled it,"
    ponds = [
        f.value for f in evidence.findings if f.limit.quantity == "ponding_depth" and f.value is not None
    ]
    depth = max(ponds, default=0.0)
    words["pond_text"] = f"{depth:.2f} in" if depth > 0.05 else "how deep is unknown, not"
    words["step_text"] = _extreme(evidence, ("riser_height", "door_drop"), max, system)
    words["clear_text"] = _extreme(
        evidence, ("door_weather_step", "weep_gap", "siding_gap", "garage_step"), min, system
    )
    return words


def headline_sentence(
    option: Option,
    plan: GradePlan | None,
    actions: Sequence[PanelAction],
    words: Mapping[str, str],
    field: FieldBook,
) -> str:
    """The recommendation in a sentence, with its numbers."""
    system = field.job.units
    if option in (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED):
        bond = "bonded to it" if option is Option.OVERLAY_BONDED else "kept apart from it by a layer between"
        if plan is None:
            return f"Pour a new slab over the old one, {bond}; its thickness is unknown."
        thin = units.format_length(plan.thickness_min_mm, system)
        thick = units.format_length(plan.thickness_max_mm, system)
        extra = [action.panel_id for action in actions if "replace" in action.action]
        first = f" Replace {_listed(extra)} at once." if extra else ""
        return f"Pour a new slab over the old one, {bond}, {thin} to {thick} thick.{first}"
    if option is Option.REMOVAL:
        broken, settled, total = (words[f"{name}_count"] for name in ("broken", "settled", "panel"))
        state = f"Broken: {broken} of {total} panels; settled: {settled} more."
        return f"Break the slab out and pour a new one. {state}"
    parts = []
    touched: set[str] = set()
    for name, verb in _VERBS:
        ids = [action.panel_id for action in actions if name in action.action.split(" and ")]
        touched.update(ids)
        if ids:
            parts.append(f"{verb} {_listed(ids)}")
    total = words["panel_count"]
    mended = any("repair" in action.action for action in actions)
    if float(words["worn_pct"]) >= _WORN_PCT and not mended:
        parts.append(f"mend and seal the worn surface ({words['worn_pct']} % of it)")
    if not parts:
        return f"Leave the slab and keep its joints sealed: 0 of {total} panels need more."
    return f"Repair the slab: {', '.join(parts)}; {int(total) - len(touched)} of {total} panels need no more."


def stopped_sentence(stops: Sequence[Stop]) -> str:
    """Which answers are missing or bad, before any advice."""
    unanswered = [stop for stop in stops if stop.blocks and stop.answer == "not answered"]
    bad = [stop for stop in stops if stop.blocks and stop.answer != "not answered"]
    parts = []
    if bad:
        names = ", ".join(stop.stop_id.replace("_", " ") for stop in bad)
        parts.append(f"{len(bad)} answered with yes ({names}): an engineer has to clear it first")
    if unanswered:
        names = ", ".join(stop.stop_id.replace("_", " ") for stop in unanswered)
        parts.append(f"{len(unanswered)} not answered ({names})")
    return f"No recommendation yet. Of {len(stops)} questions that come first: {'; '.join(parts)}."


def open_sentence(ratings: Sequence[OptionRating], best: Option | None, rival: Option | None) -> str:
    """Why there is no recommendation although no stop is open."""
    missing = dict.fromkeys(text for rating in ratings for text in rating.missing)
    told = f" Readings that are missing or too close to call: {len(missing)}." if missing else ""
    if rival is not None and best is not None:
        between = f"between {_NAMES[best]} and {_NAMES[rival]}"
        return f"No recommendation yet {between}.{told or ' 2 options are too close.'}"
    if best is not None:
        return (
            f"No recommendation yet: {_NAMES[best]} leads by too little.{told or ' 2 options are too close.'}"
        )
    return f"No recommendation yet: 0 of {len(ratings)} options can be admitted.{told}"


def reasons(
    option: Option,
    ratings: Sequence[OptionRating],
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """The three strongest reasons for and against the recommended option.

    For: its own points, what speaks against the others, and why the nearest other is out.
    Against: its own minus points, then what speaks for the others.
    """
    own = next(rating for rating in ratings if rating.option is option)
    others = [rating for rating in ratings if rating.option is not option]
    own_points = {line.criterion: line.points for line in own.contributions}
    pros = [(line.points, line.criterion, _reason(line)) for line in own.contributions if line.points > 0]
    cons = [(-line.points, line.criterion, _reason(line)) for line in own.contributions if line.points < 0]
    for rating in others:
        name = _NAMES[rating.option]
        for refusal in rating.refusals[:1]:
            sentence = f"Not {name}: {first_lower(refusal.reason)}"
            pros.append((_REFUSED, f"refused {rating.option}", Reason(sentence, refusal.finding_ids)))
        for line in rating.contributions:
            if line.criterion == _EFFORT:
                continue
            edge = line.points - own_points.get(line.criterion, 0.0)
            if edge < 0 and line.points < 0:
                sentence = f"Against {name}: {first_lower(line.statement)}"
                pros.append((-edge / 2.0, line.criterion, Reason(sentence, line.finding_ids)))
            elif edge > 0 and line.points > 0:
                sentence = f"For {name}: {first_lower(line.statement)}"
                cons.append((edge / 4.0, line.criterion, Reason(sentence, line.finding_ids)))
    return _strongest(pros), _strongest(cons)


def unknowns(
    verdicts: Mapping[Option, Verdicts],
    best: Option | None,
    distress: DistressSummary,
    evidence: Evidence,
) -> tuple[str, ...]:
    """What nobody measured or what is too close to call, the missing before the rest.

    What is only noted is told of the option that leads, or of all where none does.
    """
    told: dict[str, None] = {}
    for verdict in verdicts.values():
        told.update(dict.fromkeys(_short(sentence) for _, sentence in verdict.missing))
    for option, verdict in verdicts.items():
        if best in (None, option):
            told.update(dict.fromkeys(_short(sentence) for _, sentence in verdict.notes))
    for finding in evidence.findings:
        if finding.probability is None and finding.option is None:
            told.setdefault(_short(finding.statement), None)
    if distress.unseen_fraction:
        told.setdefault(f"{distress.unseen_fraction * 100:.0f} % of the slab is on no photo.", None)
    return tuple(told)


def stop_measurements(stops: Sequence[Stop], rules: Rules) -> tuple[Measurement, ...]:
    """While a stop is open the only next step is to answer it, by looking and asking."""
    looks = {rule.id: rule for rule in rules.stops}
    return tuple(
        Measurement(looks[stop.stop_id].look, stop.reason, "a look and 1 question")
        for stop in stops
        if stop.blocks
    )


def _reason(line: Contribution) -> Reason:
    return Reason(line.statement, line.finding_ids)


def _strongest(weighed: Sequence[tuple[float, str, Reason]]) -> tuple[Reason, ...]:
    """The strongest few, each criterion once; what weighs next to nothing is left out."""
    out: dict[str, Reason] = {}
    for weight, about, reason in sorted(weighed, key=lambda item: -item[0]):
        if weight >= _TELLING:
            out.setdefault(about, reason)
    return tuple(list(out.values())[:_MOST])


def _short(sentence: str) -> str:
    """Several limits on one missing reading miss it once: the limits are left to the table."""
    head, _, rest = sentence.partition("; limit:")
    if head.endswith("not measured"):
        return head + "."
    head, _, rest = sentence.partition(" (")
    return head + "." if rest and head.endswith("not answered") else sentence


def _listed(ids: Sequence[str]) -> str:
    if len(ids) == 1:
        return f"1 panel ({ids[0]})"
    return f"{len(ids)} panels ({', '.join(ids)})"


def _extreme(evidence: Evidence, quantities: tuple[str, ...], pick: object, system: str) -> str:
    """The value of the finding that is furthest over (or under) its limit, as people write it."""
    values = [
        finding.value
        for finding in evidence.findings
        if finding.limit.quantity in quantities
        and finding.option is None
        and finding.value is not None
        and finding.verdict is not Verdict.WITHIN
        and finding.limit.unit == "in"
    ]
    if not values:
        return "unknown height"
    value = max(values) if pick is max else min(values)
    return units.format_length(value * units.MM_PER_IN, system)
