"""The tables of the report, as strings in the units of the job."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from analyzer.records import Finding, JobRecord
from analyzer.terms import HeightKind, Verdict
from analyzer.units import (
    M3_PER_YD3,
    MM2_PER_FT2,
    MM2_PER_M2,
    format_area,
    format_length,
    format_slope,
    format_width,
)


@dataclass(frozen=True, slots=True)
class Table:
    """Header and rows of text; ``numeric`` says which columns are right-aligned."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[bool, ...]


_UNKNOWN = "unknown"


def _table(
    caption: str, columns: tuple[str, ...], rows: Sequence[tuple[str, ...]], numeric: str
) -> tuple[Table, ...]:
    """A table if it has rows; ``numeric`` marks right-aligned columns with ``r``."""
    if not rows:
        return ()
    return (Table(caption, columns, tuple(rows), tuple(c == "r" for c in numeric)),)


def _length(mm: float | None, u_mm: float | None, system: str) -> str:
    """A length with its standard uncertainty, or the word unknown."""
    if mm is None:
        return _UNKNOWN
    if u_mm is None:
        return format_length(mm, system)
    return f"{format_length(mm, system)} ± {_small(u_mm, system)}"


def _small(u_mm: float, system: str) -> str:
    """A standard uncertainty: millimetres, or decimals of an inch where fractions would lie."""
    if system == "metric":
        return f"{u_mm:.1f} mm" if u_mm < 10 else f"{u_mm:.0f} mm"
    return format_width(u_mm, "imperial").split(" (")[0]


def panel_actions(record: JobRecord) -> tuple[Table, ...]:
    """What to do with each panel."""
    rows = [(a.panel_id, a.action, a.reason) for a in record.ranking.panel_actions]
    return _table("What to do with each panel", ("Panel", "Action", "Reason"), rows, "lll")


def options(record: JobRecord) -> tuple[Table, ...]:
    """Every option: whether it can be done, why not, and the parts of its score."""
    rows = []
    for rating in record.ranking.ratings:
        state = {True: "can be done", False: "refused", None: "cannot be decided yet"}[rating.admissible]
        why = [r.reason for r in rating.refusals] or [f"missing: {m}" for m in rating.missing]
        rows.append((str(rating.option), state, f"{rating.total:.0f}", " ".join(why) or "–"))
    parts = [
        (str(r.option), c.criterion, f"{c.points:+.1f}", c.statement, c.source)
        for r in record.ranking.ratings
        for c in r.contributions
    ]
    return _table(
        "Options", ("Option", "State", "Points", "Why not, or what is missing"), rows, "llrl"
    ) + _table(
        "Points of each option, part by part",
        ("Option", "Criterion", "Points", "Because", "Source"),
        parts,
        "llrll",
    )


def cracks(record: JobRecord) -> tuple[Table, ...]:
    """One row a crack, then areas of map cracking and typed areas."""
    system = str(record.field.job.units)
    rows = []
    for c in record.distress.cracks:
        if c.width_max_mm is not None:
            width = f"{format_width(c.width_max_mm, system)} ± {c.width_max_u_mm or 0:.2f} mm"
        elif c.width_upper_mm is not None:
            width = f"under {format_width(c.width_upper_mm, system)}"
        else:
            width = _UNKNOWN
        rows.append(
            (
                c.crack_id,
                str(c.distress),
                " ".join(c.panels) or "–",
                _length(c.length_mm, c.length_u_mm, system),
                width,
                c.width_source or "–",
                str(c.splits_panel),
                f"{c.probability:.2f}",
            )
        )
    columns = ("Crack", "Kind", "Panel", "Length", "Greatest width", "Read by", "Splits panel", "Certainty")
    areas = [
        (
            str(a.kind),
            a.panel_id or "–",
            _UNKNOWN if a.area_mm2 is None else format_area(a.area_mm2, system),
            _length(a.depth_mm, a.depth_u_mm, system),
            f"{a.grade}, {a.source}",
        )
        for a in record.distress.areas
    ]
    faults = [
        (f.along or "–", " ".join(f.panels) or "–", _length(f.step_mm, f.step_u_mm, system))
        for f in record.distress.faults
    ]
    return (
        _table("Cracks", columns, rows, "lllrrllr")
        + _table("Areas", ("Kind", "Panel", "Area", "Depth", "Known by"), areas, "llrrl")
        + _table("Steps across joints or cracks", ("Along", "Panels", "Step"), faults, "llr")
    )


def panels(record: JobRecord) -> tuple[Table, ...]:
    """Panels with sides and areas, joints with lengths."""
    system = str(record.field.job.units)
    u = {p.panel_id: p for p in record.layout.panels}
    rows = [
        (
            p.panel_id,
            _length(p.length_mm, p.side_u_mm, system),
            _length(p.width_mm, p.side_u_mm, system),
            format_area(p.area_mm2, system),
            f"{p.aspect:.2f}",
            "–" if p.seen_fraction is None else f"{p.seen_fraction:.0%}",
        )
        for p in u.values()
    ]
    joints = [
        (
            j.joint_id,
            str(j.kind),
            " ".join(j.panels),
            _length(j.length_mm, j.length_u_mm, system),
            "field book" if j.typed else f"photo, {j.probability:.2f}",
        )
        for j in record.layout.joints
    ]
    return _table(
        "Panels", ("Panel", "Length", "Width", "Area", "Long : short", "Seen"), rows, "lrrrrr"
    ) + _table("Joints", ("Joint", "Kind", "Between", "Length", "Known by, certainty"), joints, "lllrl")


def levels(record: JobRecord) -> tuple[Table, ...]:
    """The surface as levelled: stations, settlement by panel, slopes at the edges, ponds."""
    found = record.levels
    if found is None:
        return ()
    system = str(record.field.job.units)
    stations = [
        (
            s.station_id,
            s.panel_id or "–",
            _length(s.z_mm, s.z_u_mm, system),
            format_length(s.residual_mm, system),
        )
        for s in found.stations
    ]
    settled = [
        (p.panel_id, _length(p.settlement_mm, p.settlement_u_mm, system), str(p.n_stations))
        for p in found.panels
    ]
    edges = [
        (e.edge, str(e.abuts), f"{format_slope(e.slope, system)} ± {e.slope_u * 100:.1f} %")
        for e in found.edges
    ]
    ponds = [
        (str(i + 1), format_area(p.area_mm2, system), _length(p.depth_mm, p.depth_u_mm, system))
        for i, p in enumerate(found.ponds)
    ]
    return (
        _table(
            "Level stations", ("Station", "Panel", "Height over datum", "Over best plane"), stations, "llrr"
        )
        + _table("Settlement by panel", ("Panel", "Lies low by", "Stations"), settled, "lrr")
        + _table("Slope of the old surface away from each edge", ("Edge", "Against", "Slope"), edges, "llr")
        + _table("Where water would stand", ("Pond", "Area", "Depth"), ponds, "lrr")
    )


def heights(record: JobRecord) -> tuple[Table, ...]:
    """Heights before and after every option, and the thickness range of each plan."""
    system = str(record.field.job.units)
    rows = []
    seen: dict[tuple[HeightKind, str], dict[str, str]] = {}
    for plan in record.plans:
        for after in plan.heights_after:
            cell = seen.setdefault(
                (after.kind, after.name), {"before": _length(after.before_mm, None, system)}
            )
            cell[str(plan.option)] = _length(after.after_mm, after.after_u_mm, system)
    names = tuple(str(p.option) for p in record.plans)
    for (kind, name), cells in seen.items():
        rows.append((str(kind), name, cells["before"], *(cells.get(n, "–") for n in names)))
    plans = [
        (
            str(p.option),
            _UNKNOWN if p.fall is None else format_slope(p.fall, system),
            _length(p.thickness_min_mm, p.thickness_min_u_mm, system),
            _length(p.thickness_max_mm, p.thickness_max_u_mm, system),
            format_length(p.thickness_mean_mm, system),
            " ".join(p.conflicts) or "none",
        )
        for p in record.plans
    ]
    columns = ("Option", "Fall", "Thinnest", "Thickest", "Mean", "Cannot be met")
    return _table(
        "Heights over the surface, before and after",
        ("What", "Name", "Now", *names),
        rows,
        "llr" + "r" * len(names),
    ) + _table("Finished surfaces", columns, plans, "lrrrrl")


def quantities(record: JobRecord) -> tuple[Table, ...]:
    """Quantities by option, each with its basis."""
    system = str(record.field.job.units)
    rows = [
        (str(q.option), q.item, _quantity(q.value, q.u, q.unit, system), q.basis)
        for q in record.bill.quantities
    ]
    return _table("Quantities", ("Option", "Item", "Quantity", "How it was worked out"), rows, "llrl")


def _quantity(value: float, u: float | None, unit: str, system: str) -> str:
    """A quantity in the job's units; unknown units are printed as they are."""
    per = {
        ("m3", "imperial"): (M3_PER_YD3, "yd³", 2),
        ("m3", "metric"): (1.0, "m³", 2),
        ("mm2", "imperial"): (MM2_PER_FT2, "ft²", 0),
        ("mm2", "metric"): (MM2_PER_M2, "m²", 1),
    }
    if unit == "mm":
        return _length(value, u, system)
    factor, name, digits = per.get((unit, system), (1.0, unit, 2))
    text = f"{value / factor:.{digits}f}"
    return f"{text} {name}" if u is None else f"{text} ± {u / factor:.{max(digits, 1)}f} {name}"


def findings(record: JobRecord) -> tuple[Table, ...]:
    """Every finding with value, limit and source, exceeded ones first."""
    order = {Verdict.EXCEEDS: 0, Verdict.NOT_DETERMINED: 1, Verdict.WITHIN: 2}
    rows = []
    for f in sorted(record.findings, key=lambda f: order[f.verdict]):
        local = "local limit; " if f.limit.local else ""
        applies = "" if f.binding else "; written for other slabs"
        rows.append(
            (
                f.finding_id,
                f.subject if f.option is None else f"{f.subject} ({f.option})",
                f"{f.limit.quantity} {_value(f)}",
                f"{f.limit.comparator} {f.limit.value:g} {f.limit.unit}",
                str(f.verdict),
                f"{local}{f.limit.source}, {f.limit.edition}, {f.limit.section} ({f.limit.checked}{applies})",
            )
        )
    return _table(
        "Findings",
        ("No.", "About", "Value", "Limit", "Verdict", "Source and how it was checked"),
        rows,
        "lllrll",
    )


def _value(finding: Finding) -> str:
    """Value of a finding in the limit's own unit."""
    if finding.value is None:
        return _UNKNOWN
    u = "" if finding.u is None else f" ± {finding.u:.2g}"
    return f"{finding.value:.3g}{u} {finding.unit}"


def evidence(record: JobRecord) -> tuple[Table, ...]:
    """Photos with their hashes and scale, rule files and versions."""
    scale = {c.photo_id: c for c in record.calibrations}
    photos = []
    for p in record.photos:
        c = scale.get(p.photo_id)
        how = f"{c.method}, lengths to {c.scale_u_rel:.1%}" if c else "not scaled"
        photos.append((p.photo_id, p.file_name, f"{p.n_cols} × {p.n_rows}", how, p.sha256))
    made = [(name, value) for name, value in record.provenance.rule_files]
    made += [(name, value) for name, value in record.provenance.libraries]
    return _table("Photos", ("Photo", "File", "Pixels", "Scale", "SHA-256"), photos, "llrll") + _table(
        "Rule files and libraries", ("Name", "SHA-256 or version"), made, "ll"
    )
