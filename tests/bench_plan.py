"""How long a plan takes beside one call of scipy's linear programme with every row at once.

Run: ``python tests/bench_plan.py``. Prints seconds and the ratio of all three plans (with creases,
conflicts, set-out, joints and contours) to three bare programmes, for 20 to 2,000 stations. No pass
or fail.
"""

from __future__ import annotations

import datetime as dt
import time

import numpy as np
from scipy.optimize import linprog

from analyzer.observe import map_levels, read_clearances
from analyzer.propose import plan_grades
from analyzer.records import (
    Corner,
    EdgeEntry,
    FieldBook,
    HeightEntry,
    JobHead,
    PanelLayout,
    StationReading,
)
from analyzer.takeoff.geometry import prism_volume
from analyzer.terms import Abuts, HeightKind
from analyzer.units import MM_PER_FT, Reading

W, D = 40 * MM_PER_FT, 25 * MM_PER_FT
LAYOUT = PanelLayout((), (), (), 5.0)


def book(columns: int, rows: int) -> FieldBook:
    """An invented yard of 40 by 25 ft with a wavy surface and a door."""
    places = [(x, y) for y in np.linspace(0, D, rows) for x in np.linspace(0, W, columns)]
    stations = tuple(
        StationReading(
            f"S{k + 1}",
            float(x),
            float(y),
            height=Reading(float(0.012 * y + 5 * np.sin(x / 900) + 4 * np.cos(y / 700)), 1.0, "invented"),
        )
        for k, (x, y) in enumerate(places)
    )
    corners = (("A", 0.0, 0.0), ("B", W, 0.0), ("C", W, D), ("D", 0.0, D))
    door = HeightEntry(HeightKind.DOOR_SILL, "door", (W / 2, D), Reading(260.0, 1.0, "invented"))
    return FieldBook(
        JobHead("bench", "bench", dt.date(2025, 5, 1), "bench", invented=True),
        tuple(Corner(*c) for c in corners),
        "bench.toml",
        "0" * 64,
        edges=(EdgeEntry("C", "D", Abuts.HOUSE), EdgeEntry("A", "B", Abuts.FREE)),
        stations=stations,
        heights=(door,),
    )


def plain(field: FieldBook) -> float:
    """Seconds of one linear programme per surface with one row per station and nothing else."""
    xy = np.array([(s.x_mm, s.y_mm) for s in field.stations]) / 1000.0
    z = np.array([s.height.mm for s in field.stations if s.height])
    rows = np.column_stack([xy, np.ones(len(xy))])
    start = time.perf_counter()
    for least in (50.8, 101.6, 0.0):
        linprog(
            rows.mean(axis=0),
            A_ub=-np.vstack([rows, [[0.0, 1.0, 0.0]]]),
            b_ub=-np.append(z + least, 20.0),
            bounds=[(None, None)] * 3,
            method="highs",
        )
    return time.perf_counter() - start


def main() -> None:
    """Print one line per size."""
    plan_grades(map_levels(book(4, 3), LAYOUT), (), book(4, 3), LAYOUT)
    print(f"{'stations':>8} {'levels s':>9} {'plans s':>8} {'plain LP s':>10} {'ratio':>6} {'volume s':>9}")
    for columns, rows in ((5, 4), (20, 10), (50, 20), (50, 40)):
        field = book(columns, rows)
        start = time.perf_counter()
        levels = map_levels(field, LAYOUT)
        middle = time.perf_counter()
        plans = plan_grades(levels, read_clearances(field, levels), field, LAYOUT)
        end = time.perf_counter()
        prism_volume(plans[0])
        last = time.perf_counter()
        bare = min(plain(field) for _ in range(3))
        print(
            f"{columns * rows:8d} {middle - start:9.3f} {end - middle:8.3f} {bare:10.3f} "
            f"{(end - middle) / bare:6.1f} {last - end:9.4f}"
        )


if __name__ == "__main__":
    main()
