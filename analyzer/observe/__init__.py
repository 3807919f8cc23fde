"""Stage observe: what a person typed, interpreted.

In: the field book, the panel layout, the crack survey and the part of the slab no photo shows.
Out: the old surface from the levels (best plane, settlement by panel, slope at each edge, ponds,
straightedge gap), the heights over the slab with their uncertainty, and one summary of typed and
photographed distress with every contradiction between them.
"""

from analyzer.observe.distress import merge_distress
from analyzer.observe.heights import read_clearances
from analyzer.observe.levels import map_levels
from analyzer.observe.readings import ReadingRules, load_readings

__all__ = ["ReadingRules", "load_readings", "map_levels", "merge_distress", "read_clearances"]
