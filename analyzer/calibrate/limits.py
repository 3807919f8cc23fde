"""Loads ``limits.toml``: what is assumed where nothing was typed, and when a scale is refused."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields
from functools import cache
from importlib import resources
from typing import Any

from analyzer.errors import RuleError
from analyzer.terms import Checked

_ENTRY_KEYS = {"value", "unit", "reason", "source", "checked"}


@dataclass(frozen=True, slots=True)
class ScaleLimits:
    """The values of ``limits.toml``; unit, reason and source of each stand there.

    Lengths in mm, angles in degrees, picture distances in px, relative values as fractions.
    """

    sheet_centre_u: float
    sheet_turn_u: float
    sheet_scale_u: float
    ruler_reading_u: float
    ruler_least: float
    ruler_greatest: float
    sheet_flatness_u: float
    corner_u: float
    lens_u: float
    surface_u: float
    surface_slope_u: float
    mark_pick_u: float
    mark_pick_least_u: float
    mark_place_u: float
    tape_u: float
    straight_down_tilt_u: float
    focal_part: float
    focal_u: float
    camera_axis_u: float
    thin_triangle: float
    contradiction: float
    scale_u_greatest: float
    position_u_greatest: float
    pixel_greatest: float
    trusted_share_least: float


def parse_limits(text: str, subject: str = "calibrate/limits.toml") -> ScaleLimits:
    """Read the text of a limits file.

    Raises
    ------
    RuleError
        Not TOML, an unknown or missing entry or key, a value that is not a positive number, or
        an unknown word for how the source was checked.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise RuleError(subject, f"it is not TOML ({error})", "correct the line") from error
    names = {f.name for f in fields(ScaleLimits)}
    if unknown := sorted(set(table) - names):
        raise RuleError(subject, f"unknown entry {unknown[0]!r}", "remove it", found=unknown)
    if missing := sorted(names - set(table)):
        raise RuleError(subject, f"entry {missing[0]!r} is missing", "add it", expected=missing)
    return ScaleLimits(**{name: _value(table[name], f"{subject}, {name}") for name in names})


@cache
def scale_limits() -> ScaleLimits:
    """The limits that come with the package.

    Raises
    ------
    RuleError
        As :func:`parse_limits`.
    """
    text = resources.files("analyzer.calibrate").joinpath("limits.toml").read_text(encoding="utf-8")
    return parse_limits(text)


def _value(entry: Any, subject: str) -> float:
    if not isinstance(entry, dict) or set(entry) != _ENTRY_KEYS:
        raise RuleError(subject, "it needs value, unit, reason, source and checked", "complete it")
    if entry["checked"] not in set(Checked):
        raise RuleError(subject, f"checked = {entry['checked']!r} is no known word", "use a word of terms")
    value = entry["value"]
    if not isinstance(value, int | float) or isinstance(value, bool) or not value > 0:
        raise RuleError(subject, f"value {value!r} is not a positive number", "correct it")
    return float(value)
