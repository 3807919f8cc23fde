"""The linear programme against scipy on all rows at once; conflicts against brute force."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from scipy.optimize import linprog

from analyzer.propose.requirements import Requirement
from analyzer.propose.solve import (
    Fit,
    Slack,
    all_conflicts,
    irreducible_conflict,
    least_relaxation,
    single_relaxations,
    solve,
)


def need(name: str, rows, rhs, **more) -> Requirement:
    rows = np.atleast_2d(np.array(rows, dtype=float))
    rhs = np.atleast_1d(np.array(rhs, dtype=float))
    more.setdefault("margin", np.zeros(len(rhs)))
    return Requirement(name, name, "test", "mm", rows, rhs, **more)


@pytest.mark.parametrize("seed", range(6))
def test_row_generation_equals_scipy_with_all_rows(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = np.column_stack([rng.uniform(-1, 1, (3000, 2)), np.ones(3000)])
    rhs = rng.normal(0, 5, 3000)
    cost = points.mean(axis=0)
    ours = solve([need("thickness", points, rhs), need("slope", [[0, 1, 0]], [3.0])], cost)
    whole = linprog(
        cost, A_ub=-np.vstack([points, [[0, 1, 0]]]), b_ub=-np.append(rhs, 3.0), bounds=[(None, None)] * 3
    )
    assert ours is not None
    assert cost @ ours.coefficients == pytest.approx(whole.fun, abs=1e-6)


def test_infeasible_is_none_and_margin_counts() -> None:
    low, high = need("low", [1.0], [2.0], margin=np.array([1.0])), need("high", [-1.0], [-2.5])
    assert solve([low, high], np.array([1.0])) is not None
    assert solve([low, high], np.array([1.0]), margin=1.0) is None
    half = solve([low, high], np.array([1.0]), margin=0.5)
    assert half is not None
    assert half.coefficients == pytest.approx([2.5])


def test_a_wish_gives_way_and_is_kept_where_it_can_be() -> None:
    low, wish = need("low", [1.0], [2.0]), need("wish", [-1.0], [-1.0], wish=True)
    given = solve([low, wish], np.array([1.0]))
    assert given is not None
    assert given.slack_mm["wish"] == pytest.approx(1.0)
    kept = solve([need("low", [1.0], [0.5]), wish], np.array([-1.0]))
    assert kept is not None
    assert kept.coefficients == pytest.approx([1.0])


def test_fit_finds_the_median() -> None:
    """Least absolute distance from 1, 2, 10 with equal weights is the median (textbook)."""
    fit = Fit(np.ones((3, 1)), np.array([1.0, 2.0, 10.0]), np.ones(3))
    found = solve([need("any", [1.0], [-100.0])], np.zeros(1), fit=fit)
    assert found is not None
    assert found.coefficients == pytest.approx([2.0])


@pytest.mark.parametrize("seed", range(12))
def test_the_conflict_is_irreducible(seed: int) -> None:
    rng = np.random.default_rng(seed)
    needs = [need(f"r{k}", rng.normal(size=(2, 2)), rng.normal(0.5, 1.0, 2)) for k in range(7)]
    conflict = irreducible_conflict(needs, 2)

    def possible(subset) -> bool:
        rows = np.vstack([r.rows for r in subset])
        rhs = np.concatenate([r.rhs for r in subset])
        return linprog(np.zeros(2), A_ub=-rows, b_ub=-rhs, bounds=[(None, None)] * 2).status == 0

    if not conflict:
        assert possible(needs)
        return
    assert not possible(conflict)
    for smaller in itertools.combinations(conflict, len(conflict) - 1):
        assert not smaller or possible(smaller)


def test_every_conflict_is_found_until_the_rest_fits() -> None:
    needs = [
        need("thickness", [[1, 0], [0, 1]], [4.0, 4.0]),
        need("sill", [-1, 0], [-1.0]),
        need("weep", [0, -1], [-2.0]),
    ]
    sets = all_conflicts(needs, 2)
    found = {frozenset(r.name for r in s) for s in sets}
    assert found == {frozenset({"thickness", "sill"}), frozenset({"thickness", "weep"})}
    alone = single_relaxations((*sets[0], *sets[1]), needs, 2)
    assert alone == {"thickness": pytest.approx(3.0)}  # sill or weep alone leave the other in the way


def test_the_nearest_plan_gives_where_it_costs_least() -> None:
    needs = [need("thickness", [1.0], [4.0]), need("sill", [-1.0], [-1.0]), need("other", [1.0], [-9.0])]
    conflict = irreducible_conflict(needs, 1)
    nearest = least_relaxation(needs, np.array([1.0]), conflict, {"thickness": 10.0})
    assert nearest is not None
    assert nearest.coefficients == pytest.approx([4.0], abs=1e-3)
    assert dict(nearest.slack_mm) == {"sill": pytest.approx(3.0)}


def test_slack_has_a_ceiling() -> None:
    needs = [need("a", [1.0], [4.0]), need("b", [-1.0], [-1.0])]
    assert solve(needs, np.zeros(1), slack={"b": Slack(1.0, 2.0)}) is None
    assert solve(needs, np.zeros(1), slack={"b": Slack(1.0, 3.1)}) is not None
