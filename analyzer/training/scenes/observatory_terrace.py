"""The visitors' terrace of an observatory: map cracking over most of a sound, quiet slab."""

from __future__ import annotations

import numpy as np

from analyzer.training.render.curves import F64
from analyzer.training.render.plan import (
    JointPlan,
    ObjectPlan,
    Point,
    ShadowPlan,
    SlabScene,
    StainPlan,
    WallPlan,
)
from analyzer.training.scenes import readings
from analyzer.training.scenes.book import Table, place_m
from analyzer.training.scenes.networks import map_cracks
from analyzer.training.scenes.plan import Expected, SampleJob, Shot, rectangle
from analyzer.training.scenes.readings import only

SEED = 7331
W, D = 4800.0, 3600.0
CORNERS = {"A": (0.0, 0.0), "B": (W, 0.0), "C": (W, D), "D": (0.0, D)}
PANELS = (
    rectangle(0, D / 2, W / 2, D), rectangle(W / 2, D / 2, W, D),
    rectangle(0, 0, W / 2, D / 2), rectangle(W / 2, 0, W, D / 2),
)  # fmt: skip
CRAZED: tuple[tuple[Point, ...], ...] = (
    ((120, 140), (2290, 120), (2300, 1690), (1500, 1700), (140, 1560)),
    ((2500, 110), (4300, 160), (4520, 900), (3900, 1660), (2520, 1640)),
    ((160, 1940), (1700, 1910), (2290, 2300), (2250, 3300), (1100, 3430), (180, 2800)),
)
CRACKS = tuple(
    crack
    for k, area in enumerate(CRAZED)
    for crack in map_cracks(SEED + k, area, 190.0, (0.8, 1.5), name="MNK"[k])
)
SHOTS = (
    Shot("terrace-west", "terrace_west.jpg", (1350.0, -700.0, 2900.0), (1500.0, 1450.0), roll_deg=-1.0,
         time="18:02:33"),
    Shot("terrace-east", "terrace_east.jpg", (3500.0, -650.0, 2900.0), (3330.0, 1500.0), roll_deg=1.2,
         time="18:03:20"),
)  # fmt: skip
POINTS: dict[str, Point] = {"A": (0.0, 0.0), "B": (W, 0.0), "j1": (W / 2, 0.0), "j2": (W / 2, D / 2),
                            "j3": (0.0, D / 2), "j4": (W, D / 2), "j5": (W / 2, D)}  # fmt: skip


def height_mm(points: F64) -> F64:
    """Falls 1.5 % to the front edge."""
    return np.asarray(0.021 * (points[:, 1] - D) - 0.001 * points[:, 0])


def scene() -> SlabScene:
    """The drawn terrace."""
    return SlabScene(
        outline_mm=tuple(CORNERS.values()),
        cracks=CRACKS,
        joints=(
            JointPlan((0.0, D / 2), (W, D / 2), 6.0, "tooled", "J1"),
            JointPlan((W / 2, 0.0), (W / 2, D), 6.0, "tooled", "J2"),
        ),
        stains=(
            StainPlan("mottle", (2400.0, 1800.0), 3400),
            StainPlan("gum", (3300.0, 2500.0), 900),
            StainPlan("drip", (4300.0, 3100.0), 600),
        ),
        objects=(ObjectPlan("leaves", (4350.0, 2300.0), 500), ObjectPlan("pebbles", (900.0, 60.0), 300)),
        shadows=(
            ShadowPlan("polygon", ((W - 700, D + 50), (W + 2500, D - 2600), (W + 2500, D + 50)), 12.0, 0.55),
        ),
        walls=(
            WallPlan((-2500.0, D + 12), (W + 2500, D + 12), 2800, "plaster",
                     ((2500 + 1900, 2500 + 2900, 178.0, 2250.0, (0.10, 0.13, 0.20)),)),
        ),
        surround="grass",
        finish="float",
        colour=(0.37, 0.35, 0.32),
        texture=0.85,
        texture_mm=0.9,
    )  # fmt: skip


def book(job: SampleJob) -> tuple[Table, ...]:
    """The field book."""
    edges = (("C", "D", "house", "unknown"), ("A", "B", "free", "full"), ("B", "C", "free", "full"),
             ("D", "A", "free", "full"))  # fmt: skip
    places = {
        "terrace-west": {"A": "A", "j1": place_m(*POINTS["j1"])},
        "terrace-east": {"j1": place_m(*POINTS["j1"]), "B": "B"},
    }
    photos = []
    for k, (photo_id, known) in enumerate(places.items()):
        shown = readings.in_view(job, photo_id, POINTS)
        names = list(shown)
        pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
        comment = "Two points with a place; all others by tape from one another." if k == 0 else ""
        photos += readings.photo(job, photo_id, shown, known, comment)
        photos += readings.tapes(job, shown, pairs, metric=True)
    crazed = [
        Table(
            "area",
            {
                "kind": "map cracking",
                "at": place_m(*np.mean(area, axis=0)),
                "area": readings.square_metres(_area(area)),
                "outline": [place_m(*point) for point in area],
            },
        )
        for area in CRAZED
    ]
    return (
        only(
            "job",
            id="observatory-terrace",
            title="Visitors' terrace of an observatory",
            date="2025-09-02",
            by="T. Fictive, estimator",
            surface="dry",
            weather="clear, low sun, 16 C",
            units="metric",
            invented=True,
            notes="No white or glassy deposits in the cracks, seen with a loupe; no drumming sound.",
        ),
        only("site", use="foot", public_route="no", freeze_thaw="yes", deicer="no"),
        readings.stops_answered(),
        only(
            "slab",
            thickness="110 mm +- 5 mm",
            age_years=24,
            pours_of_different_dates="no",
            reinforced="yes",
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
        *photos,
        *readings.stations(job, readings.at_corners(PANELS, 150.0, (0, 1, 2, 3)), 1405.0, "S1", metric=True),
        *crazed,
        Table(
            "height",
            {
                "kind": "door sill",
                "name": "terrace door",
                "at": place_m(2400.0, D),
                "above_slab": "178 mm +- 2 mm",
                "egress_door": "no",
                "swings_over": "no",
            },
        ),
        Table(
            "height",
            {
                "kind": "free edge",
                "name": "lawn",
                "at": place_m(2400.0, 0.0),
                "above_slab": "-60 mm +- 10 mm",
            },
        ),
        only("design", fall="2 %", fall_toward="A-B", waste="8 %", plant_step="0.25 m3"),
    )


def _area(ring: tuple[Point, ...]) -> float:
    x, y = np.array(ring).T
    return 0.5 * abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))))


def describe() -> SampleJob:
    """The job."""
    return SampleJob(
        name="observatory_terrace",
        seed=SEED,
        scene=scene(),
        shots=SHOTS,
        sheets=(),
        panels_mm=PANELS,
        height_mm=height_mm,
        book=book,
        expected=Expected(
            "overlay",
            ("overlay, bonded",),
            "More than half of the surface is map-cracked, too much to seal crack by crack, while "
            "the slab below is "
            "sound, level and quiet, shows no sign of a reaction and leaves height at the door.",
        ),
        story=(
            "A 4.8 m by 3.6 m terrace of four panels: map cracking over more than half of it, "
            "cracks 0.8 to 1.5 mm wide around cells of 0.2 m. Two photos, scaled by marked points and "
            "tape distances."
        ),
        map_cracks=tuple(crack.name for crack in CRACKS),
    )
