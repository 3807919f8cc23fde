"""The six sample jobs that ship with the package: invented slabs, drawn with exact truth.

In comes the name of a job; out come its photos, field book, truth and provenance note, the same
bytes for the same seed. ``python -m analyzer.training.scenes --out sample_images`` draws all.
"""

from analyzer.training.scenes.draw import draw_job, truth_of
from analyzer.training.scenes.jobs import JOBS, job

__all__ = ["JOBS", "draw_job", "job", "truth_of"]
