"""Measure what was found: panels, joints and cracks become numbers with standard uncertainties.

In: joint and crack traces in plan (:class:`~analyzer.records.picture.Detection`), the slab's
outline, the original photos and their scales. Out: :class:`~analyzer.records.slab.PanelLayout` and
:class:`~analyzer.records.slab.CrackSurvey`: areas, sides and spacings; for each crack its length
along a smooth centreline, its mean and greatest width read across on the photo that resolves it
best, its direction, panel, and what it splits or cuts off.
"""

from analyzer.measure.closeup import refine_by_closeup, refine_width
from analyzer.measure.cracks import size_cracks
from analyzer.measure.panels import lay_out_panels

__all__ = ["lay_out_panels", "refine_by_closeup", "refine_width", "size_cracks"]
