"""Worked cases as data: published criteria, disagreements of sources, practice, thin evidence."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from invented_slab import Slab, answers, area, clearance, crack

from analyzer.records import Fault, PanelLayout, SiteUse
from analyzer.terms import Answer, Distress, HeightKind, Option, Support, Use
from analyzer.units import MM_PER_FT, MM_PER_IN

CASES = tomllib.loads(Path(__file__).with_name("worked_cases.toml").read_text(encoding="utf-8"))["case"]
LETTERS = {"P": Option.PATCH, "B": Option.OVERLAY_BONDED, "U": Option.OVERLAY_UNBONDED, "R": Option.REMOVAL}
FACTS = {
    "still_moving": "still_moving",
    "seasonal": "seasonal_movement",
    "roots": "tree_roots",
    "deposits": "white_deposits",
    "rust": "rust_stains",
    "reinforced": "reinforced",
    "ponding": "ponding_seen",
    "sounded": "sounded",
    "walked": "walked_over",
    "listed": "heights_listed",
}
KINDS = {"map": Distress.MAP_CRACKING, "worn": Distress.SCALING, "d_cracked": Distress.DURABILITY_CRACKING}


class Spaced(Slab):
    """The slab with joints wider apart than its panels tell."""

    spacing_mm = 0.0

    def layout(self) -> PanelLayout:
        return replace(super().layout(), spacing_mm=(self.spacing_mm,))


def build(told: dict[str, Any]) -> Slab:
    """The invented slab with one case's changes."""
    slab = Slab()
    told = dict(told)
    if "spacing_ft" in told:
        slab = Spaced()
        Spaced.spacing_mm = told.pop("spacing_ft") * MM_PER_FT
    site = SiteUse(
        Use(told.pop("use", "foot")),
        Answer(told.pop("public", "no")),
        Answer(told.pop("frost", "no")),
        Answer.NO,
    )
    slab = replace(slab, site=site).told(
        **{FACTS[key]: Answer(told.pop(key)) for key in list(told) if key in FACTS}
    )
    if "rocking" in told:
        slab = slab.told(rocking_panels=tuple(told.pop("rocking")))
    cracks = [
        crack(
            name,
            panel,
            width,
            distress=Distress(rest[0] if rest else "transverse cracking"),
            moving=Answer.YES if "moving" in rest else Answer.NO,
        )
        for name, panel, width, *rest in told.pop("cracks", [])
    ]
    cracks += [
        crack(f"F{i}", panel, None, width_upper_mm=0.5, distress=Distress.SHRINKAGE_CRACK, width_source=None)
        for i, panel in enumerate(told.pop("fine", []))
    ]
    areas = list(slab.areas)
    if "hollow" in told:
        areas[0] = area(Distress.HOLLOW_SOUNDING, told.pop("hollow"))
    if slab.facts.sounded is not Answer.YES:
        areas.pop(0)
    areas += [area(kind, told.pop(key)) for key, kind in KINDS.items() if key in told]
    areas += [
        area(Distress.SPALLING, share, panel, depth_mm=float(depth), depth_u_mm=1.0)
        for panel, share, depth in told.pop("spall", [])
    ]
    steps = [
        Fault((0.0, 0.0), inches * MM_PER_IN, 0.1, along, (panel,))
        for along, panel, inches in told.pop("steps", [])
    ]
    u = told.pop("height_u_in", 1 / 32) * MM_PER_IN
    heights = [
        clearance(
            HeightKind(kind),
            name,
            *(value or [None]),
            egress_door=Answer.NO,
            swings_over=Answer.NO,
            **({"height_u_mm": u} if value else {}),
        )
        for kind, name, *value in told.pop("heights", [])
    ]
    heights += [
        clearance(HeightKind.RISER, f"r{i}", value, flight="f", order=i, height_u_mm=0.1)
        for i, value in enumerate(told.pop("flight_in", []), start=1)
    ]
    raised = dict(slab.raised_mm)
    if "overlay_in" in told:
        raised[Option.OVERLAY_BONDED] = raised[Option.OVERLAY_UNBONDED] = told.pop("overlay_in") * MM_PER_IN
    raised[Option.REMOVAL] = -told.pop("removal_down_in", 0.0) * MM_PER_IN
    thick = {LETTERS[k]: v * MM_PER_IN for k, v in told.pop("thickness_in", {}).items()}
    stop = told.pop("stop", None)
    edges = slab.edges
    if "support" in told:
        edges = (replace(edges[0], support=Support(told.pop("support"))), *edges[1:])
    slab = replace(
        slab,
        cracks=tuple(cracks),
        areas=tuple(areas),
        faults=tuple(steps),
        pieces={**slab.pieces, **told.pop("pieces", {})},
        settlement_in={**slab.settlement_in, **told.pop("settled_in", {})},
        clearances=tuple(heights) or slab.clearances,
        raised_mm=raised,
        thickness_min_mm={**slab.thickness_min_mm, **thick},
        fall=told.pop("fall_pct", 2.08) / 100,
        planned_fall=told.pop("planned_fall_pct", 2.08) / 100,
        levelled=told.pop("levelled", True),
        unseen=told.pop("unseen", None),
        stops=answers(**({stop[0]: Answer(stop[1])} if stop else {})),
        edges=edges,
    )
    assert not told, f"unknown keys {sorted(told)}"
    return slab


@pytest.mark.parametrize("case", CASES, ids=lambda case: case["id"])
def test_worked_case(case: dict[str, Any]) -> None:
    slab = build(case["slab"])
    ranking = slab.rank()
    got = {rating.option: rating.admissible for rating in ranking.ratings}
    if "admit" in case:
        words = case["admit"].split()
        expected = dict.fromkeys(Option, False)
        if case["id"] == "lifts every winter":
            expected[Option.REMOVAL] = None
        expected |= {LETTERS[w[0]]: None if w.endswith("?") else True for w in words}
        assert got == expected
    if "headline" in case:
        assert ranking.headline == case["headline"], ranking.sentence
    if "option" in case:
        assert ranking.option is LETTERS[case["option"]]
    if "firmness" in case:
        assert ranking.firmness == case["firmness"]
    actions = {action.panel_id: action.action for action in ranking.panel_actions}
    for panel, action in case.get("action", {}).items():
        assert actions[panel] == action
    found = slab.by_id()
    for name, verdict in case.get("verdict", {}).items():
        assert found[name].verdict == verdict
    if "cause" in case:
        assert case["cause"] in {cause.cause_id for cause in ranking.causes if cause.standing != "unlikely"}
    if "next" in case:
        assert any(case["next"] in m.what for m in ranking.next_measurements[:3])
    if "against" in case:
        own = next(r for r in ranking.ratings if r.option is ranking.option)
        assert case["against"] in {line.criterion for line in own.contributions if line.points < 0}


def test_the_set_is_wide_enough() -> None:
    assert len(CASES) >= 60
    assert len({case["id"] for case in CASES}) == len(CASES)
    published = [
        c for c in CASES if "read" in c["source"] and "section11" not in c and "stop" not in c["slab"]
    ]
    assert len(published) >= 20
    # Disagreements 7, 10, 13, 14 and 15 are about joints' depth, strength, numbering, waste and printed slips
    # of worked examples: they are decided in other stages or by the edition argument of the limits.
    assert {c["section11"] for c in CASES if "section11" in c} == {1, 2, 3, 4, 5, 6, 8, 9, 11, 12}
    for case in CASES:
        assert case["source"]
        assert set(case) - {"id", "slab", "source", "section11"}, case["id"]
