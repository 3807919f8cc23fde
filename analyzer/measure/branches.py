"""Branches of cracks: centreline, stations, widths, and one measured record for each."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from analyzer.measure.along import SPACING_PX, lay_stations
from analyzer.measure.centerline import Centerline, direction_deg, fit_centerline, simplify
from analyzer.measure.length import Length, measure_length
from analyzer.measure.profiles import Footing, Int, Source, Stations, choose_source, set_footing
from analyzer.measure.width import Runs, Width, WidthReadings, make_runs, read_widths, summarise
from analyzer.records import BranchSize, CrackBranch, CrackTrace, PlanImage

_COARSE = 8.0


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One branch of crack number ``crack``: its trace, centreline, and which ends hang free."""

    crack: int
    trace: CrackBranch
    center: Centerline
    free: tuple[bool, bool]


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """All stations of a set of lines with what was read there."""

    stations: Stations
    footing: Footing
    widths: WidthReadings
    runs: Runs
    sources: tuple[Source, ...]

    def width_of(self, rows: Int) -> Width:
        """Mean and greatest width over stations, given in rising order."""
        good = self.widths.valid[rows]
        return summarise(self.runs, np.searchsorted(self.runs.rows, rows[good]))

    def rows_of(self, branch: int) -> Int:
        """Stations of one line."""
        low, high = np.searchsorted(self.stations.branch, [branch, branch + 1])
        return np.arange(low, high)

    def source_of(self, rows: Int) -> Source | None:
        """The photo on which most of the stations were read; None if no photo shows them."""
        seen = self.footing.source[rows]
        seen = seen[seen >= 0]
        return self.sources[int(np.bincount(seen).argmax())] if len(seen) else None


@dataclass(frozen=True, slots=True, eq=False)
class Traced:
    """A measured branch: its line, its record, and its length in parts."""

    line: Line
    size: BranchSize
    length: Length
    width: Width


def draw_lines(cracks: Sequence[CrackTrace], pixel_mm: float) -> list[Line]:
    """Centrelines of all branches; a branch of a single point has no length and is left out.

    An end hangs free if no other branch of its crack ends in the same node.
    """
    lines = []
    for number, crack in enumerate(cracks):
        uses = Counter(node for b in crack.branches for node in (b.start_node, b.end_node))
        for branch in crack.branches:
            points = np.asarray(branch.points_mm, dtype=float)
            if len(points) < 2 or np.ptp(points, axis=0).max() <= 0:
                continue
            center = fit_centerline(points, pixel_mm)
            free = (uses[branch.start_node] == 1, uses[branch.end_node] == 1)
            lines.append(Line(number, branch, center, (False, False) if center.closed else free))
    return lines


def read_lines(
    lines: Sequence[Line],
    sources: tuple[Source, ...],
    plan: PlanImage | None,
    pixel_mm: float,
    avoid: shapely.Geometry | None = None,
) -> Reading:
    """Lay stations about 1.5 photo pixels apart on all lines and read the width at each.

    ``avoid`` holds the joints: where a crack crosses one, a profile would run along it.
    """
    centers = [line.center for line in lines]
    junctions = [(not a and not line.center.closed, not b and not line.center.closed)
                 for line in lines for a, b in [line.free]]  # fmt: skip
    coarse = lay_stations(centers, _COARSE * pixel_mm, junctions)
    source = choose_source(coarse.points_mm, sources, plan)
    size = set_footing(coarse.points_mm, coarse.normal_mm, source, sources).mm_per_px
    total = np.bincount(coarse.branch, np.nan_to_num(size), minlength=len(lines))
    count = np.bincount(coarse.branch, np.isfinite(size), minlength=len(lines))
    spacing = np.where(count > 0, total / np.maximum(count, 1), pixel_mm)
    stations = lay_stations(centers, SPACING_PX * spacing, junctions)
    source = choose_source(stations.points_mm, sources, plan)
    footing = set_footing(stations.points_mm, stations.normal_mm, source, sources)
    crack = np.array([line.crack for line in lines], dtype=np.intp)[stations.branch]
    if avoid is not None and len(crack):
        shapely.prepare(avoid)
        on_joint = shapely.intersects_xy(avoid, stations.points_mm[:, 0], stations.points_mm[:, 1])
        stations = replace(stations, clear_mm=np.where(on_joint, 0.0, stations.clear_mm))
    widths = read_widths(stations, footing, sources, crack)
    scales = np.array([s.scale_u_rel for s in sources] or [0.0])
    runs = make_runs(widths, stations, scales[np.maximum(source, 0)], crack)
    return Reading(stations, footing, widths, runs, sources)


def size_branches(lines: Sequence[Line], reading: Reading, pixel_mm: float) -> list[Traced]:
    """One measured record per line. ``pixel_mm`` is the pixel in which the lines were traced."""
    out = []
    worst = max((s.scale_u_rel for s in reading.sources), default=0.0)
    for number, line in enumerate(lines):
        rows = reading.rows_of(number)
        width = reading.width_of(rows)
        source = reading.source_of(rows)
        length = measure_length(
            line.center.length_mm,
            pixel_mm,
            free_ends=sum(line.free),
            scale_u_rel=worst if source is None else source.scale_u_rel,
            fit_rms_mm=line.center.fit_rms_mm,
        )
        size = BranchSize(
            points_mm=simplify(line.center, pixel_mm),
            length_mm=length.mm,
            length_u_mm=length.u_mm,
            width_mean_mm=width.mean_mm,
            width_mean_u_mm=width.mean_u_mm,
            width_max_mm=width.max_mm,
            width_max_u_mm=width.max_u_mm,
            width_upper_mm=width.upper_mm,
            direction_deg=direction_deg([line.center.points_mm]),
            photo_id=None if source is None else source.photo_id,
            probability=line.trace.probability,
        )
        out.append(Traced(line, size, length, width))
    return out


def pixel_of(chains: Sequence[npt.NDArray[np.float64]]) -> float:
    """Pixel size in mm of ridge chains that came without one: their shortest usual step."""
    steps = [np.hypot(*np.diff(chain, axis=0).T) for chain in chains if len(chain) > 1]
    every = np.concatenate(steps) if steps else np.ones(1)
    every = every[every > 1e-9]
    return float(np.quantile(every, 0.1)) if len(every) else 1.0
