"""The names of the sample jobs and where each is described."""

from __future__ import annotations

from importlib import import_module

from analyzer.training.scenes.plan import SampleJob

JOBS = (
    "chapel_walk",
    "dairy_apron",
    "observatory_terrace",
    "pool_deck",
    "school_cycle_yard",
    "summerhouse_pad",
)


def job(name: str) -> SampleJob:
    """The description of a sample job. Raises ValueError for a name that is not in ``JOBS``."""
    if name not in JOBS:
        raise ValueError(f"sample job {name!r} is unknown: use one of {', '.join(JOBS)}")
    found: SampleJob = import_module(f"analyzer.training.scenes.{name}").describe()
    return found
