"""Draw the sample jobs: ``python -m analyzer.training.scenes --out sample_images [NAME ...]``."""

from __future__ import annotations

import argparse
from pathlib import Path

from analyzer.training.scenes import JOBS, draw_job, job


def main() -> None:
    """Draw the named jobs, or all of them, each into its own folder."""
    parser = argparse.ArgumentParser(prog="python -m analyzer.training.scenes", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"one of {', '.join(JOBS)}; all if left out")
    parser.add_argument("--out", type=Path, required=True, metavar="DIR")
    parser.add_argument("--scale", type=float, default=1.0, help="1 = full size; 0.25 draws small photos")
    parser.add_argument("--book-only", action="store_true", help="write field books only, keep the photos")
    options = parser.parse_args()
    for name in options.names or JOBS:
        draw_job(job(name), options.out / name, options.scale, photos=not options.book_only)
        print(options.out / name, flush=True)


if __name__ == "__main__":
    main()
