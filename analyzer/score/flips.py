"""What would change the answer: for each reading the smallest change that does, found by running it.

A reading is moved in all the findings that hang on it at once (a sill now and after every option), the
decision is made again, and the change is narrowed until half of it no longer changes the answer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from analyzer import units
from analyzer.phrase_tables import Phrases
from analyzer.records import Finding, Flip
from analyzer.score.evidence import Evidence, Float, move_evidence
from analyzer.score.judgement import Case, Judgement, judge
from analyzer.score.options import Rules
from analyzer.terms import Headline, UnitSystem

_SHARES = ("worn_fraction", "hollow_fraction")
_COUNTS = ("pieces", "count", "level")
_OF_PANELS = ("rocking", "level_change", "pieces")
_STEPS = (0.05, 0.10, 0.20, 0.30, 0.50, 0.75, 1.0)
_SPREAD = 1.65  # standard uncertainties from a limit at which a verdict is sure
_HALVINGS = 8
_NUDGE = 1e-6
_MOST = 12
_SCAN = 400  # draws for the first look; what is found is confirmed and narrowed with all of them


def find_flips(case: Case, judgement: Judgement, normal: Float) -> tuple[Flip, ...]:
    """The smallest change of each reading that changes the headline, the nearest first.

    Nearest is by the change over the reading's own uncertainty; answers (yes or no) and readings that
    nobody took come last. Readings that change nothing are left out.
    """
    now = judgement.headline
    flips: list[tuple[float, Flip]] = []
    for indices in _inputs(case.evidence, case.rules):
        found = _flip(case, indices, now, normal)
        if found is not None and _within_reach(found[1], case.rules):
            flips.append(found)
    flips.sort(key=lambda pair: pair[0])
    # Panels that would change it alike are told once: the sentence names none of them.
    once = {flip.sentence: flip for _, flip in reversed(flips)}
    return tuple(flip for _, flip in flips if once[flip.sentence] is flip)[:_MOST]


def changed_case(case: Case, indices: Iterable[int], change: float) -> Case:
    """The case with one reading changed by ``change``: millimetres, rise over run, or the plain number.

    Findings without a value take the change as their value.
    """
    moved = {}
    for index in indices:
        finding = case.evidence.findings[index]
        step = change * _per_inside(finding)
        value = finding.value + step if finding.value is not None else step
        moved[index] = finding.moved(_bounded(finding, value))
    return replace(case, evidence=move_evidence(case.evidence, moved))


def headline_after(case: Case, indices: Iterable[int], change: float, normal: Float) -> Headline:
    """The headline with one reading changed, by making the decision again with the same draws."""
    return judge(changed_case(case, indices, change), normal).headline


def _within_reach(flip: Flip, rules: Rules) -> bool:
    """Whether the reading could be that far off in anybody's mind."""
    farthest = rules.reach.get(flip.quantity)
    return farthest is None or abs(flip.after - (flip.before or 0.0)) <= farthest


def _inputs(evidence: Evidence, rules: Rules) -> list[tuple[int, ...]]:
    """Readings that the rules look at, each as the findings that hang on it."""
    by_key: dict[int, list[int]] = {}
    for index, key in enumerate(evidence.key.tolist()):
        by_key.setdefault(key, []).append(index)
    used = rules.limit_ids
    return [
        tuple(indices)
        for indices in by_key.values()
        if any(
            evidence.findings[i].limit.limit_id in used or evidence.findings[i].limit.quantity in _SHARES
            for i in indices
        )
        # A plan is not a reading, and one answer for every panel at once is not one change.
        and any(_one_reading(evidence.findings[i]) for i in indices)
    ]


def _one_reading(finding: Finding) -> bool:
    return finding.option is None and not (finding.subject == "slab" and finding.limit.quantity in _OF_PANELS)


def _flip(case: Case, indices: tuple[int, ...], now: Headline, normal: Float) -> tuple[float, Flip] | None:
    findings = [case.evidence.findings[i] for i in indices]
    lead = next(f for f in findings if f.option is None)
    if lead.limit.unit == "answer":
        return _flip_answer(case, indices, lead, now, normal)
    best: tuple[float, Headline] | None = None
    for sign in (1.0, -1.0):
        below = 0.0
        for change in _candidates(findings, sign, case.rules.limit_ids):
            if best is not None and abs(change) >= abs(best[0]):
                break
            headline = headline_after(case, indices, change, normal[:_SCAN])
            if headline is not now:
                headline = headline_after(case, indices, change, normal)
            if headline is now:
                below = change
                continue
            if lead.limit.unit not in _COUNTS:
                change, headline = _narrow(case, indices, below, change, headline, now, normal)
            if best is None or abs(change) < abs(best[0]):
                best = change, headline
            break
    if best is None:
        return None
    change, headline = best
    step = change * _per_inside(lead)
    after = _bounded(lead, (lead.value or 0.0) + step)
    u = max(lead.u or 0.0, 1e-9)
    nearness = abs(step) / u if lead.value is not None else 1e8
    return nearness, _told(lead, after, headline, case)


def _flip_answer(
    case: Case, indices: tuple[int, ...], lead: Finding, now: Headline, normal: Float
) -> tuple[float, Flip] | None:
    answers = (1.0, 0.0) if lead.value is None else (1.0 - lead.value,)
    for answer in answers:
        change = answer if lead.value is None else answer - lead.value
        headline = headline_after(case, indices, change, normal)
        if headline is not now:
            return 1e9, _told(lead, answer, headline, case)
    return None


def _narrow(
    case: Case,
    indices: tuple[int, ...],
    below: float,
    above: float,
    headline: Headline,
    now: Headline,
    normal: Float,
) -> tuple[float, Headline]:
    """Halve the step between the largest change that did nothing and the smallest that did."""
    for _ in range(_HALVINGS):
        middle = (below + above) / 2.0
        found = headline_after(case, indices, middle, normal)
        if found is now:
            below = middle
        else:
            above, headline = middle, found
    # The answer need not change once and for all: half of the change is tried as well.
    while abs(above) > _NUDGE:
        found = headline_after(case, indices, above / 2.0, normal)
        if found is now:
            break
        above, headline = above / 2.0, found
    return above, headline


def _candidates(findings: list[Finding], sign: float, used: frozenset[str]) -> list[float]:
    """Changes in one direction that could matter: those at which a verdict changes, or a share grows."""
    changes: set[float] = set()
    for finding in findings:
        start, u = finding.value or 0.0, finding.u or 0.0
        if finding.limit.quantity in _SHARES:
            changes.update(target - start for target in (0.0, *_STEPS))
        elif finding.limit.limit_id not in used:
            continue
        elif finding.limit.unit in _COUNTS:
            changes.update((finding.limit.value - start, finding.limit.value + sign - start))
        else:
            reach = max(_SPREAD * u, _NUDGE * max(1.0, abs(finding.limit.value)))
            per = _per_inside(finding)
            for spread in (-reach - _NUDGE, -_NUDGE, _NUDGE, reach + _NUDGE):
                changes.add((finding.limit.value + spread - start) / per)
    ordered = sorted((change for change in changes if change * sign > 0), key=abs)
    merged: list[float] = []
    for change in ordered:
        if not merged or abs(change - merged[-1]) > 10 * _NUDGE * max(1.0, abs(change)):
            merged.append(change)
    return merged


def _per_inside(finding: Finding) -> float:
    """Change of the finding's number for one unit of change inside (mm, rise over run, plain)."""
    unit = finding.limit.unit
    if unit in ("mm", "cm", "m", "in", "ft"):
        per = units.from_mm(1.0, unit)
    elif unit in ("percent", "in/ft", "rise/run"):
        per = units.from_slope(1.0, unit)
    else:
        per = 1.0
    # Of a drain the cover is measured, which shrinks as the rim stands higher.
    return -per if finding.limit.quantity == "drain_cover" else per


def _bounded(finding: Finding, value: float) -> float:
    if finding.limit.unit == "fraction":
        return float(np.clip(value, 0.0, 1.0))
    if finding.limit.unit in _COUNTS:
        return max(0.0, value)
    return value


def retell(flips: Sequence[Flip], case: Case) -> tuple[Flip, ...]:
    """The same changes in the language of the case's rules and findings."""
    leads = {
        (f.subject, f.limit.quantity, f.limit.unit): f
        for f in reversed(case.evidence.findings)
        if f.option is None
    }
    return tuple(
        _told(leads[flip.subject, flip.quantity, flip.unit], flip.after, flip.headline, case)
        for flip in flips
    )


def _told(lead: Finding, after: float, headline: Headline, case: Case) -> Flip:
    say, system, unit = case.rules.phrases, case.field.job.units, lead.limit.unit
    what = lead.statement.split(":")[0]
    result = say(f"flip.{headline}")
    if unit == "answer":
        was = "not answered" if lead.value is None else ("yes" if lead.value > 0.5 else "no")
        said = say("answer.yes" if after > 0.5 else "answer.no")
        sentence = say("flip.answer", what=what, after=said, before=say(f"answer.{was}"), result=result)
    elif lead.limit.quantity == "pieces" and lead.value is not None and after > lead.value:
        sentence = say("flip.pieces", after=f"{after:.0f}", result=result)
    else:
        was = say("flip.not measured") if lead.value is None else _number(lead.value, unit, system, say)
        now = _number(after, unit, system, say)
        sentence = say("flip.value", what=what, after=now, before=was, result=result)
    return Flip(lead.subject, lead.limit.quantity, unit, lead.value, after, headline, sentence)


def _number(value: float, unit: str, system: str, say: Phrases) -> str:
    if unit in ("in", "ft"):
        return units.format_length(value / units.from_mm(1.0, unit), system)
    if unit == "mm":
        return units.format_width(value, system)
    if unit == "fraction":
        return f"{value * 100:.0f} %"
    if unit == "percent":
        return f"{value:.1f} %".replace("-0.0 %", "0.0 %")
    if unit == "in/ft" and system == UnitSystem.METRIC:
        return f"{value / units.from_slope(1.0, unit) * 100:.1f} %".replace("-0.0 %", "0.0 %")
    if unit in _COUNTS:
        return f"{value:.0f}"
    return f"{value:.3g} {say.word('unit', unit)}"
