"""Seconds and memory of the whole chain on a 12-megapixel JPEG, beside a general-purpose library.

Prints, in one run: seconds of decoding, of each step and of the whole, peak memory of the chain in
a process of its own, and the ratio to ``skimage.filters.sato(sigmas=1..4)`` followed by
``skeletonize`` on the same picture. Ratios are what counts: seconds depend on the machine.

Usage: python tests/bench_chain.py [--quick] [--method network|filters] [--sample NAME]
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from analyzer import chain
from analyzer.terms import DetectMethod


def largest_photo(field_book: Path) -> Path:
    """The picture of a sample with the most pixels."""
    pictures = [p for p in field_book.parent.iterdir() if p.suffix.lower() in {".jpg", ".jpeg"}]
    return max(pictures, key=lambda p: np.prod(Image.open(p).size))


def single_photo_book(field_book: Path, folder: Path) -> Path:
    """The sample with its first overview photo alone, so that one photo is timed."""
    import tomllib

    text = field_book.read_text("utf-8")
    data = tomllib.loads(text)
    overview = [p for p in data["photo"] if not p.get("closeup_of") and not p.get("closeup_at")]
    names = {p["file"]: field_book.parent / p["file"] for p in overview}
    keep = max(names, key=lambda n: np.prod(Image.open(names[n]).size))
    # Blocks of the file that begin with another [[photo]] are left out, up to the next block.
    out: list[str] = []
    skipping = False
    block: list[str] = []

    def close() -> None:
        nonlocal skipping
        body = "\n".join(block)
        if block and block[0].strip() == "[[photo]]":
            skipping = f'"{keep}"' not in body
        elif block and not block[0].strip().startswith("[[photo."):
            skipping = False
        if not skipping:
            out.extend(block)
        block.clear()

    for line in text.splitlines():
        if line.strip().startswith("["):
            close()
        block.append(line)
    close()
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / keep
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_bytes(names[keep].read_bytes())
    book = folder / "field_book.toml"
    book.write_text("\n".join(out) + "\n", "utf-8")
    return book


def run_chain(field_book: Path, method: DetectMethod) -> dict[str, float]:
    """Seconds of each step of the chain, by name, after the imports were paid for."""
    chain.assess_job(field_book)
    steps: list[tuple[str, float]] = []
    start = time.perf_counter()
    job = chain.analyze_job(field_book, method, progress=lambda s: steps.append((s, time.perf_counter())))
    analyzed = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        chain.file_job(job, field_book, Path(folder) / "job")
    end = time.perf_counter()
    seconds = {
        name: after - at
        for (name, at), after in zip(steps, [t for _, t in steps[1:]] + [analyzed], strict=True)
    }
    seconds["writing report and folder"] = end - analyzed
    seconds["whole chain"] = end - start
    seconds["chain without report"] = analyzed - start
    # Linux gives kilobytes, macOS bytes.
    unit = 1.0 if sys.platform == "darwin" else 1024.0
    seconds["peak memory, MB"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / 1e6
    return seconds


def beside(picture: Path) -> dict[str, float]:
    """Seconds of decoding and of sato with skeletonize on the same picture."""
    from skimage.filters import sato
    from skimage.morphology import skeletonize

    start = time.perf_counter()
    grey = cv2.imread(str(picture), cv2.IMREAD_GRAYSCALE)
    decoded = time.perf_counter()
    assert grey is not None
    score = sato(grey.astype(np.float32), sigmas=range(1, 5))
    skeletonize(score > np.quantile(score[::7, ::7], 0.95))
    return {"decoding": decoded - start, "sato and skeletonize": time.perf_counter() - decoded}


def main() -> None:
    """Run both and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="leave out the slow comparison")
    parser.add_argument("--method", type=DetectMethod, default=DetectMethod.NETWORK)
    parser.add_argument("--sample")
    parser.add_argument("--inside", type=Path, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.inside:
        print(json.dumps(run_chain(options.inside, options.method)))
        return
    name = options.sample or max(
        chain.samples(), key=lambda n: np.prod(Image.open(largest_photo(chain.sample_field_book(n))).size)
    )
    with tempfile.TemporaryDirectory() as folder:
        book = single_photo_book(chain.sample_field_book(name), Path(folder))
        picture = largest_photo(book)
        size = Image.open(picture).size
        pixels = f"{size[0]} x {size[1]} = {size[0] * size[1] / 1e6:.1f} Mpx"
        print(f"{name}, {picture.name}, {pixels}, {options.method}")
        done = subprocess.run(
            [sys.executable, __file__, "--inside", str(book), "--method", str(options.method)],
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        seconds: dict[str, float] = json.loads(done.stdout)
        for step, value in seconds.items():
            print(f"  {step:<32} {value:8.2f}")
        if options.quick:
            return
        general = beside(picture)
        for step, value in general.items():
            print(f"  {step:<32} {value:8.2f}")
        pair = general["sato and skeletonize"]
        print(
            f"  chain / (sato and skeletonize)   {seconds['whole chain'] / pair:8.2f}   (reach: at most 0.5)"
        )
        print(f"  chain / decoding                 {seconds['whole chain'] / general['decoding']:8.1f}")
        memory_gb = seconds["peak memory, MB"] / 1000
        print(f"  peak memory, GB                  {memory_gb:8.2f}   (reach: at most 1.2)")


if __name__ == "__main__":
    main()
