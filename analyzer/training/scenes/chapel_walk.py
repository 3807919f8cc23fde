"""A walk and landing at a chapel door: sound but scaled, and the step at the door is too high."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import (
    CrackPlan,
    GroundPlan,
    JointPlan,
    ObjectPlan,
    ShadowPlan,
    SlabScene,
    SpallPlan,
    StainPlan,
    WallPlan,
)
from analyzer.training.scenes import readings
from analyzer.training.scenes.book import Table, ft, place_ft
from analyzer.training.scenes.plan import Expected, SampleJob, Sheet, Shot, rectangle
from analyzer.training.scenes.readings import only
from analyzer.training.scenes.wear import area_within, scattered

SEED = 4107
W, L = ft(6), ft(18)  # the walk
X0, X1, Y1 = -ft(3), ft(9), ft(24)  # the landing at the door
MID = ft(3)
CORNERS = {
    "A": (0.0, 0.0), "B": (W, 0.0), "C": (W, L), "D": (X1, L), "E": (X1, Y1), "F": (X0, Y1), "G": (X0, L),
    "H": (0.0, L),
}  # fmt: skip
PANELS = (
    rectangle(X0, L, MID, Y1), rectangle(MID, L, X1, Y1), rectangle(0, ft(12), W, L),
    rectangle(0, ft(6), W, ft(12)), rectangle(0, 0, W, ft(6)),
)  # fmt: skip
WORN = (
    *scattered(SEED, rectangle(0, 0, W, L), 46, (130, 620)),
    *scattered(SEED + 1, rectangle(X0, L, X1, Y1), 30, (150, 700)),
)
CRACKS = (
    CrackPlan(((0.0, ft(9.2)), (ft(2.1), ft(9.5)), (ft(4.3), ft(9.1)), (W, ft(9.4))), 1.6, name="C1"),
    CrackPlan(((MID, ft(20.7)), (ft(4.9), ft(21.3)), (ft(6.8), ft(21.1)), (X1, ft(21.9))), 1.9, name="C2"),
    CrackPlan(((ft(2.2), ft(2.0)), (ft(2.9), ft(3.4)), (ft(2.5), ft(4.8)), (ft(2.8), ft(6.0))), 0.6,
    name="C3"),
)  # fmt: skip
SHEETS = (
    Sheet(1, (ft(0.75), ft(1.25))),
    Sheet(2, (ft(5.0), ft(7.75)), 12.0),
    Sheet(3, (ft(0.75), ft(16.25)), -8.0),
    Sheet(4, (ft(7.5), ft(19.25)), 90.0),
)
SHOTS = (
    Shot("walk-lower", "walk_lower.jpg", (ft(3), -ft(1.2), 2500.0), (ft(3), ft(3.2)), (4000, 3000), 1.5,
         stored=6, time="10:12:40"),
    Shot("walk-upper", "walk_upper.jpg", (ft(3), ft(6.4), 2500.0), (ft(3.1), ft(11.2)), (4000, 3000), -2.0,
         stored=6, time="10:13:25"),
    Shot("landing", "landing.jpg", (ft(3), ft(15.0), 2700.0), (ft(3), ft(20.4)), (3000, 4000), 1.0,
         time="10:15:02"),
    Shot("crack-c1", "crack_c1.jpg", (ft(4.85), ft(8.2), 800.0), (ft(4.85), ft(8.65)), (3000, 2250), 0.0,
         stored=6, time="10:18:31"),
)  # fmt: skip


def height_mm(points: F64) -> F64:
    """Falls 1/4 in per foot from the door to the lane, a little hollow in the middle of the walk."""
    x, y = points[:, 0], points[:, 1]
    return np.asarray((y - Y1) / 48 - 2.0 * np.sin(np.pi * np.clip(y / L, 0, 1)) + 0.001 * (x - MID))


def scene() -> SlabScene:
    """The drawn walk."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(
            JointPlan((0.0, ft(6)), (W, ft(6)), 5.0, "tooled", "J1"),
            JointPlan((0.0, ft(12)), (W, ft(12)), 5.0, "tooled", "J2"),
            JointPlan((0.0, L), (W, L), 6.5, "dirt", "J3"),
            JointPlan((MID, L), (MID, Y1), 5.0, "tooled", "J4"),
        ),
        spalls=tuple(SpallPlan(ring, "scaling") for ring in WORN),
        stains=(
            StainPlan("moss", (ft(0.6), ft(11.0)), 900),
            StainPlan("blob", (ft(4.0), ft(16.0)), 800),
            StainPlan("mottle", (ft(3.0), ft(20.0)), 2600),
            StainPlan("leaf_print", (ft(5.0), ft(5.0)), 700),
        ),
        objects=(
            ObjectPlan("leaves", (ft(5.2), ft(2.6)), 520),
            ObjectPlan("leaves", (ft(-1.6), ft(18.9)), 600),
            ObjectPlan("twigs", (ft(1.1), ft(14.6)), 380),
        ),
        shadows=(ShadowPlan("foliage", soft_mm=30.0, ambient=0.62),),
        grounds=(GroundPlan("asphalt", rectangle(-6000, -4000, W + 6000, -25.0)),),
        walls=(
            WallPlan(
                (X0 - 1800, Y1 + 12), (X1 + 1800, Y1 + 12), 2600, "brick",
                ((1800 + ft(4.2), 1800 + ft(7.8), 222.0, 2350.0, (0.09, 0.045, 0.03)),),
            ),
        ),
        surround="grass",
        finish="float",
        colour=(0.36, 0.345, 0.315),
        texture=0.9,
        texture_mm=0.9,
    )  # fmt: skip


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("E", "F", "house", "unknown"), ("A", "B", "street", "full"), ("B", "C", "free", "full"),
             ("C", "D", "free", "full"), ("D", "E", "free", "full"), ("F", "G", "free", "full"),
             ("G", "H", "free", "full"), ("H", "A", "free", "full"))  # fmt: skip
    places = {
        "S1": (ft(-2.5), ft(23.5)), "S2": (ft(3), ft(23.5)), "S3": (ft(8.5), ft(23.5)),
        "S4": (ft(-2.5), ft(18.5)), "S5": (ft(2.5), ft(18.5)), "S6": (ft(8.5), ft(18.5)),
        "S7": (ft(0.5), ft(15)), "S8": (ft(5.5), ft(15)), "S9": (ft(0.5), ft(10.5)),
        "S10": (ft(5.5), ft(10.5)),
        "S11": (ft(0.5), ft(6.5)), "S12": (ft(5.5), ft(6.5)), "S13": (ft(0.5), ft(3)),
        "S14": (ft(5.5), ft(3)),
        "S15": (ft(0.5), ft(0.5)), "S16": (ft(5.5), ft(0.5)),
    }  # fmt: skip
    worn = [
        Table(
            "area",
            {
                "kind": "scaling",
                "at": place_ft(*np.mean(panel, axis=0)),
                "area": readings.square_feet(area_within(WORN, panel)),
                "depth": "1/8 in +- 1/16 in",
            },
        )
        for panel in PANELS
    ]
    return (
        only(
            "job",
            id="chapel-walk",
            title="Walk and landing at a chapel door",
            date="2025-04-12",
            by="M. Example, estimator",
            surface="dry",
            weather="bright, light wind, 54 F",
            units="imperial",
            invented=True,
            notes="Swept before the photos. Sounded all over with a chain, edges probed with a bar.",
        ),
        only("site", use="foot", public_route="no", freeze_thaw="yes", deicer="yes"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="4 in +- 1/4 in",
            age_years=38,
            pours_of_different_dates="no",
            reinforced="unknown",
            seasonal_movement="no",
            still_moving="no",
            rocking_panels=[],
            ponding_seen="no",
            drains_toward_house="no",
            coating="no",
            tree_roots="no",
            expansive_ground="no",
            rust_stains="no",
            sounded="yes",
            walked_over="yes",
            heights_listed="yes",
            white_deposits="no",
        ),
        *readings.corners(CORNERS, metric=False),
        *(Table("edge", {"from": a, "to": b, "abuts": c, "support": d}) for a, b, c, d in edges),
        *readings.sheets(job.sheets, metric=False),
        Table(
            "photo",
            {"id": "walk-lower", "file": "walk_lower.jpg"},
            comment="Taken from a step ladder, phone held upright.",
        ),
        Table("photo", {"id": "walk-upper", "file": "walk_upper.jpg"}),
        Table("photo", {"id": "landing", "file": "landing.jpg"}),
        Table("photo", {"id": "crack-c1", "file": "crack_c1.jpg", "closeup_of": "C1"}),
        *readings.stations(job, places, 1210.0, "S1", metric=False),
        Table(
            "crack",
            {
                "name": "C1",
                "at": place_ft(ft(4.3), ft(9.1)),
                "width": "1.75 mm +- 0.1 mm",
                "through": "no",
                "moving": "no",
                "date": "2025-04-12",
            },
        ),
        Table(
            "crack",
            {
                "name": "C2",
                "at": place_ft(ft(6.8), ft(21.1)),
                "width": "2.0 mm +- 0.1 mm",
                "through": "unknown",
                "moving": "no",
                "date": "2025-04-12",
            },
        ),
        *worn,
        Table(
            "height",
            {
                "kind": "door sill",
                "name": "chapel door",
                "at": place_ft(MID, Y1),
                "above_slab": "8 3/4 in +- 1/16 in",
                "egress_door": "yes",
                "swings_over": "no",
            },
            comment="The door opens inwards; the wall is brick down to the ground.",
        ),
        Table(
            "height",
            {
                "kind": "free edge",
                "name": "lawn beside the walk",
                "at": place_ft(W, ft(9)),
                "above_slab": "-2 1/2 in +- 1/2 in",
            },
        ),
        Table(
            "height",
            {
                "kind": "free edge",
                "name": "lane, gutter",
                "at": place_ft(MID, 0.0),
                "above_slab": "-3 in +- 1/4 in",
            },
        ),
        only("design", fall="1/4 in/ft", fall_toward="A-B", waste="8 %", plant_step="0.25 yd3"),
    )


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="chapel_walk",
        seed=SEED,
        scene=scene(),
        shots=SHOTS,
        sheets=SHEETS,
        panels_mm=PANELS,
        height_mm=height_mm,
        book=book,
        expected=Expected(
            "overlay",
            ("overlay, bonded",),
            "The slab is sound, level and quiet but scaled by frost and salt, and the step at the "
            "door is higher "
            "than a step may be: new concrete bonded on it cures both.",
        ),
        story=(
            "A 6 ft walk of three panels and a landing of two at a chapel door: scaled surface, two "
            "fine cracks "
            "and a hairline, joints tight, nothing settled, door step 8 3/4 in high. Three photos "
            "from a step "
            "ladder and one close-up, four marker sheets."
        ),
        hairlines=("C3",),
    )
