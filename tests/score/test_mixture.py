"""The cheapest mixture of works against a full enumeration."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analyzer.score.mixture import DEFECTS, best_mixture
from analyzer.score.options import load_options
from analyzer.terms import Option

WORKS = load_options().works
P, B, U, R = Option.PATCH, Option.OVERLAY_BONDED, Option.OVERLAY_UNBONDED, Option.REMOVAL
PANEL = st.frozensets(st.sampled_from([defect for defect in DEFECTS if defect != "any"]), max_size=3)


def enumerate_all(defects, sizes, option):  # type: ignore[no-untyped-def]
    """Every subset of kinds for every panel, set-ups for what is used: slow and without cleverness."""
    kinds = [work for work in WORKS if option in work.options]
    whole = {work.id for work in kinds if work.whole}
    covers = []
    for group in defects:
        fits = []
        for size in range(len(kinds) + 1):
            for chosen in itertools.combinations(kinds, size):
                cured = {defect for work in chosen for defect in work.cures}
                if whole <= {work.id for work in chosen} and ("any" in cured or group <= cured):
                    fits.append(chosen)
        covers.append(fits)
    best = None
    for plan in itertools.product(*covers):
        used = {work for chosen in plan for work in chosen}
        cost = sum(work.setup for work in used)
        cost += sum(
            work.per_panel * size for chosen, size in zip(plan, sizes, strict=True) for work in chosen
        )
        best = cost if best is None else min(best, cost)
    return best


@settings(max_examples=40, deadline=None)
@given(
    defects=st.lists(PANEL, min_size=1, max_size=2),
    size=st.floats(0.3, 2.0),
    option=st.sampled_from([P, B, U, R]),
)
def test_against_enumeration(defects, size: float, option: Option) -> None:  # type: ignore[no-untyped-def]
    sizes = [size, 1.0][: len(defects)]
    found, expected = best_mixture(defects, sizes, WORKS, option), enumerate_all(defects, sizes, option)
    assert (found is None) == (expected is None)
    if found is not None:
        assert found.cost == pytest.approx(expected)


def test_a_crew_that_is_there_takes_one_panel_more() -> None:
    # Alone a settled panel is lifted (6 + 4); where panels are replaced anyway it is replaced as well (10).
    low = frozenset({"off level"})
    assert best_mixture([low], [1.0], WORKS, P).works == (("lift",),)
    both = best_mixture([low, frozenset({"broken"})], [1.0, 1.0], WORKS, P)
    assert both.works == (("lift",), ("replace",)) or both.cost <= 6 + 10 + 10
    assert both.cost == pytest.approx(min(6 + 4 + 6 + 10, 6 + 10 + 10))
    small = best_mixture([low, frozenset({"broken"})], [0.5, 1.0], WORKS, P)
    assert small.works == (("replace",), ("replace",))


def test_nothing_to_do_costs_nothing() -> None:
    assert best_mixture([frozenset()] * 3, [1.0] * 3, WORKS, P).cost == 0.0
    assert best_mixture([frozenset()] * 3, [1.0] * 3, WORKS, P).works == ((), (), ())


def test_what_no_work_cures_is_told() -> None:
    assert best_mixture([frozenset({"broken"})], [1.0], WORKS[:1], P) is None


def test_whole_works_are_done_everywhere() -> None:
    for option, word in ((B, "overlay"), (U, "overlay unbonded"), (R, "remove")):
        found = best_mixture([frozenset(), frozenset({"hairline"})], [1.0, 1.0], WORKS, option)
        assert all(word in works for works in found.works)


def test_twenty_panels_are_quick_to_search() -> None:
    panels = [frozenset({DEFECTS[i % 8], DEFECTS[(3 * i) % 8]}) for i in range(20)]
    found = best_mixture(panels, [1.0 + 0.01 * i for i in range(20)], WORKS, P)
    assert found is not None
    assert len(found.works) == 20
