"""Numbers behind quantities and orders, read from ``takeoff.toml``."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError, UnitError
from analyzer.terms import Abuts, Option
from analyzer.units import KG_M3_PER_LB_FT3, M3_PER_YD3, parse_length

DEFAULT_PATH = Path(__file__).with_name("takeoff.toml")
SLIP_PATH = Path(__file__).with_name("slip.toml")
_WHEN = ("", "freeze", "no_freeze", "deicer", "vehicles", "free_edge")
_KEYS: dict[str, set[str]] = {
    "waste": {"low", "usual", "high"},
    "plant": {"imperial", "metric"},
    "short_load": {"below"},
    "truck": {"holds"},
    "fresh": {"low", "high"},
    "strike_off": {"half_width"},
    "place": {"half_width"},
    "weight": {"least", "most"},
    "bulk": {"low", "high"},
    "haul": {"truck"},
    "aggregate": {"part", "sizes"},
    "aggregate_air": {"percent"},
    "base": {"layer"},
    "isolation": {"against"},
    "crack_class": {"edges"},
    "panel": {"pieces"},
}


@dataclass(frozen=True, slots=True)
class TakeoffRules:
    """Lengths in mm, volumes in m3, densities in kg/m3, the rest plain; ``sources`` by table."""

    waste: tuple[float, float, float]
    step_m3: Mapping[str, float]
    short_load_m3: float
    truck_m3: float
    fresh: tuple[float, float]
    strike_off_u_mm: float
    place_u_mm: float
    density: tuple[float, float]
    bulk: tuple[float, float]
    haul_m3: float
    aggregate_part: float
    aggregate_sizes_mm: tuple[float, ...]
    aggregate_written: tuple[str, ...]
    air_percent: tuple[float, ...]
    base_layer_mm: float
    isolate: frozenset[Abuts]
    crack_edges_mm: tuple[float, ...]
    shattered_pieces: int
    sources: Mapping[str, str]


@cache
def load_takeoff_rules(path: Path = DEFAULT_PATH) -> TakeoffRules:
    """Read the table.

    Raises
    ------
    RuleError
        Not TOML, an unknown or missing table or key, a value without unit, a table without a
        source, or a range the wrong way round.
    """
    name = path.name
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RuleError(name, f"cannot be read ({error})", "restore the shipped file") from error
    for table in sorted(set(data) ^ set(_KEYS)):
        problem = "is missing" if table in _KEYS else "is not known"
        raise RuleError(f"{name}, [{table}]", problem, "compare with the shipped file")
    for table, keys in _KEYS.items():
        _check(data[table], keys, f"{name}, [{table}]")
    try:
        edges = tuple(parse_length(t, f"{name}, crack_class") for t in data["crack_class"]["edges"])
        sizes = tuple(parse_length(t, f"{name}, aggregate") for t in data["aggregate"]["sizes"])
        return TakeoffRules(
            waste=(data["waste"]["low"], data["waste"]["usual"], data["waste"]["high"]),
            step_m3={k: read_volume(data["plant"][k], f"{name}, plant") for k in ("imperial", "metric")},
            short_load_m3=read_volume(data["short_load"]["below"], f"{name}, short_load"),
            truck_m3=read_volume(data["truck"]["holds"], f"{name}, truck"),
            fresh=(data["fresh"]["low"], data["fresh"]["high"]),
            strike_off_u_mm=_u(data["strike_off"]["half_width"], f"{name}, strike_off"),
            place_u_mm=_u(data["place"]["half_width"], f"{name}, place"),
            density=(
                read_density(data["weight"]["least"], f"{name}, weight"),
                read_density(data["weight"]["most"], f"{name}, weight"),
            ),
            bulk=(data["bulk"]["low"], data["bulk"]["high"]),
            haul_m3=read_volume(data["haul"]["truck"], f"{name}, haul"),
            aggregate_part=float(data["aggregate"]["part"]),
            aggregate_sizes_mm=sizes,
            aggregate_written=tuple(data["aggregate"]["sizes"]),
            air_percent=tuple(float(p) for p in data["aggregate_air"]["percent"]),
            base_layer_mm=parse_length(data["base"]["layer"], f"{name}, base"),
            isolate=frozenset(Abuts(a) for a in data["isolation"]["against"]),
            crack_edges_mm=edges,
            shattered_pieces=int(data["panel"]["pieces"]),
            sources={table: data[table]["source"] for table in _KEYS},
        )
    except UnitError as error:
        raise RuleError(error.subject, error.problem, error.remedy) from error
    except (TypeError, ValueError) as error:
        raise RuleError(name, f"{error}", "compare with the shipped file") from error


@dataclass(frozen=True, slots=True)
class SlipRule:
    """One line of the slip table; ``options`` empty = all, ``value`` None = still to be chosen."""

    part: str
    topic: str
    item: str
    value: str | None
    source: str
    options: frozenset[Option]
    when: str


@cache
def load_slip(path: Path = SLIP_PATH) -> tuple[SlipRule, ...]:
    """Read the lines of the order slip and of the day's list.

    Raises
    ------
    RuleError
        Not TOML, an unknown or missing key, part, option or condition, or a value without a
        source.
    """
    name = path.name
    try:
        data = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RuleError(name, f"cannot be read ({error})", "restore the shipped file") from error
    out = []
    for entry in data.get("item", []):
        where = f"{name}, {entry.get('item', '?')}"
        for key in sorted(set(entry) - {"part", "topic", "item", "value", "source", "options", "when"}):
            raise RuleError(where, f"unknown key {key!r}", "compare with the shipped file")
        for key in ("part", "topic", "item", "source"):
            if key not in entry:
                raise RuleError(where, f"has no {key}", "add it")
        if entry["part"] not in {"plant", "day"} or entry.get("when", "") not in _WHEN:
            known = ", ".join(w for w in _WHEN if w)
            raise RuleError(where, "has an unknown part or condition", f"use plant or day; {known}")
        if entry.get("value") and not entry["source"].strip():
            raise RuleError(where, "has no source", "name one, or write common practice, no source")
        try:
            options = frozenset(Option(o) for o in entry.get("options", ()))
        except ValueError as error:
            raise RuleError(where, f"{error}", "use the options' names") from error
        told = entry["part"], entry["topic"], entry["item"], entry.get("value"), entry["source"]
        out.append(SlipRule(*told, options, entry.get("when", "")))
    return tuple(out)


def read_volume(text: str, subject: str) -> float:
    """A typed volume (``1/4 yd3``, ``0.1 m3``) in m3.

    Raises
    ------
    RuleError
        The text is no volume.
    """
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)(?:\s*/\s*(\d+))?\s*(yd3|m3)\s*", str(text))
    if match is None or (match[2] and int(match[2]) == 0):
        remedy = "write for example 1/4 yd3 or 0.1 m3"
        raise RuleError(subject, f"{text!r} is not a volume", remedy, found=text)
    value = float(match[1]) / (float(match[2]) if match[2] else 1.0)
    return value * (M3_PER_YD3 if match[3] == "yd3" else 1.0)


def read_density(text: str, subject: str) -> float:
    """A typed density (``150 lb/ft3``, ``2400 kg/m3``) in kg/m3.

    Raises
    ------
    RuleError
        The text is no density.
    """
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(lb/ft3|kg/m3)\s*", str(text))
    if match is None:
        raise RuleError(subject, f"{text!r} is not a density", "write for example 150 lb/ft3", found=text)
    return float(match[1]) * (KG_M3_PER_LB_FT3 if match[2] == "lb/ft3" else 1.0)


def _u(text: str, subject: str) -> float:
    """Standard uncertainty of a rectangular half-width (JCGM 100:2008, 4.3.7, from memory)."""
    return parse_length(text, subject) / math.sqrt(3.0)


def _check(table: dict[str, Any], keys: set[str], where: str) -> None:
    for key in sorted(set(table) - keys - {"source"}):
        raise RuleError(where, f"unknown key {key!r}", f"use one of {', '.join(sorted(keys))}")
    for key in sorted((keys | {"source"}) - set(table)):
        raise RuleError(where, f"has no {key}", "add it")
    if not str(table["source"]).strip():
        raise RuleError(where, "has no source", "name one, or write common practice, no source")
    if {"low", "high"} <= keys and not table["low"] <= table.get("usual", table["low"]) <= table["high"]:
        raise RuleError(where, "low, usual and high are not in order", "put them in order")
