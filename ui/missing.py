"""What a job does not have yet, in words, and on which step it is taken. Decides nothing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from analyzer.terms import Answer

STOPS = (
    "post_tension",
    "suspended",
    "void_below",
    "heating_tubes",
    "carries_posts",
    "carries_walls",
    "foundation_movement",
    "retaining_wall_movement",
)


@dataclass(frozen=True, slots=True)
class Missing:
    """One thing that is missing, what it is good for, and the step where it is taken."""

    what: str
    why: str
    step: str


def missing(book: Mapping[str, Any]) -> tuple[Missing, ...]:
    """What is missing, that first without which nothing can be worked out."""
    found: list[Missing] = []
    if not book.get("job", {}).get("by"):
        found.append(Missing("Who took the readings", "the report is signed with it", "job"))
    if len(book.get("corner", ())) < 3:
        found.append(Missing("The outline of the slab", "nothing can be worked out without it", "job"))
    stops = book.get("stops", {})
    open_stops = sum(stops.get(name) in (None, Answer.UNKNOWN) for name in STOPS)
    if open_stops:
        questions = "first question" if open_stops == 1 else "first questions"
        found.append(
            Missing(f"{open_stops} {questions}", "no advice is given while one of them is open", "job")
        )
    photos = book.get("photo", [])
    if not photos:
        found.append(Missing("Photos", "without them only what you write down counts", "photos"))
    elif not book.get("sheet"):
        bare = [str(p.get("id")) for p in photos if not p.get("marks")]
        if bare:
            found.append(
                Missing(f"Scale of {', '.join(bare)}", "a photo without scale measures nothing", "photos")
            )
    stations = book.get("station", [])
    unread = [s for s in stations if "rod" not in s and "height" not in s]
    if len(unread) == len(stations):
        found.append(Missing("Level readings", "they show what has sunk and where rain runs", "levels"))
    elif unread:
        found.append(
            Missing(f"{len(unread)} stations without a reading", "they are left out until read", "levels")
        )
    if book.get("slab", {}).get("heights_listed") != Answer.YES:
        found.append(
            Missing(
                "All heights at doors, steps and siding", "they limit how thick an overlay can be", "levels"
            )
        )
    return tuple(found)


def open_steps(found: Sequence[Missing]) -> frozenset[str]:
    """Steps on which something is missing."""
    return frozenset(m.step for m in found)
