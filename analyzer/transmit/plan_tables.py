"""Grades in tables: finished surfaces, heights before and after, set-out, limits held, joints, grinding."""

from __future__ import annotations

from analyzer.records import GradePlan, JobRecord, SetOut
from analyzer.terms import HeightKind
from analyzer.transmit import writing
from analyzer.transmit.content import Cell, Line, Table, make_table
from analyzer.transmit.writing import NONE, UNKNOWN
from analyzer.units import format_area, format_length, format_slope, format_volume

_KEPT_MM = 1e-6


def heights(record: JobRecord) -> tuple[Table, ...]:
    """Finished surface of every option, and heights before and after each."""
    system = str(record.field.job.units)
    seen: dict[tuple[HeightKind, str], dict[str, str]] = {}
    for plan in record.plans:
        for after in plan.heights_after:
            start = {"before": writing.length(after.before_mm, None, system)}
            cells = seen.setdefault((after.kind, after.name), start)
            cells[str(plan.option)] = writing.length(after.after_mm, after.after_u_mm, system)
    names = tuple(str(p.option) for p in record.plans)
    rows: list[tuple[Cell, ...]] = [
        (f"{kind} {name}", cells["before"], *(cells.get(n, NONE) for n in names))
        for (kind, name), cells in seen.items()
    ]
    surfaces: list[tuple[Cell, ...]] = [
        (
            str(p.option),
            UNKNOWN if p.fall is None else format_slope(p.fall, system),
            writing.length(p.thickness_min_mm, p.thickness_min_u_mm, system),
            writing.length(p.thickness_max_mm, p.thickness_max_u_mm, system),
            format_length(p.thickness_mean_mm, system),
            _state(p),
        )
        for p in record.plans
    ]
    return make_table(
        "Finished surface of each option",
        ("Option", "Fall", "Thinnest", "Thickest", "Mean", "Limits"),
        surfaces,
        "lrrrrl",
    ) + make_table(
        "Heights over the surface, now and after each option",
        ("What", "Now", *names),
        rows,
        "lr" + "r" * len(names),
        note="A negative height lies under the surface. Plus-or-minus values are standard uncertainties.",
    )


def set_out(plan: GradePlan, system: str) -> tuple[Table, ...]:
    """Heights to set at each wall, form, grade break and station."""
    found = plan.setout
    if found is None:
        return ()
    denominator = _denominator(found)
    rows: list[tuple[Cell, ...]] = [
        (
            str(number),
            p.name,
            p.kind,
            writing.place(p.x_mm, p.y_mm, system),
            format_length(p.old_mm, system, denominator),
            Line(signed(p.rounded_mm, system, denominator), strong=True),
            format_length(p.thickness_mm, system, denominator),
        )
        for number, p in enumerate(found.points, 1)
    ]
    step = "1 mm" if system == "metric" else f"1/{denominator} in"
    kept = "Every limit is still kept on them." if found.satisfied else "Not every limit is kept on them."
    datum = f" Heights are over the datum: {found.datum}." if found.datum else ""
    columns = ("No.", "Point", "Kind", "Place x, y", "Old surface", "Set to", "New concrete there")
    return make_table(
        "Set-out heights",
        columns,
        rows,
        "rlllrrr",
        note=f"Rounded to {step}. {kept}{datum} Numbers are those of the drawing.",
    )


def signed(mm: float, system: str, denominator: int = 16) -> str:
    """A height over the datum with its sign."""
    text = format_length(mm, system, denominator)
    return text if text.startswith(("-", "0")) else f"+{text}"


def requirements(plan: GradePlan, system: str) -> tuple[Table, ...]:
    """What the finished surface has to keep, and the room left before and after rounding."""
    rows: list[tuple[Cell, ...]] = []
    for r in sorted(plan.requirements, key=lambda r: r.room >= -_KEPT_MM):
        broken = r.room < -_KEPT_MM
        rounded = NONE if r.room_rounded is None else _room(r.room_rounded, r.unit, system)
        rows.append(
            (
                Line("not kept" if broken else "kept", strong=broken),
                _room(r.room, r.unit, system),
                rounded,
                Line(writing.sentence(r.sentence), strong=broken),
                r.source,
            )
        )
    columns = ("State", "Room left", "After rounding", "Requirement", "Source")
    return make_table("What the finished surface keeps", columns, rows, "lrrll")


def joints(plan: GradePlan, system: str) -> tuple[Table, ...]:
    """Joints to saw, form or fill."""
    rows: list[tuple[Cell, ...]] = [
        (
            j.name,
            str(j.kind),
            f"{writing.place(*j.start_mm, system)} to {writing.place(*j.end_mm, system)}",
            format_length(j.length_mm, system),
            format_length(j.depth_mm, system),
            NONE if j.width_mm is None else format_length(j.width_mm, system),
        )
        for j in plan.joints
    ]
    rules: dict[tuple[str, str], list[str]] = {}
    for j in plan.joints:
        rules.setdefault((j.rule, j.source), []).append(j.name)
    told: list[tuple[Cell, ...]] = [
        (", ".join(names), writing.sentence(rule), source) for (rule, source), names in rules.items()
    ]
    columns = ("Joint", "Kind", "From x, y to x, y", "Length", "Deep", "Wide")
    return make_table("Joints of the new concrete", columns, rows, "lllrrr") + make_table(
        "Rules for these joints", ("Joints", "Rule", "Source"), told, "lll"
    )


def breaks_and_grinding(plan: GradePlan, system: str) -> tuple[Table, ...]:
    """Lines where the surface bends, and high spots worth grinding."""
    creases: list[tuple[Cell, ...]] = [
        (
            str(n),
            "valley" if c.bend > 0 else "ridge",
            f"{writing.place(*c.start_mm, system)} to {writing.place(*c.end_mm, system)}",
            format_slope(abs(c.bend), system),
        )
        for n, c in enumerate(plan.creases, 1)
    ]
    spots: list[tuple[Cell, ...]] = [
        (
            g.name,
            writing.place(*g.at_mm, system),
            format_length(g.depth_mm, system),
            format_area(g.area_mm2, system),
            format_volume(g.saves_m3, system),
        )
        for g in plan.grinding
    ]
    return make_table(
        "Grade breaks", ("No.", "Kind", "From x, y to x, y", "Change of slope"), creases, "lllr"
    ) + make_table(
        "High spots to grind", ("Spot", "Place x, y", "Deep", "Area", "Concrete saved"), spots, "llrrr"
    )


def _state(plan: GradePlan) -> str:
    if not plan.levels_known:
        return "no levels: thickness chosen, not found"
    return "not all can be kept" if plan.conflicts else "all kept"


def _room(value: float, unit: str, system: str) -> str:
    """Room left to a requirement; a hair of rounding is none."""
    if unit == "slope":
        return "none to spare" if abs(value) < 1e-6 else f"{value * 100:.2f} %"
    return "none to spare" if abs(value) < 1e-3 else format_length(value, system)


def _denominator(found: SetOut) -> int:
    """Fraction of an inch that the set-out step is: 16 for 1/16 in."""
    return 16 if found.step_mm < 2.0 else 8
