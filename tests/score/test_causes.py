"""Possible causes: the ones an inspector would name, what goes on blocks what it would spoil."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from invented_slab import Slab, area, crack

from analyzer import rate
from analyzer.errors import RuleError
from analyzer.records import SiteUse, SlabFacts
from analyzer.score.causes import DEFAULT_PATH, WELL_SUPPORTED, load_causes
from analyzer.terms import Answer, Distress, Option, Support, Use

NO, YES, UNKNOWN = Answer.NO, Answer.YES, Answer.UNKNOWN
B, U, P = Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.PATCH
FROST = SiteUse(Use.FOOT, NO, YES, YES)
LOW = {**Slab().settlement_in, "P4": 1.4}
RULES = load_causes()


def causes(slab: Slab):  # type: ignore[no-untyped-def]
    return {cause.cause_id: cause for cause in slab.rank().causes}


@pytest.mark.parametrize(
    ("slab", "first", "active"),
    [
        # Each pattern as inspectors name it (common practice, no source), or as cited in the table.
        (replace(Slab(), cracks=(crack("C1", "P1", 0.4),)), "shrinkage", False),
        (replace(Slab(), settlement_in=LOW), "settlement", False),
        (replace(Slab(), settlement_in=LOW).told(still_moving=YES), "settlement", True),
        (replace(Slab(), site=FROST).told(seasonal_movement=YES), "frost heave", True),
        (
            replace(Slab(), settlement_in={**Slab().settlement_in, "P2": -1.2}).told(tree_roots=YES),
            "roots",
            True,
        ),
        (Slab().told(expansive_ground=YES, seasonal_movement=YES, still_moving=YES), "swelling clay", True),
        (Slab().told(rust_stains=YES, reinforced=YES), "corrosion", True),
        (
            replace(Slab(), areas=(area(Distress.MAP_CRACKING, 0.4),)).told(white_deposits=YES),
            "alkali-silica reaction",
            True,
        ),
        (
            replace(Slab(), site=FROST, areas=(area(Distress.DURABILITY_CRACKING, 0.1),)),
            "durability cracking",
            True,
        ),
        (
            replace(Slab(), site=SiteUse(Use.TRUCK, NO, NO, NO), pieces={**Slab().pieces, "P1": 5}).told(
                thickness=None
            ),
            "overload",
            True,
        ),
        (
            replace(Slab(), edges=tuple(replace(e, support=Support.UNDERMINED) for e in Slab().edges)),
            "washout",
            True,
        ),
    ],
)
def test_the_cause_an_inspector_would_name_first(slab: Slab, first: str, active: bool) -> None:
    found = slab.rank().causes
    assert found[0].cause_id == first
    assert found[0].active is active
    assert found[0].clues_for
    assert found[0].confirm.endswith(".")


def test_a_sound_slab_needs_no_cause() -> None:
    assert Slab().rank().causes == ()


def test_evidence_against_is_told_and_counts() -> None:
    low = causes(replace(Slab(), settlement_in=LOW, pieces={**Slab().pieces, "P4": 4}))
    assert low["overload"].standing == "unlikely"
    assert "Only people use it" in low["overload"].clues_against[0].sentence
    assert low["settlement"].standing == WELL_SUPPORTED


def test_an_open_answer_speaks_neither_way() -> None:
    mapped = replace(Slab(), areas=(area(Distress.MAP_CRACKING, 0.4),))
    assert causes(mapped)["alkali-silica reaction"].standing == "unlikely"
    assert causes(mapped.told(white_deposits=UNKNOWN))["alkali-silica reaction"].standing == "possible"
    assert causes(mapped.told(white_deposits=YES))["alkali-silica reaction"].standing == WELL_SUPPORTED


def test_an_active_cause_blocks_what_it_would_defeat() -> None:
    # Rust with steel in it: no gate asks for it, the cause alone keeps a bonded overlay out.
    rusty = replace(Slab(), areas=(*Slab().areas, area(Distress.SCALING, 0.4))).told(
        rust_stains=YES, reinforced=YES
    )
    ratings = {r.option: r for r in rusty.rank().ratings}
    assert ratings[B].admissible is False
    assert "rusting steel" in ratings[B].refusals[0].reason
    assert ratings[B].probability_admissible == 0.0
    assert ratings[U].admissible is True
    assert {r.option: r for r in rusty.told(reinforced=NO).rank().ratings}[B].admissible is True


@pytest.mark.parametrize(
    "slab",
    [
        replace(Slab(), settlement_in=LOW).told(still_moving=YES),
        replace(Slab(), site=FROST).told(seasonal_movement=YES),
        Slab().told(tree_roots=YES),
        Slab().told(expansive_ground=YES, seasonal_movement=YES, still_moving=YES),
        replace(Slab(), areas=(area(Distress.MAP_CRACKING, 0.4),)).told(white_deposits=YES),
    ],
)
def test_no_defeated_option_is_admitted(slab: Slab) -> None:
    ranking = slab.rank()
    admitted = {rating.option for rating in ranking.ratings if rating.admissible is True}
    for cause in ranking.causes:
        if cause.standing == WELL_SUPPORTED and cause.active:
            assert not admitted & set(cause.defeats)


def test_every_name_in_the_table_is_known() -> None:
    known = {limit.limit_id for limit in rate.load_limits()}
    for clue in RULES.clues.values():
        assert set(clue.limits) <= known
        if clue.answer:
            part, name = clue.answer.split(".")
            assert name in ({"site": SiteUse, "slab": SlabFacts}[part]).__dataclass_fields__
    used = {
        name
        for cause in RULES.causes
        for part in (cause.weights_for, cause.weights_against, cause.active, cause.at_rest, cause.needs)
        for name in part
    }
    assert used == set(RULES.clues)
    assert len(RULES.causes) >= 12


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('pattern = "wheels"', 'pattern = "wings"', "unknown pattern"),
        ('is = "yes"\n', "", "is not one whole clue"),
        ('"fine cracks only" = 2', '"coarse cracks only" = 2', "unknown clue 'coarse cracks only'"),
        ('defeats = ["patch", ', 'defeats = ["demolition", ', "unknown option 'demolition'"),
        ('confirm = "Cracks that do not grow in a year confirm it."\n', "", "confirm missing"),
        ("well_supported_from = 3", "well_supported_from = 3\nluck = 1", "unknown key 'luck'"),
    ],
)
def test_malformed_tables_are_refused(tmp_path: Path, old: str, new: str, told: str) -> None:
    text = DEFAULT_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "causes.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleError, match=told):
        load_causes(path)
