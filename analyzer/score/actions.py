"""What to do with each panel within an option, and the cautions that go with it."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer import units
from analyzer.phrase_tables import Phrases
from analyzer.records import AreaDistress, CrackSize, DistressSummary, FieldBook, Finding, PanelAction, Stop
from analyzer.score.evidence import Evidence
from analyzer.score.facts import Facts, Layout
from analyzer.score.gates import without_source
from analyzer.score.mixture import best_mixture
from analyzer.score.options import Rules
from analyzer.terms import Answer, Distress, Option, Verdict

_SCALED = (Distress.SCALING, Distress.POPOUTS)
_MOST = 2
# Signals that are told of a panel and ask for no work by themselves.
_ONLY_TOLD = ("a little low", "long panel")
_TO_REPAIR = (Distress.SPALLING, Distress.SCALING, Distress.HOLLOW_SOUNDING, Distress.POPOUTS)


def panel_actions(
    option: Option,
    evidence: Evidence,
    laid: Layout,
    facts: Facts,
    distress: DistressSummary,
    field: FieldBook,
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
        reason, ids = _because(evidence, laid, distress, column, field, rules)
        actions.append(PanelAction(panel_id, " and ".join(words), reason, ids))
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
    if any(crack.distress is Distress.CORNER_BREAK for crack in cracks) or any(
        area.kind is Distress.CORNER_BREAK and area.panel_id == panel_id for area in distress.areas
    ):
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
        "coated": field.slab.coating is Answer.YES,
        "coating not known": field.slab.coating is Answer.UNKNOWN,
        "termites": termites,
    }
    return tuple(
        f"{rule.text} ({rule.source})"
        for rule in rules.cautions
        if option in rule.options and holds[rule.when]
    )


def _because(
    evidence: Evidence, laid: Layout, distress: DistressSummary, column: int, field: FieldBook, rules: Rules
) -> tuple[str, tuple[str, ...]]:
    """What is there, in numbers, with the ids of its findings; or that nothing was found."""
    panel_id, system, say = laid.panel_ids[column], field.job.units, rules.phrases
    told = [_spots_told(spots, say)] if (spots := _spots(distress, panel_id)) else []
    for area in distress.areas:
        if area.kind is Distress.MAP_CRACKING and area.panel_id == panel_id and area.area_mm2:
            told.append(say("panel.mapped", area=units.format_area(area.area_mm2, system)))
    exceeded = _exceeded(evidence, laid, column)
    only_told = rules.limits_of(_ONLY_TOLD)
    works = [finding for finding in exceeded if finding.limit.limit_id not in only_told][:_MOST]
    beside = [finding for finding in exceeded if finding.limit.limit_id in only_told]
    told += [_told(finding) for finding in works]
    if not works and (cracks := _cracks_of(distress, panel_id)):
        told.append(_cracks_told(cracks, evidence, system, say))
    told += [_told(finding) for finding in beside]
    ids = tuple(finding.finding_id for finding in (*works, *beside))
    return " ".join(told) or say("panel.nothing", panel=panel_id), ids


def _spots_told(spots: Sequence[AreaDistress], say: Phrases) -> str:
    names = list(dict.fromkeys(say.word("distress", area.kind) for area in spots))
    kinds = names[0]
    for name in names[1:]:
        kinds = say("panel.and", first=kinds, second=name)
    return say("panel.spot" if len(spots) == 1 else "panel.spots", count=len(spots), kinds=kinds)


def _cracks_told(cracks: Sequence[CrackSize], evidence: Evidence, system: str, say: Phrases) -> str:
    """How many cracks there are, and that they are fine, or of how many the width is not known."""
    names = {crack.crack_id for crack in cracks}
    open_ids = {
        finding.subject
        for finding in evidence.findings
        if finding.limit.quantity == "crack_width"
        and finding.subject in names
        and finding.verdict is Verdict.NOT_DETERMINED
    }
    count = len(cracks)
    if open_ids:
        return say("panel.crack open" if count == 1 else "panel.cracks open", count=count, open=len(open_ids))
    least = say(f"crack.least {system}")
    return say("panel.crack" if count == 1 else "panel.cracks", count=count, least=least)


def _told(finding: Finding) -> str:
    """A finding in a sentence; what is there or not needs no number behind it."""
    sentence = without_source(finding)
    return f"{sentence.split(':')[0]}." if finding.limit.quantity == "corner_breaks" else sentence


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


def _exceeded(evidence: Evidence, laid: Layout, column: int) -> list[Finding]:
    """The panel's findings that are likelier exceeded than not, each reading by its farthest limit."""
    farthest: dict[tuple[str, str], Finding] = {}
    for by_panel in laid.index.values():
        for i in by_panel[column]:
            if evidence.known[i] and evidence.probability[i] > 0.5:
                finding = evidence.findings[i]
                key = finding.subject, finding.limit.quantity
                held = farthest.get(key)
                if held is None or finding.limit.value > held.limit.value:
                    farthest[key] = finding
    return list(farthest.values())
