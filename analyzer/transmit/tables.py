"""What was measured, as tables in the units of the job."""

from __future__ import annotations

from analyzer.records import JobRecord
from analyzer.transmit.content import Cell, Table, make_table
from analyzer.transmit.writing import NONE, UNKNOWN, length
from analyzer.units import format_area, format_length, format_slope, format_width


def cracks(record: JobRecord) -> tuple[Table, ...]:
    """One row a crack, then areas of distress and steps."""
    system = str(record.field.job.units)
    rows: list[tuple[Cell, ...]] = []
    for c in record.distress.cracks:
        if c.width_max_mm is not None:
            u = "" if c.width_max_u_mm is None else f" ± {c.width_max_u_mm:.1f} mm"
            width = f"{format_width(c.width_max_mm, system)}{u}"
        elif c.width_upper_mm is not None:
            width = f"under {format_width(c.width_upper_mm, system)}"
        else:
            width = UNKNOWN
        rows.append(
            (
                c.crack_id,
                str(c.distress),
                " ".join(c.panels) or NONE,
                length(c.length_mm, c.length_u_mm, system),
                width,
                c.width_source or NONE,
                str(c.splits_panel),
                f"{c.probability:.2f}",
            )
        )
    columns = ("Crack", "Kind", "Panel", "Length", "Greatest width", "Read by", "Splits panel", "Certainty")
    areas: list[tuple[Cell, ...]] = [
        (
            str(a.kind),
            a.panel_id or NONE,
            UNKNOWN if a.area_mm2 is None else format_area(a.area_mm2, system),
            length(a.depth_mm, a.depth_u_mm, system),
            f"{a.grade}, {a.source}",
        )
        for a in record.distress.areas
    ]
    faults: list[tuple[Cell, ...]] = [
        (f.along or NONE, " ".join(f.panels) or NONE, length(f.step_mm, f.step_u_mm, system))
        for f in record.distress.faults
    ]
    return (
        make_table(
            "Cracks", columns, rows, "lllrrllr", [f"crack-{c.crack_id}" for c in record.distress.cracks]
        )
        + make_table("Areas", ("Kind", "Panel", "Area", "Depth", "Known by"), areas, "llrrl")
        + make_table("Steps across joints or cracks", ("Along", "Panels", "Step"), faults, "llr")
    )


def panels(record: JobRecord) -> tuple[Table, ...]:
    """Panels with sides and areas, joints with lengths."""
    system = str(record.field.job.units)
    rows: list[tuple[Cell, ...]] = [
        (
            p.panel_id,
            length(p.length_mm, p.side_u_mm, system),
            length(p.width_mm, p.side_u_mm, system),
            format_area(p.area_mm2, system),
            f"{p.aspect:.2f}",
            NONE if p.seen_fraction is None else f"{p.seen_fraction:.0%}",
        )
        for p in record.layout.panels
    ]
    joints: list[tuple[Cell, ...]] = [
        (
            j.joint_id,
            str(j.kind),
            " ".join(j.panels),
            length(j.length_mm, j.length_u_mm, system),
            "field book" if j.typed else f"photo, certainty {j.probability:.2f}",
        )
        for j in record.layout.joints
    ]
    return make_table(
        "Panels", ("Panel", "Length", "Width", "Area", "Long : short", "Seen on photos"), rows, "lrrrrr"
    ) + make_table("Joints", ("Joint", "Kind", "Between", "Length", "Known by"), joints, "lllrl")


def levels(record: JobRecord) -> tuple[Table, ...]:
    """The surface as levelled: stations, settlement by panel, slopes at the edges, ponds."""
    found = record.levels
    if found is None:
        return ()
    system = str(record.field.job.units)
    stations: list[tuple[Cell, ...]] = [
        (
            s.station_id,
            s.panel_id or NONE,
            length(s.z_mm, s.z_u_mm, system),
            format_length(s.residual_mm, system),
        )
        for s in found.stations
    ]
    settled: list[tuple[Cell, ...]] = [
        (
            p.panel_id,
            length(p.settlement_mm, p.settlement_u_mm, system),
            NONE if p.lowest_mm is None else length(p.lowest_mm, p.lowest_u_mm, system),
            NONE if p.tilt is None else f"{p.tilt * 100:.1f} %",
            str(p.n_stations),
        )
        for p in found.panels
    ]
    edges: list[tuple[Cell, ...]] = [
        (e.edge, str(e.abuts), f"{format_slope(e.slope, system)} ± {e.slope_u * 100:.1f} %")
        for e in found.edges
    ]
    ponds: list[tuple[Cell, ...]] = [
        (str(i), format_area(p.area_mm2, system), length(p.depth_mm, p.depth_u_mm, system))
        for i, p in enumerate(found.ponds, 1)
    ]
    whole: list[tuple[Cell, ...]] = [
        ("Fall of the best plane", f"{format_slope(found.fall, system)} ± {found.fall_u * 100:.1f} %"),
        ("Scatter of the stations about it", format_length(found.residual_rms_mm, system)),
    ]
    if found.misclosure_mm is not None:
        whole.append(("Misclosure of the level run", format_length(found.misclosure_mm, system)))
    if found.straightedge_gap_mm is not None:
        gap = length(found.straightedge_gap_mm, found.straightedge_gap_u_mm, system)
        whole.append(("Largest gap under a 10 ft (3 m) straightedge, from the levels", gap))
    datum = f"Heights are over the datum: {found.datum}." if found.datum else ""
    return (
        make_table("The surface as a whole", ("What", "Value"), whole, "lr")
        + make_table(
            "Level stations",
            ("Station", "Panel", "Height over datum", "Over best plane"),
            stations,
            "llrr",
            note=datum,
        )
        + make_table(
            "Settlement by panel",
            ("Panel", "Lies low by (mean)", "At its lowest", "Tilt", "Stations"),
            settled,
            "lrrrr",
        )
        + make_table(
            "Slope of the old surface away from each edge", ("Edge", "Against", "Slope"), edges, "llr"
        )
        + make_table("Where water would stand", ("Pond", "Area", "Depth"), ponds, "lrr")
    )


def evidence(record: JobRecord) -> tuple[Table, ...]:
    """Photos with their hashes and scale, rule files and versions."""
    scale = {c.photo_id: c for c in record.calibrations}
    photos: list[tuple[Cell, ...]] = []
    for p in record.photos:
        c = scale.get(p.photo_id)
        how = f"{c.method}, lengths to {c.scale_u_rel:.1%}" if c else "not scaled"
        photos.append((p.photo_id, p.file_name, f"{p.n_cols} × {p.n_rows}", how, p.sha256))
    made: list[tuple[Cell, ...]] = [(name, value) for name, value in record.provenance.parameters]
    made += [(name, value) for name, value in record.provenance.rule_files]
    if record.provenance.weights_sha256:
        made.append(("weights of the network", record.provenance.weights_sha256))
    made += [(name, value) for name, value in record.provenance.libraries]
    return make_table(
        "Photos", ("Photo", "File", "Pixels", "Scale", "SHA-256"), photos, "llrll"
    ) + make_table("Settings, rule files and libraries", ("Name", "Value, SHA-256 or version"), made, "ll")
