"""What a solved plan needs to be priced, ordered and set out: heights, contours, joints, cover, support."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analyzer.propose.joints import plan_joints, support_notes
from analyzer.propose.setout import set_out
from analyzer.propose.site import Site
from analyzer.propose.thickness import area_at_least, contours, high_spots
from analyzer.propose.trials import Trial
from analyzer.records import Contour, Float, GradePlan
from analyzer.records.tin import interpolate
from analyzer.terms import Option, UnitSystem
from analyzer.units import format_volume


def add_details(site: Site, plan: GradePlan, trial: Trial, coefficients: Float) -> GradePlan:
    """Fill in joints, contours, the part that can hold a bar and the set-out.

    A plan that cannot be kept is set out only where what it breaks can be put right on site.

    Parameters
    ----------
    plan : GradePlan
        With ``requirements`` filled in.
    trial : Trial
        What was solved; ``coefficients`` are those of ``plan``.
    """
    surface = trial.surface
    removal = plan.option is Option.REMOVAL
    thickness = np.array([g.thickness_mm for g in plan.grades])

    def thickness_at(points: Float) -> Float:
        if removal:
            return np.full(len(points), plan.thickness_mean_mm)
        return interpolate(surface.xy, thickness, surface.triangles, points)

    metric = site.field.job.units is UnitSystem.METRIC
    joints = plan_joints(site, plan, thickness_at)
    lines: tuple[Contour, ...] = ()
    if not removal:
        step = site.rules["contour_step_metric" if metric else "contour_step"]
        lines = contours(surface.xy, thickness, surface.triangles, step)
    least = site.rules["cover"] + site.rules["bar"] + site.rules["thin_min"]
    fraction = area_at_least(surface.xy, thickness, surface.triangles, least) / float(surface.areas.sum())
    plan = replace(plan, joints=joints, contours=lines, reinforceable_fraction=fraction)
    notes = [*plan.notes, _cover_note(site, plan, least), *support_notes(site, plan)]
    pairs = zip(trial.requirements, plan.requirements, strict=True)
    broken = [r for r, h in pairs if h.room < -1e-6 and not r.wish]
    if all(r.remedy for r in broken):
        setout, held = set_out(site, plan, trial.basis, coefficients, trial.requirements)
        plan = replace(plan, setout=setout, requirements=held)
    if trial.solution is not None:
        spots = high_spots(site, plan, surface, trial.requirements, trial.cost, coefficients, trial.margin)
        plan = replace(plan, grinding=spots)
        if spots:
            saved = sum(s.saves_m3 for s in spots)
            names, depth = ", ".join(s.name for s in spots), site.length(max(s.depth_mm for s in spots))
            notes.append(
                f"Grinding {len(spots)} high spots ({names}) by up to {depth} would save "
                f"{format_volume(saved, site.units)} of concrete."
            )
    return replace(plan, notes=tuple(notes))


def _cover_note(site: Site, plan: GradePlan, least_mm: float) -> str:
    cover, part = site.rules.written("cover"), plan.reinforceable_fraction or 0.0
    source = site.rules.source("cover")
    if plan.option is Option.REMOVAL:
        under = site.length(max(0.0, plan.thickness_mean_mm - site.rules["cover"] - site.rules["bar"]))
        return (
            f"A bar with {cover} of cover from the top leaves {under} of concrete under it ({source}); "
            "against earth ACI 318 asks 3 in (from memory)."
        )
    below = site.rules.written("thin_min")
    needs = f"{cover} of cover over it and {below} under it, {site.length(least_mm)} in all ({source})"
    if part <= 1e-6:
        return f"No part of the overlay can hold a bar: that takes {needs}."
    if part >= 1 - 1e-6:
        return f"The overlay can hold a bar everywhere: that takes {needs}."
    return f"{part:.0%} of the overlay can hold a bar: that takes {needs}."
