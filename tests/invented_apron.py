"""What the small hand-made job of the transmit tests lacks: a plan to set out, an order and prices."""

from __future__ import annotations

import dataclasses

from analyzer.records import (
    Bill,
    Cause,
    Contour,
    Crease,
    Flip,
    GrindSpot,
    HeldRequirement,
    JobRecord,
    Measurement,
    OptionPrice,
    OrderLine,
    OrderSlip,
    PlannedJoint,
    PriceLine,
    Quantity,
    Reason,
    SetOut,
    SetOutPoint,
    SlipItem,
    StationGrade,
    Stop,
)
from analyzer.terms import Checked, Headline, JointKind, Option, Verdict


def complete(record: JobRecord) -> JobRecord:
    """The apron of the transmit tests with every question answered, a plan, an order, a slip and prices.

    Finished z = 60 + 0.02 y, old z = y / 150: 60 mm thick at y = 0, 80 mm at y = 1500, all in mm.
    """
    corners = (("A", 0.0, 0.0), ("B", 2000.0, 0.0), ("C", 2000.0, 1500.0), ("D", 0.0, 1500.0))
    grades = tuple(StationGrade(n, x, y, y / 150, 60 + 0.02 * y, 60 + y / 75, 2.0) for n, x, y in corners)
    points = tuple(
        SetOutPoint(n, "wall" if y else "form", x, y, y / 150, 60 + 0.02 * y, r, r - y / 150)
        for (n, x, y), r in zip(corners, (60.325, 60.325, 90.4875, 90.4875), strict=True)
    )
    plan = dataclasses.replace(
        record.plans[0],
        grades=grades,
        triangles=((0, 1, 2), (0, 2, 3)),
        conflicts=(),
        relaxations=("It would fit if the step gave way by 10 mm.",),
        assumptions=("No level was read at B.",),
        notes=("Ground is missing under edge A-B: fill it first.",),
        setout=SetOut(1.5875, "station S1 is zero", points, True, ("Heights are rounded to 1/16 in.",)),
        requirements=(
            HeldRequirement("thickness", "the overlay is at least 2\" thick", 9.2, "mm", "CPTECH", 8.9),
            HeldRequirement("step", "the step stays at least 6\" high", -10.0, "mm", "IRC-RISER", -9.5),
            HeldRequirement("fall", "the surface falls at least 2 %", 0.0, "slope", "IRC-R401-3", 0.0),
        ),
        contours=(Contour(70.0, (((0.0, 750.0), (2000.0, 750.0)),)),),
        grinding=(GrindSpot("G1", (500.0, 400.0), 6.0, 90000.0, 0.01),),
        joints=(
            PlannedJoint("over J1", JointKind.CONTRACTION, (1000.0, 0.0), (1000.0, 1500.0), 1500.0, 92.7,
                         None, "J1", "saw over the old joint", "CPTECH-SAW-DEPTH"),
            PlannedJoint("isolation at C-D", JointKind.ISOLATION, (2000.0, 1500.0), (0.0, 1500.0), 2000.0,
                         80.0, 12.7, None, "filler, full depth", "JOINT-ISO-WIDTH"),
        ),
        creases=(Crease((0.0, 500.0), (2000.0, 500.0), 0.005),),
        reinforceable_fraction=0.4,
    )  # fmt: skip
    bonded, removal = Option.OVERLAY_BONDED, Option.REMOVAL
    slip = OrderSlip(
        bonded,
        (SlipItem("order", "volume", "0.50 yd³", "QTY-WASTE"), SlipItem("mix", "colour", None, "")),
        (SlipItem("after", "curing", "7 days at 50 F (10 C)", "MAT-CURE"),),
    )
    price = PriceLine("concrete to order", 0.5, "yd3", 70.0, 90.0, 110.0)
    bill = Bill(
        (
            *record.bill.quantities,
            Quantity(bonded, "area to bond", 3.0, 0.01, "m2", "outline", "QTY-FORMULAS"),
            Quantity(removal, "mass to haul off", 0.73, 0.02, "t", "at 2400 kg/m3", "QTY-UNIT-WEIGHT"),
        ),
        ("Depths are estimates.",),
        (OrderLine(bonded, 0.2, 0.01, 0.075, 0.19, 0.38, 0.19, 0.38, 0.004, 0.16, 1, True, 19.05),),
        (slip,),
        (
            OptionPrice(bonded, "money", (price,), 70.0, 1090.0, 1310.0, ("placing: 40 % of the spread",),
                        ("isolation strip",), "Invented prices", True),
            OptionPrice(removal, "money", (), 900.0, 1200.0, 1900.0, (), (), "Invented prices", True),
        ),
    )  # fmt: skip
    local = dataclasses.replace(
        record.findings[0].limit,
        limit_id="IRC-RISER.height",
        term="riser",
        quantity="riser_height",
        unit="in",
        comparator=">",
        value=8.25,
        guards="safety",
        source="Town code",
        section="4.1",
        checked=Checked.READ,
        local=True,
        loosened=True,
    )
    step = dataclasses.replace(
        record.findings[0],
        finding_id="RISER@door sill pump door",
        subject="door sill pump door",
        limit=local,
        value=4.72,
        u=0.06,
        unit="in",
        probability=0.0,
        verdict=Verdict.WITHIN,
        binding=True,
        statement="Door sill 'pump door', height of the step: 4.72 in give or take 0.06 in; "
        "limit: over 8.25 in (X, read): within.",
        place_mm=(1000.0, 1500.0),
    )
    crack = dataclasses.replace(record.findings[0], subject="C1", verdict=Verdict.EXCEEDS)
    ranking = dataclasses.replace(
        record.ranking,
        stops=(Stop("post_tension", "Is it post-tensioned?", "no", False, "A tendon can kill.", None, "PT"),),
        reasons_for=(Reason("The step stays at 4-3/4\".", (step.finding_id,)),),
        unknowns=("Door sill 'pump door', height of the step: 4.72 in give or take 0.06 in; limit: over "
                  "8.25 in (X, read): not determined.",),
        causes=(
            Cause("settlement", "ground that settles", "possible", True,
                  (Reason("A panel lies low.", ("F1",)),), (Reason("No step moves.", ()),),
                  (Option.PATCH,), "An engineer confirms it.", "SETTLE-CAUSES"),
        ),
        flips=(
            Flip("door sill pump door", "riser_height", "in", 4.72, 9.0, Headline.PATCH,
                 "A step of 9 in would turn the answer to a repair."),
        ),
        next_measurements=(
            Measurement("Measure the thickness", "it is unknown", "10 minutes", 2.5),
            Measurement("Look under the edges", "ground may be missing", "5 minutes", 1.0),
        ),
    )  # fmt: skip
    return dataclasses.replace(record, plans=(plan,), bill=bill, findings=(crack, step), ranking=ranking)
