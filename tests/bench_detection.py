"""Scores crack detection on a folder with ``images/`` and ``masks/`` (same stems, mask > 127 = crack).

    python tests/bench_detection.py DIR [--tolerance 5px | 2mm --mm-per-px 0.5] [--method network]
    python tests/bench_detection.py DIR --sheet worst.png     # contact sheet of the worst
    python tests/bench_detection.py --renders 60              # drawn tiles of the kept-out style
    python tests/bench_detection.py --clean                   # skimage's brick, gravel and grass
    python tests/bench_detection.py --speed                   # seconds beside JPEG decoding and sato

A folder may hold ``masks_formwork/`` or ``masks_joints/``: real lines that are no cracks; the share
of them that is called crack is printed. Definitions are those of ``analyzer.training.line_scores``.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from analyzer.training import line_scores as ls

UInt8 = npt.NDArray[np.uint8]
Bool = npt.NDArray[np.bool_]

WAYS = ("map", "map, skeletons", "traced", "traced, skeletons")


@dataclass(frozen=True, slots=True)
class Case:
    """One picture with its truth."""

    name: str
    rgb: UInt8
    true: Bool
    ignore: Bool | None = None
    other_lines: Bool | None = None


@dataclass(frozen=True, slots=True)
class Found:
    """What the detector said about a picture."""

    score: UInt8
    threshold: int
    mask: Bool


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table."""

    case: Case
    found: Found
    counts: dict[str, ls.Counts]
    sweeps: dict[str, list[ls.Counts]]
    false_px: float
    longest_false_px: float


def read_folder(folder: Path, scale: float = 1.0) -> Iterator[Case]:
    """Pictures of a folder in order of name, resized by `scale`."""
    for path in sorted((folder / "images").iterdir()):
        masks = list((folder / "masks").glob(path.stem + ".*"))
        if not masks:
            raise SystemExit(f"{path.name} has no mask in {folder / 'masks'}")
        rgb = np.asarray(Image.open(path).convert("RGB"))
        true = _mask(masks[0], scale)
        other = None
        for kind in ("masks_formwork", "masks_joints"):
            for more in (folder / kind).glob(path.stem + ".*"):
                other = _mask(more, scale)
        yield Case(path.stem, _resized(rgb, scale), true, None, other)


def read_renders(count: int, style: str = "holdout", first_seed: int = 9_100_000) -> Iterator[Case]:
    """Drawn tiles; cracks that cannot be seen are left out of the score."""
    from analyzer.training.render.tile import render_tile

    for seed in range(first_seed, first_seed + count):
        tile = render_tile(seed, style=style, size_px=512)
        hidden = ((tile.crack_weight < 0.5) & (tile.crack > 0)).astype(np.uint8)
        ignore = cv2.dilate(hidden, np.ones((7, 7), np.uint8)) > 0
        yield Case(f"{style} {seed}", tile.rgb, tile.crack > 0, ignore, tile.joint > 0)


def read_clean(scales: Iterable[float] = (0.5, 1.0, 2.0)) -> Iterator[Case]:
    """Brick, gravel and grass of scikit-image (CC0): no crack in them."""
    from skimage import data

    for name in ("brick", "gravel", "grass"):
        rgb = np.dstack([getattr(data, name)()] * 3).astype(np.uint8)
        for scale in scales:
            sized = _resized(rgb, scale)
            yield Case(f"{name} x{scale:g}", sized, np.zeros(sized.shape[:2], bool))


def _resized(rgb: UInt8, scale: float) -> UInt8:
    if scale == 1.0:
        return rgb
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    return np.asarray(cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=how), np.uint8)


def _mask(path: Path, scale: float) -> Bool:
    mask = np.asarray(Image.open(path).convert("L"))
    return _resized(mask, scale) > 127


def detect(rgb: UInt8, method: str, mm_per_px: float | None) -> Found:
    """Crack map, shipped threshold and final mask, as the product gives them."""
    from analyzer.detect import detect_picture
    from analyzer.terms import DetectMethod

    seen = detect_picture(rgb, mm_per_px, DetectMethod(method))
    return Found(seen.maps.crack, round(255 * seen.threshold), seen.crack_mask > 0)


def score_case(case: Case, found: Found, tolerance_px: float) -> Row:
    """All figures of one picture."""
    cut = found.score >= found.threshold
    counts: dict[str, ls.Counts] = {}
    for way, mask in zip(WAYS, (cut, ls.thin(cut), found.mask, ls.thin(found.mask)), strict=True):
        true = ls.thin(case.true) if "skeletons" in way else case.true
        counts[way] = ls.count(mask, true, tolerance_px, case.ignore)
    sweeps = {
        way: ls.sweep(found.score, case.true, tolerance_px, skeletons=way != "map", ignore=case.ignore)
        for way in WAYS[:2]
    }
    far = found.mask & (ls.distance_to(case.true) > tolerance_px)
    if case.ignore is not None:
        far &= ~case.ignore
    false_px, longest = ls.line_length_px(far), ls.longest_part_px(far)
    return Row(case, found, counts, sweeps, false_px, longest)


def summary(rows: list[Row], tolerance_px: float) -> list[str]:
    """The lines printed under the table."""
    out = []
    with_truth = [r for r in rows if r.case.true.any()]
    empty = [r for r in rows if not r.case.true.any()]
    if with_truth:
        out.append(f"{len(with_truth)} pictures with cracks, tolerance {tolerance_px:g} px")
        out.append(f"{'':34s}{'P':>7s}{'R':>7s}{'F1':>7s}")
        lines = [(f"shipped threshold, {w}", _sum(r.counts[w] for r in with_truth)) for w in WAYS]
        for way in WAYS[:2]:
            sweeps = [r.sweeps[way] for r in with_truth]
            at, best = ls.ods(sweeps)
            lines.append((f"ODS, {way} (at {ls.THRESHOLDS[at] / 255:.2f})", best))
            lines.append((f"OIS, {way}", ls.ois(sweeps)))
        out += [f"{n:34s}{c.precision:7.3f}{c.recall:7.3f}{c.f1:7.3f}" for n, c in lines]
    if empty:
        area = sum(r.case.true.size for r in empty) / 1e6
        length = sum(r.false_px for r in empty)
        over = {n: sum(r.longest_false_px > n for r in empty) / len(empty) for n in (40, 60)}
        out.append(
            f"{len(empty)} pictures without cracks: {length / area:.0f} px of false crack per megapixel; "
            + ", ".join(f"{share:.1%} with one longer than {n} px" for n, share in over.items())
        )
    hits = [
        ls.share_hit(r.case.other_lines, r.found.mask, tolerance_px, r.case.true)
        for r in rows
        if r.case.other_lines is not None
    ]
    if hits:
        called, length_px = sum(h[0] for h in hits), sum(h[1] for h in hits)
        out.append(f"joints and seams called crack: {called / max(length_px, 1):.1%} of {length_px} px")
    return out


def _sum(counts: Iterable[ls.Counts]) -> ls.Counts:
    every = list(counts)
    return sum(every[1:], every[0])


def contact_sheet(rows: list[Row], path: Path, count: int = 24, side: int = 256) -> None:
    """Worst pictures beside themselves with found (red), true (green), both (yellow)."""
    worst = sorted(rows, key=_badness, reverse=True)[:count]
    cells = []
    for r in worst:
        plain = r.case.rgb
        over = plain // 2 + 64
        over[r.found.mask] = (255, 40, 40)
        over[r.case.true] = (40, 220, 40)
        over[r.found.mask & r.case.true] = (255, 235, 60)
        pair = [np.asarray(Image.fromarray(p).resize((side, side))) for p in (plain, over)]
        cell = np.ascontiguousarray(np.hstack(pair))
        text = f"{r.case.name} F1 {r.counts['traced'].f1:.2f} false {r.false_px:.0f}"
        cv2.putText(cell, text, (4, 12), cv2.FONT_HERSHEY_SIMPLEX, 0.38, (255, 255, 255), 2)
        cv2.putText(cell, text, (4, 12), cv2.FONT_HERSHEY_SIMPLEX, 0.38, (0, 0, 0), 1)
        cells.append(cell)
    while len(cells) % 3:
        cells.append(np.zeros_like(cells[0]))
    sheet = np.vstack([np.hstack(cells[i : i + 3]) for i in range(0, len(cells), 3)])
    Image.fromarray(sheet).save(path)


def _badness(row: Row) -> float:
    c = row.counts["traced"]
    return (c.found - c.found_near) + (c.true - c.true_near) + row.false_px


_TIMED = """
import json, resource, sys, time
from PIL import Image
import numpy as np
from analyzer.detect import detect_picture
from analyzer.terms import DetectMethod
Image.MAX_IMAGE_PIXELS = None
method = DetectMethod(sys.argv[2])
detect_picture(np.zeros((256, 256, 3), np.uint8), method=method)  # load libraries and weights
start = time.perf_counter()
rgb = np.asarray(Image.open(sys.argv[1]).convert("RGB"))
decoded = time.perf_counter()
detect_picture(rgb, method=method)
done = time.perf_counter()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
print(json.dumps([decoded - start, done - decoded, peak]))
"""


def speed(method: str, megapixels: float = 12.0) -> None:
    """Seconds and peak memory of a process of its own, beside JPEG decoding and skimage's sato."""
    from skimage.filters import sato

    rows = round((megapixels * 1e6 * 0.75) ** 0.5)
    cols = round(megapixels * 1e6 / rows)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "picture.jpg"
        tiles = np.hstack([c.rgb for c in read_renders(16)])
        picture = np.empty((rows, cols, 3), np.uint8)
        for r in range(0, rows, 512):
            band = np.roll(tiles, 512 * 3 * (r // 512), axis=1)
            reach = np.tile(band, (1, -(-cols // band.shape[1]), 1))
            picture[r : r + 512] = reach[: rows - r, :cols]
        Image.fromarray(picture).save(path, "JPEG", quality=92)
        command = [sys.executable, "-c", _TIMED, str(path), method]
        root = Path(__file__).resolve().parents[1]
        done = subprocess.run(command, cwd=root, check=True, capture_output=True, text=True)
        decode, ours, peak = json.loads(done.stdout)
    text = f"{cols} x {rows} px, {method}: decode {decode:.2f} s, detect {ours:.2f} s, peak {peak:.0f} MiB"
    if megapixels <= 16:  # sato on more takes gigabytes
        start = time.perf_counter()
        sato(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), sigmas=range(1, 5), black_ridges=True)
        slow = time.perf_counter() - start
        text += f"; {ours / decode:.1f} x decoding, sato / detect {slow / ours:.1f}"
    print(text)


def tolerance_of(text: str, mm_per_px: float | None) -> float:
    """Tolerance in px from ``5``, ``5px`` or, with a scale, ``2mm``."""
    if text.endswith("mm"):
        if not mm_per_px:
            raise SystemExit("a tolerance in mm needs --mm-per-px")
        return float(text[:-2]) / mm_per_px
    return float(text.removesuffix("px"))


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, nargs="?")
    parser.add_argument("--renders", type=int, metavar="N")
    parser.add_argument("--style", default="holdout")
    parser.add_argument("--clean", action="store_true")
    parser.add_argument("--speed", action="store_true")
    parser.add_argument("--megapixels", type=float, default=12.0)
    parser.add_argument("--method", default="network", choices=("network", "filters"))
    parser.add_argument("--tolerance", default="5px")
    parser.add_argument("--mm-per-px", type=float)
    parser.add_argument("--scale", type=float, default=1.0)
    parser.add_argument("--sheet", type=Path)
    parser.add_argument("--quiet", action="store_true", help="no table of pictures")
    parser.add_argument("--quick", action="store_true", help="three drawn tiles, to see that it runs")
    a = parser.parse_args(arguments)
    if a.quick:
        a.renders = 3
    if a.speed:
        speed(a.method, a.megapixels)
        return 0
    if a.renders:
        cases: Iterator[Case] = read_renders(a.renders, a.style)
    elif a.clean:
        cases = read_clean()
    elif a.folder:
        cases = read_folder(a.folder, a.scale)
    else:
        parser.error("name a folder, or --renders, --clean or --speed")
    tolerance_px = tolerance_of(a.tolerance, a.mm_per_px)
    rows = []
    if not a.quiet:
        print(f"{'picture':28s}{'P':>7s}{'R':>7s}{'F1':>7s}{'false px':>10s}{'longest':>9s}")
    for case in cases:
        row = score_case(case, detect(case.rgb, a.method, a.mm_per_px), tolerance_px)
        rows.append(row)
        c = row.counts["traced"]
        if not a.quiet:
            print(
                f"{case.name:28s}{c.precision:7.3f}{c.recall:7.3f}{c.f1:7.3f}"
                f"{row.false_px:10.0f}{row.longest_false_px:9.0f}"
            )
    print("\n".join(summary(rows, tolerance_px)))
    if a.sheet:
        contact_sheet(rows, a.sheet)
    return 0


if __name__ == "__main__":
    sys.exit(main())
