"""Stage propose: the finished surface each option would leave.

In: the level map (or None), the heights over the slab, the field book and the panel layout. Out:
one grade plan for an overlay bonded, one unbonded and one for a new slab, with the thickness at
every vertex, the heights after, what is held and, where requirements conflict, which and by how
much.
"""

from analyzer.propose.design import DesignRules, load_design
from analyzer.propose.overlay import plan_grades

__all__ = ["DesignRules", "load_design", "plan_grades"]
