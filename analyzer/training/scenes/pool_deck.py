"""A pool deck before a glass door: worn but sound, with no height left at the sill."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import (
    CrackPlan,
    GroundPlan,
    JointPlan,
    ObjectPlan,
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

SEED = 8117
W, D = ft(14), ft(9)
CORNERS = {"A": (0.0, 0.0), "B": (W, 0.0), "C": (W, D), "D": (0.0, D)}
PANELS = (rectangle(0, 0, W / 2, D), rectangle(W / 2, 0, W, D))
WORN = scattered(SEED, rectangle(0, 0, W, D), 64, (140, 560))
CRACKS = (
    CrackPlan(((W / 2, ft(5.2)), (ft(9.2), ft(5.6)), (ft(11.6), ft(5.1)), (W, ft(5.5))), 2.2, name="C1"),
    CrackPlan(((ft(2.2), 0.0), (ft(2.5), ft(2.4)), (ft(2.1), ft(4.6)), (ft(2.6), ft(6.4))), 1.5, name="C2"),
)
SHEETS = (Sheet(3, (ft(7.75), ft(4.25)), 4.0),)
SHOTS = (
    Shot("from-pool-left", "from_pool_left.jpg", (ft(5.4), -300.0, 2700.0), (ft(5.6), ft(4.6)), roll_deg=0.7,
         time="13:30:05"),
    Shot("from-pool-right", "from_pool_right.jpg", (ft(9.6), -350.0, 2700.0), (ft(9.2), ft(4.5)),
         roll_deg=-1.1, time="13:31:12"),
)  # fmt: skip


def height_mm(points: F64) -> F64:
    """Falls 2 % from the door to the pool drain."""
    return np.asarray(0.021 * (points[:, 1] - D) + 0.0008 * points[:, 0])


def scene() -> SlabScene:
    """The drawn deck."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(JointPlan((W / 2, 0.0), (W / 2, D), 6.0, "sealed_worn", "J1"),),
        spalls=tuple(SpallPlan(ring, "scaling") for ring in WORN),
        stains=(
            StainPlan("wet", (ft(11.0), ft(1.4)), 900),
            StainPlan("rust", (ft(4.5), ft(7.4)), 420),
            StainPlan("mottle", (ft(7), ft(4)), 2400),
        ),
        objects=(ObjectPlan("leaves", (ft(12.6), ft(7.6)), 420),),
        grounds=(GroundPlan("tiles", rectangle(-4000, -320, W + 4000, -12)),
                 GroundPlan("smooth", rectangle(-9000, -9000, W + 9000, -320))),
        walls=(
            WallPlan((-2500.0, D + 12), (W + 2500, D + 12), 2700, "plaster",
                     ((2500 + ft(4), 2500 + ft(10), 29.0, 2200.0, (0.13, 0.19, 0.22)),)),
        ),
        surround="gravel",
        finish="broom",
        colour=(0.43, 0.41, 0.375),
        texture=0.85,
        texture_mm=0.9,
    )  # fmt: skip


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("C", "D", "house", "unknown"), ("A", "B", "pool", "full"), ("B", "C", "free", "full"),
             ("D", "A", "free", "full"))  # fmt: skip
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
            id="pool-deck",
            title="Pool deck before a glass door",
            date="2025-07-08",
            by="L. Imagined, estimator",
            surface="dry",
            weather="sunny, 84 F",
            units="imperial",
            invented=True,
            notes="The owner wants new concrete poured over it. The door track stands just above the deck.",
        ),
        only("site", use="foot", public_route="no", freeze_thaw="yes", deicer="no"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="4 in +- 1/4 in",
            age_years=19,
            pours_of_different_dates="no",
            reinforced="no",
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
            {"id": "from-pool-left", "file": "from_pool_left.jpg"},
            comment="Both from the step ladder at the pool's edge; one marker sheet between them.",
        ),
        Table("photo", {"id": "from-pool-right", "file": "from_pool_right.jpg"}),
        *readings.stations(
            job, readings.at_corners(PANELS, ft(0.5), (0, 1, 2, 3)), 1250.0, "S1", metric=False
        ),
        Table(
            "crack",
            {
                "name": "C1",
                "at": place_ft(ft(9.2), ft(5.6)),
                "width": "2.3 mm +- 0.2 mm",
                "through": "unknown",
                "moving": "no",
                "date": "2025-07-08",
            },
        ),
        *worn,
        Table(
            "height",
            {
                "kind": "door sill",
                "name": "glass door, track",
                "at": place_ft(W / 2, D),
                "above_slab": "1 1/8 in +- 1/32 in",
                "egress_door": "yes",
                "swings_over": "no",
            },
            comment="The track of the glass door is the sill.",
        ),
        Table(
            "height",
            {
                "kind": "siding",
                "name": "panels beside the door",
                "at": place_ft(ft(1.5), D),
                "above_slab": "4 1/2 in +- 1/8 in",
            },
        ),
        only("design", fall="1/4 in/ft", fall_toward="A-B", waste="8 %", plant_step="0.25 yd3"),
    )


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="pool_deck",
        seed=SEED,
        scene=scene(),
        shots=SHOTS,
        sheets=SHEETS,
        panels_mm=PANELS,
        height_mm=height_mm,
        book=book,
        expected=Expected(
            "patch",
            ("patch",),
            "The slab is sound and would carry an overlay, but the door track stands 1 1/8 in above "
            "it: nothing can "
            "be poured on it, so it is repaired where it is worn and cracked.",
        ),
        story=(
            "A 14 ft by 9 ft deck of two panels between a glass door and a pool: scaled spots, two "
            "fine cracks, "
            "nothing settled, the door track 1 1/8 in above the deck. Two photos, one marker sheet."
        ),
    )
