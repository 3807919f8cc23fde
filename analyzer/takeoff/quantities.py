"""Quantities of every option, each with its uncertainty and what it rests on."""

from __future__ import annotations

import math

from analyzer.records import (
    Bill,
    DistressSummary,
    FieldBook,
    GradePlan,
    LevelMap,
    OrderLine,
    PanelLayout,
    Quantity,
)
from analyzer.takeoff.geometry import (
    earthwork,
    outline_area,
    prism_volume,
    prism_volume_u,
    product,
    slab_volume,
)
from analyzer.takeoff.order import order_line
from analyzer.takeoff.repair import count_repairs
from analyzer.takeoff.rules import TakeoffRules, load_slip, load_takeoff_rules
from analyzer.takeoff.slip import write_slip
from analyzer.terms import HeightKind, JointKind, Option
from analyzer.units import (
    KG_PER_LB,
    KG_PER_TONNE,
    LB_PER_SHORT_TON,
    MM2_PER_M2,
    MM3_PER_M3,
    MM_PER_M,
    format_length,
)

_REMOVAL = Option.REMOVAL


def count_quantities(
    plans: tuple[GradePlan, ...],
    layout: PanelLayout,
    distress: DistressSummary,
    field: FieldBook,
    rules: TakeoffRules | None = None,
    levels: LevelMap | None = None,
) -> Bill:
    """Count what each option takes.

    Overlay: volume between the old and the finished surface by triangulated prisms, order
    volume, bonding area, joints over the old joints, isolation strip. Removal: area, volume,
    mass and bulk of the old slab, volume of the new one. Patch: cracks by width, areas, panels.
    Values are in m, m2, m3, t and pieces.

    Parameters
    ----------
    plans : tuple of GradePlan
    layout, distress, field
    rules : TakeoffRules, optional
    levels : LevelMap, optional
        Says which panels have settled, so that the base under them is counted.

    Returns
    -------
    Bill
        What cannot be counted is named in ``notes`` and left out; it is never taken as zero.
    """
    rules = rules or load_takeoff_rules()
    side_u = max((p.side_u_mm for p in layout.panels), default=rules.place_u_mm)
    area, area_u = outline_area([(c.x_mm, c.y_mm) for c in field.outline], side_u)
    settled = tuple(p.panel_id for p in levels.panels if not p.sound) if levels else ()
    out: list[Quantity] = []
    notes: list[str] = []
    orders: list[OrderLine] = []
    for plan in plans:
        found = (
            _removal(plan, layout, field, area, area_u, settled, rules)
            if plan.option is _REMOVAL
            else _overlay(plan, layout, field, area, area_u, rules)
        )
        out += found[0]
        notes += found[1]
        orders += found[2]
    repairs, told_repairs = count_repairs(distress, layout, rules)
    by_option = {p.option: p for p in plans}
    items = load_slip()
    slips = tuple(write_slip(by_option[o.option], o, field, rules, items) for o in orders)
    return Bill((*out, *repairs), (*notes, *told_repairs), tuple(orders), slips)


def _overlay(
    plan: GradePlan, layout: PanelLayout, field: FieldBook, area: float, area_u: float, rules: TakeoffRules
) -> tuple[list[Quantity], list[str], list[OrderLine]]:
    option = plan.option
    item = "area to clean, roughen and bond" if option is Option.OVERLAY_BONDED else "area of bond breaker"
    out = [_area(option, item, area, area_u)]
    notes: list[str] = []
    orders: list[OrderLine] = []
    if plan.conflicts:
        notes.append(
            f"The plan for the {option.value} is not admissible as it stands; its quantities are those "
            "of the nearest plan."
        )
    if not plan.levels_known:
        notes.append(f"No levels: the volume of the {option.value} is not known.")
    else:
        volume = prism_volume(plan)
        u = prism_volume_u(plan, area_u / area, rules.strike_off_u_mm)
        basis = (
            f"{len(plan.triangles)} prisms between the old and the finished surface, mean thickness "
            f"{format_length(plan.thickness_mean_mm, field.job.units.value)}"
        )
        source = "QTY-FORMULAS: prisms over plane triangles, exact (textbook geometry, from memory)"
        out.append(Quantity(option, "concrete by the plan", volume, u, "m3", basis, source))
        orders.append(order_line(plan, volume, u, field, rules))
        out.append(_order_quantity(option, orders[0], rules))
    out += _joints(plan, layout)
    out += _isolation(option, field, rules)
    return out, notes, orders


def _removal(
    plan: GradePlan,
    layout: PanelLayout,
    field: FieldBook,
    area: float,
    area_u: float,
    settled: tuple[str, ...],
    rules: TakeoffRules,
) -> tuple[list[Quantity], list[str], list[OrderLine]]:
    out = [_area(_REMOVAL, "area to break out", area, area_u)]
    notes: list[str] = []
    old = field.slab.thickness
    if old is None:
        notes.append("The old slab's thickness is not known: what there is to haul off is not known either.")
    else:
        u_old = old.u_mm if old.u_mm is not None else rules.place_u_mm
        volume, u = (v / MM3_PER_M3 for v in product(area, area_u, old.mm, u_old))
        basis = f"area times the typed thickness of {old.typed}"
        out.append(Quantity(_REMOVAL, "concrete to break out, in place", volume, u, "m3", basis))
        least, most = rules.density
        mass, mass_u = (m / KG_PER_TONNE for m in product(volume, u, most, (most - least) / math.sqrt(12.0)))
        tons = mass * KG_PER_TONNE / KG_PER_LB / LB_PER_SHORT_TON
        out.append(
            Quantity(_REMOVAL, "mass to haul off", mass, mass_u, "t",
                     f"at {most:.0f} kg/m3, {tons:.1f} short tons", rules.sources["weight"])
        )  # fmt: skip
        low, high = rules.bulk
        bulked, bulked_u = product(volume, u, (low + high) / 2.0, (high - low) / math.sqrt(12.0))
        loads = math.ceil(bulked / rules.haul_m3 - 1e-9)
        out.append(
            Quantity(_REMOVAL, "broken concrete, loose", bulked, bulked_u, "m3",
                     f"{low} to {high} times the volume in place", rules.sources["bulk"])
        )  # fmt: skip
        out.append(
            Quantity(_REMOVAL, "truck loads to haul off", loads, None, "pieces",
                     f"loose volume over {rules.haul_m3:.1f} m3 a truck", rules.sources["haul"])
        )  # fmt: skip
    new = slab_volume(area, plan.thickness_mean_mm)
    new_u = product(area, area_u, plan.thickness_mean_mm, rules.strike_off_u_mm)[1] / MM3_PER_M3
    thick = format_length(plan.thickness_mean_mm, field.job.units.value)
    out.append(Quantity(_REMOVAL, "concrete by the plan", new, new_u, "m3", f"area times {thick}"))
    order = order_line(plan, new, new_u, field, rules)
    out.append(_order_quantity(_REMOVAL, order, rules))
    out += _base(plan, layout, field, settled, rules)
    out += _joints(plan, layout)
    out += _isolation(_REMOVAL, field, rules)
    return out, notes, [order]


def _base(
    plan: GradePlan, layout: PanelLayout, field: FieldBook, settled: tuple[str, ...], rules: TakeoffRules
) -> list[Quantity]:
    """Fill and cut between the two undersides, and a granular layer where a panel has settled or rocks."""
    out = []
    old = field.slab.thickness
    if old is not None and plan.levels_known and plan.triangles:
        basis = f"between the underside of the old slab, {old.typed} thick, and that of the new one"
        for item, volume in zip(("base to fill", "base to cut"), earthwork(plan, old.mm), strict=True):
            if volume > 0:
                out.append(Quantity(_REMOVAL, item, volume, None, "m3", basis))
    poor = set(settled) | set(field.slab.rocking_panels or ())
    panels = [p for p in layout.panels if p.panel_id in poor]
    if panels:
        area = sum(p.area_mm2 for p in panels)
        layer = slab_volume(area, rules.base_layer_mm)
        thick = format_length(rules.base_layer_mm, field.job.units.value)
        basis = f"{thick} under panels {', '.join(p.panel_id for p in panels)}, settled or rocking"
        item = "base layer under settled panels"
        out.append(Quantity(_REMOVAL, item, layer, None, "m3", basis, rules.sources["base"]))
    return out


def _area(option: Option, item: str, area: float, area_u: float) -> Quantity:
    source = "QTY-FORMULAS: shoelace formula (textbook geometry, from memory)"
    return Quantity(
        option, item, area / MM2_PER_M2, area_u / MM2_PER_M2, "m2", "outline in the field book", source
    )


def _order_quantity(option: Option, order: OrderLine, rules: TakeoffRules) -> Quantity:
    basis = (
        f"{order.waste:.1%} waste, rounded up to {order.step_m3:.3f} m3; {order.order_low_m3:.2f} to "
        f"{order.order_high_m3:.2f} m3 with {rules.waste[0]:.0%} to {rules.waste[2]:.0%}"
    )
    return Quantity(option, "concrete to order", order.order_m3, None, "m3", basis, rules.sources["waste"])


def _joints(plan: GradePlan, layout: PanelLayout) -> list[Quantity]:
    """Joints over the old joints; where the plan states its joints, those."""
    own = [j for j in plan.joints if j.over_joint is None and j.kind is not JointKind.ISOLATION]
    if own:
        total = sum(j.length_mm for j in own) / MM_PER_M
        basis = f"{len(own)} joints: {own[0].rule}"
        return [Quantity(plan.option, "contraction joints", total, None, "m", basis, own[0].source)]
    if plan.option is not Option.OVERLAY_BONDED:
        return []
    if not layout.joints:
        return []
    total = sum(j.length_mm for j in layout.joints) / MM_PER_M
    u = math.sqrt(sum(j.length_u_mm**2 for j in layout.joints)) / MM_PER_M
    source = "UFGS-OVERLAY-JOINT: UFGS concrete rehabilitation 3.10.3 (read)"
    basis = f"over {len(layout.joints)} old joints, within 1/4 in"
    return [Quantity(plan.option, "joints over the old joints", total, u, "m", basis, source)]


def _isolation(option: Option, field: FieldBook, rules: TakeoffRules) -> list[Quantity]:
    places = {c.name: (c.x_mm, c.y_mm) for c in field.outline}
    along = [e for e in field.edges if e.abuts in rules.isolate]
    out = []
    if along:
        total = sum(math.dist(places[e.start], places[e.end]) for e in along) / MM_PER_M
        u = rules.place_u_mm * math.sqrt(2.0 * len(along)) / MM_PER_M
        basis = "edges " + ", ".join(f"{e.name} ({e.abuts.value})" for e in along)
        out.append(Quantity(option, "isolation strip", total, u, "m", basis, rules.sources["isolation"]))
    posts = [h for h in field.heights if h.kind is HeightKind.POST]
    if posts:
        basis = "posts " + ", ".join(h.name for h in posts)
        source = rules.sources["isolation"]
        out.append(Quantity(option, "isolation collars at posts", len(posts), 0.0, "pieces", basis, source))
    return out
