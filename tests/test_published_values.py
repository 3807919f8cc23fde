"""Numbers that somebody else published, each with its source and how that source was checked.

"read", "read as quoted", "from memory", "common practice, no source" and "computed" mean what they say;
a number from memory is never called verified. Sections: rate (limits and severity classes),
takeoff (volumes, orders, masses).
"""

from __future__ import annotations

import math
import sys
from dataclasses import replace
from pathlib import Path

import pytest

from analyzer import rate
from analyzer.rate.panels import shattered_level
from analyzer.records import Fault
from analyzer.records.judge import exceed_probability, verdict_of
from analyzer.takeoff.geometry import outline_area, product, slab_volume
from analyzer.takeoff.order import largest_aggregate, order_volume
from analyzer.takeoff.rules import load_takeoff_rules
from analyzer.terms import Answer, Distress, HeightKind, Option, Verdict
from analyzer.units import (
    KG_PER_LB,
    LB_PER_SHORT_TON,
    M3_PER_FT3,
    M3_PER_YD3,
    MM2_PER_FT2,
    MM3_PER_M3,
    MM_PER_FT,
    MM_PER_IN,
    parse_slope,
)

sys.path.insert(0, str(Path(__file__).resolve().parent))
from invented_slab import Slab, clearance, crack

WITHIN, EXCEEDS = Verdict.WITHIN, Verdict.EXCEEDS
LIMITS = rate.load_limits()


# ------------------------------------------------------------------------------------------ rate
# Values in the unit that the source prints; the tool has to agree just below, at and just above.


def crack_verdicts(width_mm: float, **changed: object) -> dict[str, Verdict]:
    slab = replace(Slab(), cracks=(crack("C1", "P1", width_mm, width_max_u_mm=0.0, **changed),))
    return {f.limit.limit_id: f.verdict for f in slab.findings() if f.subject == "C1"}


@pytest.mark.parametrize(
    ("width_mm", "level"),
    [(2.99, "low"), (3.0, "moderate"), (3.01, "moderate"), (5.99, "moderate"), (6.0, "high"), (6.01, "high")],
)
def test_ltpp_transverse_crack_levels(width_mm: float, level: str) -> None:
    # FHWA-HRT-13-092 (2014) ch. 2, transverse cracking; values from memory.
    told = crack_verdicts(width_mm)
    moderate, high = told["LTPP-JCP-TRANSVERSE.width-moderate"], told["LTPP-JCP-TRANSVERSE.width-high"]
    expected = {"low": (WITHIN, WITHIN), "moderate": (EXCEEDS, WITHIN), "high": (EXCEEDS, EXCEEDS)}[level]
    assert (moderate, high) == expected


@pytest.mark.parametrize(
    ("width_mm", "level"),
    [(2.99, "low"), (3.0, "moderate"), (12.99, "moderate"), (13.0, "high"), (13.01, "high")],
)
def test_ltpp_longitudinal_crack_levels(width_mm: float, level: str) -> None:
    # FHWA-HRT-13-092 (2014) ch. 2, longitudinal cracking; values from memory.
    told = crack_verdicts(width_mm, distress=Distress.LONGITUDINAL_CRACKING)
    moderate, high = told["LTPP-JCP-LONGITUDINAL.width-moderate"], told["LTPP-JCP-LONGITUDINAL.width-high"]
    expected = {"low": (WITHIN, WITHIN), "moderate": (EXCEEDS, WITHIN), "high": (EXCEEDS, EXCEEDS)}[level]
    assert (moderate, high) == expected


@pytest.mark.parametrize(
    ("pieces", "shares", "level"),
    [
        # UFC 3-270-05 (15 Mar 2001) ch. 14; read.
        (3, (1.0, 0.0, 0.0), 0),
        (4, (0.90, 0.10, 0.0), 1),
        (5, (0.86, 0.14, 0.0), 1),
        (4, (0.84, 0.16, 0.0), 2),
        (6, (0.90, 0.10, 0.0), 2),
        (4, (0.99, 0.0, 0.01), 3),
        (5, (0.80, 0.10, 0.10), 3),
        (6, (0.84, 0.16, 0.0), 3),
        (7, (0.84, 0.0, 0.16), 3),
    ],
)
def test_shattered_slab_classes(pieces: int, shares: tuple[float, float, float], level: int) -> None:
    assert shattered_level(pieces, *shares) == level


def step_verdict(limit: str, step_in: float, along: str) -> Verdict:
    fault = Fault((0.0, 0.0), step_in * MM_PER_IN, 0.0, along, ("P1",))
    slab = replace(Slab(), cracks=(crack("C1", "P1", 5.0), crack("C2", "P1", 5.0)), faults=(fault,))
    long_crack = replace(slab.cracks[1], distress=Distress.LONGITUDINAL_CRACKING)
    slab = replace(slab, cracks=(slab.cracks[0], long_crack))
    return next(f.verdict for f in slab.findings() if f.limit.limit_id == limit and along in f.subject)


@pytest.mark.parametrize(
    ("limit", "along", "trigger_in"),
    [
        ("FHWA-FDR-TABLE1.transverse-crack", "C1", 0.25),
        ("FHWA-FDR-TABLE1.longitudinal-crack", "C2", 0.5),
        ("FHWA-FDR-TABLE1.joint", "J1", 0.25),
    ],
)
def test_full_depth_repair_triggers(limit: str, along: str, trigger_in: float) -> None:
    # FHWA, Full-Depth Repairs, sec. 1.0, Table 1; read. The page lost its signs: at or above.
    assert step_verdict(limit, trigger_in - 0.01, along) is WITHIN
    assert step_verdict(limit, trigger_in, along) is EXCEEDS
    assert step_verdict(limit, trigger_in + 0.01, along) is EXCEEDS


def test_any_corner_break_points_to_full_depth_repair() -> None:
    # FHWA, Full-Depth Repairs, sec. 1.0, Table 1: corner break from low severity; read.
    told = crack_verdicts(0.5, distress=Distress.CORNER_BREAK)
    assert told["FHWA-FDR-TABLE1.corner-break"] is EXCEEDS


@pytest.mark.parametrize(
    ("step_in", "no_treatment", "bevel"),
    [
        (0.24, WITHIN, WITHIN),
        (0.25, WITHIN, WITHIN),
        (0.26, EXCEEDS, WITHIN),
        (0.5, EXCEEDS, WITHIN),
        (0.51, EXCEEDS, EXCEEDS),
    ],
)
def test_changes_in_level(step_in: float, no_treatment: Verdict, bevel: Verdict) -> None:
    # 2010 ADA Standards 303.2 (read as quoted) and 303.3 (read): 1/4 in free, to 1/2 in bevelled.
    assert step_verdict("ADA-303-2", step_in, "J1") is no_treatment
    assert step_verdict("ADA-303-3", step_in, "J1") is bevel


def after_overlay(overlay_in: float, *heights: object) -> dict[str, Verdict]:
    raised = dict.fromkeys(Slab().raised_mm, overlay_in * MM_PER_IN)
    exact = tuple(replace(height, height_u_mm=0.0) for height in heights)
    slab = replace(Slab(), clearances=exact, raised_mm=raised)
    return {f"{f.limit.limit_id}": f.verdict for f in slab.findings() if f.option is Option.OVERLAY_BONDED}


def test_overlay_at_the_foot_of_an_even_flight() -> None:
    # Computed: three risers of 7.50 in, 2.00 in added at the foot: 5.50 in, spread 2.00 in > 3/8 in.
    flight = [clearance(HeightKind.RISER, f"r{i}", 7.5, flight="stair", order=i) for i in (1, 2, 3)]
    assert after_overlay(2.0, *flight)["IRC-RISER.evenness"] is EXCEEDS
    # Any overlay over 3/8 in breaks an even flight, one of 3/8 in just does not.
    assert after_overlay(0.376, *flight)["IRC-RISER.evenness"] is EXCEEDS
    assert after_overlay(0.375, *flight)["IRC-RISER.evenness"] is WITHIN
    # ACI 117, as quoted by the US Access Board: neighbours within 3/16 in.
    assert after_overlay(0.1875, *flight)["ACI-117-RISER"] is WITHIN
    assert after_overlay(0.19, *flight)["ACI-117-RISER"] is EXCEEDS


def test_tallest_riser() -> None:
    # IRC R311.7.5.1 (2024: R318.7.5.1), read as quoted: 7 3/4 in; the printed 196 mm is rounded down.
    for height, verdict in ((7.74, WITHIN), (7.75, WITHIN), (7.76, EXCEEDS)):
        assert after_overlay(0.0, clearance(HeightKind.RISER, "r", height))["IRC-RISER.height"] is verdict
    assert pytest.approx(196.85) == 7.75 * MM_PER_IN


def test_a_comfortable_step_and_one_worth_curing() -> None:
    # Common practice, no source: a comfortable step is about 7 in; one of 10 in or more is a defect.
    for height, verdict in ((7.0, WITHIN), (10.0, EXCEEDS), (11.0, EXCEEDS)):
        assert after_overlay(0.0, clearance(HeightKind.RISER, "r", height))["IRC-RISER.height"] is verdict
    # 3 in over it leave the comfortable one.
    cured = after_overlay(3.0, clearance(HeightKind.RISER, "r", 10.0))
    assert cured["IRC-RISER.height"] is WITHIN


def test_thresholds_before_and_after_an_overlay() -> None:
    # Computed: threshold 7.75 in over the slab, overlay 2.25 in: 5.50 in left, within 7 3/4 in.
    door = clearance(HeightKind.DOOR_SILL, "door", 7.75, egress_door=Answer.NO, swings_over=Answer.NO)
    told = after_overlay(2.25, door)
    assert (told["IRC-DOOR-OTHER"], told["DOOR-SILL"]) == (WITHIN, WITHIN)
    # Threshold 3.0 in, overlay 3.0 in: nothing left, no weather step.
    assert after_overlay(3.0, replace(door, height_mm=3 * MM_PER_IN))["DOOR-SILL"] is EXCEEDS
    # Common practice, no source: 1 to 2 in below the sill.
    assert after_overlay(2.0, replace(door, height_mm=3 * MM_PER_IN))["DOOR-SILL"] is WITHIN
    assert after_overlay(2.01, replace(door, height_mm=3 * MM_PER_IN))["DOOR-SILL"] is EXCEEDS


def test_egress_door_landing() -> None:
    # IRC 2021 R311.3.1, read as quoted: 1 1/2 in below the threshold where the door swings over it.
    for drop, verdict in ((1.5, WITHIN), (1.51, EXCEEDS)):
        door = clearance(HeightKind.DOOR_SILL, "door", drop, egress_door=Answer.YES, swings_over=Answer.YES)
        assert after_overlay(0.0, door)["IRC-DOOR-EGRESS"] is verdict


def test_weep_screed_over_an_overlay() -> None:
    # Computed with IRC R703.7.2.1 (read): 3.5 in over the slab, overlay 2.0 in: 1.5 in left < 2 in.
    screed = clearance(HeightKind.WEEP_SCREED, "wall", 3.5)
    assert after_overlay(2.0, screed)["IRC-WEEP"] is EXCEEDS
    assert after_overlay(1.5, screed)["IRC-WEEP"] is WITHIN
    assert after_overlay(1.51, screed)["IRC-WEEP"] is EXCEEDS


def test_wood_above_a_slab() -> None:
    # IRC/CRC R317.1 item 5, read as quoted: 2 in above slabs open to weather.
    for gap, verdict in ((1.99, EXCEEDS), (2.0, WITHIN)):
        assert after_overlay(0.0, clearance(HeightKind.SIDING, "boards", gap))["IRC-SIDING"] is verdict


def test_a_drop_that_needs_a_guard() -> None:
    # IRC R312.1, from memory: more than 30 in. An overlay of 2 in makes one out of 29 in.
    edge = clearance(HeightKind.FREE_EDGE, "bank", -30.0)
    assert after_overlay(0.0, edge)["IRC-GUARD"] is WITHIN
    assert after_overlay(2.0, replace(edge, height_mm=-29 * MM_PER_IN))["IRC-GUARD"] is EXCEEDS


def test_two_percent_over_twelve_feet() -> None:
    # Computed: 2 % over 12 ft = 2.88 in (73.2 mm); 1/4 in per ft over 12 ft = 3.00 in (76.2 mm).
    run = 12 * MM_PER_FT
    assert parse_slope("2 %") * run / MM_PER_IN == pytest.approx(2.88)
    assert parse_slope("2 %") * run == pytest.approx(73.152)
    assert parse_slope("1/4 in/ft") * run / MM_PER_IN == pytest.approx(3.0)


def test_the_narrow_window_beside_a_door() -> None:
    # Computed: IRC R401.3 wants 2.000 % at least, R311.3 allows 1/4:12 = 2.083 % at most, ADA 1:48.
    def verdicts(slope: float) -> tuple[Verdict, Verdict]:
        found = {
            f.limit.limit_id: f.verdict
            for f in replace(Slab(), planned_fall=slope).findings()
            if f.option is Option.OVERLAY_BONDED
        }
        return found["IRC-R401-3"], found["IRC-LANDING-SIZE-SLOPE"]

    assert verdicts(0.0199) == (EXCEEDS, WITHIN)
    assert verdicts(0.02) == (WITHIN, WITHIN)
    assert verdicts(0.25 / 12) == (WITHIN, WITHIN)
    assert verdicts(0.0209) == (WITHIN, EXCEEDS)
    assert LIMITS["ADA-404-2-4-4"].value == pytest.approx(0.25 / 12)


def test_photo_width_uncertainty_tells_three_from_six_millimetres() -> None:
    # Computed: two edges, each uniform +- 0.5 px: u = sqrt(2/12) px = 0.408 px; 0.20 mm at 0.5 mm per px.
    u_mm = math.sqrt(2 / 12) * 0.5
    assert u_mm == pytest.approx(0.204, abs=5e-4)
    assert verdict_of(exceed_probability(3.0, u_mm, ">=", 6.0)) is WITHIN
    assert verdict_of(exceed_probability(3.0, u_mm, ">=", 3.0)) is Verdict.NOT_DETERMINED


def test_overlay_thickness_by_bond() -> None:
    # Bonded 2 to 5 in: Guide to Concrete Overlay Solutions (Jan 2007) p. 4, read. Unbonded 4 in: judgement
    # of this tool from IRC R506.1, ACI 302.1R and the overlay guides.
    assert [LIMITS[f"CPTECH-BONDED-RANGE.{end}"].value for end in ("min", "max")] == [2.0, 5.0]
    assert LIMITS["TOOL-UNBONDED-FLATWORK"].value == 4.0
    assert LIMITS["IRC-SLAB-MIN"].value == 3.5  # IRC R506.1, read as quoted


def test_joint_spacing_is_24_to_36_times_the_thickness() -> None:
    # Masonry and Concrete (handbook) fig. 2-15, p. 31, read: 4 in slab 8, 10, 12 ft = 24, 30, 36 times.
    for feet, times in ((8, 24), (10, 30), (12, 36)):
        assert feet * MM_PER_FT / (4 * MM_PER_IN) == pytest.approx(times)
    assert LIMITS["JOINT-24-36.ratio"].value == 36
    assert LIMITS["JOINT-24-36.max"].value == 15  # ACI 302.1R, from memory


def test_a_three_inch_overlay_of_108_square_feet_takes_one_yard() -> None:
    # Common practice, no source (and the 324 divisor of a handbook, read): 108 sq ft x 3 in = 1.0 yd3.
    volume_m3 = 108 * MM2_PER_FT2 * 3 * MM_PER_IN / MM3_PER_M3
    assert volume_m3 / M3_PER_YD3 == pytest.approx(1.0)
    assert pytest.approx(1.0) == 108 * 3 / 324


# --------------------------------------------------------------------------------------- takeoff
# Volumes, orders and masses in the sources' own units and digits.


@pytest.mark.parametrize(
    ("inches", "printed_ft2"), [(2, 162), (3, 108), (4, 81), (5, 64.8), (6, 54), (7, 46.2), (8, 40.5)]
)
def test_one_cubic_yard_covers(inches: float, printed_ft2: float) -> None:
    # 2018 National Home Improvement Estimator (handbook) p. 42, read; it prints 46.2 for 46.29.
    volume = slab_volume(printed_ft2 * MM2_PER_FT2, inches * MM_PER_IN) / M3_PER_YD3
    assert volume == pytest.approx(1.0, rel=2e-3 if inches == 7 else 1e-9)
    assert volume == pytest.approx(printed_ft2 * inches / 324)  # the divisor 27 x 12


def test_tapering_driveway() -> None:
    # Same page, read; its text says 22 ft but its sum uses 20, so that 20 and 8 are the inputs here.
    outline = [(0.0, 0.0), (30.0, 6.0), (30.0, 14.0), (0.0, 20.0)]
    area, _ = outline_area([(x * MM_PER_FT, y * MM_PER_FT) for x, y in outline], 0.0)
    assert area / MM2_PER_FT2 == pytest.approx(420)
    volume = slab_volume(area, 4 * MM_PER_IN)
    assert volume / M3_PER_YD3 == pytest.approx(5.18, abs=0.006)
    assert volume == pytest.approx(3.96, abs=0.006)
    assert volume * 1.05 / M3_PER_YD3 == pytest.approx(5.44, abs=0.006)
    assert order_volume(volume, 0.05, M3_PER_YD3 / 4) / M3_PER_YD3 == pytest.approx(5.5)


def test_small_building_is_ordered_upwards() -> None:
    # US Navy training manual 14070 ch. 5, read; it prints 133.032 for 133.32 and 21 for 21.49 yd3.
    feet3 = 85.76 + 50.04 + 133.32 + 69.32 + 188.96
    assert feet3 == pytest.approx(527.40)
    assert feet3 * 1.10 * M3_PER_FT3 / M3_PER_YD3 == pytest.approx(21.49, abs=0.005)
    assert order_volume(feet3 * M3_PER_FT3, 0.10, M3_PER_YD3) / M3_PER_YD3 == pytest.approx(22)
    slab = slab_volume(18.67 * 30.67 * MM2_PER_FT2, 4 * MM_PER_IN)
    assert slab / M3_PER_FT3 == pytest.approx(190.87, abs=0.01)  # with 1/3 ft; the manual's 0.33 gives 188.96


def test_wedge_overlay() -> None:
    # Computed: 20 x 12 ft, 2.0 in at the far edge, 4.4 in at the house: 240 x 3.2 / 324 = 2.370 yd3.
    volume = slab_volume(240 * MM2_PER_FT2, (2.0 + 4.4) / 2 * MM_PER_IN)
    assert volume / M3_PER_YD3 == pytest.approx(2.370, abs=5e-4)
    assert volume == pytest.approx(1.812, abs=5e-4)


def test_volume_uncertainty() -> None:
    # Computed by root-sum-square (NIST TN 1297 5.1, read): 240 +- 2 ft2 times 3.2 +- 0.15 in.
    value, u = product(240.0, 2.0, 3.2, 0.15)
    assert pytest.approx(0.0083, abs=5e-5) == 2 / 240
    assert pytest.approx(0.0469, abs=5e-5) == 0.15 / 3.2
    assert u / value == pytest.approx(0.0476, abs=5e-5)
    assert u / 324 == pytest.approx(0.113, abs=5e-4)


def test_an_eighth_of_an_inch_on_four() -> None:
    # NRMCA CIP 8, read: 1/8 in on a 4 in slab is 3 % short; 1 yd3 in 32 computed.
    short = slab_volume(1e6, 0.125 * MM_PER_IN) / slab_volume(1e6, 4 * MM_PER_IN)
    assert short == pytest.approx(0.03125)
    assert short * 32 == pytest.approx(1.0)


def test_removal_of_400_square_feet() -> None:
    # Computed: 400 ft2 x 4 in = 4.94 yd3 = 10.0 short tons at 150 lb/ft3; 4050 lb per yd3.
    volume = slab_volume(400 * MM2_PER_FT2, 4 * MM_PER_IN)
    assert volume / M3_PER_YD3 == pytest.approx(4.94, abs=0.005)
    density = load_takeoff_rules().density[1]
    assert volume * density / KG_PER_LB / LB_PER_SHORT_TON == pytest.approx(10.0, abs=0.005)
    assert density * M3_PER_YD3 / KG_PER_LB == pytest.approx(4050)


def test_stone_for_a_two_inch_overlay() -> None:
    # ACI 318 26.4.2, from memory: at most a third of the depth; 2 in takes 5/8 in at most, so 1/2 in.
    stone = largest_aggregate(2 * MM_PER_IN, load_takeoff_rules())
    assert stone is not None
    assert stone[1] == "1/2 in"
