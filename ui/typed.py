"""What people type into a box, made ready for the field book. Reads nothing by itself: units does."""

from __future__ import annotations

import re
from collections.abc import Mapping

from analyzer import units
from analyzer.errors import SlabError

_WITHIN = re.compile(r"\s*(?:±|\+/-|\+-)\s*")
SMALL_UNIT: Mapping[str, str] = {"imperial": "in", "metric": "mm"}
PLAN_UNIT: Mapping[str, str] = {"imperial": "ft", "metric": "m"}


def complete_length(text: str, unit: str) -> str:
    """A typed length with ``unit`` added where no unit was typed; what cannot be read stays as typed.

    ``4 3/8`` becomes ``4 3/8 in``, ``4 3/8 +- 1/16`` becomes ``4 3/8 in +- 1/16 in``.
    """
    parts = [_with_unit(part.strip(), unit) for part in _WITHIN.split(text.strip())]
    return " +- ".join(parts)


def length_problem(text: str, label: str, *, signed: bool = False) -> str | None:
    """Why a completed length cannot be read, in one sentence, or None."""
    try:
        units.parse_reading(text, label, signed=signed)
    except SlabError as error:
        return str(error)
    return None


def number_or_text(text: str) -> float | int | str:
    """A plain number as a number; anything else stays text, and the reader says what is wrong."""
    try:
        value = float(text)
    except ValueError:
        return text
    return int(value) if value.is_integer() and abs(value) < 1e15 else value


def length_mm(text: object) -> float | None:
    """Millimetres of a typed length for drawing it, or None where it cannot be read yet."""
    if not isinstance(text, str):
        return None
    try:
        return units.parse_reading(text, signed=True).mm
    except SlabError:
        return None


def plain(text: str) -> str:
    """Text as it stands, not as markup."""
    return "".join(f"\\{c}" if c in "\\*_`[]#$~<>:" else c for c in text)


def _with_unit(part: str, unit: str) -> str:
    for candidate in (part, f"{part} {unit}"):
        try:
            units.parse_length(candidate, signed=True)
        except SlabError:
            continue
        return candidate
    return part
