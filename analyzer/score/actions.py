"""What to do with each panel within an option, and the cautions that go with it."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.records import AreaDistress, CrackSize, DistressSummary, FieldBook, Finding, PanelAction, Stop
from analyzer.score.evidence import Evidence
from analyzer.score.facts import Facts, Layout
from analyzer.score.mixture import best_mixture
from analyzer.score.options import Rules
from analyzer.terms import Answer, Distress, Option, Verdict

_SCALED = (Distress.SCALING, Distress.POPOUTS)
_TO_REPAIR = (Distress.SPALLING, Distress.SCALING, Distress.HOLLOW_SOUNDING, Distress.POPOUTS)


def panel_actions(
    option: Option,
    evidence: Evidence,
    laid: Layout,
    facts: Facts,
    distress: DistressSummary,
    rules: Rules,
) -> tuple[PanelAction, ...]:
    """Works for every panel within the option: the cheapest mixture that cures all its defects.

    ``facts`` are those of the likeliest world. ``action`` is one word or several joined by "and":
    leave, seal, repair, grind, lift, replace, overlay, remove. Lifting does not cure a panel in more
    than two pieces (MODOT-JACK-LIMIT); a broken one is replaced, also below a bonded overlay.
    """
    defects = [
        panel_defects(evidence, laid, facts, distress, column) for column in range(len(laid.panel_ids))
    ]
    sizes = [float(share) * len(laid.panel_ids) for share in laid.area_share]
    mixture = best_mixture(defects, sizes, rules.works, option)
    actions = []
    for column, panel_id in enumerate(laid.panel_ids):
        works = mixture.works[column] if mixture else ("replace",)
        # A panel replaced below an overlay is cast to the new height at once.
        words = [word.removesuffix(" unbonded") for word in works] or ["leave"]
        actions.append(PanelAction(panel_id, " and ".join(words), _because(evidence, laid, distress, column)))
    return tuple(actions)


def panel_defects(
    evidence: Evidence, laid: Layout, facts: Facts, distress: DistressSummary, column: int
) -> frozenset[str]:
    """What is wrong with one panel, in the words of the table of works."""
    panel_id = laid.panel_ids[column]
    if bool(facts.states["broken"][0, column]):
        return frozenset({"broken"})
    out = set()
    if _holds(evidence, laid, "tripping edge", column):
        out.add("tripping edge")
    if _holds(evidence, laid, "off level", column):
        pieces = _holds(evidence, laid, "more than two pieces", column)
        out.add("off level in pieces" if pieces else "off level")
    cracks = _cracks_of(distress, panel_id)
    if any(crack.distress is Distress.CORNER_BREAK for crack in cracks):
        out.add("corner")
    if _holds(evidence, laid, "working crack", column):
        out.add("cracked")
    elif any(crack.distress is not Distress.CORNER_BREAK for crack in cracks):
        out.add("hairline")
    for area in _spots(distress, panel_id):
        out.add("scaled" if area.kind in _SCALED else "spots")
    return frozenset(out)


def cautions_for(
    option: Option | None,
    stops: Sequence[Stop],
    findings: Sequence[Finding],
    field: FieldBook,
    actions: Sequence[PanelAction],
    rules: Rules,
) -> tuple[str, ...]:
    """Warnings that belong to the recommended option, with their source; while a stop is open only that."""
    if any(stop.blocks for stop in stops):
        return tuple(f"{rule.text} ({rule.source})" for rule in rules.cautions if not rule.options)
    termites = any(
        finding.limit.limit_id == "TERMITE-INSPECT"
        and finding.verdict is not Verdict.WITHIN
        and finding.option is option
        for finding in findings
    )
    holds = {
        "": True,
        "work": any(action.action != "leave" for action in actions),
        "tendons": field.stops.post_tension is not Answer.NO,
        "coating": field.slab.coating is not Answer.NO,
        "termites": termites,
    }
    return tuple(
        f"{rule.text} ({rule.source})"
        for rule in rules.cautions
        if option in rule.options and holds[rule.when]
    )


def _because(evidence: Evidence, laid: Layout, distress: DistressSummary, column: int) -> str:
    """What is there, in numbers: limits exceeded, spots and cracks; or that nothing is."""
    panel_id = laid.panel_ids[column]
    told = []
    spots = _spots(distress, panel_id)
    if spots:
        kinds = " and ".join(dict.fromkeys(str(area.kind) for area in spots))
        told.append(f"{len(spots)} {'spot' if len(spots) == 1 else 'spots'}: {kinds}.")
    why = _why(evidence, laid, column)
    if why:
        told.append(why)
    elif cracks := _cracks_of(distress, panel_id):
        noun = "crack" if len(cracks) == 1 else "cracks"
        told.append(f"{len(cracks)} {noun}, none of 3 mm (1/8 in) or more.")
    return " ".join(told) or "Sound: 0 limits exceeded here."


def _cracks_of(distress: DistressSummary, panel_id: str) -> list[CrackSize]:
    return [
        crack
        for crack in distress.cracks
        if panel_id in crack.panels
        and crack.distress is not Distress.MAP_CRACKING
        and crack.along_joint is None
    ]


def _spots(distress: DistressSummary, panel_id: str) -> list[AreaDistress]:
    return [
        area
        for area in distress.areas
        if area.panel_id == panel_id and area.kind in _TO_REPAIR and area.area_mm2
    ]


def _holds(evidence: Evidence, laid: Layout, signal: str, column: int) -> bool:
    return any(evidence.known[i] and evidence.probability[i] > 0.5 for i in laid.index[signal][column])


def _why(evidence: Evidence, laid: Layout, column: int) -> str:
    """The statements behind the panel's state, at most two."""
    indices = dict.fromkeys(i for by_panel in laid.index.values() for i in by_panel[column])
    told = [
        evidence.findings[i].statement for i in indices if evidence.known[i] and evidence.probability[i] > 0.5
    ]
    return " ".join(told[:2])
