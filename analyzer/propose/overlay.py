"""Overlay plans: the least concrete that keeps every requirement, or what stands in the way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.propose.design import DesignRules, load_design
from analyzer.propose.details import add_details
from analyzer.propose.plan import build_plan, held
from analyzer.propose.replacement import plan_replacement, replacement_thickness
from analyzer.propose.site import Site, describe_site
from analyzer.propose.solve import all_conflicts, least_relaxation
from analyzer.propose.trials import Trial, best_trial
from analyzer.propose.words import NO_ROOM, conflicts_in_words, consequences, open_questions
from analyzer.records import Clearance, ClearanceAfter, FieldBook, GradePlan, LevelMap, PanelLayout
from analyzer.terms import Option

# A thickness that gives is a feather edge: it is the last thing to relax.
_PRICES = {"thickness": 10.0}
_MINIMUM = {Option.OVERLAY_BONDED: "bonded_min", Option.OVERLAY_UNBONDED: "unbonded_min"}


def plan_grades(
    levels: LevelMap | None,
    clearances: tuple[Clearance, ...],
    field: FieldBook,
    layout: PanelLayout,
    rules: DesignRules | None = None,
) -> tuple[GradePlan, ...]:
    """Plans for an overlay bonded, an overlay unbonded and a new slab, in this order.

    The finished surface of an overlay is one plane, or several with crease lines where one is not
    enough or would waste concrete. It takes the least concrete under: minimum thickness at every
    station, outline corner and triangle vertex (the surfaces are linear between them, so
    everywhere), the fall away from the house, slope limits, and the heights of sills, claddings,
    risers, gates and walks. Heights and thickness are kept with two standard uncertainties to
    spare where that can be had. Where the requirements conflict, the plan is the nearest one,
    with the conflict in words.

    Parameters
    ----------
    levels : LevelMap or None
        Without levels a plan is only a constant thickness on a surface taken as parallel
        (``levels_known`` False): heights after are then estimates and falls unknown.
    clearances, field, layout
    rules : DesignRules, optional

    Raises
    ------
    FieldBookError
        ``design.fall_toward`` names nothing on this slab.
    """
    rules = rules or load_design()
    if levels is None:
        options = (Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.REMOVAL)
        return tuple(_plan_without_levels(o, clearances, field, rules) for o in options)
    site = describe_site(field, levels, clearances, layout, rules)
    overlays = tuple(plan_overlay(site, option) for option in _MINIMUM)
    return (*overlays, plan_replacement(site))


def plan_overlay(site: Site, option: Option) -> GradePlan:
    """The plan of one overlay regime, see :func:`plan_grades`."""
    thickness, remarks = overlay_minimum(site.field, option, site.rules)
    best = best_trial(site, option, thickness)
    if best.solution is None:
        return _conflicting(site, option, best, remarks)
    coefficients = best.solution.coefficients
    plan = build_plan(site, option, best.basis, best.surface, coefficients, None)
    assumptions = [*remarks, *open_questions(site)]
    if best.margin == 0.0:
        assumptions.append(NO_ROOM)
    plan = replace(
        plan,
        assumptions=tuple(assumptions),
        notes=consequences(site, plan),
        requirements=held(site, best.requirements, coefficients),
    )
    return add_details(site, plan, best, coefficients)


def overlay_minimum(
    field: FieldBook, option: Option, rules: DesignRules
) -> tuple[tuple[float, str], tuple[str, ...]]:
    """Least thickness of an overlay regime in mm with its source, and a remark where it is not as typed.

    The cited minimum, or more where the field book asks for more.
    """
    key = _MINIMUM[option]
    typed = field.design.overlay_min
    if typed is None:
        return (rules[key], rules.source(key)), ()
    if typed.mm < rules[key] - 1e-6:
        remark = (
            f"The chosen minimum of {typed.typed} is under the {rules.written(key)} for an {option.value}; "
            f"{rules.written(key)} was kept."
        )
        return (rules[key], rules.source(key)), (remark,)
    return (typed.mm, "chosen in the field book"), ()


def _conflicting(site: Site, option: Option, best: Trial, remarks: tuple[str, ...]) -> GradePlan:
    """The nearest plan and what conflicts."""
    size = best.basis.size
    conflicts = all_conflicts(best.requirements, size)
    nearest = least_relaxation(best.requirements, best.cost, sum(conflicts, ()), _PRICES)
    coefficients = nearest.coefficients if nearest else np.zeros(size)
    sentences, relax = conflicts_in_words(site, conflicts, best.requirements, coefficients)
    plan = build_plan(site, option, best.basis, best.surface, coefficients, None)
    plan = replace(
        plan,
        conflicts=sentences,
        relaxations=relax,
        assumptions=(*remarks, *open_questions(site)),
        notes=consequences(site, plan),
        requirements=held(site, best.requirements, coefficients),
    )
    return add_details(site, plan, best, coefficients)


def _plan_without_levels(
    option: Option, clearances: tuple[Clearance, ...], field: FieldBook, rules: DesignRules
) -> GradePlan:
    """One chosen thickness and the heights it would leave if old and new surface were parallel."""
    remarks: tuple[str, ...] = ()
    if option is Option.REMOVAL:
        thickness = replacement_thickness(field, rules)[0]
        raised = 0.0
        assume = "No levels were read: the new slab is taken to lie where the old one lies."
    else:
        (thickness, _), remarks = overlay_minimum(field, option, rules)
        raised = thickness
        assume = (
            "No levels were read: the old surface is taken as parallel to the new one. The fall, the "
            "thickness between and the heights after are not known until levels are read."
        )
    u = rules["setout_half_width"]
    after = tuple(
        ClearanceAfter(
            c.kind,
            c.name,
            c.height_mm,
            c.height_after_mm(raised),
            None if c.height_mm is None else float(np.hypot(c.height_u_mm or 0.0, u)),
            c.flight,
            c.order,
        )
        for c in clearances
    )
    corner = field.outline[0]
    return GradePlan(
        option=option,
        plane=None,
        fall=None,
        fall_direction_deg=None,
        grades=(),
        triangles=(),
        thickness_min_mm=thickness,
        thickness_min_u_mm=u,
        thickness_min_at_mm=(corner.x_mm, corner.y_mm),
        thickness_max_mm=thickness,
        thickness_max_u_mm=u,
        thickness_mean_mm=thickness,
        heights_after=after,
        assumptions=(assume, *remarks),
        levels_known=False,
    )
