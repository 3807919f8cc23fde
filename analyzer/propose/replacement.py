"""The new slab after removal: where its surface would lie, as near to the old one as the limits allow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.propose.design import DesignRules
from analyzer.propose.details import add_details
from analyzer.propose.plan import build_plan, held
from analyzer.propose.site import Site
from analyzer.propose.solve import all_conflicts, least_relaxation
from analyzer.propose.trials import best_trial
from analyzer.propose.words import NO_ROOM, conflicts_in_words, consequences, open_questions
from analyzer.records import FieldBook, GradePlan
from analyzer.terms import Option, Use


def replacement_thickness(field: FieldBook, rules: DesignRules) -> tuple[float, str]:
    """Thickness of the new slab in mm and where it comes from: as typed, else by use."""
    typed = field.design.replacement_thickness
    if typed is not None:
        return typed.mm, "chosen in the field book"
    key = {Use.CAR: "slab_car", Use.TRUCK: "slab_truck"}.get(field.site.use or Use.FOOT, "slab_foot")
    return rules[key], rules.source(key)


def plan_replacement(site: Site) -> GradePlan:
    """The new slab's surface, with the least change from the old one.

    One plane, or several where one will not do. Besides falls and slope limits it keeps doors,
    claddings, flights and walks from both sides: a new slab need not lie higher than the old
    one. Where that cannot be, the nearest plane is given with the conflict in words.
    """
    thickness, source = replacement_thickness(site.field, site.rules)
    best = best_trial(site, Option.REMOVAL, (thickness, source))
    assumptions = [f"The new slab is {site.length(thickness)} thick ({source}).", *open_questions(site)]
    conflicts: tuple[str, ...] = ()
    relax: tuple[str, ...] = ()
    if best.solution is None:
        size = best.basis.size
        found = all_conflicts(best.requirements, size)
        nearest = least_relaxation(best.requirements, best.cost, sum(found, ()), {}, best.fit)
        coefficients = nearest.coefficients if nearest else np.zeros(size)
        conflicts, relax = conflicts_in_words(site, found, best.requirements, coefficients)
    else:
        coefficients = best.solution.coefficients
        if best.margin == 0.0:
            assumptions.append(NO_ROOM)
    plan = build_plan(site, Option.REMOVAL, best.basis, best.surface, coefficients, thickness)
    plan = replace(
        plan,
        conflicts=conflicts,
        relaxations=relax,
        assumptions=tuple(assumptions),
        notes=consequences(site, plan),
        requirements=held(site, best.requirements, coefficients),
    )
    return add_details(site, plan, best, coefficients)
