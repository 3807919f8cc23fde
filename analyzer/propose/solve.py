"""The linear programme: least concrete under the requirements, what conflicts, and the least relaxation.

Rows are generated as they are needed: a plan has three to six coefficients, so that of thousands
of thickness rows only a handful ever bind.
"""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import OptimizeWarning, linprog

from analyzer.propose.requirements import Requirement
from analyzer.records import Float

Bounds = list[tuple[float | None, float | None]]
_TOLERANCE = 1e-6
_FIRST_ROWS = 48
_MORE_ROWS = 64
_WISH_COST = 1e3


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Terms weights (F,) times the distance of rows (F, n) @ coefficients from target (F,), to be least."""

    rows: Float
    target: Float
    weights: Float


@dataclass(frozen=True, slots=True, eq=False)
class Slack:
    """How much a requirement may give, in mm: its price per mm and the most it may give."""

    price: float
    most_mm: float = np.inf


@dataclass(frozen=True, slots=True, eq=False)
class Solution:
    """Coefficients (n,) and how much each slackened requirement had to give, in mm."""

    coefficients: Float
    slack_mm: Mapping[str, float] = field(default_factory=dict)


def solve(
    requirements: Sequence[Requirement],
    cost: Float,
    margin: float = 0.0,
    slack: Mapping[str, Slack] | None = None,
    fit: Fit | None = None,
) -> Solution | None:
    """Least ``cost @ coefficients`` (plus slack and fit terms) under the requirements.

    Parameters
    ----------
    requirements : sequence of Requirement
        Wishes get a slack of their own at a high price.
    cost : (n,)
    margin : float
        Part of each requirement's margin to keep, 0 to 1.
    slack : mapping, optional
        Requirements that may give, by name.
    fit : Fit, optional

    Returns
    -------
    Solution or None
        None where the requirements cannot all be kept.
    """
    n = len(cost)
    allowed = {r.name: Slack(_WISH_COST) for r in requirements if r.wish} | dict(slack or {})
    names = [r.name for r in requirements if r.name in allowed]
    column = {name: n + k for k, name in enumerate(dict.fromkeys(names))}
    width = n + len(column)
    blocks, limits, first = [], [], []
    for r in requirements:
        block = np.zeros((len(r.rhs), width))
        # Slopes count in mm over their lever, so that they are kept as exactly as heights.
        block[:, :n] = r.rows * r.lever_mm
        if r.name in column:
            block[:, column[r.name]] = 1.0
        limit = (r.rhs + margin * r.margin) * r.lever_mm
        blocks.append(block)
        limits.append(limit)
        first.append(_first_rows(block[:, :n], limit))
    rows, rhs = np.vstack(blocks), np.concatenate(limits)
    active = np.concatenate(first)
    price = np.concatenate([cost, [allowed[name].price for name in column]])
    bounds: Bounds = [(None, None)] * n + [(0.0, allowed[name].most_mm) for name in column]
    while True:
        values = _linprog(price, rows[active], rhs[active], bounds, fit)
        if values is None and not active.all():
            # Infeasible already with some rows means infeasible; unbounded needs them all.
            feasible = _linprog(np.zeros(width), rows[active], rhs[active], bounds, None)
            if feasible is None:
                return None
            active[:] = True
            continue
        if values is None:
            return None
        short = rhs - rows @ values
        worst = np.flatnonzero((short > _TOLERANCE) & ~active)
        if not len(worst):
            return Solution(values[:n], {name: float(values[k]) for name, k in column.items()})
        active[worst[np.argsort(-short[worst])[:_MORE_ROWS]]] = True


def irreducible_conflict(requirements: Sequence[Requirement], size: int) -> tuple[Requirement, ...]:
    """A set of requirements that cannot all be kept and of which none can be spared.

    Deletion filter (Chinneck and Dravnieks 1991, from memory): leave out one after the other; what
    makes the rest feasible belongs to the set. Empty where all can be kept.
    """
    kept = [r for r in requirements if not r.wish]
    nothing = np.zeros(size)
    if not kept or solve(kept, nothing) is not None:
        return ()
    for r in list(kept):
        without = [q for q in kept if q is not r]
        if without and solve(without, nothing) is None:
            kept = without
    return tuple(kept)


def all_conflicts(requirements: Sequence[Requirement], size: int) -> tuple[tuple[Requirement, ...], ...]:
    """Irreducible conflicts, one after the other, until the rest can be kept.

    After each, the member that is easiest to change on site is set aside: a height before a
    slope, the thickness last.
    """
    rest = [r for r in requirements if not r.wish]
    found = []
    while conflict := irreducible_conflict(rest, size):
        found.append(conflict)
        aside = min(conflict, key=lambda r: (r.name == "thickness", r.unit == "slope"))
        rest = [r for r in rest if r is not aside]
    return tuple(found)


def least_relaxation(
    requirements: Sequence[Requirement],
    cost: Float,
    conflict: Sequence[Requirement],
    prices: Mapping[str, float],
    fit: Fit | None = None,
    margin: float = 1.0,
) -> Solution | None:
    """The plan nearest to feasible: the least sum of what requirements give, then the least concrete.

    Requirements of ``conflict`` give first, any other only where that does not do. ``prices``
    weigh the millimetres of a requirement, 1 where it is not named; wishes are left out. The
    ``margin`` is kept where it costs nothing that is worth more.
    """
    hard = [r for r in requirements if not r.wish]
    named = {r.name for r in conflict}
    slack = {r.name: Slack(prices.get(r.name, 1.0) * (1.0 if r.name in named else 100.0)) for r in hard}
    nearest = solve(hard, np.zeros(len(cost)), margin, slack)
    if nearest is None:
        return None
    given = {name: mm for name, mm in nearest.slack_mm.items() if mm > 1e-6}
    capped = {name: Slack(1e-3, mm + 1e-4) for name, mm in given.items()}
    cheapest = solve(hard, cost, margin, capped, fit) or nearest
    return Solution(cheapest.coefficients, given)


def single_relaxations(
    conflict: Sequence[Requirement], requirements: Sequence[Requirement], size: int
) -> dict[str, float]:
    """For each requirement of a conflict: how far it alone would have to give, in mm.

    Left out where the other requirements conflict without it.
    """
    hard = [r for r in requirements if not r.wish]
    out = {}
    for r in conflict:
        alone = solve(hard, np.zeros(size), slack={r.name: Slack(1.0)})
        if alone is not None:
            out[r.name] = alone.slack_mm[r.name]
    return out


def _first_rows(rows: Float, rhs: Float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """The rows to start with: all of a few; of many those that stand out and those at the rim."""
    chosen = np.ones(len(rhs), dtype=bool)
    if len(rhs) <= 2 * _FIRST_ROWS:
        return chosen
    chosen[:] = False
    flat = np.linalg.lstsq(rows, rhs, rcond=None)[0]
    chosen[np.argsort(rows @ flat - rhs)[:_FIRST_ROWS]] = True
    for column in (*rows.T, rows[:, 0] + rows[:, 1], rows[:, 0] - rows[:, 1]):
        chosen[[int(column.argmin()), int(column.argmax())]] = True
    return chosen


def _linprog(price: Float, rows: Float, rhs: Float, bounds: Bounds, fit: Fit | None) -> Float | None:
    width = len(price)
    if fit is not None:
        n, count = fit.rows.shape[1], len(fit.target)
        wide = np.zeros((count, width))
        wide[:, :n] = fit.rows
        eye = np.eye(count)
        rows = np.block([[rows, np.zeros((len(rows), count))], [wide, eye], [-wide, eye]])
        rhs = np.concatenate([rhs, fit.target, -fit.target])
        price = np.concatenate([price, fit.weights])
        bounds = bounds + [(0.0, None)] * count
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", OptimizeWarning)
        result = linprog(price, A_ub=-rows, b_ub=-rhs, bounds=bounds, method="highs")
    if result.status != 0:
        return None
    out: Float = np.asarray(result.x[:width], dtype=float)
    return out
