"""From the decision to the record: ratings, reasons, panels, what is unknown and what to measure next."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.records import (
    DistressSummary,
    FieldBook,
    Finding,
    GradePlan,
    LevelMap,
    OptionRating,
    PanelAction,
    PanelLayout,
    Ranking,
    Stop,
)
from analyzer.score.actions import cautions_for, panel_actions
from analyzer.score.evidence import standard_draws
from analyzer.score.explain import (
    fact_words,
    headline_sentence,
    open_sentence,
    reasons,
    stop_measurements,
    stopped_sentence,
    unknowns,
)
from analyzer.score.flips import find_flips
from analyzer.score.gates import check_stops
from analyzer.score.judgement import Case, Judgement, judge, make_case
from analyzer.score.options import Rules
from analyzer.score.scoring import contributions
from analyzer.score.voi import next_measurements, worth_of_readings, would_make_surer
from analyzer.score.watch import LowPanel, low_panels, low_reasons, panel_changes
from analyzer.terms import Firmness, Headline, Option


def rank_options(
    findings: Sequence[Finding],
    field: FieldBook,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    plans: Sequence[GradePlan],
    options: Rules,
    *,
    what_if: bool = True,
) -> Ranking:
    """Recommend overlay, patch, removal or nothing yet, and say why.

    Stops come first: while one is open there is no recommendation and no rating. Then every option
    is held against its hard requirements, scored by criteria in the open, and tested in
    ``options.count`` worlds drawn from the uncertainties of all readings, the missing ones included.
    An option that lacks a required reading is neither admitted nor forgotten: where it would often
    come first the answer stays open.

    Parameters
    ----------
    findings : sequence of Finding
    field, distress, layout, levels
    plans : sequence of GradePlan
    options : Rules
        From :func:`load_options`.
    what_if : bool
        Also search the smallest change of each input that would change the answer.

    Returns
    -------
    Ranking
        ``headline`` is "no recommendation yet" exactly where ``firmness`` is open.
    """
    rules = options
    stops = check_stops(field, rules)
    case = make_case(findings, field, distress, layout, levels, plans, rules)
    if any(stop.blocks for stop in stops):
        return _stopped(case, stops)
    normal = standard_draws(case.evidence, rules)
    judgement = judge(case, normal)
    say = rules.phrases
    words = fact_words(judgement.nominal.facts, case.laid, case.evidence, levels, field, say)
    ratings = _rate(case, judgement, words)
    headline, option, firmness = judgement.headline, judgement.best, judgement.firmness
    actions: tuple[PanelAction, ...] = ()
    lows: tuple[LowPanel, ...] = ()
    leader = option if headline is not Headline.NONE_YET else None
    unknown = unknowns(judgement.verdicts, leader, distress, case.evidence, say)
    if headline is Headline.NONE_YET or option is None:
        sentence = open_sentence(ratings, option, judgement.rival, unknown, say)
        option = None
    else:
        plan = next((plan for plan in plans if plan.option is option), None)
        actions = panel_actions(
            option, case.evidence, case.laid, judgement.nominal.facts, distress, field, rules
        )
        lows = low_panels(case.evidence, case.laid) if option is Option.PATCH else ()
        sentence = headline_sentence(option, plan, actions, words, field, say, lows)
    told_low = low_reasons(lows, field.job.units, say)
    pros, cons = reasons(option, ratings, say, told_low) if option is not None else ((), ())
    changes = panel_changes(case, option, actions, lows, distress) if option is not None and what_if else ()
    measurements = next_measurements(case, judgement, worth_of_readings(case, judgement, normal))
    flips = find_flips(case, judgement, normal) if what_if else ()
    return Ranking(
        headline=headline,
        option=option,
        firmness=firmness,
        sentence=sentence,
        stops=stops,
        ratings=ratings,
        reasons_for=pros,
        reasons_against=cons,
        unknowns=unknown,
        next_measurements=(*measurements, *would_make_surer(case, levels, layout, distress, measurements)),
        would_change=(*changes, *(flip.sentence for flip in flips)),
        panel_actions=actions,
        cautions=cautions_for(option, stops, findings, field, actions, rules),
        weights_robust=judgement.robust,
        causes=case.causes,
        flips=flips,
    )


def _rate(case: Case, judgement: Judgement, words: dict[str, str]) -> tuple[OptionRating, ...]:
    ratings = []
    points = judgement.nominal.points
    for column, option in enumerate(case.rules.options):
        verdict = judgement.verdicts[option]
        ratings.append(
            OptionRating(
                option=option,
                admissible=verdict.admissible,
                refusals=verdict.refusals,
                missing=tuple(dict.fromkeys(sentence for _, sentence in verdict.missing)),
                contributions=contributions(option, points, case.evidence, case.laid, case.rules, words),
                total=float(points.totals[0, column]),
                probability_admissible=float(judgement.admissible[column]),
                probability_first=float(judgement.first[column]),
            )
        )
    return tuple(ratings)


def _stopped(case: Case, stops: Sequence[Stop]) -> Ranking:
    """No advice and no rating; only which answers are missing and how to get them by looking."""
    say = case.rules.phrases
    blocking = tuple(stop for stop in stops if stop.blocks)
    missing = tuple(
        say("stop.missing", question=stop.question, answer=f"{say(f'answer.{stop.answer}').capitalize()}.")
        for stop in blocking
    )
    return Ranking(
        headline=Headline.NONE_YET,
        option=None,
        firmness=Firmness.OPEN,
        sentence=stopped_sentence(stops, say),
        stops=tuple(stops),
        ratings=tuple(OptionRating(option, None, (), missing, (), 0.0) for option in case.rules.options),
        reasons_for=(),
        reasons_against=(),
        unknowns=missing,
        next_measurements=stop_measurements(stops, case.rules),
        would_change=tuple(say("stop.clear", question=stop.question) for stop in blocking),
        panel_actions=(),
        cautions=cautions_for(None, stops, case.evidence.findings, case.field, (), case.rules),
    )
