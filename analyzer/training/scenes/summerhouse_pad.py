"""The pad of a summer house: two sound panels with a few hairlines and nothing else."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import CrackPlan, JointPlan, ObjectPlan, SlabScene, StainPlan
from analyzer.training.scenes import readings
from analyzer.training.scenes.book import Table, place_m
from analyzer.training.scenes.plan import Expected, SampleJob, Shot, rectangle
from analyzer.training.scenes.readings import only

SEED = 6029
W, D = 3600.0, 2600.0
CORNERS = {"A": (0.0, 0.0), "B": (W, 0.0), "C": (W, D), "D": (0.0, D)}
PANELS = (rectangle(0, 0, W / 2, D), rectangle(W / 2, 0, W, D))
CRACKS = (
    CrackPlan(((420.0, 0.0), (470.0, 520.0), (390.0, 980.0)), 0.5, darkness=0.8, name="C1"),
    CrackPlan(((1800.0, 1410.0), (2350.0, 1480.0), (2900.0, 1390.0), (3600.0, 1500.0)), 0.6, darkness=0.8,
              name="C2"),
    CrackPlan(((980.0, 2600.0), (1010.0, 2240.0), (930.0, 1900.0)), 0.4, darkness=0.75, name="C3"),
    CrackPlan(((2820.0, 260.0), (3080.0, 420.0), (3160.0, 700.0)), 0.4, darkness=0.7, name="C4"),
)  # fmt: skip
SHOTS = (
    Shot("from-above", "from_above.jpg", (1795.0, 1290.0, 3150.0), (1795.0, 1318.0), roll_deg=0.4,
         quality=82, time="16:20:11"),
)  # fmt: skip


def height_mm(points: F64) -> F64:
    """Falls 2 % away from the house (edge C-D)."""
    return np.asarray(0.0205 * (points[:, 1] - D) + 0.0005 * points[:, 0])


def scene() -> SlabScene:
    """The drawn pad."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(JointPlan((W / 2, 0.0), (W / 2, D), 4.0, "sawn", "J1"),),
        stains=(
            StainPlan("leaf_print", (700.0, 1500.0), 800),
            StainPlan("blob", (2600.0, 600.0), 600),
            StainPlan("wet", (3000.0, 2100.0), 500),
        ),
        objects=(ObjectPlan("leaves", (2500.0, 2150.0), 420), ObjectPlan("needles", (420.0, 2300.0), 260)),
        surround="gravel",
        finish="broom",
        colour=(0.40, 0.39, 0.365),
        texture=0.8,
        texture_mm=0.9,
    )


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("C", "D", "house", "unknown"), ("A", "B", "free", "full"), ("B", "C", "free", "full"),
             ("D", "A", "free", "full"))  # fmt: skip
    marked = {"A": CORNERS["A"], "C": CORNERS["C"]}
    cracks = (("C1", (440.0, 300.0), "0.5 mm"), ("C2", (2350.0, 1480.0), "0.6 mm"), ("C3", (1010.0,
    2240.0), "0.4 mm"),
              ("C4", (3080.0, 420.0), "0.4 mm"))  # fmt: skip
    return (
        only(
            "job",
            id="summerhouse-pad",
            title="Pad of a summer house",
            date="2025-06-14",
            by="K. Made-up, estimator",
            surface="dry",
            weather="overcast, 18 C",
            units="metric",
            invented=True,
            notes="The owner asked whether the fine lines mean that the slab must go.",
        ),
        only("site", use="foot", public_route="no", freeze_thaw="yes", deicer="no"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="100 mm +- 5 mm",
            age_years=6,
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
        *readings.corners(CORNERS, metric=True),
        *(Table("edge", {"from": a, "to": b, "abuts": c, "support": d}) for a, b, c, d in edges),
        *readings.photo(
            job,
            "from-above",
            marked,
            {"A": "A", "C": "C"},
            "Taken straight down from the ladder with the phone on a pole: two corners and the tape "
            "between them.",
            straight_down=True,
        ),
        *readings.tapes(job, marked, (("A", "C"),), metric=True),
        *readings.stations(job, readings.at_corners(PANELS, 150.0, (0, 1, 2, 3)), 1320.0, "S1", metric=True),
        *(
            Table(
                "crack",
                {
                    "name": name,
                    "at": place_m(*at),
                    "width": f"{width} +- 0.1 mm",
                    "through": "no",
                    "moving": "no",
                    "splits_panel": "no" if name != "C2" else "yes",
                    "date": "2025-06-14",
                },
            )
            for name, at, width in cracks
        ),
        Table(
            "height",
            {
                "kind": "door sill",
                "name": "summer house door",
                "at": place_m(1800.0, D),
                "above_slab": "140 mm +- 2 mm",
                "egress_door": "no",
                "swings_over": "no",
            },
        ),
        Table(
            "height",
            {
                "kind": "siding",
                "name": "boarding beside the door",
                "at": place_m(600.0, D),
                "above_slab": "160 mm +- 5 mm",
            },
        ),
        Table(
            "height",
            {
                "kind": "free edge",
                "name": "gravel round the pad",
                "at": place_m(1800.0, 0.0),
                "above_slab": "-40 mm +- 10 mm",
            },
        ),
        only("design", fall="2 %", fall_toward="A-B", waste="8 %", plant_step="0.25 m3"),
    )


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="summerhouse_pad",
        seed=SEED,
        scene=scene(),
        shots=SHOTS,
        sheets=(),
        panels_mm=PANELS,
        height_mm=height_mm,
        book=book,
        expected=Expected(
            "patch",
            ("patch",),
            "A few hairlines under 1 mm on a sound, level slab that drains: seal or leave them, and "
            "do no more.",
        ),
        story=(
            "A 3.6 m by 2.6 m pad of two panels before a summer house: four hairlines of 0.4 to 0.6 "
            "mm, nothing "
            "settled, nothing worn. One photo straight down, scaled by two corners and the tape between them."
        ),
        hairlines=("C1", "C2", "C3", "C4"),
    )
