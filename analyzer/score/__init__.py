"""Stage score: overlay, patch, removal or no recommendation yet, explained line by line.

In come the findings of stage rate with the field book, the joined distress, the panels, the levels
and the grade plans; out goes one :class:`analyzer.records.Ranking`. Stops come first and cannot be
weighed, then hard requirements, then one visible contribution per criterion, then the same rules in
2,000 drawn worlds. Rules, points and words are data (``options.toml``, ``words.toml``).
"""

from analyzer.score.options import Rules, load_options
from analyzer.score.ranking import rank_options

__all__ = ["Rules", "load_options", "rank_options"]
