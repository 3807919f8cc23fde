"""Stage takeoff: quantities of every option.

In: the grade plans, the panel layout, the distress summary and the field book. Out: a bill with
area, volume, order, joints, strips, mass, cracks to seal and areas to patch, each with its
uncertainty and basis.
"""

from analyzer.takeoff.quantities import count_quantities
from analyzer.takeoff.rules import TakeoffRules, load_takeoff_rules

__all__ = ["TakeoffRules", "count_quantities", "load_takeoff_rules"]
