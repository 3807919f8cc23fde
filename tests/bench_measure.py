"""How well and how fast widths and lengths are read, on cracks drawn with known truth.

    python tests/bench_measure.py            # both tables and the speed, about a minute
    python tests/bench_measure.py --quick    # a tenth of the cracks

Widths: random direction, bends, blur 0.7 to 1.5 px, texture, noise, floor 3 to 50 % of the light of
the concrete. The true width is square to the crack. Speed: the whole stage on one picture of 12
megapixels with 30 m of cracks, as a ratio to reading the same number of plain profiles one by one
with ``skimage.measure.profile_line``.
"""

from __future__ import annotations

import argparse
import itertools
import sys
import time
from pathlib import Path

import numpy as np
from skimage.measure import profile_line

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent / "measure"))

from conftest import calibration, crack, draw, field_book, pixel_chain, straight_down

from analyzer import frames
from analyzer.measure import lay_out_panels, size_cracks
from analyzer.measure.branches import draw_lines, read_lines
from analyzer.measure.centerline import fit_centerline
from analyzer.measure.profiles import Source
from analyzer.records import Detection, Photo
from analyzer.terms import DetectMethod

BINS = (3.0, 4.0, 6.0, 10.0, 22.0)


def widths(count: int) -> None:
    """Bias and rms of the mean width, and whether bounds and uncertainties hold."""
    rng = np.random.default_rng(7)
    plan = straight_down(1.0)
    errors, scores, thin, bounds = [], [], [], []
    for seed in range(count):
        opening = float(np.exp(rng.uniform(np.log(0.7), np.log(22.0))))
        drawn = draw(
            opening, rng.uniform(0, 180), blur=rng.uniform(0.7, 1.5), texture=rng.uniform(0.02, 0.08),
            floor=rng.uniform(0.03, 0.5), seed=seed, size=220, wave=(rng.uniform(0, 6), rng.uniform(60, 150)),
        )  # fmt: skip
        line = drawn.center_px
        arc = np.hypot(*np.diff(line, axis=0).T).sum()
        true = opening * float(np.hypot(*(line[-1] - line[0]))) / arc
        trace = crack(frames.apply(plan, pixel_chain(line + rng.normal(size=2) * 0.4)))
        source = Source(drawn.photo, frames.invert(plan), 0.0)
        reading = read_lines(draw_lines([trace], 1.0), (source,), None, 1.0)
        found = reading.width_of(np.arange(len(reading.stations.branch)))
        if true >= BINS[0] and found.mean_mm is not None:
            errors.append((true, found.mean_mm - true))
            scores.append((found.mean_mm - true) / found.mean_u_mm)
        if true < 2.2:
            thin.append(found.max_mm is not None)
        if found.upper_mm is not None:
            bounds.append(found.upper_mm > true)
    table = np.array(errors)
    print("width in px      n   bias    rms  worst")
    for low, high in (*itertools.pairwise(BINS), (BINS[0], BINS[-1])):
        part = table[(table[:, 0] >= low) & (table[:, 0] < high), 1]
        if len(part):
            rms, worst = np.sqrt(np.mean(part**2)), np.abs(part).max()
            print(f"{low:4.0f} to {high:2.0f} {len(part):8d} {part.mean():+6.2f} {rms:6.2f} {worst:6.2f}")
    rms = np.sqrt(np.mean(np.square(scores)))
    print(f"error over its uncertainty: rms {rms:.2f}, worst {np.abs(scores).max():.2f}")
    print(f"thinner than 2.2 px: {sum(thin)} of {len(thin)} given a width")
    print(f"bounds hold: {sum(bounds)} of {len(bounds)}")


def lengths(count: int) -> None:
    """Relative error of straight lines at many angles and of waves."""
    rng = np.random.default_rng(3)
    for name, amplitude in (("straight", 0.0), ("bent", 8.0)):
        ours, steps = [], []
        for _ in range(count):
            x = np.linspace(0, rng.uniform(200, 600), 20_000)
            line = np.stack([x, amplitude * np.sin(2 * np.pi * x / rng.uniform(50, 150))], axis=1)
            a = rng.uniform(0, np.pi)
            line = line @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) + rng.uniform(0, 1, 2)
            true = np.hypot(*np.diff(line, axis=0).T).sum()
            chain = pixel_chain(line)
            ours.append(fit_centerline(chain, 1.0).length_mm / true - 1)
            steps.append(np.hypot(*np.diff(chain, axis=0).T).sum() / true - 1)
        print(
            f"length, {name}: mean {100 * np.mean(ours):+.2f} %, worst {100 * np.abs(ours).max():.2f} %"
            f" (sum of pixel steps: mean {100 * np.mean(steps):+.2f} %)"
        )


def speed() -> None:
    """Processor seconds of the whole stage on 12 megapixels, and the ratio to plain profiles."""
    rng = np.random.default_rng(1)
    rows, cols = 3000, 4000
    rgb = np.clip(140 + 8 * rng.normal(size=(rows, cols, 1)), 0, 255).astype(np.uint8).repeat(3, axis=2)
    traces, total = [], 0
    for k in range(8):
        x = np.linspace(100, 3900, 40_000)
        chain = pixel_chain(np.stack([300 + 320 * k + 90 * np.sin(x / 300 + k), x], axis=1))
        pixels = chain.astype(int)
        for off in range(-(k % 4) - 1, k % 4 + 2):
            rgb[pixels[:, 0] + off, pixels[:, 1]] = 50
        traces.append(crack(np.stack([chain[:, 1], -chain[:, 0]], axis=1), f"C{k + 1}"))
        total += len(chain)
    field = field_book([(0, -3000), (4000, -3000), (4000, 0), (0, 0)])
    detection = Detection((), tuple(traces), (), DetectMethod.FILTERS, None, None, 0.5)
    photo, scale = Photo("P1", "drawn", rgb, "0" * 64, 1), calibration(straight_down(1.0), 0.003)
    seconds = []
    for _ in range(3):
        start = time.process_time()
        layout = lay_out_panels((), field, None, 0.003)
        survey = size_cracks(detection, layout, [photo], [scale], None, field)
        seconds.append(time.process_time() - start)
    grey = rgb[:, :, 0].astype(float)
    n = total // 15
    start = time.process_time()
    for r in rng.uniform(100, 2900, n):
        profile_line(grey, (r - 14, r), (r + 14, r + 5), linewidth=1)
    plain = (time.process_time() - start) * (total / 1.5) / n
    metres = sum(c.length_mm or 0.0 for c in survey.cracks) / 1000
    print(
        f"{metres:.1f} m of cracks on 12 megapixels: {min(seconds):.2f} s;"
        f" plain profiles one by one {plain:.2f} s: {plain / min(seconds):.1f} times as long"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="a tenth of the cracks")
    share = 10 if parser.parse_args().quick else 1
    widths(200 // share)
    lengths(100 // share)
    speed()
