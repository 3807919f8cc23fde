"""Stage rate: what was measured, reported or left out, held against cited limits.

In come the joined distress, the panels, the levels, the heights, the grade plans and the field
book; out go :class:`analyzer.records.Finding` records, each with value, uncertainty, probability
that its limit is exceeded, verdict, limit and source. Limits are data (``limits.toml``, and a
jurisdiction's ``local.toml`` over it). Nothing here decides what to do about them.
"""

from analyzer.rate.findings import compare
from analyzer.rate.limits import LimitTable, load_limits

__all__ = ["LimitTable", "compare", "load_limits"]
