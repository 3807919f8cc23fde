"""Gaps in drawn lines: closed where the ends face each other, left open where they do not."""

import cv2
import numpy as np

from analyzer.detect.graph import components, prune, trace
from analyzer.detect.links import link_gaps
from analyzer.detect.ridge import thin
from analyzer.detect.settings import DEFAULTS


def branches_of(mask):
    return prune(trace(thin(mask), mask), 1.5, 6.0)


def linked(mask, faint=None):
    score = (mask * 255).astype(np.uint8) if faint is None else faint
    return link_gaps(branches_of(mask), score, 0.5, DEFAULTS)


def test_a_short_gap_in_a_line_is_closed():
    mask = np.zeros((80, 200), np.uint8)
    cv2.line(mask, (10, 40), (95, 40), 1, 3)
    cv2.line(mask, (103, 42), (190, 42), 1, 3)
    assert len(branches_of(mask)) == 2
    assert len(linked(mask)) == 1


def test_a_wide_gap_is_closed_only_over_a_faint_ridge():
    mask = np.zeros((80, 240), np.uint8)
    cv2.line(mask, (10, 40), (100, 40), 1, 3)
    cv2.line(mask, (130, 40), (230, 40), 1, 3)
    assert len(linked(mask)) == 2
    faint = (mask * 255).astype(np.uint8)
    cv2.line(faint, (100, 40), (130, 40), 50, 2)
    assert len(linked(mask, faint)) == 1


def test_parallel_ends_are_not_joined_sideways():
    mask = np.zeros((80, 240), np.uint8)
    cv2.line(mask, (10, 30), (120, 30), 1, 3)
    cv2.line(mask, (10, 50), (120, 50), 1, 3)
    assert len(components(linked(mask))) == 2


def test_an_end_that_points_at_the_side_of_a_line_meets_it():
    mask = np.zeros((160, 200), np.uint8)
    cv2.line(mask, (10, 120), (190, 120), 1, 3)
    cv2.line(mask, (100, 10), (100, 113), 1, 3)
    found = linked(mask)
    assert len(components(found)) == 1
    assert len(found) == 3


def test_nothing_to_link():
    assert link_gaps([], np.zeros((9, 9), np.uint8), 0.5, DEFAULTS) == []
