"""The cheapest mixture of works, panel by panel, that cures every defect: branch and bound.

Each kind of work that is used at all costs a set-up (a crew, a machine), and each panel it is used on
costs more by its size. With the kinds fixed every panel is solved alone; the search branches on whether
a kind may be used, and leaves a branch as soon as its lower bound (set-ups already taken, plus the
cheapest cover of every panel with all kinds still open, set-ups free) is no better than the best found.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from analyzer.terms import Option

DEFECTS = (
    "hairline",
    "cracked",
    "corner",
    "spots",
    "scaled",
    "tripping edge",
    "off level",
    "off level in pieces",
    "broken",
    "any",
)


@dataclass(frozen=True, slots=True)
class Work:
    """A kind of work: what it cures, within which options, and its cost in points.

    ``whole`` = within these options it is done on every panel, defect or not.
    """

    id: str
    options: tuple[Option, ...]
    cures: tuple[str, ...]
    setup: float
    per_panel: float
    whole: bool
    source: str


@dataclass(frozen=True, slots=True)
class Mixture:
    """Works for each panel, in the order of the panels, and the cost of all."""

    works: tuple[tuple[str, ...], ...]
    cost: float


def best_mixture(
    defects: Sequence[frozenset[str]], sizes: Sequence[float], works: Sequence[Work], option: Option
) -> Mixture | None:
    """The cheapest works that cure all defects of all panels within one option.

    Parameters
    ----------
    defects : sequence of frozenset of str
        Defects of each panel.
    sizes : sequence of float
        Size of each panel over the mean panel.
    works : sequence of Work
    option : Option

    Returns
    -------
    Mixture or None
        None where the option's works cannot cure some defect. Of equals the first in the table.
    """
    kinds = tuple(work for work in works if option in work.options)
    whole = frozenset(work.id for work in kinds if work.whole)
    groups = tuple(sorted(set(defects), key=sorted))

    @cache
    def cover(group: frozenset[str], allowed: frozenset[str]) -> tuple[float, tuple[str, ...]] | None:
        return _cover(group, tuple(work for work in kinds if work.id in allowed), whole)

    def panels_cost(allowed: frozenset[str]) -> float | None:
        costs = {}
        for group in groups:
            found = cover(group, allowed)
            if found is None:
                return None
            costs[group] = found[0]
        return sum(costs[group] * size for group, size in zip(defects, sizes, strict=True))

    best: tuple[float, frozenset[str]] | None = None
    # Dear set-ups first: leaving one out raises or settles the bound the most.
    order = sorted((work for work in kinds if work.id not in whole), key=lambda work: -work.setup)
    base = sum(work.setup for work in kinds if work.id in whole)
    stack: list[tuple[int, float, frozenset[str]]] = [(0, base, frozenset(work.id for work in kinds))]
    while stack:
        depth, setups, allowed = stack.pop()
        cost = panels_cost(allowed)
        if cost is None or (best is not None and setups + cost >= best[0] - 1e-12):
            continue
        if depth == len(order):
            best = (setups + cost, allowed)
            continue
        kind = order[depth]
        stack.append((depth + 1, setups + kind.setup, allowed))
        stack.append((depth + 1, setups, allowed - {kind.id}))
    if best is None:
        return None
    chosen = []
    for group in defects:
        found = cover(group, best[1])
        chosen.append(found[1] if found else ())
    return Mixture(tuple(chosen), best[0])


def _cover(
    group: frozenset[str], kinds: Sequence[Work], whole: frozenset[str]
) -> tuple[float, tuple[str, ...]] | None:
    """Cheapest set of works that cures a panel's defects; the works done on every panel are always in it."""
    always = [work for work in kinds if work.id in whole]
    optional = [work for work in kinds if work.id not in whole]
    best: tuple[float, tuple[str, ...]] | None = None
    for mask in range(1 << len(optional)):
        chosen = always + [work for bit, work in enumerate(optional) if mask >> bit & 1]
        cost = sum(work.per_panel for work in chosen)
        if best is not None and cost >= best[0]:
            continue
        cured = {defect for work in chosen for defect in work.cures}
        if "any" in cured or group <= cured:
            best = (cost, tuple(work.id for work in kinds if work in chosen))  # in the order of the table
    return best
