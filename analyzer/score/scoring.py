"""Points: one visible contribution per criterion and option, and totals in many worlds at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.records import Contribution
from analyzer.score.evidence import Bool, Evidence, Float, Worlds
from analyzer.score.facts import Facts, Layout
from analyzer.score.options import Criterion, Rules
from analyzer.terms import Headline, Option

_NO_PLAN = (Option.PATCH,)
_HEADLINE = {
    Option.PATCH: Headline.PATCH,
    Option.OVERLAY_BONDED: Headline.OVERLAY,
    Option.OVERLAY_UNBONDED: Headline.OVERLAY,
    Option.REMOVAL: Headline.REMOVAL,
}


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Amount of each criterion per option, and its points.

    ``amount`` (N, K, O) is 0 to 1; ``weights`` (K, O); totals are their product summed over K.
    """

    amount: Float
    weights: Float

    @property
    def totals(self) -> Float:
        """(N, O)."""
        out: Float = np.einsum("nko,ko->no", self.amount, self.weights)
        return out


def headline_of(option: Option) -> Headline:
    """The word for an option: both overlays are an overlay."""
    return _HEADLINE[option]


def score_worlds(worlds: Worlds, facts: Facts, evidence: Evidence, rules: Rules) -> Points:
    """Amounts of all criteria in all worlds, shape (N, K, O).

    "cures" and "remains" compare each place now with what the option's plan leaves; an option that
    changes no heights (patch) leaves them all.
    """
    n, options = worlds.count, rules.options
    amount = np.zeros((n, len(rules.criteria), len(options)))
    for row, criterion in enumerate(rules.criteria):
        if criterion.kind == "now":
            amount[:, row, :] = facts.values[criterion.fact][:, None]
            continue
        for column, option in enumerate(options):
            if criterion.points[column] != 0.0:
                amount[:, row, column] = _planned(criterion, option, worlds.exceeds, evidence)
    weights = np.array([criterion.points for criterion in rules.criteria])
    return Points(amount, weights)


def contributions(
    option: Option, points: Points, evidence: Evidence, laid: Layout, rules: Rules, words: dict[str, str]
) -> tuple[Contribution, ...]:
    """The lines of one option in the likeliest world, zero lines left out, largest first."""
    column = rules.options.index(option)
    lines = []
    for row, criterion in enumerate(rules.criteria):
        value = float(points.amount[0, row, column] * points.weights[row, column])
        if abs(value) < 0.05:
            continue
        lines.append(
            Contribution(
                criterion=criterion.id,
                points=round(value, 1),
                statement=criterion.says.format(**words),
                finding_ids=criterion_findings(criterion, option, evidence, laid, rules),
                source=criterion.source,
            )
        )
    return tuple(sorted(lines, key=lambda line: -abs(line.points)))


def criterion_findings(
    criterion: Criterion, option: Option, evidence: Evidence, laid: Layout, rules: Rules
) -> tuple[str, ...]:
    """Ids of the findings behind a line: those that are likelier exceeded than not, else all it looks at."""
    looked: Sequence[int]
    if criterion.kind == "now":
        looked = _behind(criterion.fact, laid, evidence, rules)
    else:
        looked = evidence.of(criterion.limits)
        if criterion.kind != "remains":
            looked = (*looked, *evidence.of(criterion.limits, option))
    exceeded = [i for i in looked if evidence.known[i] and evidence.probability[i] > 0.5]
    return tuple(dict.fromkeys(evidence.findings[i].finding_id for i in (exceeded or looked)))


def weights_robust(points: Points, refused: Bool, winner: Headline, rules: Rules) -> bool:
    """Whether the headline stays first with every weight alone raised and lowered by a part.

    Parameters
    ----------
    points : Points
        Of one world.
    refused : (O,) bool
        Options that cannot win.
    winner : Headline
    rules : Rules
    """
    lines = points.amount[0] * points.weights
    totals = lines.sum(axis=0)
    changes = np.concatenate([lines, -lines]) * rules.robust_change
    changed = np.where(refused, -np.inf, totals + changes)
    return all(headline_of(rules.options[int(best)]) is winner for best in changed.argmax(axis=1))


def _planned(criterion: Criterion, option: Option, exceeds: Bool, evidence: Evidence) -> Float:
    after = {_place(evidence, i): i for i in evidence.of(criterion.limits, option)}
    if criterion.kind == "after":
        out = exceeds[:, list(after.values())].any(axis=1) if after else np.zeros(len(exceeds), dtype=bool)
        return out.astype(float)
    held = np.zeros(len(exceeds), dtype=bool)
    for i in evidence.of(criterion.limits):
        now = exceeds[:, i]
        j = after.get(_place(evidence, i))
        # Without a plan for it an option leaves a height as it is.
        then = now if option in _NO_PLAN or j is None else exceeds[:, j]
        held |= now & (then if criterion.kind == "remains" else ~then)
    return held.astype(float)


def _place(evidence: Evidence, index: int) -> tuple[str, str]:
    finding = evidence.findings[index]
    return finding.limit.limit_id, finding.subject


def _behind(fact: str, laid: Layout, evidence: Evidence, rules: Rules) -> tuple[int, ...]:
    """Findings that a fact is made of."""
    if fact in laid.slab_index:
        return laid.slab_index[fact]
    if fact in ("worn_share", "hollow_share"):
        index = evidence.share_index.get(fact.replace("_share", "_fraction"))
        return () if index is None else (index,)
    if fact == "always":
        return ()
    wanted = {"broken", "settled"} if fact == "sound_share" else {fact.removesuffix("_share")}
    names = {
        name
        for state in rules.states
        if state.id in wanted
        for together in state.any + state.bound
        for name in together
    }
    return tuple(sorted({i for name in names for of_panel in laid.index[name] for i in of_panel}))
