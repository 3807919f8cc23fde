"""Panels that no rule counts as settled yet and that have to be told all the same: low, but by less.

A panel beyond the warning limit and short of the next one is named with its number, and so is what
would have to be done with it if it lay lower.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer import units
from analyzer.phrase_tables import Phrases
from analyzer.records import DistressSummary, Finding, PanelAction, Reason
from analyzer.score.actions import panel_actions
from analyzer.score.evidence import Evidence, nominal_world
from analyzer.score.facts import Layout
from analyzer.score.flips import changed_case
from analyzer.score.judgement import Case, run_worlds
from analyzer.terms import Option, Verdict

_WATCHED, _NEXT = "a little low", "off level"
_SURE = 2.0  # standard uncertainties beyond a limit at which it is surely exceeded
_LEAVE = "leave"


@dataclass(frozen=True, slots=True)
class LowPanel:
    """A panel off the plane of the others by more than the warning limit; lengths in millimetres.

    ``raised``: it stands above that plane. ``next_mm`` is the limit from which it counts as settled.
    ``sure``: beyond the warning limit by the verdict, and not only likelier than not.
    """

    panel_id: str
    off_mm: float
    off_u_mm: float
    raised: bool
    limit_mm: float
    next_mm: float
    finding_id: str
    sure: bool


def low_panels(evidence: Evidence, laid: Layout) -> tuple[LowPanel, ...]:
    """Panels that are likelier than not beyond the warning limit and not beyond the next."""
    found = []
    for column, panel_id in enumerate(laid.panel_ids):
        watched = _exceeded(evidence, laid, _WATCHED, column)
        beyond = _exceeded(evidence, laid, _NEXT, column)
        upper = [evidence.findings[i] for i in laid.index.get(_NEXT, ((),) * len(laid.panel_ids))[column]]
        if not watched or beyond or not upper:
            continue
        finding = watched[0]
        per = units.from_mm(1.0, finding.limit.unit)
        found.append(
            LowPanel(
                panel_id,
                (finding.value or 0.0) / per,
                (finding.u or 0.0) / per,
                panel_id in laid.raised,
                finding.limit.value / per,
                upper[0].limit.value / units.from_mm(1.0, upper[0].limit.unit),
                finding.finding_id,
                finding.verdict is Verdict.EXCEEDS,
            )
        )
    return tuple(found)


def low_words(low: LowPanel, system: str, say: Phrases) -> str:
    """``P4 lies 5/8" low``, without an end to the sentence."""
    off = units.format_length(low.off_mm, system)
    return say("low.high" if low.raised else "low.low", panel=low.panel_id, off=off)


def low_reasons(lows: Sequence[LowPanel], system: str, say: Phrases) -> tuple[Reason, ...]:
    """One sentence on all that surely are, which speaks against leaving the slab as it lies."""
    lows = [low for low in lows if low.sure]
    if not lows:
        return ()
    told = ", ".join(low_words(low, system, say) for low in lows)
    limit = units.format_length(lows[0].limit_mm, system)
    return (Reason(say("low.reason", panels=told, limit=limit), tuple(low.finding_id for low in lows)),)


def panel_changes(
    case: Case,
    option: Option,
    actions: Sequence[PanelAction],
    lows: Sequence[LowPanel],
    distress: DistressSummary,
) -> tuple[str, ...]:
    """What would be done with each low panel if it lay beyond the next limit: found by deciding it again.

    A panel whose work stays the same is left out.
    """
    say, system = case.rules.phrases, case.field.job.units
    now = {action.panel_id: action.action for action in actions}
    told = []
    for low in lows:
        index = next(i for i, f in enumerate(case.evidence.findings) if f.finding_id == low.finding_id)
        same = [i for i, key in enumerate(case.evidence.key) if key == case.evidence.key[index]]
        moved = changed_case(case, same, low.next_mm - low.off_mm + _SURE * low.off_u_mm + 1.0)
        facts = run_worlds(moved, nominal_world(moved.evidence, moved.rules)).facts
        then = panel_actions(option, moved.evidence, moved.laid, facts, distress, case.field, moved.rules)
        action = next(a.action for a in then if a.panel_id == low.panel_id)
        if action not in (now.get(low.panel_id), _LEAVE):
            works = [say.word("action", word) for word in action.split(" and ")]
            told.append(
                say(
                    "low.change high" if low.raised else "low.change low",
                    panel=low.panel_id,
                    limit=units.format_length(low.next_mm, system),
                    now=units.format_length(low.off_mm, system),
                    works=", ".join(works),
                )
            )
    return tuple(told)


def _exceeded(evidence: Evidence, laid: Layout, signal: str, column: int) -> list[Finding]:
    """Findings of one signal of one panel that are likelier exceeded than not."""
    by_panel = laid.index.get(signal)
    return [
        evidence.findings[i]
        for i in (by_panel[column] if by_panel else ())
        if evidence.known[i] and evidence.probability[i] > 0.5
    ]
