"""Findings as arrays: likeliest, kindest and harshest world, and draws with the right probabilities."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from invented_slab import Slab, area, crack
from scipy import stats

from analyzer.score.evidence import (
    bounding_worlds,
    compile_evidence,
    draw_worlds,
    nominal_world,
    standard_draws,
)
from analyzer.score.options import load_options
from analyzer.terms import Answer, Distress, Option

RULES = load_options()


def column(evidence, name: str) -> int:  # type: ignore[no-untyped-def]
    return [f.finding_id for f in evidence.findings].index(name)


def test_draws_exceed_as_often_as_the_probability_says() -> None:
    slab = replace(
        Slab(),
        cracks=(crack("C1", "P1", 3.1, width_max_u_mm=0.2),),
        settlement_in={**Slab().settlement_in, "P2": 0.74},
        fall=0.0203,
    ).told(tree_roots=Answer.UNKNOWN)
    evidence = compile_evidence(slab.findings(), RULES)
    worlds = draw_worlds(evidence, RULES, standard_draws(evidence, RULES, 20000))
    share = worlds.exceeds.mean(axis=0)
    # Binomial sampling error: 5 standard deviations of a share over 20,000 draws.
    slack = 5 * np.sqrt(evidence.probability * (1 - evidence.probability) / 20000) + 1e-12
    assert (np.abs(share - evidence.probability) <= slack).all()
    unknown = column(evidence, "TREE-ROOTS@slab")
    assert share[unknown] == pytest.approx(RULES.chance_of("tree_roots"), abs=0.02)


def test_limits_on_one_value_are_exceeded_together() -> None:
    slab = replace(Slab(), cracks=(crack("C1", "P1", 5.0, width_max_u_mm=1.5),))
    evidence = compile_evidence(slab.findings(), RULES)
    worlds = draw_worlds(evidence, RULES, standard_draws(evidence, RULES))
    moderate = worlds.exceeds[:, column(evidence, "LTPP-JCP-TRANSVERSE.width-moderate@C1")]
    high = worlds.exceeds[:, column(evidence, "LTPP-JCP-TRANSVERSE.width-high@C1")]
    assert (moderate | ~high).all()  # whoever passes 6 mm has passed 3 mm
    assert 0 < high.mean() < moderate.mean() < 1


def test_before_and_after_share_their_draw() -> None:
    raised = {**Slab().raised_mm, Option.OVERLAY_BONDED: 0.0}
    tight = tuple(replace(c, height_mm=26.0, height_u_mm=2.0) for c in Slab().clearances)
    slab = replace(Slab(), clearances=tight, raised_mm=raised)
    evidence = compile_evidence(slab.findings(), RULES)
    worlds = draw_worlds(evidence, RULES, standard_draws(evidence, RULES))
    now = worlds.exceeds[:, column(evidence, "DOOR-SILL@door sill hall door")]
    after = worlds.exceeds[:, column(evidence, f"DOOR-SILL@door sill hall door/{Option.OVERLAY_BONDED}")]
    assert (now == after).all()
    assert 0.1 < now.mean() < 0.9


def test_shares_are_drawn_from_their_value() -> None:
    slab = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.5)))
    evidence = compile_evidence(slab.findings(), RULES)
    drawn = draw_worlds(evidence, RULES, standard_draws(evidence, RULES, 20000)).shares["worn_fraction"]
    # Kolmogorov-Smirnov against scipy's normal distribution with the stated uncertainty.
    assert stats.kstest(drawn, stats.norm(0.5, 0.01).cdf).pvalue > 1e-4


def test_likeliest_kindest_and_harshest_world() -> None:
    slab = replace(Slab(), cracks=(crack("C1", "P1", 3.1, width_max_u_mm=0.2),)).told(
        tree_roots=Answer.UNKNOWN
    )
    evidence = compile_evidence(slab.findings(), RULES)
    open_width = column(evidence, "LTPP-JCP-TRANSVERSE.width-moderate@C1")
    roots = column(evidence, "TREE-ROOTS@slab")
    likeliest = nominal_world(evidence, RULES).exceeds[0]
    kind, harsh = bounding_worlds(evidence, RULES).exceeds
    assert (likeliest[open_width], kind[open_width], harsh[open_width]) == (True, False, True)
    assert (likeliest[roots], kind[roots], harsh[roots]) == (False, False, True)


def test_draws_are_the_same_every_time() -> None:
    evidence = compile_evidence(Slab().findings(), RULES)
    assert (standard_draws(evidence, RULES) == standard_draws(evidence, RULES)).all()
