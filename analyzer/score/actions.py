"""What to do with each panel within an option, and the cautions that go with it."""

from __future__ import annotations

from collections.abc import Sequence

from analyzer.records import DistressSummary, FieldBook, Finding, PanelAction, Stop
from analyzer.score.evidence import Evidence
from analyzer.score.facts import Facts, Layout
from analyzer.score.options import Rules
from analyzer.terms import Answer, Distress, Option, Verdict

_TO_REPAIR = (Distress.SPALLING, Distress.SCALING, Distress.HOLLOW_SOUNDING, Distress.POPOUTS)


def panel_actions(
    option: Option,
    evidence: Evidence,
    laid: Layout,
    facts: Facts,
    distress: DistressSummary,
    rules: Rules,
) -> tuple[PanelAction, ...]:
    """One action per panel: remove, overlay, replace, lift, repair, seal or leave.

    ``facts`` are those of the likeliest world. A broken panel is replaced, also below an overlay; a
    settled one is lifted unless it is in more than two pieces (MODOT-JACK-LIMIT) or an overlay
    levels it.
    """
    actions = []
    for column, panel_id in enumerate(laid.panel_ids):
        broken, settled, cracked = (
            bool(facts.states[name][0, column]) for name in ("broken", "settled", "cracked")
        )
        why = _why(evidence, laid, column)
        if option is Option.REMOVAL:
            actions.append(
                PanelAction(panel_id, "remove", why or "0 limits exceeded here; it goes with the rest.")
            )
        elif broken and option is Option.OVERLAY_BONDED:
            actions.append(PanelAction(panel_id, "replace", f"Replace it before the overlay. {why}"))
        elif option is not Option.PATCH:
            told = why or "Sound: 0 limits exceeded here."
            actions.append(PanelAction(panel_id, "overlay", told))
        elif broken or (settled and _holds(evidence, laid, "more than two pieces", column)):
            actions.append(PanelAction(panel_id, "replace", why))
        elif settled:
            actions.append(PanelAction(panel_id, "lift", why))
        else:
            actions.append(_small(panel_id, cracked, why, distress))
    return tuple(actions)


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


def _small(panel_id: str, cracked: bool, why: str, distress: DistressSummary) -> PanelAction:
    areas = [
        area
        for area in distress.areas
        if area.panel_id == panel_id and area.kind in _TO_REPAIR and area.area_mm2
    ]
    cracks = [
        crack
        for crack in distress.cracks
        if panel_id in crack.panels
        and crack.distress is not Distress.MAP_CRACKING
        and crack.along_joint is None
    ]
    corner = any(crack.distress is Distress.CORNER_BREAK for crack in cracks)
    if corner or areas:
        what = " and ".join(dict.fromkeys(["corner break"] * corner + [str(area.kind) for area in areas]))
        count = len(areas) + corner
        spots = "spot" if count == 1 else "spots"
        return PanelAction(panel_id, "repair", f"{count} {spots}: {what}. {why}".strip())
    if cracked or cracks:
        plural = "crack" if len(cracks) == 1 else "cracks"
        told = why or f"{len(cracks)} {plural}, none of 3 mm (1/8 in) or more."
        return PanelAction(panel_id, "seal", told)
    return PanelAction(panel_id, "leave", "Sound: 0 limits exceeded here.")


def _holds(evidence: Evidence, laid: Layout, signal: str, column: int) -> bool:
    return any(evidence.known[i] and evidence.probability[i] > 0.5 for i in laid.index[signal][column])


def _why(evidence: Evidence, laid: Layout, column: int) -> str:
    """The statements behind the panel's state, at most two."""
    indices = dict.fromkeys(i for by_panel in laid.index.values() for i in by_panel[column])
    told = [
        evidence.findings[i].statement for i in indices if evidence.known[i] and evidence.probability[i] > 0.5
    ]
    return " ".join(told[:2])
