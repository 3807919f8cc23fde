"""Stops, hard requirements, points, probability: the ranking of the options and the recommendation."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from analyzer.records import (
    Cause,
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
from analyzer.score.causes import defeated, find_causes
from analyzer.score.evidence import (
    Bool,
    Evidence,
    Float,
    Worlds,
    bounding_worlds,
    compile_evidence,
    draw_worlds,
    nominal_world,
    standard_draws,
)
from analyzer.score.explain import (
    fact_words,
    headline_sentence,
    next_measurements,
    open_sentence,
    reasons,
    stop_measurements,
    stopped_sentence,
    unknowns,
)
from analyzer.score.facts import Facts, Layout, gather_facts, lay_out
from analyzer.score.gates import Verdicts, check_gates, check_stops, refused_in
from analyzer.score.options import Rules
from analyzer.score.scoring import Points, contributions, headline_of, score_worlds, weights_robust
from analyzer.terms import Firmness, Headline, Option, Use

_WHEELS = (Use.CAR, Use.TRUCK)


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One job compiled for the rules: everything that any number of worlds needs."""

    evidence: Evidence
    laid: Layout
    plans: tuple[GradePlan, ...]
    field: FieldBook
    causes: tuple[Cause, ...]
    rules: Rules


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What comes of N worlds: facts, points (N, K, O) and refused (N, O)."""

    facts: Facts
    points: Points
    refused: Bool

    @property
    def best(self) -> Float:
        """(N,) index of the option that comes first; -1 where all are refused."""
        totals = np.where(self.refused, -np.inf, self.points.totals)
        best: Float = np.where(self.refused.all(axis=1), -1, totals.argmax(axis=1))
        return best


def make_case(
    findings: Sequence[Finding],
    field: FieldBook,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    plans: Sequence[GradePlan],
    rules: Rules,
) -> Case:
    """Compile findings and panels once; :func:`run_worlds` is then cheap."""
    evidence = compile_evidence(findings, rules)
    laid = lay_out(evidence, rules, distress, layout, levels, field.site.use in _WHEELS)
    causes = find_causes(findings, field, distress, layout, levels, rules.causes)
    return Case(evidence, laid, tuple(plans), field, causes, rules)


def run_worlds(case: Case, worlds: Worlds) -> Outcome:
    """Facts, points and refusals of N worlds."""
    facts = gather_facts(worlds, case.laid, case.rules)
    points = score_worlds(worlds, facts, case.evidence, case.rules)
    refused = refused_in(worlds, facts, case.evidence, case.plans, case.rules)
    for option in defeated(case.causes):
        refused[:, case.rules.options.index(option)] = True
    return Outcome(facts, points, refused)


def rank_options(
    findings: Sequence[Finding],
    field: FieldBook,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    plans: Sequence[GradePlan],
    options: Rules,
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

    Returns
    -------
    Ranking
        ``headline`` is "no recommendation yet" exactly where ``firmness`` is open.
    """
    rules = options
    stops = check_stops(field, rules)
    case = make_case(findings, field, distress, layout, levels, plans, rules)
    nominal = run_worlds(case, nominal_world(case.evidence, rules))
    bounds = gather_facts(bounding_worlds(case.evidence, rules), case.laid, rules)
    verdicts = check_gates(case.evidence, nominal.facts, bounds, field, plans, rules)
    verdicts = with_causes(verdicts, case.causes)
    if any(stop.blocks for stop in stops):
        return _stopped(case, stops, verdicts, distress)
    drawn = run_worlds(case, draw_worlds(case.evidence, rules, standard_draws(case.evidence, rules)))
    words = fact_words(nominal.facts, case.laid, case.evidence, levels, field)
    ratings = _rate(case, nominal, drawn, verdicts, words)
    choice = _choose(ratings, rules)
    firmness = _firmness(choice, ratings, nominal, verdicts, distress, rules)
    by_option = {plan.option: plan for plan in plans}
    actions: tuple[PanelAction, ...] = ()
    if firmness is Firmness.OPEN or choice.best is None:
        sentence = open_sentence(ratings, choice.best, choice.rival)
        headline, option = Headline.NONE_YET, None
    else:
        headline, option = headline_of(choice.best), choice.best
        actions = panel_actions(option, case.evidence, case.laid, nominal.facts, distress, rules)
        sentence = headline_sentence(option, by_option.get(option), actions, words, field)
    pros, cons = reasons(option, ratings) if option is not None else ((), ())
    return Ranking(
        headline=headline,
        option=option,
        firmness=firmness,
        sentence=sentence,
        stops=stops,
        ratings=ratings,
        reasons_for=pros,
        reasons_against=cons,
        unknowns=unknowns(verdicts, distress, case.evidence),
        next_measurements=next_measurements(_open_quantities(verdicts), rules),
        would_change=(),
        panel_actions=actions,
        cautions=cautions_for(option, stops, findings, field, actions, rules),
        weights_robust=choice.robust(nominal, ratings, rules),
        causes=case.causes,
    )


@dataclass(frozen=True, slots=True)
class Choice:
    """The admissible option that leads, and the undecided one that could beat it.

    ``first`` holds the share of draws in which each headline comes first.
    """

    best: Option | None
    rival: Option | None
    first: Mapping[Headline, float]

    def robust(self, nominal: Outcome, ratings: Sequence[OptionRating], rules: Rules) -> bool | None:
        """Whether the headline survives each weight changed alone; None without one."""
        if self.best is None:
            return None
        out = np.array([rating.admissible is not True for rating in ratings])
        return weights_robust(nominal.points, out, headline_of(self.best), rules)


def with_causes(verdicts: Mapping[Option, Verdicts], causes: Sequence[Cause]) -> dict[Option, Verdicts]:
    """Add the refusal by a cause that goes on, to options that no gate has refused already."""
    out = dict(verdicts)
    for option, refusal in defeated(causes).items():
        if not out[option].refusals:
            out[option] = replace(out[option], refusals=(refusal,))
    return out


def _rate(
    case: Case,
    nominal: Outcome,
    drawn: Outcome,
    verdicts: Mapping[Option, Verdicts],
    words: dict[str, str],
) -> tuple[OptionRating, ...]:
    admissible = 1.0 - drawn.refused.mean(axis=0)
    best = drawn.best
    ratings = []
    for column, option in enumerate(case.rules.options):
        lines = contributions(option, nominal.points, case.evidence, case.laid, case.rules, words)
        ratings.append(
            OptionRating(
                option=option,
                admissible=verdicts[option].admissible,
                refusals=verdicts[option].refusals,
                missing=tuple(dict.fromkeys(sentence for _, sentence in verdicts[option].missing)),
                contributions=lines,
                total=float(nominal.points.totals[0, column]),
                probability_admissible=float(admissible[column]),
                probability_first=float((best == column).mean()),
            )
        )
    return tuple(ratings)


def _choose(ratings: Sequence[OptionRating], rules: Rules) -> Choice:
    first: dict[Headline, float] = {}
    for rating in ratings:
        name = headline_of(rating.option)
        first[name] = first.get(name, 0.0) + (rating.probability_first or 0.0)
    # max() keeps the first of equals: the order of the table, least work first.
    best = max((r for r in ratings if r.admissible is True), key=lambda r: r.total, default=None)
    undecided = [r for r in ratings if r.admissible is None]
    if best is None:
        return Choice(None, None, first)
    rivals = [r for r in undecided if headline_of(r.option) is not headline_of(best.option)]
    rival = max(rivals, key=lambda r: r.probability_first or 0.0, default=None)
    if best.option is Option.REMOVAL and any(r.option is Option.PATCH for r in undecided):
        # A slab is not broken out because nobody looked whether it can be kept.
        return Choice(best.option, Option.PATCH, first)
    strong = rival is not None and (rival.probability_first or 0.0) >= rules.undecided_rival
    return Choice(best.option, rival.option if rival is not None and strong else None, first)


def _firmness(
    choice: Choice,
    ratings: Sequence[OptionRating],
    nominal: Outcome,
    verdicts: Mapping[Option, Verdicts],
    distress: DistressSummary,
    rules: Rules,
) -> Firmness:
    if choice.best is None or choice.rival is not None:
        return Firmness.OPEN
    first = choice.first[headline_of(choice.best)]
    if first < rules.leaning_from:
        return Firmness.OPEN
    column = np.array([verdicts[option].admissible is not True for option in rules.options])
    robust = weights_robust(nominal.points, column, headline_of(choice.best), rules)
    # A sister option (the other bond of an overlay) that lacks a reading and leads keeps the answer soft.
    sister = any(
        rating.admissible is None and (rating.probability_first or 0.0) > 1.0 - rules.firm_from
        for rating in ratings
    )
    sure = (
        first >= rules.firm_from
        and not sister
        and not verdicts[choice.best].notes
        and not distress.contradictions
    )
    return Firmness.FIRM if sure and robust else Firmness.LEANING


def _open_quantities(verdicts: Mapping[Option, Verdicts]) -> tuple[str, ...]:
    missing = [quantity for verdict in verdicts.values() for quantity, _ in verdict.missing]
    notes = [quantity for verdict in verdicts.values() for quantity, _ in verdict.notes]
    return tuple(dict.fromkeys(missing + notes))


def _stopped(
    case: Case, stops: Sequence[Stop], verdicts: Mapping[Option, Verdicts], distress: DistressSummary
) -> Ranking:
    """No advice and no rating; only which answers are missing and how to get them by looking."""
    blocking = tuple(stop for stop in stops if stop.blocks)
    missing = tuple(f"{stop.question} {stop.answer.capitalize()}." for stop in blocking)
    return Ranking(
        headline=Headline.NONE_YET,
        option=None,
        firmness=Firmness.OPEN,
        sentence=stopped_sentence(stops),
        stops=tuple(stops),
        ratings=tuple(OptionRating(option, None, (), missing, (), 0.0) for option in case.rules.options),
        reasons_for=(),
        reasons_against=(),
        unknowns=missing,
        next_measurements=stop_measurements(stops, case.rules),
        would_change=tuple(f"An answer of no, or a clearing by name: {stop.question}" for stop in blocking),
        panel_actions=(),
        cautions=cautions_for(None, stops, case.evidence.findings, case.field, (), case.rules),
    )
