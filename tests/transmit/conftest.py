"""A small finished job made by hand, with every kind of entry the report prints."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import numpy as np
import pytest

from analyzer.records import (
    AreaDistress,
    Bill,
    BranchSize,
    Calibration,
    Clearance,
    ClearanceAfter,
    Contradiction,
    Contribution,
    Corner,
    CrackBranch,
    CrackSize,
    CrackSurvey,
    CrackTrace,
    Detection,
    DistressSummary,
    EdgeEntry,
    EdgeSlope,
    Fault,
    FieldBook,
    Finding,
    GradePlan,
    JobHead,
    JobRecord,
    JointSize,
    LevelMap,
    Limit,
    Measurement,
    OptionRating,
    Panel,
    PanelAction,
    PanelLayout,
    PanelLevel,
    Photo,
    PhotoEntry,
    PhotoNote,
    PhotoReach,
    PlanGrid,
    PlanImage,
    PlanView,
    Provenance,
    Quantity,
    Ranking,
    Reason,
    Refusal,
    StationGrade,
    StationLevel,
    Stop,
)
from analyzer.terms import (
    Abuts,
    Answer,
    Checked,
    DetectMethod,
    Distress,
    Firmness,
    Grade,
    Headline,
    HeightKind,
    JointKind,
    Option,
    ScaleMethod,
    Severity,
    Verdict,
    Wetness,
)

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
from invented_apron import complete

CRACK_POINTS = ((200.0, 300.0), (900.0, 420.0), (1500.0, 380.0))


@pytest.fixture
def photo() -> Photo:
    """A grey picture of 300 x 400 px that looks straight down at 5 mm a pixel."""
    rgb = np.full((300, 400, 3), 150, np.uint8)
    return Photo("overview", "overview.jpg", rgb, "ab" * 32, 1234, camera="Camera 1")


@pytest.fixture
def calibration() -> Calibration:
    """Straight down, 5 mm a pixel: (row, col) to (x, y)."""
    matrix = np.array([[0.0, 5.0, 0.0], [-5.0, 0.0, 1500.0], [0.0, 0.0, 1.0]])
    return Calibration("overview", matrix, ScaleMethod.MARKED_POINTS, 1.2, 0.004, 6.0, ())


@pytest.fixture
def plan_image(photo: Photo) -> PlanImage:
    """The photo laid on its own grid, its left tenth unseen."""
    grid = PlanGrid(0.0, 1500.0, 5.0, 300, 400)
    best = np.ones((300, 400), bool)
    best[:, :40] = False
    reach = PhotoReach("overview", 5.0, 6.0, 5.0, 15.0, 1.6e6)
    return PlanImage(
        grid,
        (PlanView("overview", photo.rgb, best, 0, 0),),
        (reach,),
        PlanGrid(0.0, 1500.0, 100.0, 15, 20),
        np.zeros((15, 20), np.int16),
        3.0e6,
        2.7e6,
    )


@pytest.fixture
def record() -> JobRecord:
    """An invented pump-house apron of 2 m x 1.5 m with one joint and one crack."""
    field = FieldBook(
        job=JobHead(
            "pump-apron",
            "Apron of the <pump> house & yard",
            dt.date(2026, 5, 3),
            "M. Example",
            Wetness.DRY,
            invented=True,
            notes="Second visit",
        ),
        outline=(Corner("A", 0, 0), Corner("B", 2000, 0), Corner("C", 2000, 1500), Corner("D", 0, 1500)),
        source="field_book.toml",
        sha256="0" * 64,
        edges=(EdgeEntry("C", "D", Abuts.HOUSE), EdgeEntry("A", "B", Abuts.WALK)),
        photos=(PhotoEntry("overview", "photos/overview.jpg"),),
    )
    branch = BranchSize(CRACK_POINTS, 1312.0, 6.0, 2.1, 0.2, 3.1, 0.3, None, 3.0, "overview", 0.97)
    crack = CrackSize(
        "C1",
        ("P1", "P2"),
        Distress.TRANSVERSE_CRACKING,
        1312.0,
        6.0,
        2.1,
        0.2,
        3.1,
        0.3,
        None,
        3.0,
        Answer.NO,
        None,
        (branch,),
        0.97,
        Grade.MEASURED,
        "photo",
    )
    fine = CrackSize(
        "C2",
        ("P2",),
        Distress.SHRINKAGE_CRACK,
        None,
        None,
        None,
        None,
        None,
        None,
        1.5,
        None,
        Answer.UNKNOWN,
        None,
        (),
        0.8,
        Grade.REPORTED,
        None,
    )
    limit = Limit(
        "LTPP-JCP-TRANSVERSE",
        "transverse cracking",
        "crack width",
        "mm",
        ">=",
        3.0,
        Severity.MODERATE,
        ("pavement",),
        "FHWA-HRT-13-092",
        "2014",
        "ch. 2",
        Checked.MEMORY,
    )
    finding = Finding(
        "F1",
        "crack C1",
        limit,
        3.1,
        0.3,
        "mm",
        0.63,
        Verdict.NOT_DETERMINED,
        Grade.MEASURED,
        False,
        "Crack C1 is 3.1 mm wide; moderate begins at 3 mm.",
    )
    plan = GradePlan(
        Option.OVERLAY_BONDED, (0.0, 0.02, 60.0), 0.02, -90.0,
        (StationGrade("S1", 0, 0, 0.0, 60.0, 60.0, 2.0), StationGrade("S2", 2000, 0, 0.0, 60.0, 60.0, 2.0),
         StationGrade("S3", 0, 1500, 10.0, 90.0, 80.0, 2.0)),
        ((0, 1, 2),), 60.0, 2.0, (0.0, 0.0), 80.0, 2.0, 66.7,
        (ClearanceAfter(HeightKind.DOOR_SILL, "pump door", 120.0, 40.0, 3.0),),
        conflicts=("The sill keeps less than 25 mm.",),
    )  # fmt: skip
    return JobRecord(
        provenance=Provenance(
            "existing-slab-analyzer", "0.1.0", "2026-05-03T10:00:00+00:00", (("method", "filters"),),
            (("rate/limits.toml", "1" * 64),), None, (("numpy", "2.4"),),
        ),
        field=field,
        photos=(PhotoNote("overview", "overview.jpg", "ab" * 32, 1234, 300, 400, 1, None, None),),
        calibrations=(
            Calibration(
                "overview", np.array([[0.0, 5.0, 0.0], [-5.0, 0.0, 1500.0], [0.0, 0.0, 1.0]]),
                ScaleMethod.MARKED_POINTS, 1.2, 0.004, 6.0, (),
            ),
        ),
        reaches=(PhotoReach("overview", 5.0, 6.0, 5.0, 15.0, 1.6e6),),
        detection=Detection(
            (), (CrackTrace("C1", (CrackBranch(np.array(CRACK_POINTS), 0.97, 0, 1),), 0.97),), (),
            DetectMethod.FILTERS, None, None, 0.5,
        ),
        layout=PanelLayout(
            (
                Panel("P1", ((0, 0), (1000, 0), (1000, 1500), (0, 1500)), 1.5e6, 9e3, 1500, 1000, 6.0, 0.9),
                Panel("P2", ((1000, 0), (2000, 0), (2000, 1500), (1000, 1500)), 1.5e6, 9e3, 1500, 1000, 6.0,
                      0.9),
            ),
            (
                JointSize("J1", JointKind.CONTRACTION, (1000, 0), (1000, 1500), 1500, 6.0, 0.95,
                          ("P1", "P2")),
            ),
            (1000.0, 1000.0), 6.0,
        ),
        survey=CrackSurvey((crack,), ()),
        distress=DistressSummary(
            (crack, fine),
            (
                AreaDistress(Distress.SPALLING, "P1", 20000.0, 2000.0, 12.0, 2.0, Grade.REPORTED, "typed"),
            ),
            (Fault((1000.0, 700.0), 7.0, 0.8, "J1", ("P1", "P2")),),
            None, (("P1", 1), ("P2", None)),
            (Contradiction("crack C1", "Gauge 2.0 mm, photo 3.1 mm."),), 0.1,
        ),
        levels=LevelMap(
            (StationLevel("S1", 0, 0, 0.0, 1.0, 0.1, "P1"), StationLevel("S2", 2000, 0, 0.0, 1.0, -0.1, "P2"),
             StationLevel("S3", 0, 1500, 10.0, 1.0, 0.0, "P1")),
            (0.0, 0.0067, 0.0), (0.001, 0.001, 1.0), 0.1, ((0, 1, 2),), (PanelLevel("P2", 12.0, 1.5, 1),),
            (EdgeSlope("C-D", Abuts.HOUSE, 0.0067, 0.001),), (), 0.0067, 0.001, -90.0,
        ),
        clearances=(Clearance(HeightKind.DOOR_SILL, "pump door", (1000.0, 1500.0), 120.0, 1.5),),
        plans=(plan,),
        findings=(finding,),
        ranking=Ranking(
            Headline.OVERLAY, Option.OVERLAY_BONDED, Firmness.LEANING, "Pour a bonded overlay 60 mm thick.",
            (Stop("post_tension", "Is it post-tensioned?", "unknown", True, "A cut tendon can kill."),),
            (
                OptionRating(
                    Option.OVERLAY_BONDED, True, (), (),
                    (Contribution("worn surface", 12.0, "The surface is worn over 2 %.", ("F1",), "tool"),),
                    12.0,
                ),
                OptionRating(Option.PATCH, False, (Refusal("Too much is broken.", ("F1",)),), (), (), 0.0),
                OptionRating(Option.REMOVAL, None, (), ("thickness",), (), 3.0),
            ),
            (Reason("No step is over 7 mm.", ("F1",)),), (Reason("Crack C1 is 3.1 mm wide.", ("F1",)),),
            ("Thickness is unknown.",),
            (Measurement("Measure the thickness", "it is unknown", "10 minutes"),),
            ("A sill 30 mm lower would rule it out.",), (PanelAction("P2", "replace", "It lies 12 mm low."),),
            ("Wet concrete burns skin.",),
        ),
        bill=Bill(
            (Quantity(Option.OVERLAY_BONDED, "concrete", 0.2, 0.01, "m3", "area x mean thickness"),), ()
        ),
    )  # fmt: skip


@pytest.fixture
def full(record: JobRecord) -> JobRecord:
    """The same apron with every question answered, a plan, an order, a slip and prices."""
    return complete(record)
