"""Every constant of line detection in one place, with its unit and the reason for its value.

Lengths in px are pixels of the picture that is traced. Probabilities and scores are 0..1; in
:class:`~analyzer.records.picture.ScoreMaps` 255 stands for 1. None of these is a limit of the
trade: they say what counts as a line in a picture, not what counts as damage.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class TraceSettings:
    """How score maps become lines."""

    network_threshold: float = 0.5
    """Score from which a pixel is called crack, for a calibrated map: a missed pixel costs as much as a
    false one. The weights may state another."""
    filters_threshold: float = 0.5
    """The same for the plain filters, whose score is fitted so that one half is the break-even."""
    seed_fraction: float = 0.7
    """A ridge is looked at if it reaches this part of the threshold somewhere: over its whole length a
    faint line can be more certain than any of its pixels."""
    low_fraction: float = 0.5
    """A ridge is followed down to this part of the threshold: interrupted cracks fade before they end."""
    least_strong_px: int = 6
    """A component needs this many pixels over the threshold; fewer are pores and noise."""
    mask_fraction: float = 1.0
    """A pixel beside an accepted crack belongs to it from this part of the threshold."""
    hole_px2: int = 40
    """Holes up to this area are closed before thinning: sand in a crack is not a loop of two cracks."""

    reduce_over_px: int = 40_000_000
    """Larger maps are traced at half their size: nobody needs a hairline to half a pixel there, and the
    working memory stays under a gigabyte."""
    spur_widths: float = 1.5
    """A side branch shorter than this many local widths is the raggedness of the edge, not a branch."""
    spur_px: float = 6.0
    """...and never shorter than this: the medial axis of a noisy 3 px line throws such spurs."""
    direction_px: float = 14.0
    """Stretch at the end of a branch over which its direction is taken: longer than the steps of the
    pixel grid, shorter than the bends of a crack."""

    link_px: float = 40.0
    """Widest gap closed along a ridge; wider ones would join different cracks."""
    link_angle_deg: float = 50.0
    """Largest turn into a gap; cracks zigzag by up to about 45 degrees around stones."""
    link_score: float = 0.15
    """Mean score that a gap's best path needs (part of the threshold) at the widest gap."""
    link_free_px: float = 6.0
    """Gaps up to this length are closed without a score of their own."""

    least_crack_px: float = 24.0
    """Shortest crack kept on a bare picture: anything shorter is a pore, a scratch or a fleck."""
    least_crack_mm: float = 15.0
    """Shortest crack kept where the scale is known: shorter than 5/8 in changes no decision."""

    mixed_px: int = 31
    """A branch is cut between joint and crack only where each is clear over such a stretch."""
    mixed_lead: float = 0.5
    """...with this difference of the mean scores."""
    piece_px: float = 12.0
    """Shortest straight piece that takes part in joint fitting."""
    straight_px: float = 1.6
    """Deviation allowed from a straight piece: half a pixel of the grid and the raggedness of an edge."""
    straight_widths: float = 0.45
    """...and this part of half its width: a wide joint full of weeds has an uneven axis."""
    straight_fraction: float = 0.005
    """...and this part of its length."""
    bow_fraction: float = 0.01
    """Greatest rise of a joint's bow over its chord: a phone's lens bends a straight line by under 1 %
    (judgement of this tool)."""
    same_line_deg: float = 4.0
    """Pieces on one joint differ by no more in direction (perspective, lens)."""
    extend_px: float = 40.0
    """A fitted line is followed beyond its last piece by this much at least, to the edge it runs to."""
    extend_fraction: float = 0.25
    """...or by this part of its length: farther on the fit itself is not sure enough."""
    extend_share: float = 0.7
    """...where it is seen over this part of the way."""
    least_joint_px: float = 60.0
    """Shortest joint kept, unless it runs from edge to edge."""
    least_joint_mm: float = 300.0
    """Shortest joint kept where the scale is known, unless both its ends reach an edge or a joint: a
    joint divides a panel (a foot, judgement of this tool)."""
    joint_probability: float = 0.5
    """A line fitted as joint is kept from this probability."""
    wide_joint_half_px: float = 4.0
    """From this half width a joint swallows the ridge of a crack beside it; over a narrower one a crack
    runs on without a break."""
    along_joint_fraction: float = 0.7
    """A crack of which this part lies in a joint is that joint's crack."""

    edge_rim_mm: float = 30.0
    """A line along a free edge within this distance is the edge, its arris or its shadow."""
    sheet_rim_mm: float = 12.0
    """Rim around a printed sheet that is ignored: its border and its shadow are lines."""


DEFAULTS = TraceSettings()
