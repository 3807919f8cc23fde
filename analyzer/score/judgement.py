"""The decision itself, without words: gates, points, drawn worlds, the option that leads and how firmly.

Cheap enough to be run again for every "what if": :mod:`analyzer.score.flips` and
:mod:`analyzer.score.voi` do so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from analyzer.phrase_tables import Phrases
from analyzer.records import (
    Cause,
    DistressSummary,
    FieldBook,
    Finding,
    GradePlan,
    LevelMap,
    PanelLayout,
)
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
    stack_worlds,
    standard_draws,
)
from analyzer.score.facts import Facts, Layout, gather_facts, lay_out
from analyzer.score.gates import Verdicts, check_gates, refused_in
from analyzer.score.options import Rules
from analyzer.score.scoring import Points, headline_of, score_worlds, weights_robust
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
    contradicted: bool
    rules: Rules


@dataclass(frozen=True, slots=True, eq=False)
class Outcome:
    """What comes of N worlds: facts, points (N, K, O) and refused (N, O)."""

    facts: Facts
    points: Points
    refused: Bool

    def part(self, start: int, stop: int | None) -> Outcome:
        """Some of the worlds."""
        rows = slice(start, stop)
        facts = Facts(
            {name: value[rows] for name, value in self.facts.values.items()},
            {name: state[rows] for name, state in self.facts.states.items()},
        )
        return Outcome(facts, Points(self.points.amount[rows], self.points.weights), self.refused[rows])

    @property
    def best(self) -> npt.NDArray[np.intp]:
        """(N,) index of the option that comes first; -1 where all are refused."""
        totals = np.where(self.refused, -np.inf, self.points.totals)
        return np.where(self.refused.all(axis=1), -1, totals.argmax(axis=1))


@dataclass(frozen=True, slots=True, eq=False)
class Judgement:
    """The decision on one case.

    Attributes
    ----------
    nominal, drawn : Outcome
        Of the likeliest world, and of the draws.
    verdicts : mapping of Option to Verdicts
    admissible, first : (O,) float
        Share of draws in which each option is admitted, and comes first.
    best : Option or None
        The admitted option with the most points; None where none is admitted.
    rival : Option or None
        An option without a verdict that would often come first.
    firmness : Firmness
    robust : bool or None
        Whether the headline survives each weight changed alone.
    """

    nominal: Outcome
    drawn: Outcome
    verdicts: Mapping[Option, Verdicts]
    admissible: Float
    first: Float
    best: Option | None
    rival: Option | None
    firmness: Firmness
    robust: bool | None

    @property
    def headline(self) -> Headline:
        """No recommendation yet exactly where the firmness is open."""
        if self.best is None or self.firmness is Firmness.OPEN:
            return Headline.NONE_YET
        return headline_of(self.best)


def make_case(
    findings: Sequence[Finding],
    field: FieldBook,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    plans: Sequence[GradePlan],
    rules: Rules,
) -> Case:
    """Compile findings and panels once; running worlds is then cheap."""
    evidence = compile_evidence(findings, rules)
    laid = lay_out(evidence, rules, distress, layout, levels, field.site.use in _WHEELS)
    causes = find_causes(findings, field, distress, layout, levels, rules.causes)
    return Case(evidence, laid, tuple(plans), field, causes, bool(distress.contradictions), rules)


def run_worlds(case: Case, worlds: Worlds) -> Outcome:
    """Facts, points and refusals of N worlds."""
    facts = gather_facts(worlds, case.laid, case.rules)
    points = score_worlds(worlds, facts, case.evidence, case.rules)
    refused = refused_in(worlds, facts, case.evidence, case.plans, case.rules)
    for option in defeated(case.causes, case.rules.phrases):
        if option in case.rules.options:
            refused[:, case.rules.options.index(option)] = True
    return Outcome(facts, points, refused)


def judge(case: Case, normal: Float | None = None) -> Judgement:
    """Decide one case.

    Parameters
    ----------
    case : Case
    normal : (N, keys + 1) float, optional
        Draws to reuse, as :func:`standard_draws` gives them.

    Notes
    -----
    An option is admitted when no gate refuses it and no required reading is missing. The answer is
    open when no option is admitted, when an option that lacks a reading would often come first, or
    when the leader comes first in too few draws; firm when it nearly always does, nothing about it is
    only noted, no evidence contradicts other evidence, and no single weight decides.
    """
    rules, evidence = case.rules, case.evidence
    if normal is None:
        normal = standard_draws(evidence, rules)
    # One pass for the likeliest world, the two bounds and the draws.
    every = run_worlds(
        case,
        stack_worlds(
            nominal_world(evidence, rules),
            bounding_worlds(evidence, rules),
            draw_worlds(evidence, rules, normal),
        ),
    )
    nominal, bounds, drawn = every.part(0, 1), every.part(1, 3).facts, every.part(3, None)
    verdicts = with_causes(
        check_gates(evidence, nominal.facts, bounds, case.field, case.plans, rules),
        case.causes,
        rules.phrases,
    )
    if case.laid.strangers:
        verdicts = _with_strangers(verdicts, case.laid, rules.phrases)
    best_index = drawn.best
    first = np.array([(best_index == column).mean() for column in range(len(rules.options))])
    admissible = 1.0 - drawn.refused.mean(axis=0)
    best, rival = _choose(nominal, verdicts, first, rules)
    robust = None
    firmness = Firmness.OPEN
    if best is not None:
        out = np.array([verdicts[option].admissible is not True for option in rules.options])
        robust = weights_robust(nominal.points, out, headline_of(best), rules)
        if rival is None:
            firmness = _firmness(best, first, verdicts, robust and not case.contradicted, rules)
    return Judgement(nominal, drawn, verdicts, admissible, first, best, rival, firmness, robust)


def with_causes(
    verdicts: Mapping[Option, Verdicts], causes: Sequence[Cause], say: Phrases
) -> dict[Option, Verdicts]:
    """Add the refusal by a cause that goes on, to options that no gate has refused already."""
    out = dict(verdicts)
    for option, refusal in defeated(causes, say).items():
        if option in out and not out[option].refusals:
            out[option] = replace(out[option], refusals=(refusal,))
    return out


def _with_strangers(
    verdicts: Mapping[Option, Verdicts], laid: Layout, say: Phrases
) -> dict[Option, Verdicts]:
    """Evidence on panels that nobody drew: with no joints known nothing can be said of any panel."""
    names = ", ".join(laid.strangers)
    count = len(laid.panel_ids)
    told = ("joints", say("missing.joints", names=names, count=count))
    if count == 1:
        return {option: replace(v, missing=(*v.missing, told)) for option, v in verdicts.items()}
    return {option: replace(v, notes=(*v.notes, told)) for option, v in verdicts.items()}


def _choose(
    nominal: Outcome, verdicts: Mapping[Option, Verdicts], first: Float, rules: Rules
) -> tuple[Option | None, Option | None]:
    """The admitted option with the most points, and an undecided one that could beat its headline."""
    totals = dict(zip(rules.options, nominal.points.totals[0], strict=True))
    often = dict(zip(rules.options, first, strict=True))
    admitted = [option for option in rules.options if verdicts[option].admissible is True]
    undecided = [option for option in rules.options if verdicts[option].admissible is None]
    if not admitted:
        return None, None
    # max() keeps the first of equals: the order of the table, least work first.
    best = max(admitted, key=lambda option: totals[option])
    if best is Option.REMOVAL and Option.PATCH in undecided:
        # A slab is not broken out because nobody looked whether it can be kept.
        return best, Option.PATCH
    rivals = [option for option in undecided if headline_of(option) is not headline_of(best)]
    rival = max(rivals, key=lambda option: often[option], default=None)
    return best, rival if rival is not None and often[rival] >= rules.undecided_rival else None


def _firmness(
    best: Option, first: Float, verdicts: Mapping[Option, Verdicts], undisputed: bool, rules: Rules
) -> Firmness:
    often = dict(zip(rules.options, first, strict=True))
    share = sum(value for option, value in often.items() if headline_of(option) is headline_of(best))
    if share < rules.leaning_from:
        return Firmness.OPEN
    # A sister option (the other bond of an overlay) that lacks a reading and leads keeps the answer soft.
    sister = any(
        verdicts[option].admissible is None and often[option] > 1.0 - rules.firm_from
        for option in rules.options
    )
    sure = share >= rules.firm_from and not sister and not verdicts[best].notes and undisputed
    return Firmness.FIRM if sure else Firmness.LEANING
