"""The ranking in words: the sentence, reasons for and against, what is unknown, what to measure next.

Every sentence carries a number or names what is unknown, and the findings it rests on.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from analyzer import units
from analyzer.phrase_tables import Phrases
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
from analyzer.score.gates import Verdicts, first_lower, without_source
from analyzer.score.options import Rules
from analyzer.score.watch import LowPanel, low_panels, low_words
from analyzer.terms import Option, Verdict

_MOST = 3
_WORN_PCT = 2.0
_TELLING = 1.0
_REFUSED = 30.0
_EFFORT = "work it takes"
_DEEP_IN = 0.05
_VERBS = ("replace", "lift", "grind", "repair", "seal")


def fact_words(
    facts: Facts,
    laid: Layout,
    evidence: Evidence,
    levels: LevelMap | None,
    field: FieldBook,
    say: Phrases,
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
        words["fall_text"] = f"{levels.fall * 100:.1f} %" if levels else say("fact.fall unknown")
    ponds = [
        f.value for f in evidence.findings if f.limit.quantity == "ponding_depth" and f.value is not None
    ]
    depth = max(ponds, default=0.0)
    deep = units.format_length(depth * units.MM_PER_IN, system)
    words["pond_text"] = deep if depth > _DEEP_IN else say("fact.pond unknown")
    words["step_text"] = _extreme(evidence, ("riser_height", "door_drop"), max, system, say)
    clear = _extreme(
        evidence, ("door_weather_step", "weep_gap", "siding_gap", "garage_step"), min, system, say
    )
    words["clear_text"] = say("fact.over" if clear.startswith("-") else "fact.left", height=clear.lstrip("-"))
    words["crack_text"] = say(f"crack.least {system}")
    words["firm_text"] = _firm(evidence, laid, words, system, say)
    return words


def _firm(evidence: Evidence, laid: Layout, words: Mapping[str, str], system: str, say: Phrases) -> str:
    """What "lies firm" means here, and what was found on it all the same."""
    lows = low_panels(evidence, laid)
    told = [say("fact.firm")]
    if lows:
        limit = units.format_length(lows[0].next_mm, system)
        told = [
            say("fact.firm but low", limit=limit),
            *(low_words(low, system, say) for low in lows if low.sure),
        ]
    corners = [
        panel_id
        for panel_id, indices in zip(laid.panel_ids, laid.index["corner break"], strict=True)
        if any(evidence.known[i] and evidence.probability[i] > 0.5 for i in indices)
    ]
    if corners:
        told.append(say("fact.corners", panels=_listed(corners, say)))
    if float(words["worn_pct"]) >= _WORN_PCT:
        told.append(say("fact.worn", pct=words["worn_pct"]))
    return "; ".join(told)


def headline_sentence(
    option: Option,
    plan: GradePlan | None,
    actions: Sequence[PanelAction],
    words: Mapping[str, str],
    field: FieldBook,
    say: Phrases,
    lows: Sequence[LowPanel] = (),
) -> str:
    """The recommendation in a sentence, with its numbers; a repair also names the ``lows`` to watch."""
    system = field.job.units
    if option in (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED):
        bond = say(f"bond.{option}")
        if plan is None:
            return say("headline.overlay unknown", bond=bond)
        thin = units.format_length(plan.thickness_min_mm, system)
        thick = units.format_length(plan.thickness_max_mm, system)
        extra = [action.panel_id for action in actions if "replace" in action.action]
        told = say("headline.overlay", bond=bond, thin=thin, thick=thick)
        return f"{told} {say('headline.replace first', panels=_listed(extra, say))}" if extra else told
    if option is Option.REMOVAL:
        broken, settled, total = (words[f"{name}_count"] for name in ("broken", "settled", "panel"))
        return say("headline.removal", broken=broken, total=total, settled=settled)
    parts = []
    touched: set[str] = set()
    for name in _VERBS:
        ids = [action.panel_id for action in actions if name in action.action.split(" and ")]
        touched.update(ids)
        if ids:
            parts.append(say(f"work.{name}", panels=_listed(ids, say)))
    panels = int(words["panel_count"])
    watched = [low for low in lows if low.sure]
    mended = any("repair" in action.action for action in actions)
    worn = float(words["worn_pct"]) >= _WORN_PCT and not mended
    if worn:
        parts.append(say("work.worn", pct=words["worn_pct"]))
    # A worn surface has no panel of its own: then nothing is said of the other panels.
    rest = 0 if worn else panels - len(touched | {low.panel_id for low in watched})
    if not parts and not watched:
        return say("headline.leave one" if panels == 1 else "headline.leave", total=panels)
    sentences = [say("headline.patch", works=", ".join(parts)) if parts else say("headline.leave low")]
    if watched:
        limit = units.format_length(watched[0].limit_mm, system)
        low_ids = [low.panel_id for low in watched]
        sentences.append(say("headline.watch", panels=_listed(low_ids, say), limit=limit))
    if rest:
        sentences.append(say("headline.rest one" if rest == 1 else "headline.rest", rest=rest))
    return " ".join(sentences)


def stopped_sentence(stops: Sequence[Stop], say: Phrases) -> str:
    """Which answers are missing or bad, before any advice."""
    unanswered = [stop for stop in stops if stop.blocks and stop.answer == "not answered"]
    bad = [stop for stop in stops if stop.blocks and stop.answer != "not answered"]
    parts = []
    for key, some in (("stop bad", bad), ("stop unanswered", unanswered)):
        if some:
            names = ", ".join(say.word("stop_name", stop.stop_id) for stop in some)
            parts.append(say(f"headline.{key}", count=len(some), names=names))
    return say("headline.stopped", count=len(stops), parts="; ".join(parts))


def open_sentence(
    ratings: Sequence[OptionRating],
    best: Option | None,
    rival: Option | None,
    unknown: Sequence[str],
    say: Phrases,
) -> str:
    """Why there is no recommendation although no stop is open; ``unknown`` is the list that is shown."""
    told = say("headline.missing", count=len(unknown)) if unknown else ""
    if best is None:
        return say("headline.none admitted", count=len(ratings), told=told).strip()
    told = told or say("headline.close")
    leader = say(f"option.{best}")
    if rival is None:
        return say("headline.too little", best=leader, told=told)
    return say("headline.between", best=leader, rival=say(f"option.{rival}"), told=told)


def reasons(
    option: Option,
    ratings: Sequence[OptionRating],
    say: Phrases,
    first_against: Sequence[Reason] = (),
) -> tuple[tuple[Reason, ...], tuple[Reason, ...]]:
    """The three strongest reasons for and against the recommended option.

    For: its own points, what speaks against the others, and why the nearest other is out.
    Against: ``first_against``, its own minus points, then what speaks for the others.
    """
    own = next(rating for rating in ratings if rating.option is option)
    others = [rating for rating in ratings if rating.option is not option]
    own_points = {line.criterion: line.points for line in own.contributions}
    pros = [(line.points, line.criterion, _reason(line)) for line in own.contributions if line.points > 0]
    cons = [(-line.points, line.criterion, _reason(line)) for line in own.contributions if line.points < 0]
    for rating in others:
        name = say(f"option.{rating.option}")
        for refusal in rating.refusals[:1]:
            sentence = say("reason.refused", option=name, reason=first_lower(refusal.reason))
            pros.append((_REFUSED, f"refused {rating.option}", Reason(sentence, refusal.finding_ids)))
        for line in rating.contributions:
            if line.criterion == _EFFORT:
                continue
            edge = line.points - own_points.get(line.criterion, 0.0)
            if edge < 0 and line.points < 0:
                sentence = say("reason.against", option=name, reason=first_lower(line.statement))
                pros.append((-edge / 2.0, line.criterion, Reason(sentence, line.finding_ids)))
            elif edge > 0 and line.points > 0:
                sentence = say("reason.for", option=name, reason=first_lower(line.statement))
                cons.append((edge / 4.0, line.criterion, Reason(sentence, line.finding_ids)))
    return _strongest(pros), (*first_against, *_strongest(cons))[:_MOST]


def unknowns(
    verdicts: Mapping[Option, Verdicts],
    best: Option | None,
    distress: DistressSummary,
    evidence: Evidence,
    say: Phrases,
) -> tuple[str, ...]:
    """What nobody measured or what is too close to call, the missing before the rest.

    What is only noted is told of the option that leads, or of all where none does.
    """
    told: dict[str, None] = {}
    for verdict in verdicts.values():
        told.update(dict.fromkeys(_short(sentence, say) for _, sentence in verdict.missing))
    for option, verdict in verdicts.items():
        if best in (None, option):
            told.update(dict.fromkeys(_short(sentence, say) for _, sentence in verdict.notes))
    for finding in evidence.findings:
        if finding.probability is None and finding.option is None:
            told.setdefault(_short(without_source(finding), say), None)
    if distress.unseen_fraction:
        told.setdefault(say("missing.unseen", pct=f"{distress.unseen_fraction * 100:.0f}"), None)
    return tuple(told)


def stop_measurements(stops: Sequence[Stop], rules: Rules) -> tuple[Measurement, ...]:
    """While a stop is open the only next step is to answer it, by looking and asking."""
    looks = {rule.id: rule for rule in rules.stops}
    return tuple(
        Measurement(looks[stop.stop_id].look, stop.reason, rules.phrases("stop.effort"))
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


def _short(sentence: str, say: Phrases) -> str:
    """Several limits on one missing reading miss it once: the limits are left to the table."""
    head, _, rest = sentence.partition(say("mark.limit"))
    if head.endswith(say("mark.not measured")):
        return head + "."
    head, _, rest = sentence.partition(" (")
    return head + "." if rest and head.endswith(say("mark.not answered")) else sentence


def _listed(ids: Sequence[str], say: Phrases) -> str:
    if len(ids) == 1:
        return say("panels.one", ids=ids[0])
    return say("panels.many", count=len(ids), ids=", ".join(ids))


def _extreme(evidence: Evidence, quantities: tuple[str, ...], pick: object, system: str, say: Phrases) -> str:
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
        return say("fact.height unknown")
    value = max(values) if pick is max else min(values)
    return units.format_length(value * units.MM_PER_IN, system)
