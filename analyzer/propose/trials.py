"""Solving for one set of creases, and adding creases one at a time as long as they are worth it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from analyzer.propose.creases import candidate_creases, edge_strips
from analyzer.propose.requirements import Requirement, requirements_of
from analyzer.propose.site import Site
from analyzer.propose.solve import Fit, Slack, Solution, solve
from analyzer.propose.surface import Basis, Line, OldSurface, cut
from analyzer.records import Float
from analyzer.terms import Abuts, Option
from analyzer.units import MM2_PER_M2

Way = tuple[str, Float] | None
_CELLS = 12
_MOST_TRIALS = 60
_FEW_TRIALS = 12
_MANY_VERTICES = 400


@dataclass(frozen=True, slots=True, eq=False)
class Trial:
    """One set of creases and one way for the water, solved: ``solution`` None where infeasible.

    ``spent`` is what is to be least, in mm times m2: the concrete of an overlay, the distance of
    a new slab from the old surface. ``shortfall_mm`` is what the requirements would have to give
    together where they cannot be kept.
    """

    basis: Basis
    surface: OldSurface
    requirements: tuple[Requirement, ...]
    cost: Float
    fit: Fit | None
    way: Way
    solution: Solution | None
    margin: float
    spent: float
    shortfall_mm: float

    @property
    def rank(self) -> tuple[float, bool, float]:
        """Smaller is better: feasible, with margin, least spent."""
        return (self.shortfall_mm, self.margin == 0.0, self.spent)


def basis_for(site: Site, lines: tuple[Line, ...]) -> Basis:
    """Basis functions centred on the slab and scaled by its size."""
    low, high = site.old.xy.min(axis=0), site.old.xy.max(axis=0)
    return Basis((low + high) / 2.0, float((high - low).max()), lines)


def try_creases(
    site: Site, option: Option, thickness: tuple[float, str], lines: tuple[Line, ...], way: Way
) -> Trial:
    """Solve with given creases: with the margins first, else without.

    An overlay takes the least concrete, a new slab lies as near to the old surface as it can.
    """
    basis = basis_for(site, lines)
    surface = cut(site.old, lines)
    requirements = requirements_of(site, option, basis, surface, thickness, way)
    removal = option is Option.REMOVAL
    fit = nearness(site, basis, way) if removal else None
    cost = np.zeros(basis.size) if removal else surface.weights @ basis.heights(surface.xy) / MM2_PER_M2
    for margin in (1.0, 0.0):
        solution = solve(requirements, cost, margin, fit=fit)
        if solution is not None:
            spent = _spent(surface, cost, fit, solution.coefficients)
            return Trial(basis, surface, requirements, cost, fit, way, solution, margin, spent, 0.0)
    hard = [r for r in requirements if not r.wish]
    nearest = solve(hard, np.zeros(basis.size), slack={r.name: Slack(1.0) for r in hard})
    short = sum(nearest.slack_mm.values()) if nearest else np.inf
    return Trial(basis, surface, requirements, cost, fit, way, None, 0.0, np.inf, short)


def nearness(site: Site, basis: Basis, way: Way) -> Fit:
    """Mean distance from the old surface, on at most 144 cells of it; then the least fall across the way."""
    old = site.old
    low, high = old.xy.min(axis=0), old.xy.max(axis=0)
    cell = np.minimum((_CELLS * (old.xy - low) / np.maximum(high - low, 1.0)).astype(int), _CELLS - 1)
    _, group = np.unique(cell, axis=0, return_inverse=True)
    group = group.ravel()
    weight = np.bincount(group, weights=old.weights)
    kept = weight > 0

    def mean(values: Float) -> Float:
        out: Float = np.bincount(group, weights=old.weights * values)[kept] / weight[kept]
        return out

    places = np.column_stack([mean(old.xy[:, 0]), mean(old.xy[:, 1])])
    down = way[1] if way is not None else site.house[0].inward
    across = np.array([-down[1], down[0]])
    cross_fall = basis.slopes(basis.one_per_part(places), across) * basis.scale_mm
    area = float(weight.sum()) / MM2_PER_M2
    return Fit(
        np.vstack([basis.heights(places), cross_fall]),
        np.append(mean(old.z), np.zeros(len(cross_fall))),
        np.append(weight[kept] / MM2_PER_M2, np.full(len(cross_fall), 1e-3 * area)),
    )


def _spent(surface: OldSurface, cost: Float, fit: Fit | None, coefficients: Float) -> float:
    if fit is not None:
        return float(fit.weights @ np.abs(fit.rows @ coefficients - fit.target))
    return float(cost @ coefficients) - float(surface.weights @ surface.z) / MM2_PER_M2


def best_trial(site: Site, option: Option, thickness: tuple[float, str]) -> Trial:
    """The best plane over all ways for the water, with creases where one plane is not enough.

    Creases are added one at a time, the best first, up to ``most_creases``. An added crease has
    to make a plan feasible or nearly so, give it its margin, or save ``crease_saving`` of the
    concrete and ``crease_least`` of the mean thickness. When creases do not make it feasible
    either, the single plane is returned. A new slab is bent only where one plane will not do.
    """
    planes = [try_creases(site, option, thickness, (), way) for way in site.ways or (None,)]
    best = plane = min(planes, key=lambda t: t.rank)
    candidates = list(candidate_creases(site))
    while True:
        room = int(site.rules["most_creases"]) - len(best.basis.lines)
        free = [c for c in candidates if len(c) <= room and c[0] not in best.basis.lines]
        bends = [(*best.basis.lines, *c) for c in free]
        trials = [try_creases(site, option, thickness, lines, best.way) for lines in bends]
        if not trials:
            break
        found = min(trials, key=lambda t: t.rank)
        if not _worth_it(site, best, found):
            break
        best = found
    if best.solution is None:
        best = _all_together(site, option, thickness, plane, candidates)
    if best.solution is None:
        return plane
    if option is Option.REMOVAL:
        return best
    return _with_edge_strips(site, option, thickness, best)


def _all_together(
    site: Site,
    option: Option,
    thickness: tuple[float, str],
    plane: Trial,
    candidates: Sequence[tuple[Line, ...]],
) -> Trial:
    """The first few combinations of creases that work only together; the plane where none does."""
    room = int(site.rules["most_creases"])
    budget = _MOST_TRIALS if len(site.old.xy) < _MANY_VERTICES else _FEW_TRIALS
    for count in (2, 3):
        found = []
        for chosen in combinations(candidates, count):
            lines = tuple(line for group in chosen for line in group)
            if len(lines) <= room and budget > 0:
                budget -= 1
                found.append(try_creases(site, option, thickness, lines, plane.way))
        best = min((t for t in found if t.solution is not None), key=lambda t: t.rank, default=None)
        if best is not None:
            return best
    return plane


def _worth_it(site: Site, old: Trial, new: Trial) -> bool:
    if old.solution is None:
        return new.shortfall_mm < old.shortfall_mm - 0.5
    if new.solution is None or new.margin < old.margin:
        return False
    if new.margin > old.margin:
        return True
    if old.fit is not None:
        return False
    saved = old.spent - new.spent
    area = float(old.surface.areas.sum()) / MM2_PER_M2
    return saved > max(site.rules["crease_saving"] * old.spent, site.rules["crease_least"] * area)


def _with_edge_strips(site: Site, option: Option, thickness: tuple[float, str], best: Trial) -> Trial:
    """Slope the rim down where people cross it and it stands more than ``lip`` thicker than it must."""
    for edge, line in edge_strips(site):
        if edge.abuts is Abuts.FREE or best.solution is None:
            continue
        on_edge = edge.distance(best.surface.xy) < 1.0
        finished = best.basis.heights(best.surface.xy) @ best.solution.coefficients
        lip = (finished - best.surface.z)[on_edge]
        if not len(lip) or lip.mean() - thickness[0] < site.rules["lip"]:
            continue
        trial = try_creases(site, option, thickness, (*best.basis.lines, line), best.way)
        if trial.solution is not None and trial.rank < best.rank:
            best = trial
    return best
