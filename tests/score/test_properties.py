"""What must hold of every slab, by Hypothesis: worse evidence, missing evidence, units, order."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented_slab import PANEL_IDS, Slab, area, clearance, crack

from analyzer.records import Fault
from analyzer.score.evidence import compile_evidence
from analyzer.score.judgement import judge, make_case
from analyzer.score.options import load_options
from analyzer.terms import Answer, Distress, Firmness, HeightKind, Option
from analyzer.units import MM_PER_IN, parse_reading

RULES = replace(load_options(), count=400)
B, U, P, R = Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.PATCH, Option.REMOVAL
ANSWER = st.sampled_from(list(Answer))
FEW = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@st.composite
def slabs(draw: st.DrawFn) -> Slab:
    """Slabs of all kinds: worn, cracked, settled, low, moving, half known."""
    cracks = tuple(
        crack(
            f"C{i}",
            draw(st.sampled_from(PANEL_IDS)),
            draw(st.none() | st.floats(0.2, 15.0)),
            distress=draw(st.sampled_from([Distress.TRANSVERSE_CRACKING, Distress.CORNER_BREAK])),
            moving=draw(st.sampled_from([Answer.NO, Answer.UNKNOWN])),
        )
        for i in range(draw(st.integers(0, 3)))
    )
    faults = tuple(
        Fault((0.0, 0.0), draw(st.floats(0.5, 25.0)), 0.3, draw(st.sampled_from(["C0", "J1"])), (panel,))
        for panel in draw(st.lists(st.sampled_from(PANEL_IDS), max_size=2, unique=True))
    )
    areas = (
        area(Distress.HOLLOW_SOUNDING, draw(st.floats(0.0, 0.5))),
        area(Distress.SCALING, draw(st.floats(0.001, 0.8))),
    )
    heights = (
        clearance(
            HeightKind.DOOR_SILL,
            "door",
            draw(st.none() | st.floats(0.5, 12.0)),
            egress_door=Answer.NO,
            swings_over=Answer.NO,
        ),
        clearance(HeightKind.WEEP_SCREED, "wall", draw(st.none() | st.floats(1.0, 12.0))),
    )
    slab = replace(
        Slab(),
        cracks=cracks,
        faults=faults,
        areas=areas,
        pieces={panel: draw(st.none() | st.integers(1, 6)) for panel in PANEL_IDS},
        settlement_in={panel: draw(st.floats(0.0, 1.6)) for panel in PANEL_IDS},
        clearances=heights,
        fall=draw(st.floats(-0.01, 0.03)),
        levelled=draw(st.booleans()),
    )
    return slab.told(
        still_moving=draw(ANSWER),
        seasonal_movement=draw(ANSWER),
        tree_roots=draw(ANSWER),
        rocking_panels=draw(st.none() | st.just(()) | st.just(("P1",))),
        walked_over=draw(ANSWER),
        heights_listed=draw(ANSWER),
        white_deposits=draw(ANSWER),
    )


def judged(slab: Slab):  # type: ignore[no-untyped-def]
    return judge(
        make_case(
            slab.findings(), slab.field(), slab.distress(), slab.layout(), slab.levels(), slab.plans(), RULES
        )
    )


def totals(judgement):  # type: ignore[no-untyped-def]
    return dict(zip(RULES.options, judgement.nominal.points.totals[0], strict=True))


RANK = {False: 0, None: 1, True: 2}


def more_settled(slab: Slab) -> Slab:
    return replace(slab, settlement_in={p: v + 0.4 for p, v in slab.settlement_in.items()})


def wider(slab: Slab) -> Slab:
    return replace(
        slab,
        cracks=tuple(
            replace(c, width_max_mm=None if c.width_max_mm is None else c.width_max_mm * 2)
            for c in slab.cracks
        ),
    )


def more_pieces(slab: Slab) -> Slab:
    return replace(slab, pieces={p: None if n is None else n + 2 for p, n in slab.pieces.items()})


def higher_steps(slab: Slab) -> Slab:
    return replace(slab, faults=tuple(replace(f, step_mm=f.step_mm + 8.0) for f in slab.faults))


def hollower(slab: Slab) -> Slab:
    first = slab.areas[0]
    return replace(slab, areas=(replace(first, area_mm2=first.area_mm2 * 1.5 + 1e6), *slab.areas[1:]))


def more_worn(slab: Slab) -> Slab:
    last = slab.areas[1]
    return replace(slab, areas=(slab.areas[0], replace(last, area_mm2=last.area_mm2 * 1.5)))


def lower_door(slab: Slab) -> Slab:
    door = slab.clearances[0]
    if door.height_mm is None:
        return slab
    # Only below the height from which a step is too tall: there a lower one is better.
    height = min(door.height_mm, 7.5 * MM_PER_IN)
    return replace(slab, clearances=(replace(door, height_mm=height - 25.0), *slab.clearances[1:]))


def same_door(slab: Slab) -> Slab:
    door = slab.clearances[0]
    if door.height_mm is None:
        return slab
    return replace(
        slab, clearances=(replace(door, height_mm=min(door.height_mm, 7.5 * MM_PER_IN)), *slab.clearances[1:])
    )


WORSE = {
    "settled": (more_settled, (P, B, U)),
    "wider cracks": (wider, (P, B, U)),
    "more pieces": (more_pieces, (P, B, U)),
    "higher steps": (higher_steps, (P, B, U)),
    "hollower": (hollower, (P, B)),
    "more worn": (more_worn, (P,)),
    "lower door": (lower_door, (B, U)),
    "moving": (lambda slab: slab.told(still_moving=Answer.YES), (P, B, U)),
    "roots": (lambda slab: slab.told(tree_roots=Answer.YES), (B, U)),
    "rocking": (lambda slab: slab.told(rocking_panels=PANEL_IDS), (P, B, U)),
}


@FEW
@given(slab=slabs(), name=st.sampled_from(sorted(WORSE)))
def test_worse_evidence_never_raises_an_option_it_speaks_against(slab: Slab, name: str) -> None:
    worsen, against = WORSE[name]
    start = same_door(slab) if name == "lower door" else slab
    before, after = judged(start), judged(worsen(start))
    was, now = totals(before), totals(after)
    for option in against:
        assert now[option] <= was[option] + 1e-9, option
        old, new = before.verdicts[option].admissible, after.verdicts[option].admissible
        # Known to be worse beats not known: an unanswered question may at best have been good.
        assert RANK[new] <= RANK[old], option


REMOVALS = {
    "still_moving": lambda slab: slab.told(still_moving=Answer.UNKNOWN),
    "seasonal": lambda slab: slab.told(seasonal_movement=Answer.UNKNOWN),
    "roots": lambda slab: slab.told(tree_roots=Answer.UNKNOWN),
    "rocking": lambda slab: slab.told(rocking_panels=None),
    "deposits": lambda slab: slab.told(white_deposits=Answer.UNKNOWN),
    "levels": lambda slab: replace(slab, levelled=False),
    "pieces": lambda slab: replace(slab, pieces=dict.fromkeys(PANEL_IDS)),
    "door": lambda slab: replace(
        slab, clearances=(replace(slab.clearances[0], height_mm=None, height_u_mm=None), *slab.clearances[1:])
    ),
    "weep": lambda slab: replace(
        slab, clearances=(slab.clearances[0], replace(slab.clearances[1], height_mm=None, height_u_mm=None))
    ),
    "hollow": lambda slab: replace(slab, areas=slab.areas[1:]).told(sounded=Answer.UNKNOWN),
}


@FEW
@given(slab=slabs(), name=st.sampled_from(sorted(REMOVALS)))
def test_a_reading_taken_away_never_makes_a_refused_or_open_answer_firm(slab: Slab, name: str) -> None:
    before, after = judged(slab), judged(REMOVALS[name](slab))
    if after.firmness is Firmness.FIRM:
        assert before.verdicts[after.best].admissible is True
        assert before.firmness is not Firmness.OPEN or before.best is after.best


@FEW
@given(slab=slabs(), seed=st.randoms(use_true_random=False))
def test_order_changes_nothing(slab: Slab, seed) -> None:  # type: ignore[no-untyped-def]
    cracks, pieces, settled = list(slab.cracks), list(slab.pieces.items()), list(slab.settlement_in.items())
    for items in (cracks, pieces, settled):
        seed.shuffle(items)
    shuffled = replace(slab, cracks=tuple(cracks), pieces=dict(pieces), settlement_in=dict(settled))
    one, two = judged(slab), judged(shuffled)
    assert totals(one) == totals(two)
    assert {o: v.admissible for o, v in one.verdicts.items()} == {
        o: v.admissible for o, v in two.verdicts.items()
    }


@FEW
@given(sixteenths=st.integers(16, 160))
def test_units_change_nothing(sixteenths: int) -> None:
    told = {
        f"{sixteenths}/16 in +- 1/8 in",
        f"{sixteenths * 25.4 / 16:.6f} mm +- 3.175 mm",
        f"{sixteenths * 2.54 / 16:.7f} cm +- 0.3175 cm",
        f"{sixteenths / 16 / 12:.10f} ft +- 0.3175 cm",
    }
    results = set()
    for text in told:
        reading = parse_reading(text)
        height = clearance(
            HeightKind.DOOR_SILL,
            "d",
            1.0,
            height_mm=reading.mm,
            height_u_mm=reading.u_mm,
            egress_door=Answer.NO,
        )
        slab = replace(Slab(), clearances=(height,), areas=(*Slab().areas, area(Distress.SCALING, 0.4)))
        judgement = judged(slab)
        results.add((judgement.headline, judgement.best, judgement.firmness))
    assert len(results) == 1


@FEW
@given(slab=slabs())
def test_headlines_keep_their_promises(slab: Slab) -> None:
    judgement = judged(slab)
    if judgement.firmness is not Firmness.OPEN:
        assert judgement.verdicts[judgement.best].admissible is True
    for verdict in judgement.verdicts.values():
        assert (verdict.admissible is False) == bool(verdict.refusals)
    assert abs(float(judgement.first.sum()) - 1.0) < 1e-9 or (judgement.drawn.best < 0).any()
    evidence = compile_evidence(slab.findings(), RULES)
    assert ((evidence.probability >= 0) & (evidence.probability <= 1)).all()
