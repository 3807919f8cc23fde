"""A bicycle yard at a school: one panel broken up over a soft spot, five good ones round it."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import (
    CrackPlan,
    JointPlan,
    ObjectPlan,
    Point,
    ShadowPlan,
    SlabScene,
    SpallPlan,
    StainPlan,
)
from analyzer.training.scenes import readings
from analyzer.training.scenes.book import Table, millimetres, place_m
from analyzer.training.scenes.plan import Expected, SampleJob, Shot, rectangle
from analyzer.training.scenes.readings import only
from analyzer.training.scenes.wear import spot

SEED = 9203
S = 2000.0
W, D = 3 * S, 2 * S
CORNERS = {"A": (0.0, 0.0), "B": (W, 0.0), "C": (W, D), "D": (0.0, D)}
PANELS = tuple(rectangle(i * S, j * S, (i + 1) * S, (j + 1) * S) for j in (1, 0) for i in range(3))
POINTS: dict[str, Point] = {
    **CORNERS, "m1": (S, 0.0), "m2": (2 * S, 0.0), "m3": (W, S), "m4": (2 * S, D), "m5": (S, D),
    "m6": (0.0, S),
    "m7": (S, S), "m8": (2 * S, S),
}  # fmt: skip
BAD = PANELS[4]
CRACKS = (
    CrackPlan(((2980.0, 960.0), (2700.0, 560.0), (2460.0, 0.0)), (8.5, 7.5, 6.5), name="C1"),
    CrackPlan(((2980.0, 960.0), (3340.0, 620.0), (4000.0, 480.0)), (8.0, 7.0, 7.0), name="C2"),
    CrackPlan(((2980.0, 960.0), (3160.0, 1450.0), (3080.0, 2000.0)), (8.0, 8.0, 6.5), name="C3"),
    CrackPlan(((2980.0, 960.0), (2450.0, 1120.0), (2000.0, 1080.0)), (7.5, 7.0, 7.5), name="C4"),
    CrackPlan(((900.0, 4000.0), (980.0, 3300.0), (880.0, 2700.0)), 0.8, name="C5"),
    CrackPlan(((5200.0, 0.0), (5100.0, 480.0), (5210.0, 900.0)), 0.6, name="C6"),
)
SHOTS = (
    Shot("gate-side", "gate_side.heic", (1900.0, -750.0, 2900.0), (2050.0, 1400.0), roll_deg=0.9, quality=70,
         time="15:05:40"),
    Shot("street-side", "street_side.jpg", (4350.0, -700.0, 2900.0), (4150.0, 1450.0), roll_deg=-0.8,
         time="15:06:31"),
    Shot("rack-side-left", "rack_left.jpg", (1700.0, D + 700.0, 2900.0), (1900.0, D - 1400.0), roll_deg=1.4,
         time="15:09:02"),
    Shot("rack-side-right", "rack_right.jpg", (4300.0, D + 750.0, 2900.0), (4200.0, D - 1400.0),
         roll_deg=-1.5, time="15:09:47"),
)  # fmt: skip


def height_mm(points: F64) -> F64:
    """Falls 1.5 % to the gate; the bad panel lies 28 mm low and tilts."""
    x, y = points[:, 0], points[:, 1]
    z = 0.015 * y + 0.002 * x
    (x0, y0), _, (x1, y1), _ = BAD
    mine = (x >= x0) & (x < x1) & (y >= y0) & (y < y1)
    return np.asarray(np.where(mine, z - 28.0 - 0.006 * (x - (x0 + x1) / 2) + 0.004 * (y - (y0 + y1) / 2), z))


def scene() -> SlabScene:
    """The drawn yard."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(
            JointPlan((0.0, S), (W, S), 6.0, "sawn", "J1"),
            JointPlan((S, 0.0), (S, D), 6.0, "sawn", "J2"),
            JointPlan((2 * S, 0.0), (2 * S, D), 6.0, "sawn", "J3"),
        ),
        spalls=(SpallPlan(spot(SEED, 1, (2990.0, 970.0), 170)),),
        stains=(
            StainPlan("gum", (1200.0, 1100.0), 1100),
            StainPlan("tyre", (4900.0, 2600.0), 1500),
            StainPlan("rust", (5300.0, 3500.0), 350),
            StainPlan("chalk", (1000.0, 2600.0), 800),
        ),
        objects=(ObjectPlan("leaves", (5500.0, 1500.0), 550), ObjectPlan("twigs", (300.0, 3300.0), 350)),
        shadows=(ShadowPlan("branches", soft_mm=14.0, ambient=0.6),),
        surround="grass",
        finish="broom",
        colour=(0.38, 0.37, 0.35),
        texture=0.9,
        texture_mm=0.9,
        panel_tones=((PANELS[1], 1.04), (PANELS[5], 0.96)),
    )


def _steps() -> list[Table]:
    spots = (("J2", (S, 1500.0), (1, 0)), ("J3", (2 * S, 1200.0), (1, 0)), ("J1", (2600.0, S), (0, 1)))
    tables = []
    for _, at, across in spots:
        both = np.array([np.add(at, np.multiply(across, d)) for d in (-40.0, 40.0)])
        step = abs(float(np.diff(height_mm(both))[0]))
        tables.append(Table("fault", {"at": place_m(*at), "step": f"{millimetres(step)} +- 1 mm"}))
    return tables


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("A", "B", "walk", "full"), ("B", "C", "free", "full"), ("C", "D", "free", "full"),
             ("D", "A", "free", "full"))  # fmt: skip
    known = {name: name for name in CORNERS} | {
        name: place_m(*point) for name, point in POINTS.items() if name not in CORNERS
    }
    photos = [
        table
        for k, shot in enumerate(job.shots)
        for table in readings.photo(
            job,
            shot.photo_id,
            readings.in_view(job, shot.photo_id, POINTS),
            known,
            "Marked points: corners and where joints meet edges or each other." * (k == 0),
        )
    ]
    cracks = (("C1", (2700.0, 560.0), "7.5 mm"), ("C2", (3340.0, 620.0), "7 mm"), ("C3", (3160.0, 1450.0),
    "8 mm"),
              ("C4", (2450.0, 1120.0), "7 mm"))  # fmt: skip
    return (
        only(
            "job",
            id="school-cycle-yard",
            title="Bicycle yard at a school",
            date="2025-03-27",
            by="A. Nobody, estimator",
            surface="dry",
            weather="sunny spells, 11 C",
            units="metric",
            invented=True,
            notes="A leaking downpipe washed out the ground below one panel; the pipe was mended in autumn.",
        ),
        only("site", use="foot", public_route="yes", freeze_thaw="yes", deicer="no"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="100 mm +- 5 mm",
            age_years=17,
            pours_of_different_dates="no",
            reinforced="no",
            seasonal_movement="no",
            still_moving="no",
            rocking_panels=["P2"],
            ponding_seen="yes",
            ponding_depth="15 mm",
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
        *photos,
        *readings.stations(job, readings.at_corners(PANELS, 150.0, (0, 1, 2, 3)), 1450.0, "S1", metric=True),
        *_steps(),
        *(
            Table(
                "crack",
                {
                    "name": name,
                    "at": place_m(*at),
                    "width": f"{width} +- 0.5 mm",
                    "through": "yes",
                    "moving": "no",
                    "date": "2025-03-27",
                },
            )
            for name, at, width in cracks
        ),
        Table(
            "area",
            {"kind": "spalling", "at": place_m(2990.0, 970.0), "area": "0.05 m2", "depth": "25 mm +- 5 mm"},
        ),
        Table(
            "height",
            {
                "kind": "adjoining walk",
                "name": "path at the gate",
                "at": place_m(3000.0, 0.0),
                "above_slab": "0 mm +- 3 mm",
            },
            comment="No building stands beside the yard; the racks are bolted to the grass kerb.",
        ),
        Table(
            "height",
            {"kind": "free edge", "name": "grass", "at": place_m(W, S), "above_slab": "-30 mm +- 10 mm"},
        ),
        only("design", replacement_thickness="100 mm", waste="8 %", plant_step="0.25 m3"),
    )


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="school_cycle_yard",
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
            "One panel of six is broken into four pieces, has sunk and rocks; the other five are "
            "sound: replace that "
            "panel and leave the rest.",
        ),
        story=(
            "A 6 m by 4 m yard of six panels: one broken into four pieces by cracks of 6 to 9 mm, "
            "sunk 28 mm and "
            "rocking; two hairlines elsewhere. Four photos (one HEIF), scaled by marked points."
        ),
        hairlines=("C5", "C6"),
    )
