"""An apron before a dairy: settled, stepped, broken up by trucks over washed-out ground."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import (
    CrackPlan,
    GroundPlan,
    JointPlan,
    ObjectPlan,
    Point,
    SlabScene,
    SpallPlan,
    StainPlan,
    WallPlan,
)
from analyzer.training.scenes import readings
from analyzer.training.scenes.book import Table, ft, inches, place_ft
from analyzer.training.scenes.plan import Expected, SampleJob, Shot, rectangle
from analyzer.training.scenes.readings import only
from analyzer.training.scenes.wear import spot

SEED = 5211
S = ft(8)  # side of a panel
W, D = 3 * S, 2 * S
CORNERS = {"A": (0.0, 0.0), "B": (W, 0.0), "C": (W, D), "D": (0.0, D)}
PANELS = tuple(rectangle(i * S, j * S, (i + 1) * S, (j + 1) * S) for j in (1, 0) for i in range(3))
POINTS: dict[str, Point] = {
    **CORNERS, "m1": (S, 0.0), "m2": (2 * S, 0.0), "m3": (W, S), "m4": (2 * S, D), "m5": (S, D),
    "m6": (0.0, S),
    "m7": (S, S), "m8": (2 * S, S),
}  # fmt: skip
SUNK = (
    (-4.0, 0.0, 0.001), (-40.0, 0.002, -0.018), (-2.0, 0.0, 0.0),
    (-26.0, 0.004, 0.003), (-52.0, -0.003, 0.004), (-3.0, 0.001, 0.0),
)  # fmt: skip
"""Per panel P1 to P6: millimetres at its middle against the old plane, and tilts along x and y."""


def _at(fx: float, fy: float) -> Point:
    """A point by panel widths from the lower left corner."""
    return (fx * S, fy * S)


CRACKS = (
    CrackPlan((_at(1.45, 0.52), _at(1.30, 0.30), _at(1.12, 0.0)), (14.0, 12.0, 10.0), name="C1"),
    CrackPlan((_at(1.45, 0.52), _at(1.66, 0.25), _at(1.78, 0.0)), (12.0, 11.0, 9.0), name="C2"),
    CrackPlan((_at(1.45, 0.52), _at(1.75, 0.58), _at(2.0, 0.70)), (13.0, 11.0, 8.0), name="C3"),
    CrackPlan((_at(1.45, 0.52), _at(1.52, 0.78), _at(1.46, 1.0)), (11.0, 12.0, 10.0), name="C4"),
    CrackPlan((_at(1.45, 0.52), _at(1.22, 0.60), _at(1.0, 0.55)), (10.0, 9.0, 11.0), name="C5"),
    CrackPlan((_at(1.0, 1.38), _at(1.34, 1.46), _at(1.68, 1.40), _at(2.0, 1.52)), (9.0, 8.0, 10.0, 8.0),
              name="C6"),
    CrackPlan((_at(0.42, 0.0), _at(0.50, 0.34), _at(0.44, 0.66), _at(0.55, 1.0)), (11.0, 10.0, 12.0, 9.0),
              name="C7"),
    CrackPlan((_at(0.0, 1.58), _at(0.36, 1.50), _at(0.70, 1.57), _at(1.0, 1.49)), (7.0, 8.5, 7.5, 7.0),
              name="C8"),
    CrackPlan((_at(2.52, 1.0), _at(2.47, 1.36), _at(2.58, 1.70), _at(2.52, 2.0)), 3.6, name="C9"),
    CrackPlan((_at(2.0, 0.34), _at(2.30, 0.40), _at(2.62, 0.33), _at(3.0, 0.42)), 1.8, name="C10"),
)  # fmt: skip
SHOTS = (
    Shot("lane-left", "lane_left.jpg", (0.62 * S, -900.0, 2900.0), (0.75 * S, 1550.0), roll_deg=0.8,
         time="07:41:10"),
    Shot("lane-right", "lane_right.jpg", (2.38 * S, -950.0, 2950.0), (2.25 * S, 1500.0), roll_deg=-1.2,
         time="07:41:52"),
    Shot("barn-left", "barn_left.jpg", (0.68 * S, D - 200.0, 2900.0), (0.74 * S, D - 2150.0), roll_deg=1.5,
         time="07:44:05"),
    Shot("barn-right", "barn_right.jpg", (2.30 * S, D - 220.0, 2900.0), (2.26 * S, D - 2200.0), roll_deg=-0.6,
         time="07:44:40"),
)  # fmt: skip


def height_mm(points: F64) -> F64:
    """A plane that falls to the lane, and each panel where it has gone."""
    x, y = points[:, 0], points[:, 1]
    z = 0.012 * (y - D)
    for panel, (dz, tx, ty) in zip(PANELS, SUNK, strict=True):
        (x0, y0), _, (x1, y1), _ = panel
        mine = (x >= x0) & (x < x1) & (y >= y0) & (y < y1)
        z = np.where(mine, z + dz + tx * (x - (x0 + x1) / 2) + ty * (y - (y0 + y1) / 2), z)
    return np.asarray(z)


def scene() -> SlabScene:
    """The drawn apron."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(
            JointPlan((0.0, S), (W, S), 9.0, "dirt", "J1"),
            JointPlan((S, 0.0), (S, D), 7.0, "sawn", "J2"),
            JointPlan((2 * S, 0.0), (2 * S, D), 7.0, "sawn", "J3"),
        ),
        spalls=(
            SpallPlan(spot(SEED, 1, _at(1.45, 0.53), 210)),
            SpallPlan(spot(SEED, 2, _at(1.01, 0.97), 260)),
            SpallPlan(spot(SEED, 3, _at(0.47, 0.62), 130)),
        ),
        stains=(
            StainPlan("oil", _at(2.4, 0.7), 700),
            StainPlan("tyre", _at(0.6, 1.2), 2400),
            StainPlan("tyre", _at(2.3, 1.1), 2600),
            StainPlan("wet", _at(1.5, 1.75), 1500),
            StainPlan("mottle", _at(1.5, 0.9), 3200),
        ),
        objects=(
            ObjectPlan("grass_blades", _at(2.75, 0.62), 500),
            ObjectPlan("pebbles", _at(0.3, 1.25), 600),
        ),
        grounds=(GroundPlan("asphalt", rectangle(-9000, -9000, W + 9000, -20.0)),),
        walls=(
            WallPlan(
                (-4000.0, D + 15),
                (W + 4000, D + 15),
                3200,
                "plaster",
                ((4000 + 1.2 * S, 4000 + 1.8 * S, 102.0, 2600.0, (0.10, 0.16, 0.12)),),
            ),
        ),
        surround="soil",
        finish="broom",
        colour=(0.30, 0.29, 0.27),
        texture=1.0,
        texture_mm=0.9,
        panel_tones=((PANELS[2], 1.05), (PANELS[4], 0.94)),
    )


def _steps() -> list[Table]:
    """Steps across joints and cracks, as a straightedge and wedge would show them."""
    spots = (
        ("J2", _at(1.0, 1.7), (1, 0)), ("J3", _at(2.0, 1.7), (1, 0)), ("J2", _at(1.0, 0.3), (1, 0)),
        ("J3", _at(2.0, 0.3), (1, 0)), ("J1", _at(1.6, 1.0), (0, 1)), ("J1", _at(0.4, 1.0), (0, 1)),
    )  # fmt: skip
    tables = []
    for _, at, across in spots:
        both = np.array([np.add(at, np.multiply(across, d)) for d in (-40.0, 40.0)])
        step = abs(float(np.diff(height_mm(both))[0]))
        tables.append(Table("fault", {"at": place_ft(*at), "step": f"{inches(step)} +- 1/16 in"}))
    for name, at, step in (
        ("C6", _at(1.34, 1.46), 11.0),
        ("C8", _at(0.36, 1.50), 9.0),
        ("C7", _at(0.5, 0.34), 10.0),
    ):
        tables.append(
            Table("fault", {"at": place_ft(*at), "step": f"{inches(step)} +- 1/16 in", "along": name})
        )
    return tables


def _crack(name: str, at: Point, width_mm: float, **more: str) -> Table:
    told = {"name": name, "at": place_ft(*at), "width": f"{width_mm:g} mm +- 0.5 mm", "moving": "no"}
    return Table("crack", {**told, **more, "date": "2025-05-20"})


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("C", "D", "house", "unknown"), ("A", "B", "street", "partly washed out"),
             ("B", "C", "free", "full"), ("D", "A", "free", "partly washed out"))  # fmt: skip
    known = {name: name for name in CORNERS} | {
        name: place_ft(*point) for name, point in POINTS.items() if name not in CORNERS
    }
    photos = [
        table
        for k, shot in enumerate(job.shots)
        for table in readings.photo(
            job,
            shot.photo_id,
            readings.in_view(job, shot.photo_id, POINTS),
            known,
            "Marked points: corners of the apron and crossings of joints with edges and each other."
            * (k == 0),
        )
    ]
    stations = readings.at_corners(PANELS, ft(0.5), (0, 1, 2, 3))
    return (
        only(
            "job",
            id="dairy-apron",
            title="Apron before a dairy",
            date="2025-05-20",
            by="R. Invented, estimator",
            surface="dry",
            weather="clear, early sun, 61 F",
            units="imperial",
            invented=True,
            notes="The drain under the apron burst three winters ago and was mended; the ground round it had "
            "washed out. The milk truck turns here daily.",
        ),
        only("site", use="truck", public_route="no", freeze_thaw="yes", deicer="no"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="5 in +- 1/4 in",
            age_years=41,
            pours_of_different_dates="no",
            reinforced="no",
            seasonal_movement="no",
            still_moving="no",
            rocking_panels=["P2", "P5"],
            ponding_seen="yes",
            ponding_depth="1 in",
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
        *photos,
        *readings.stations(job, stations, 1400.0, "S1", metric=False),
        *_steps(),
        _crack("C1", _at(1.30, 0.30), 12.0, through="yes", splits_panel="yes"),
        _crack("C3", _at(1.75, 0.58), 11.0, through="yes", splits_panel="yes"),
        _crack("C6", _at(1.34, 1.46), 8.5, through="yes", splits_panel="yes"),
        _crack("C7", _at(0.50, 0.34), 10.5, through="yes", splits_panel="yes"),
        _crack("C8", _at(0.36, 1.50), 8.5, through="yes", splits_panel="yes"),
        Table(
            "area",
            {
                "kind": "spalling",
                "at": place_ft(*_at(1.45, 0.53)),
                "area": "0.5 ft2",
                "depth": "1 1/2 in +- 1/4 in",
            },
        ),
        Table("area", {"kind": "hollow-sounding area", "at": place_ft(*_at(1.4, 0.7)), "area": "30 ft2"}),
        Table(
            "height",
            {
                "kind": "door sill",
                "name": "dairy door",
                "at": place_ft(*_at(1.5, 2.0)),
                "above_slab": "5 1/2 in +- 1/8 in",
                "egress_door": "no",
                "swings_over": "no",
            },
        ),
        Table(
            "height",
            {
                "kind": "free edge",
                "name": "lane, gutter",
                "at": place_ft(*_at(1.5, 0.0)),
                "above_slab": "-1 in +- 1/2 in",
            },
        ),
        only(
            "design",
            fall="1/8 in/ft",
            fall_toward="A-B",
            replacement_thickness="6 in",
            waste="8 %",
            plant_step="0.25 yd3",
        ),
    )


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="dairy_apron",
        seed=SEED,
        scene=scene(),
        shots=SHOTS,
        sheets=(),
        panels_mm=PANELS,
        height_mm=height_mm,
        book=book,
        expected=Expected(
            "removal",
            ("removal",),
            "Four of six panels are broken up, stepped or have lost their support, and water stands on them: "
            "too little is left to repair and nothing is left to pour on.",
        ),
        story=(
            "A 24 ft by 16 ft apron of six panels before a dairy, for trucks: one panel shattered into five "
            "pieces, three split by wide, stepped cracks, three sunk up to 2 in over washed-out ground. Four "
            "photos, scaled by marked points."
        ),
    )
