"""The new slab after removal: where its surface would lie, as near to the old one as the limits allow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.propose.design import DesignRules
from analyzer.propose.plan import build_plan, held
from analyzer.propose.requirements import Requirement, requirements_of
from analyzer.propose.site import Site
from analyzer.propose.solve import Fit, Solution, all_conflicts, least_relaxation, solve
from analyzer.propose.surface import Basis
from analyzer.propose.words import NO_ROOM, conflicts_in_words, consequences, open_questions
from analyzer.records import FieldBook, Float, GradePlan
from analyzer.terms import Option, Use
from analyzer.units import MM2_PER_M2

_SAMPLES = 12


def replacement_thickness(field: FieldBook, rules: DesignRules) -> tuple[float, str]:
    """Thickness of the new slab in mm and where it comes from: as typed, else by use."""
    typed = field.design.replacement_thickness
    if typed is not None:
        return typed.mm, "chosen in the field book"
    key = {Use.CAR: "slab_car", Use.TRUCK: "slab_truck"}.get(field.site.use or Use.FOOT, "slab_foot")
    return rules[key], rules.source(key)


def plan_replacement(site: Site) -> GradePlan:
    """One plane for the new slab, with the least change from the old surface.

    Besides falls and slope limits it keeps doors, claddings, flights and walks from both sides:
    a new slab need not lie higher than the old one. Where that cannot be, the nearest plane is
    given with the conflict in words.
    """
    thickness, source = replacement_thickness(site.field, site.rules)
    low, high = site.old.xy.min(axis=0), site.old.xy.max(axis=0)
    basis = Basis((low + high) / 2.0, float((high - low).max()), ())
    found: list[tuple[tuple[bool, bool, float], Solution | None, tuple[Requirement, ...], bool, Fit]] = []
    for way in site.ways or (None,):
        requirements = requirements_of(site, Option.REMOVAL, basis, site.old, (thickness, source), way)
        fit = _nearness(site, basis, way)
        found.append((*_try(requirements, basis, fit), fit))
    _, solution, requirements, margin, fit = min(found, key=lambda f: f[0])
    assumptions = [f"The new slab is {site.length(thickness)} thick ({source}).", *open_questions(site)]
    conflicts: tuple[str, ...] = ()
    relax: tuple[str, ...] = ()
    if solution is None:
        found_conflicts = all_conflicts(requirements, basis.size)
        nearest = least_relaxation(requirements, np.zeros(basis.size), sum(found_conflicts, ()), {}, fit)
        coefficients = nearest.coefficients if nearest else np.zeros(basis.size)
        conflicts, relax = conflicts_in_words(site, found_conflicts, requirements, coefficients)
    else:
        coefficients = solution.coefficients
        if not margin:
            assumptions.append(NO_ROOM)
    plan = build_plan(site, Option.REMOVAL, basis, site.old, coefficients, thickness)
    return replace(
        plan,
        conflicts=conflicts,
        relaxations=relax,
        assumptions=tuple(assumptions),
        notes=consequences(site, plan),
        requirements=held(site, requirements, coefficients),
    )


def _try(
    requirements: tuple[Requirement, ...], basis: Basis, fit: Fit
) -> tuple[tuple[bool, bool, float], Solution | None, tuple[Requirement, ...], bool]:
    for margin in (1.0, 0.0):
        solution = solve(requirements, np.zeros(basis.size), margin, fit=fit)
        if solution is not None:
            off = float(fit.weights @ np.abs(fit.rows @ solution.coefficients - fit.target))
            return (False, margin == 0.0, off), solution, requirements, margin > 0
    return (True, True, np.inf), None, requirements, False


def _nearness(site: Site, basis: Basis, way: tuple[str, Float] | None) -> Fit:
    """Mean distance from the old surface, on at most 144 cells of it; then the least fall across the way."""
    old = site.old
    low, high = old.xy.min(axis=0), old.xy.max(axis=0)
    cell = np.minimum((_SAMPLES * (old.xy - low) / np.maximum(high - low, 1.0)).astype(int), _SAMPLES - 1)
    _, group = np.unique(cell, axis=0, return_inverse=True)
    group = group.ravel()
    weight = np.bincount(group, weights=old.weights)
    kept = weight > 0

    def mean(values: Float) -> Float:
        out: Float = np.bincount(group, weights=old.weights * values)[kept] / weight[kept]
        return out

    places = np.column_stack([mean(old.xy[:, 0]), mean(old.xy[:, 1])])
    down = way[1] if way is not None else site.house[0].inward
    across = np.array([[-down[1], down[0]]])
    cross_fall = basis.slopes(places[:1], across[0]) * basis.scale_mm
    area = float(weight.sum()) / MM2_PER_M2
    return Fit(
        np.vstack([basis.heights(places), cross_fall]),
        np.append(mean(old.z), 0.0),
        np.append(weight[kept] / MM2_PER_M2, 1e-3 * area),
    )
