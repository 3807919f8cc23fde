"""How far the whole chain is off the truth of the drawn samples.

    python tests/bench_accuracy.py                       # all samples, network and filters
    python tests/bench_accuracy.py --quick               # the first sample, one method
    python tests/bench_accuracy.py --method filters chapel_walk

For each scene: scale, joints, panels, cracks found and false, lengths, widths, recommendation. True
line that no photo shows, or that lies under a leaf or sheet on the photo that resolves its place
best, does not count. Cracks are scored in three groups: cracks of 2 px and more on that photo,
cracks thinner than that (with the hairlines), and map cracking. "Found" and "false" mean within
5 px of that photo.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

Float = npt.NDArray[np.float64]
Bool = npt.NDArray[np.bool_]

SAMPLES = Path(__file__).resolve().parents[1] / "sample_images"
NEAR_PX = 5.0
THICK_PX = 2.0
WIDE_PX = 3.0
STEP_MM = 2.0
MARGIN_PX = 3.0
LEAST_COMPARED_MM = 150.0
"""Shorter pieces say nothing about length or width: their ends weigh more than their middle."""


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """One photo of the truth: what it shows and at which scale."""

    px_from_plan: Float
    size_px: tuple[int, int]
    hidden: shapely.Geometry

    def project(self, plan_mm: Float) -> Float:
        """Pixels (N, 2) of plan points; nan behind the camera."""
        q = plan_mm @ self.px_from_plan[:, :2].T + self.px_from_plan[:, 2]
        w = np.where(q[:, 2] > 1e-9, q[:, 2], np.nan)
        return np.asarray(q[:, :2] / w[:, None])

    def shows(self, plan_mm: Float) -> Bool:
        """Whether the points lie inside the frame."""
        px = self.project(plan_mm)
        inside = (px >= MARGIN_PX) & (px <= np.array(self.size_px) - 1 - MARGIN_PX)
        return np.asarray(inside.all(axis=1))

    def mm_per_px(self, plan_mm: Float) -> Float:
        """Geometric mean of both pixel sizes at plan points (N,)."""
        east, north = np.array([0.5, 0.0]), np.array([0.0, 0.5])
        du = self.project(plan_mm + east) - self.project(plan_mm - east)
        dv = self.project(plan_mm + north) - self.project(plan_mm - north)
        area = np.abs(du[:, 0] * dv[:, 1] - du[:, 1] * dv[:, 0])
        return np.asarray(1.0 / np.sqrt(np.maximum(area, 1e-12)))


@dataclass(frozen=True, slots=True, eq=False)
class Samples:
    """Points every 2 mm along true lines, those that some photo shows.

    ``line`` (N,) numbers the true line, ``along_mm`` (N,) is the distance from its start,
    ``mm_per_px`` that of the photo that resolves the place best, ``width_px`` the true width as
    that photo shows it, across the line.
    """

    points_mm: Float
    line: npt.NDArray[np.intp]
    along_mm: Float
    width_mm: Float
    width_px: Float
    mm_per_px: Float

    def pick(self, keep: Bool) -> Samples:
        """Some of the points."""
        return Samples(*(getattr(self, name)[keep] for name in self.__slots__))

    @property
    def length_mm(self) -> float:
        """Length that the points stand for."""
        return STEP_MM * len(self.line)


@dataclass
class Score:
    """All figures of one scene; lengths in mm, errors relative or in px."""

    name: str
    method: str
    seconds: float = 0.0
    place_error_mm: float = 0.0
    joints: tuple[int, int] = (0, 0)
    joint_found: float = 0.0
    joint_false: float = 0.0
    panels: tuple[int, int] = (0, 0)
    groups: dict[str, tuple[float, float]] = field(default_factory=dict)
    false_share: float = 0.0
    total_error: float | None = None
    matched_error: float | None = None
    matched_worst: float | None = None
    width_error_px: float | None = None
    width_worst_px: float | None = None
    headline: tuple[str, str] = ("", "")


def views_of(truth: dict[str, Any], ids: Sequence[str] | None = None) -> tuple[View, ...]:
    """The photos of a sample's truth."""
    views = []
    for photo in truth["photos"]:
        if ids is not None and photo["id"] not in ids:
            continue
        hidden = [shapely.Polygon(ring).buffer(0) for ring in photo["hidden_px"]]
        views.append(
            View(
                np.linalg.inv(np.array(photo["plan_from_px"])),
                (photo["size_px"][0], photo["size_px"][1]),
                shapely.union_all(hidden),
            )
        )
    return tuple(views)


def sample_lines(
    lines: Sequence[Float], widths: Sequence[Float], views: Sequence[View], outline_mm: Float
) -> Samples:
    """Points along true lines with what the best photo makes of them; unseen ones are left out."""
    points, line, along, width, normal = [], [], [], [], []
    for number, (track, opening) in enumerate(zip(lines, widths, strict=True)):
        steps = np.hypot(*np.diff(track, axis=0).T)
        at = np.concatenate([[0.0], np.cumsum(steps)])
        n = max(1, int(at[-1] / STEP_MM))
        here = (np.arange(n) + 0.5) * at[-1] / n
        xy = np.stack([np.interp(here, at, track[:, k]) for k in (0, 1)], axis=1)
        ahead = np.stack([np.interp(here + 4, at, track[:, k]) for k in (0, 1)], axis=1)
        behind = np.stack([np.interp(here - 4, at, track[:, k]) for k in (0, 1)], axis=1)
        direction = ahead - behind
        direction /= np.maximum(np.hypot(*direction.T), 1e-9)[:, None]
        points.append(xy)
        normal.append(np.stack([-direction[:, 1], direction[:, 0]], axis=1))
        line.append(np.full(n, number))
        along.append(here)
        width.append(np.interp(here, at, opening))
    xy, across = np.concatenate(points), np.concatenate(normal)
    opening = np.concatenate(width)
    size = np.stack([np.where(v.shows(xy), v.mm_per_px(xy), np.inf) for v in views])
    best = size.argmin(axis=0)
    seen = np.isfinite(size.min(axis=0))
    seen &= shapely.contains_xy(shapely.Polygon(outline_mm), xy[:, 0], xy[:, 1])
    width_px = np.zeros(len(xy))
    for k, view in enumerate(views):
        mine = seen & (best == k)
        if not mine.any():
            continue
        px = view.project(xy[mine])
        clear = ~shapely.contains_xy(view.hidden, px[:, 0], px[:, 1])
        half = across[mine] * opening[mine, None] / 2
        width_px[mine] = np.hypot(*(view.project(xy[mine] + half) - view.project(xy[mine] - half)).T)
        seen[np.flatnonzero(mine)] = clear
    whole = Samples(xy, np.concatenate(line), np.concatenate(along), opening, width_px, size.min(axis=0))
    return whole.pick(seen)


def found_share(samples: Samples, found: shapely.Geometry) -> Bool:
    """Which points of true lines lie within 5 px of a found line (N,)."""
    if found.is_empty or not len(samples.line):
        return np.zeros(len(samples.line), dtype=bool)
    shapely.prepare(found)
    distance = shapely.distance(shapely.points(samples.points_mm), found)
    return np.asarray(distance <= NEAR_PX * samples.mm_per_px)


def false_length(
    found: Sequence[Float], true: shapely.Geometry, views: Sequence[View]
) -> tuple[float, float]:
    """Length of found lines farther than 5 px from any true line, and their whole length, in mm."""
    wrong = whole = 0.0
    for track in found:
        line = shapely.LineString(track)
        n = max(2, int(line.length / STEP_MM) + 1)
        points = shapely.line_interpolate_point(line, (np.arange(n - 1) + 0.5) / (n - 1), normalized=True)
        xy = shapely.get_coordinates(points)
        size = np.min([np.where(v.shows(xy), v.mm_per_px(xy), np.inf) for v in views], axis=0)
        size = np.where(np.isfinite(size), size, 1.0)
        off = shapely.distance(points, true) > NEAR_PX * size
        whole += line.length
        wrong += line.length * float(off.mean())
    return wrong, whole


def spans(track: Float, lines: Sequence[Float], near_mm: float) -> tuple[int, float, float] | None:
    """The true line along which a found one runs, and where it starts and ends on it; None if on none."""
    found = shapely.LineString(track)
    n = max(3, int(found.length / STEP_MM))
    points = shapely.line_interpolate_point(found, np.linspace(0, 1, n), normalized=True)
    for number, line in enumerate(lines):
        true = shapely.LineString(line)
        if float((shapely.distance(points, true) <= near_mm).mean()) < 0.9:
            continue
        ends = [shapely.line_locate_point(true, points[k]) for k in (0, -1)]
        return number, float(min(ends)), float(max(ends))
    return None


def compare_branches(
    branches: Sequence[Any], lines: Sequence[Float], samples: Samples, views: Sequence[View]
) -> Iterator[tuple[float, float, float | None]]:
    """Measured against true length of each matched branch, and its error of width in px where wide.

    Yields (measured mm, true mm, error px or None); the width is compared where the true width is
    3 px or more on the photo.
    """
    for branch in branches:
        track = np.array(branch.points_mm)
        middle = track[len(track) // 2][None]
        sizes = [v.mm_per_px(middle)[0] for v in views if v.shows(middle)[0]]
        if branch.length_mm < LEAST_COMPARED_MM or not sizes:
            continue
        on = spans(track, lines, NEAR_PX * min(sizes))
        if on is None or on[2] - on[1] < 0.5 * branch.length_mm:
            continue
        number, start, end = on
        here = (samples.line == number) & (samples.along_mm >= start) & (samples.along_mm <= end)
        error = None
        if here.any() and branch.width_mean_mm is not None:
            px = float(np.median(samples.width_px[here]))
            true = float(samples.width_mm[here].mean())
            if px >= WIDE_PX:
                error = (branch.width_mean_mm - true) * px / true
        yield branch.length_mm, end - start, error


def score_scene(folder: Path, method: str) -> Score:
    """Run the chain on one sample and hold it against its truth."""
    from analyzer import chain
    from analyzer.terms import DetectMethod

    truth = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    start = time.perf_counter()
    job = chain.analyze_job(folder / "field_book.toml", DetectMethod(method))
    score = Score(folder.name, method, time.perf_counter() - start)
    record = job.record
    overview = [c for c in record.calibrations if c.has_plan_position]
    views = views_of(truth, [c.photo_id for c in overview])
    outline = np.array(truth["outline_mm"])
    score.place_error_mm = max(
        _place_error(c.plan_from_px, v, outline) for c, v in zip(overview, views, strict=True)
    )
    _score_joints(score, truth, record, views, outline)
    _score_cracks(score, truth, record, views, outline)
    score.headline = (str(record.ranking.headline), truth["expected"]["headline"])
    return score


def _place_error(plan_from_px: Float, view: View, outline: Float) -> float:
    """Greatest error of a place on the slab that a photo shows, in mm, under 4 mm per px."""
    slab = shapely.Polygon(outline)
    x0, y0, x1, y1 = slab.bounds
    x, y = np.meshgrid(np.linspace(x0, x1, 30), np.linspace(y0, y1, 30))
    xy = np.stack([x.ravel(), y.ravel()], axis=1)
    xy = xy[shapely.contains_xy(slab, xy[:, 0], xy[:, 1]) & view.shows(xy)]
    xy = xy[view.mm_per_px(xy) < 4.0]
    px = view.project(xy)
    q = px @ plan_from_px[:, :2].T + plan_from_px[:, 2]
    return float(np.hypot(*(q[:, :2] / q[:, 2:] - xy).T).max())


def _score_joints(
    score: Score, truth: dict[str, Any], record: Any, views: Sequence[View], outline: Float
) -> None:
    lines = [np.array(j["points_mm"]) for j in truth["joints"]]
    widths = [np.full(len(line), j["width_mm"]) for j, line in zip(truth["joints"], lines, strict=True)]
    found = [np.array([j.start_mm, j.end_mm]) for j in record.layout.joints]
    near = shapely.MultiLineString(found) if found else shapely.MultiLineString()
    samples = sample_lines(lines, widths, views, outline)
    hit = found_share(samples, near)
    score.joint_found = float(hit.mean()) if len(hit) else 1.0
    whole = [
        float(hit[samples.line == k].mean()) >= 0.8 for k in range(len(lines)) if (samples.line == k).any()
    ]
    score.joints = (sum(whole), len(whole))
    wrong, total = false_length(found, shapely.MultiLineString(lines), views)
    score.joint_false = wrong / total if total else 0.0
    score.panels = (len(record.layout.panels), len(truth["panels_mm"]))


def _score_cracks(
    score: Score, truth: dict[str, Any], record: Any, views: Sequence[View], outline: Float
) -> None:
    lines = [np.array(c["points_mm"]) for c in truth["cracks"]]
    widths = [np.array(c["width_mm"]) for c in truth["cracks"]]
    names = [c["group"] for c in truth["cracks"]]
    branches = [b for c in record.survey.cracks for b in c.branches if len(b.points_mm) > 1]
    found = [np.array(b.points_mm) for b in branches]
    near = shapely.MultiLineString(found) if found else shapely.MultiLineString()
    samples = sample_lines(lines, widths, views, outline)
    hit = found_share(samples, near)
    group = np.array(names)[samples.line]
    thick = (group == "crack") & (samples.width_px >= THICK_PX)
    parts = {
        "2 px and more": thick,
        "thinner, hairlines": (group != "map") & ~thick,
        "map cracking": group == "map",
    }
    for name, mine in parts.items():
        if mine.any():
            score.groups[name] = (float(hit[mine].mean()), STEP_MM * float(mine.sum()))
    wrong, total = false_length(found, shapely.MultiLineString(lines), views)
    score.false_share = wrong / total if total else 0.0
    matched = list(compare_branches(branches, lines, samples, views))
    if matched:
        ratio = np.array([abs(m / t - 1) for m, t, _ in matched])
        weight = np.array([t for _, t, _ in matched])
        score.matched_error = float(np.average(ratio, weights=weight))
        score.matched_worst = float(ratio.max())
    errors = [abs(e) for _, _, e in matched if e is not None]
    if errors:
        score.width_error_px, score.width_worst_px = float(np.mean(errors)), float(np.max(errors))
    if len(samples.line):
        score.total_error = total / samples.length_mm - 1


def _text(score: Score) -> str:
    def percent(value: float | None) -> str:
        return "-" if value is None else f"{100 * value:.1f} %"

    def mm(value: float | None) -> str:
        return "-" if value is None else f"{value:.2f} px"

    got, wanted = score.headline
    lines = [
        f"{score.name} ({score.method}, {score.seconds:.0f} s)",
        f"  scale: places off by at most {score.place_error_mm:.1f} mm",
        f"  joints: {score.joints[0]} of {score.joints[1]} found, {percent(score.joint_found)} of "
        f"their length; "
        f"false {percent(score.joint_false)}; panels {score.panels[0]} (true {score.panels[1]})",
    ]
    for name, (share, length) in score.groups.items():
        lines.append(f"  cracks {name}: {percent(share)} of {length / 1000:.1f} m found")
    lines += [
        f"  false: {percent(score.false_share)} of the length found; total length "
        f"{percent(score.total_error)}",
        f"  matched traces: length off by {percent(score.matched_error)} (worst "
        f"{percent(score.matched_worst)}); "
        f"width where 3 px and more: off by {mm(score.width_error_px)} (worst {mm(score.width_worst_px)})",
        f"  recommendation: {got} (the trade: {wanted}){'' if got == wanted else '  <-- DIFFERS'}",
    ]
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures of the named samples, or of all."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("names", nargs="*", metavar="SAMPLE")
    parser.add_argument("--quick", action="store_true", help="first sample, first method only")
    parser.add_argument("--method", choices=["network", "filters"], action="append")
    parser.add_argument("--samples", type=Path, default=SAMPLES)
    options = parser.parse_args(arguments)
    names = options.names or sorted(p.parent.name for p in options.samples.glob("*/truth.json"))
    methods = options.method or ["network", "filters"]
    if options.quick:
        names, methods = names[:1], methods[:1]
    for name in names:
        for method in methods:
            print(_text(score_scene(options.samples / name, method)), flush=True)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
