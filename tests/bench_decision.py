"""Time of the decision, printed beside a plain loop over the same rules: not a test of speed.

Run: ``python tests/bench_decision.py``. Prints seconds of stage rate, of the assessment with its draws, of
the value of information and of the search for flips, how the assessment grows with stations and with
draws, and the same draws decided one world at a time.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))

from invented_slab import Slab, area, crack

from analyzer import rate, score
from analyzer.records import LevelMap, PanelLayout, StationLevel
from analyzer.score.evidence import draw_worlds, standard_draws
from analyzer.score.flips import find_flips
from analyzer.score.judgement import judge, make_case, run_worlds
from analyzer.score.voi import worth_of_readings
from analyzer.terms import Answer, Distress

PANELS = 20
RULES = score.load_options()
LIMITS = rate.load_limits()


def best_of(work: Callable[[], object], times: int = 5) -> float:
    """Least seconds of several runs."""
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        spent.append(time.perf_counter() - start)
    return min(spent)


def job(stations: int):  # type: ignore[no-untyped-def]
    """An invented slab of twenty panels, cracked, partly settled, half its questions open."""
    names = [f"P{i + 1}" for i in range(PANELS)]
    slab = replace(
        Slab(),
        cracks=tuple(crack(f"C{i}", names[i % PANELS], 1.0 + 0.4 * i, width_max_u_mm=0.3) for i in range(15)),
        areas=(*Slab().areas, area(Distress.SCALING, 0.2, area_u_mm2=1e6)),
        pieces={name: 1 + i % 5 for i, name in enumerate(names)},
        settlement_in={name: 0.08 * i for i, name in enumerate(names)},
    ).told(tree_roots=Answer.UNKNOWN, white_deposits=Answer.UNKNOWN)
    first = slab.layout().panels[0]
    layout = PanelLayout(tuple(replace(first, panel_id=name) for name in names), (), (3000.0,), 5.0)
    levels = slab.levels()
    assert isinstance(levels, LevelMap)
    marks = tuple(
        StationLevel(f"S{i}", 40.0 * i, 10.0 * i, 0.1 * i, 0.8, 0.1, names[i % PANELS])
        for i in range(stations)
    )
    return slab, layout, replace(levels, stations=marks)


def main() -> None:
    """Print the figures."""
    print(f"{'':44s}{'seconds':>10s}")
    for stations in (200, 400):
        slab, layout, levels = job(stations)
        told = (slab.distress(), layout, levels, slab.clearances, slab.plans(), slab.field(), LIMITS)
        findings = rate.compare(*told)
        rest = (slab.field(), slab.distress(), layout, levels, slab.plans())
        print(f"{stations} stations, {PANELS} panels, {len(findings)} findings")
        print(f"{'  stage rate':44s}{best_of(lambda: rate.compare(*told)):10.4f}")  # noqa: B023
        for count in (1000, 2000, 4000):
            rules = replace(RULES, count=count)
            seconds = best_of(lambda: score.rank_options(findings, *rest, rules, what_if=False))  # noqa: B023
            print(f"{f'  assessment, {count} draws':44s}{seconds:10.4f}")
    case = make_case(findings, *rest, RULES)
    normal = standard_draws(case.evidence, RULES)
    judgement = judge(case, normal)
    print(
        f"{'value of information':44s}{best_of(lambda: worth_of_readings(case, judgement, normal), 3):10.4f}"
    )
    print(f"{'flips':44s}{best_of(lambda: find_flips(case, judgement, normal), 1):10.4f}")
    worlds = best_of(lambda: run_worlds(case, draw_worlds(case.evidence, RULES, normal)))

    def one_by_one() -> None:
        for n in range(200):
            run_worlds(case, draw_worlds(case.evidence, RULES, normal[n : n + 1]))

    loop = best_of(one_by_one, 1) * len(normal) / 200
    print(f"{'all worlds at once':44s}{worlds:10.4f}")
    print(f"{'the same rules one world at a time':44s}{loop:10.4f}   ratio {loop / worlds:.0f}")


if __name__ == "__main__":
    main()
