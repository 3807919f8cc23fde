"""Movement and its signs, as answered on site: still moving, seasons, rocking, washed-out edges, roots."""

from __future__ import annotations

from analyzer.rate.hold import UNKNOWN, Known, Scope, answered, hold
from analyzer.records import DistressSummary, Finding
from analyzer.terms import Abuts, Answer, Grade, Support

_BAD_SUPPORT = {Support.UNDERMINED: "undermined", Support.PARTLY_WASHED: "washed_edge"}
# Edges against something solid cannot be looked under; free and planted edges can.
_HIDDEN = (Abuts.HOUSE, Abuts.WALL, Abuts.WALK, Abuts.STREET, Abuts.STEP, Abuts.POOL)


def activity_findings(distress: DistressSummary, scope: Scope) -> tuple[Finding, ...]:
    """One finding per question about movement; an open question has no value."""
    slab = scope.field.slab
    findings: list[Finding] = []
    questions: tuple[tuple[str, str, Answer], ...] = (
        ("still_moving", "still moving", slab.still_moving),
        ("seasonal_movement", "seasons", _seasonal(scope)),
        ("tree_roots", "roots", slab.tree_roots),
        ("expansive_ground", "clay", slab.expansive_ground),
        ("rust_stains", "rust", slab.rust_stains),
    )
    for quantity, about, answer in questions:
        findings += hold(scope, quantity, "slab", scope.about(about), answered(answer))
    if distress.rocking_panels is None:
        findings += hold(scope, "rocking", "slab", scope.about("rocking"), UNKNOWN)
    elif not distress.rocking_panels:
        findings += hold(scope, "rocking", "slab", scope.about("rocking"), Known(0.0, grade=Grade.REPORTED))
    for panel_id in distress.rocking_panels or ():
        findings += hold(
            scope,
            "rocking",
            panel_id,
            scope.about("panel rocking", panel=panel_id),
            Known(1.0, grade=Grade.REPORTED),
        )
    findings += _support(scope)
    return tuple(findings)


def _seasonal(scope: Scope) -> Answer:
    """Without frost and without swelling clay there is nothing to move with the seasons."""
    slab, site = scope.field.slab, scope.field.site
    if slab.seasonal_movement is not Answer.UNKNOWN:
        return slab.seasonal_movement
    quiet = site.freeze_thaw is Answer.NO and slab.expansive_ground is Answer.NO
    return Answer.NO if quiet else Answer.UNKNOWN


def _support(scope: Scope) -> tuple[Finding, ...]:
    """Each washed-out edge; else one finding for all the edges that can be looked under."""
    edges = scope.field.edges
    bad = [edge for edge in edges if edge.support in _BAD_SUPPORT]
    findings: tuple[Finding, ...] = ()
    for edge in bad:
        findings += hold(
            scope,
            _BAD_SUPPORT[edge.support],
            f"edge {edge.name}",
            scope.about(
                "ground",
                abuts=scope.say.word("abuts", edge.abuts),
                edge=edge.name,
                support=scope.say.word("support", edge.support),
            ),
            Known(1.0, grade=Grade.REPORTED),
        )
    if any(edge.support is Support.UNDERMINED for edge in bad):
        return findings
    open_edges = [edge for edge in edges if edge.abuts not in _HIDDEN]
    looked = bool(open_edges) and all(edge.support is not Support.UNKNOWN for edge in open_edges)
    known = Known(0.0, grade=Grade.REPORTED) if looked else UNKNOWN
    return findings + hold(scope, "undermined", "edges", scope.about("washed out"), known)
