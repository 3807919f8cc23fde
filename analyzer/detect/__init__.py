"""Find lines: score maps of a picture (by a small network or by plain filters) become cracks and joints.

In: the pixels of a picture, or the job's :class:`~analyzer.records.picture.PlanImage` with the slab's
outline. Out: :class:`~analyzer.records.picture.PictureTraces` (px) or
:class:`~analyzer.records.picture.Detection` (plan, mm): crack graphs, joints, each with its
probability. Nothing is measured here, and nothing is said about what a line means.
"""

from analyzer.detect.cracks import trace_maps
from analyzer.detect.picture import detect_picture, find_lines, score_maps

__all__ = ["detect_picture", "find_lines", "score_maps", "trace_maps"]
