"""What several test folders share: a small job that can be decided without photos."""

from __future__ import annotations

from pathlib import Path

import pytest

BOOK = """
schema = 1
[job]
id = "mill-walk"
title = "Walk to the mill office"
date = 2026-05-03
by = "M. Example"
surface = "dry"
invented = true
[site]
use = "foot"
public_route = "no"
freeze_thaw = "no"
deicer = "no"
[stops]
suspended = "no"
post_tension = "no"
void_below = "no"
carries_posts = "no"
carries_walls = "no"
heating_tubes = "no"
foundation_movement = "no"
retaining_wall_movement = "no"
[slab]
thickness = "4 in"
sounded = "yes"
walked_over = "yes"
rocking_panels = []
still_moving = "no"
seasonal_movement = "no"
[[corner]]
name = "A"
at = ["0 ft", "0 ft"]
[[corner]]
name = "B"
at = ["20 ft", "0 ft"]
[[corner]]
name = "C"
at = ["20 ft", "12 ft"]
[[corner]]
name = "D"
at = ["0 ft", "12 ft"]
[[edge]]
from = "C"
to = "D"
abuts = "house"
[[station]]
name = "S1"
at = "A"
rod = "4 ft 0 in"
[[station]]
name = "S2"
at = "B"
rod = "4 ft 0 in"
[[station]]
name = "S3"
at = "C"
rod = "3 ft 11 1/2 in"
[[station]]
name = "S4"
at = "D"
rod = "3 ft 11 1/2 in"
[[height]]
kind = "door sill"
name = "office door"
at = ["10 ft", "12 ft"]
above_slab = "7 in"
"""


@pytest.fixture
def book_text() -> str:
    """A field book of an invented walk, 20 x 12 ft, without photos."""
    return BOOK


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """The same as a file."""
    path = tmp_path / "field_book.toml"
    path.write_text(BOOK, "utf-8")
    return path
