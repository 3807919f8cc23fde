"""Which engine runs the network faster on this machine: ONNX Runtime or OpenCV's dnn.

    python tests/bench_engines.py [--threads 2] [--rounds 5]

The same float network (random weights: time does not depend on them) in both, then the shipped
8-bit one in ONNX Runtime, in turns so that other load on the machine hits all alike; the median of
the ratios is printed. Needs PyTorch and onnx (the training extra); without them it says so and
stops.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
import onnxruntime

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from analyzer.detect.network import WEIGHTS

SIDE = 1024


def _session(path: Path, threads: int) -> onnxruntime.InferenceSession:
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = threads
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


def _seconds(run: Callable[[], object]) -> float:
    start = time.perf_counter()
    run()
    return time.perf_counter() - start


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--threads", type=int, default=2)
    parser.add_argument("--rounds", type=int, default=5)
    parser.add_argument("--quick", action="store_true", help="one round, to see that it runs")
    a = parser.parse_args(arguments)
    if a.quick:
        a.rounds = 1
    try:
        from analyzer.training.export import export_float
        from analyzer.training.model import SlabNet, macs_per_pixel
    except ImportError as error:
        print(f"not run: {error}; install the training extra (pip install '.[training]')")
        return 0
    cv2.setNumThreads(a.threads)
    net = SlabNet().eval()
    pixels = np.random.default_rng(0).integers(0, 256, (1, SIDE, SIDE, 3), dtype=np.uint8)
    floats = np.ascontiguousarray(pixels.transpose(0, 3, 1, 2)).astype(np.float32) / 255 - 0.5
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "float.onnx"
        export_float(net, path)
        plain, eight = _session(path, a.threads), _session(WEIGHTS, a.threads)
        other = cv2.dnn.readNetFromONNX(str(path))

    def by_opencv() -> object:
        other.setInput(floats)
        return other.forward()

    ways: dict[str, Callable[[], object]] = {
        "ONNX Runtime, float": lambda: plain.run(None, {"rgb": floats}),
        "OpenCV dnn, float": by_opencv,
        "ONNX Runtime, 8 bits": lambda: eight.run(None, {"rgb": pixels}),
    }
    for run in ways.values():
        run()
    table = np.array([[_seconds(run) for run in ways.values()] for _ in range(a.rounds)])
    megapixels = SIDE * SIDE / 1e6
    print(f"{macs_per_pixel(net) / 1e3:.1f} kMAC per pixel, {a.threads} threads, OpenCV {cv2.__version__}, "
          f"ONNX Runtime {onnxruntime.__version__}")  # fmt: skip
    for i, name in enumerate(ways):
        ratio = float(np.median(table[:, i] / table[:, 0]))
        print(f"{name:22s} {table[:, i].min() / megapixels:.3f} s per megapixel, {ratio:.2f} x the first")
    return 0


if __name__ == "__main__":
    sys.exit(main())
