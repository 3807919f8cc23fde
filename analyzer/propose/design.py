"""Limits and defaults of a finished surface, read from ``design.toml``."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError, UnitError
from analyzer.terms import Checked
from analyzer.units import parse_length, parse_slope

DEFAULT_PATH = Path(__file__).with_name("design.toml")


@dataclass(frozen=True, slots=True)
class DesignLimit:
    """One value (mm, rise over run, or a plain number), as written, and where it comes from."""

    limit_id: str
    value: float
    written: str
    source: str
    checked: Checked | None


@dataclass(frozen=True, slots=True)
class DesignRules:
    """All of ``design.toml`` by id."""

    limits: Mapping[str, DesignLimit]

    def __getitem__(self, limit_id: str) -> float:
        """The value: mm for a length, rise over run for a slope."""
        return self.limits[limit_id].value

    def source(self, limit_id: str) -> str:
        """Where the value comes from."""
        return self.limits[limit_id].source

    def written(self, limit_id: str) -> str:
        """The value as its source has it."""
        return self.limits[limit_id].written

    def with_values(self, **values: float) -> DesignRules:
        """A copy with other values (mm, rise over run or plain), for local rules and trials.

        Raises
        ------
        RuleError
            An id that is not in the table.
        """
        limits = dict(self.limits)
        for name, value in values.items():
            if name not in limits:
                raise RuleError(
                    "design rules", f"unknown id {name!r}", f"use one of {', '.join(sorted(limits))}"
                )
            old = limits[name]
            limits[name] = DesignLimit(name, value, f"{value:g}", f"{old.source} (changed)", old.checked)
        return DesignRules(limits)


_NEEDED = frozenset(
    re.findall(
        r"[a-z_]+",
        """bonded_min unbonded_min thin_min slab_foot slab_car slab_truck fall_house fall_plain house_band
        landing_slope landing_depth walk_slope cross_slope edge_strip_slope sill_min sill_max
        sill_max_egress siding_min weep_min riser_max riser_spread garage_min gate_min
        walk_step_public walk_step guard_drop setout_half_width setout_step setout_step_metric
        cover bar joint_spacing_max saw_depth_min saw_extra_bonded isolation_width base_layer
        grind_max edge_strip_width lip crease_least contour_step contour_step_metric form_spacing coverage
        joint_aspect joint_spacing_low joint_spacing_high saw_part_contraction
        saw_part_longitudinal grind_gain crease_saving most_creases""",
    )
)


@cache
def load_design(path: Path = DEFAULT_PATH) -> DesignRules:
    """Read the table.

    Raises
    ------
    RuleError
        Not TOML, an unknown or missing key or id, a duplicate, a value without unit, or an entry
        without a source.
    """
    name = path.name
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RuleError(name, f"cannot be read ({error})", "restore the shipped file") from error
    _keys(data, {"limit", "number"}, name)
    limits: dict[str, DesignLimit] = {}
    entries = [(e, True) for e in data.get("limit", [])] + [(e, False) for e in data.get("number", [])]
    for entry, has_unit in entries:
        limit = _limit(entry, has_unit, name)
        if limit.limit_id in limits:
            raise RuleError(f"{name}, {limit.limit_id}", "is given twice", "keep one of them")
        limits[limit.limit_id] = limit
    for wrong, problem in ((set(limits) - _NEEDED, "is not known"), (_NEEDED - set(limits), "is missing")):
        if wrong:
            raise RuleError(f"{name}, {min(wrong)}", problem, "compare with the shipped file")
    return DesignRules(limits)


def _limit(entry: dict[str, Any], has_unit: bool, name: str) -> DesignLimit:
    where = f"{name}, {entry.get('id', '?')}"
    _keys(entry, {"id", "value", "source"} | ({"checked"} if has_unit else set()), where)
    for key in ("id", "value", "source", *(("checked",) if has_unit else ())):
        if key not in entry or not str(entry[key]).strip():
            raise RuleError(where, f"has no {key}", "add it")
    written = str(entry["value"])
    if not has_unit:
        if isinstance(entry["value"], bool) or not isinstance(entry["value"], int | float):
            raise RuleError(where, f"{written!r} is not a number", "write a plain number")
        return DesignLimit(entry["id"], float(entry["value"]), written, entry["source"], None)
    try:
        slope = "%" in written or ":" in written or "/ft" in written
        value = parse_slope(written, where) if slope else parse_length(written, where)
        checked = Checked(entry["checked"])
    except UnitError as error:
        raise RuleError(error.subject, error.problem, error.remedy) from error
    except ValueError as error:
        raise RuleError(where, f"{error}", "say how the source was checked") from error
    return DesignLimit(entry["id"], value, written, entry["source"], checked)


def _keys(entry: dict[str, Any], allowed: set[str], where: str) -> None:
    unknown = sorted(set(entry) - allowed)
    if unknown:
        raise RuleError(where, f"unknown key {unknown[0]!r}", f"use one of {', '.join(sorted(allowed))}")
