"""Default uncertainty of each kind of reading, bounds and method constants, read from ``readings.toml``."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError, UnitError
from analyzer.terms import Checked
from analyzer.units import Reading, parse_length

DEFAULT_PATH = Path(__file__).with_name("readings.toml")
_LENGTHS = ("straightedge", "edge_band", "pond_least_depth", "on_joint", "same_place")
_NUMBERS = ("settled_alpha", "coverage")
_TEXTS = ("straightedge_source", "edge_band_source")


@dataclass(frozen=True, slots=True)
class ReadingRule:
    """Uncertainty of one kind of reading: ``u_mm`` or, for areas, ``relative``; with its source."""

    kind: str
    u_mm: float | None
    relative: float | None
    source: str
    checked: Checked


@dataclass(frozen=True, slots=True)
class Bound:
    """What a reading can possibly be, in mm."""

    kind: str
    least_mm: float
    most_mm: float
    source: str


@dataclass(frozen=True, slots=True)
class ReadingRules:
    """All of ``readings.toml``. Lengths in mm; ``coverage`` is the factor k for "disagree"."""

    readings: dict[str, ReadingRule]
    bounds: dict[str, Bound]
    straightedge_mm: float
    edge_band_mm: float
    pond_least_depth_mm: float
    on_joint_mm: float
    same_place_mm: float
    settled_alpha: float
    coverage: float

    def u_mm(self, reading: Reading, kind: str) -> float:
        """Standard uncertainty of a reading: as typed, else the default of its kind, in mm."""
        if reading.u_mm is not None:
            return reading.u_mm
        rule = self.readings[kind]
        return rule.u_mm if rule.u_mm is not None else abs(reading.mm) * (rule.relative or 0.0)

    def area_u_mm2(self, area_mm2: float) -> float:
        """Standard uncertainty of a typed area, in mm2."""
        return area_mm2 * (self.readings["area"].relative or 0.0)


@cache
def load_readings(path: Path = DEFAULT_PATH) -> ReadingRules:
    """Read the table of reading uncertainties.

    Raises
    ------
    RuleError
        Not TOML, an unknown or missing key, a duplicate kind, a length without a unit, or an
        entry without a source.
    """
    name = path.name
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RuleError(name, f"cannot be read ({error})", "restore the shipped file") from error
    _keys(data, {"reading", "bound", "method"}, name)
    try:
        readings = [_reading(entry, name) for entry in data["reading"]]
        bounds = [_bound(entry, name) for entry in data["bound"]]
        method = dict(data["method"])
        _keys(method, {*_LENGTHS, *_NUMBERS, *_TEXTS}, f"{name}, [method]")
        lengths = {f"{k}_mm": parse_length(method[k], f"{name}, {k}") for k in _LENGTHS}
        numbers = {k: float(method[k]) for k in _NUMBERS}
    except KeyError as error:
        raise RuleError(name, f"the key {error} is missing", "add it") from error
    except UnitError as error:
        raise RuleError(error.subject, error.problem, error.remedy) from error
    by_kind = {r.kind: r for r in readings}
    if len(by_kind) != len(readings) or len({b.kind for b in bounds}) != len(bounds):
        raise RuleError(name, "a kind is given twice", "keep one entry for each kind")
    return ReadingRules(by_kind, {b.kind: b for b in bounds}, **lengths, **numbers)


def _reading(entry: dict[str, Any], name: str) -> ReadingRule:
    where = f"{name}, reading {entry.get('kind', '?')!r}"
    _keys(entry, {"kind", "half_width", "relative", "source", "checked"}, where)
    if not str(entry.get("source", "")).strip():
        raise RuleError(where, "has no source", "name one, or write common practice, no source")
    if ("half_width" in entry) == ("relative" in entry):
        raise RuleError(where, "needs either half_width or relative", "give exactly one of them")
    half_width = parse_length(entry["half_width"], where) if "half_width" in entry else None
    return ReadingRule(
        entry["kind"],
        None if half_width is None else half_width / math.sqrt(3.0),
        float(entry["relative"]) if "relative" in entry else None,
        entry["source"],
        Checked(entry["checked"]),
    )


def _bound(entry: dict[str, Any], name: str) -> Bound:
    where = f"{name}, bound {entry.get('kind', '?')!r}"
    _keys(entry, {"kind", "least", "most", "source"}, where)
    return Bound(
        entry["kind"],
        parse_length(entry["least"], where),
        parse_length(entry["most"], where),
        entry["source"],
    )


def _keys(entry: dict[str, Any], allowed: set[str], where: str) -> None:
    unknown = sorted(set(entry) - allowed)
    if unknown:
        raise RuleError(where, f"unknown key {unknown[0]!r}", f"use one of {', '.join(sorted(allowed))}")
