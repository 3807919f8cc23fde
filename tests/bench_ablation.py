"""What each part of the detector is worth: the ablation table of the model card, printed as Markdown.

    python tests/bench_ablation.py [--photos DIR:TOLERANCE_PX ...] [--renders 80]

Rows: plain filters; the network with one look at the picture's own scale; the looks at all scales
joined; the whole-line reasoning over that. Columns: F1 at the tolerance on each folder of
photographs and on drawn tiles of the kept-out style (2 px), and the longest false crack on
scikit-image's brick, gravel and grass at scales 0.5, 1 and 2. Below, on the drawn tiles: joints, and
how much crack is called joint and the reverse.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from bench_detection import Case, read_clean, read_folder, read_renders

from analyzer.detect import detect_picture
from analyzer.detect.network import load_weights, score_at_scale
from analyzer.terms import DetectMethod
from analyzer.training import line_scores as ls

Bool = npt.NDArray[np.bool_]
WAYS = ("filters, map", "filters, whole lines", "network, one look", "looks joined", "whole lines")


def masks_of(case: Case) -> dict[str, tuple[Bool, Bool]]:
    """Crack and joint mask of a picture by each way, each at its shipped threshold."""
    out: dict[str, tuple[Bool, Bool]] = {}
    plain = detect_picture(case.rgb, method=DetectMethod.FILTERS)
    out[WAYS[0]] = _cut(plain.maps.crack, plain.maps.joint, plain.threshold)
    out[WAYS[1]] = (plain.crack_mask > 0, plain.joint_mask > 0)
    weights = load_weights(2)
    look = score_at_scale(case.rgb, 1.0, weights)
    crack, joint = (cv2.LUT(look[n], weights.fusion.table("native", n)) for n in ("crack", "joint"))
    out[WAYS[2]] = _cut(np.asarray(crack, np.uint8), np.asarray(joint, np.uint8), 0.5)
    seen = detect_picture(case.rgb)
    out[WAYS[3]] = _cut(seen.maps.crack, seen.maps.joint, seen.threshold)
    out[WAYS[4]] = (seen.crack_mask > 0, seen.joint_mask > 0)
    return out


def _cut(crack: npt.NDArray[np.uint8], joint: npt.NDArray[np.uint8], threshold: float) -> tuple[Bool, Bool]:
    level = round(255 * threshold)
    return crack >= level, joint >= level


def f1_by_way(cases: Iterator[Case], tolerance_px: float) -> dict[str, str]:
    """``F1 (P, R)`` over a set by each way."""
    counts: dict[str, ls.Counts] = {}
    for case in cases:
        for way, (found, _) in masks_of(case).items():
            c = ls.count(found, case.true, tolerance_px, case.ignore)
            counts[way] = counts[way] + c if way in counts else c
    return {w: f"{c.f1:.3f} ({c.precision:.2f}, {c.recall:.2f})" for w, c in counts.items()}


def longest_by_way() -> dict[str, str]:
    """Longest false crack in px on crack-free pictures by each way."""
    longest: dict[str, float] = {}
    for case in read_clean():
        for way, (found, _) in masks_of(case).items():
            longest[way] = max(longest.get(way, 0.0), ls.longest_part_px(found))
    return {w: f"{v:.0f} px" for w, v in longest.items()}


def joints_on(cases: list[Case], tolerance_px: float = 3.0) -> dict[str, str]:
    """Joint precision and recall, and confusion of crack and joint, by each way."""
    counts: dict[str, ls.Counts] = {}
    mixed: dict[str, np.ndarray] = {}
    for case in cases:
        joint = case.other_lines
        if joint is None:
            continue
        crack_only = ls.thin(case.true & ~joint)
        joint_only = ls.thin(joint & ~(ls.distance_to(case.true) <= 2 * tolerance_px))
        if case.ignore is not None:
            crack_only &= ~case.ignore
        for way, (crack_found, joint_found) in masks_of(case).items():
            c = ls.count(joint_found, joint, tolerance_px)
            counts[way] = counts[way] + c if way in counts else c
            near_crack = ls.distance_to(crack_found) <= tolerance_px
            near_joint = ls.distance_to(joint_found) <= tolerance_px
            hits = (
                crack_only & near_joint & ~near_crack,
                crack_only,
                joint_only & near_crack & ~near_joint,
                joint_only,
            )
            mixed[way] = mixed.get(way, np.zeros(4)) + np.array([h.sum() for h in hits])
    return {
        w: f"{c.precision:.3f} | {c.recall:.3f} | {mixed[w][0] / max(mixed[w][1], 1):.2%} | "
        f"{mixed[w][2] / max(mixed[w][3], 1):.2%}"
        for w, c in counts.items()
    }


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--photos", nargs="*", default=[], metavar="DIR:PX")
    parser.add_argument("--renders", type=int, default=80)
    parser.add_argument("--quick", action="store_true", help="three drawn tiles, to see that it runs")
    a = parser.parse_args(arguments)
    if a.quick:
        a.renders = 3
    columns: dict[str, dict[str, str]] = {}
    for spec in a.photos:
        folder, _, tolerance = spec.rpartition(":")
        name = f"{Path(folder).name}, {tolerance} px"
        columns[name] = f1_by_way(read_folder(Path(folder)), float(tolerance))
    drawn = list(read_renders(a.renders))
    columns["drawn, 2 px"] = f1_by_way(iter(drawn), 2)
    columns["longest false"] = longest_by_way()
    print("| | " + " | ".join(columns) + " |")
    print("|" + "---|" * (len(columns) + 1))
    for way in WAYS:
        print(f"| {way} | " + " | ".join(c[way] for c in columns.values()) + " |")
    print("\n| drawn tiles | joint P | joint R | crack called joint | joint called crack |")
    print("|---|---|---|---|---|")
    for way, text in joints_on(drawn).items():
        print(f"| {way} | {text} |")
    return 0


if __name__ == "__main__":
    sys.exit(main())
