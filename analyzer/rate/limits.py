"""Cited limits as data: reading ``limits.toml`` and a jurisdiction's ``local.toml``, strictly.

A limit is *exceeded* when ``value comparator limit`` is true, whichever way it points: a largest
riser has ``>``, a least clearance ``<``. Values stay in the unit of their source.
"""

from __future__ import annotations

import hashlib
import math
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from pathlib import Path
from typing import Any

from analyzer.errors import ManyProblems, RuleError, SlabError
from analyzer.records import Limit
from analyzer.terms import Checked, Severity

DEFAULT_PATH = Path(__file__).with_name("limits.toml")


class Dimension(StrEnum):
    """What kind of number a quantity is; decides which units a limit on it may have."""

    LENGTH = "length"
    SLOPE = "slope"
    PLAIN = "plain"


UNITS: Mapping[Dimension, tuple[str, ...]] = {
    Dimension.LENGTH: ("mm", "cm", "m", "in", "ft"),
    Dimension.SLOPE: ("percent", "in/ft", "rise/run"),
    Dimension.PLAIN: ("fraction", "count", "pieces", "level", "ratio", "times thickness", "answer"),
}
_LENGTHS = (
    "crack_width crack_width_any crack_width_airfield crack_faulting joint_faulting level_change "
    "settlement joint_spacing "
    "old_thickness scaling_depth straightedge_gap ponding_depth riser_height riser_spread "
    "adjacent_riser_difference egress_door_drop door_drop door_weather_step weep_gap cladding_gap "
    "siding_gap garage_step free_edge_drop drain_cover gate_gap bonded_thickness_min "
    "bonded_thickness_max unbonded_thickness_min replacement_thickness_min"
)
_SLOPES = "slope_from_house fall landing_slope"
_PLAIN = (
    "corner_breaks pieces shattered_level joint_spacing_ratio panel_aspect hollow_fraction "
    "worn_fraction depth_fraction d_cracking_fraction reaction_signs unseen_fraction still_moving "
    "crack_moving seasonal_movement rocking undermined washed_edge tree_roots expansive_ground "
    "drains_toward_house ponding_seen rust_stains"
)
QUANTITIES: Mapping[str, Dimension] = {
    **dict.fromkeys(_LENGTHS.split(), Dimension.LENGTH),
    **dict.fromkeys(_SLOPES.split(), Dimension.SLOPE),
    **dict.fromkeys(_PLAIN.split(), Dimension.PLAIN),
}
COMPARATORS = (">", ">=", "<", "<=")
APPLIES_TO = (
    "road pavement",
    "airfield pavement",
    "flatwork",
    "dwelling",
    "public route",
    "trip yardstick",
    "stairs",
    "doors",
)
GUARDS = ("", "safety", "access", "building")
_KEYS = {
    "id",
    "term",
    "quantity",
    "unit",
    "comparator",
    "value",
    "severity",
    "applies_to",
    "source",
    "edition",
    "section",
    "checked",
    "guards",
    "address",
    "note",
}
_REQUIRED = _KEYS - {"guards", "address", "note"}
_LOCAL_REQUIRED = {"id", "value", "source", "edition", "section", "checked"}
_LOCAL_KEYS = _LOCAL_REQUIRED | {"unit", "note", "address"}
_READING_KEYS = ("half_width_in", "overlooked_step_in", "overlooked_fraction")


@dataclass(frozen=True, slots=True)
class LimitTable:
    """All limits in force for a job.

    Attributes
    ----------
    limits : tuple of Limit
        In the order of the file; ids are unique.
    edition : str
        Edition of the residential code whose numbering is cited.
    half_width_in, overlooked_step_in, overlooked_fraction : float
        Worth of a reading without a stated uncertainty, and what a walk-over can overlook.
    sha256 : tuple of (str, str)
        File name and SHA-256 of every rule file read.
    jurisdiction : str
        Where ``local.toml`` applies; empty without one.
    """

    limits: tuple[Limit, ...]
    edition: str
    half_width_in: float
    overlooked_step_in: float
    overlooked_fraction: float
    sha256: tuple[tuple[str, str], ...] = ()
    jurisdiction: str = ""

    def __iter__(self) -> Iterator[Limit]:
        return iter(self.limits)

    def __len__(self) -> int:
        return len(self.limits)

    def __getitem__(self, limit_id: str) -> Limit:
        """The limit with this id; KeyError when there is none."""
        for limit in self.limits:
            if limit.limit_id == limit_id:
                return limit
        raise KeyError(limit_id)

    def on(self, quantity: str, term: str | None = None) -> tuple[Limit, ...]:
        """Limits on a quantity, optionally only those of one term."""
        return tuple(
            limit
            for limit in self.limits
            if limit.quantity == quantity and (term is None or limit.term == term)
        )

    @property
    def loosened(self) -> tuple[Limit, ...]:
        """Local limits that are looser than the cited one they replace, where it guards people or houses."""
        return tuple(limit for limit in self.limits if limit.loosened)


def load_limits(
    edition: str | None = None, *, local: Path | None = None, path: Path | None = None
) -> LimitTable:
    """Read the shipped limits, in the numbering of one code edition, and a local file over them.

    Parameters
    ----------
    edition : str, optional
        ``IRC 2018``, ``IRC 2021`` (default) or ``IRC 2024``.
    local : Path, optional
        A jurisdiction's own values: ``jurisdiction = "..."`` and ``[[limit]]`` tables with id,
        value, source, edition, section, checked (and unit, note, address). It may tighten or
        replace; a looser value for a limit that guards safety, access or the building is marked
        ``loosened`` and the report prints it in bold.
    path : Path, optional
        Another table than the shipped one, same format.

    Raises
    ------
    RuleError
        Unknown edition, unreadable file, unknown key, double id, missing citation, or a value
        that is not a number.
    ManyProblems
        Several of these in one file.
    """
    table_path = path or DEFAULT_PATH
    data, digest = _read_toml(table_path)
    where = table_path.name
    _only_keys(data, {"format", "editions", "reading", "limit"}, where)
    if data.get("format") != 1:
        raise RuleError(where, f"format is {data.get('format')!r}", "this version reads format 1")
    editions = data.get("editions", {})
    known = tuple(editions.get("known", ()))
    chosen = edition or editions.get("default")
    if chosen not in known:
        raise RuleError(
            f"{where}, edition",
            f"{chosen!r} is not a known edition",
            f"use one of {', '.join(known)}",
            expected=known,
            found=chosen,
        )
    problems: list[SlabError] = []
    limits: dict[str, Limit] = {}
    for number, entry in enumerate(data.get("limit", []), start=1):
        try:
            limit = _limit(entry, f"{where}, limit {entry.get('id', number)}", chosen, known)
            if limit.limit_id in limits:
                raise RuleError(
                    f"{where}, limit {limit.limit_id}", "the id appears twice", "give each its own id"
                )
            limits[limit.limit_id] = limit
        except RuleError as problem:
            problems.append(problem)
    _raise(problems, where)
    reading = data.get("reading", {})
    _only_keys(reading, set(_READING_KEYS), f"{where}, [reading]")
    worth = {key: _number(reading.get(key), f"{where}, [reading] {key}") for key in _READING_KEYS}
    table = LimitTable(
        limits=tuple(limits.values()),
        edition=str(chosen),
        half_width_in=worth["half_width_in"],
        overlooked_step_in=worth["overlooked_step_in"],
        overlooked_fraction=worth["overlooked_fraction"],
        sha256=((where, digest),),
    )
    return _apply_local(table, local) if local is not None else table


def _limit(entry: Mapping[str, Any], where: str, edition: str, known: tuple[str, ...]) -> Limit:
    _only_keys(entry, _KEYS, where)
    missing = sorted(key for key in _REQUIRED if entry.get(key) in (None, "", []))
    if missing:
        raise RuleError(where, f"{', '.join(missing)} missing", "every limit needs its citation")
    quantity = entry["quantity"]
    if quantity not in QUANTITIES:
        raise RuleError(
            where, f"unknown quantity {quantity!r}", "use one that the tool measures", found=quantity
        )
    _one_of(entry["unit"], UNITS[QUANTITIES[quantity]], where, "unit")
    _one_of(entry["comparator"], COMPARATORS, where, "comparator")
    _one_of(entry.get("guards", ""), GUARDS, where, "guards")
    for kind in entry["applies_to"]:
        _one_of(kind, APPLIES_TO, where, "applies_to")
    section: object = entry["section"]
    cited_edition = entry["edition"]
    if isinstance(section, dict):
        lacking = [name for name in known if not section.get(name)]
        if lacking or set(section) - set(known):
            raise RuleError(
                where, f"section is not given for exactly {', '.join(known)}", "give one for each edition"
            )
        section, cited_edition = section[edition], edition
    return Limit(
        limit_id=str(entry["id"]),
        term=str(entry["term"]),
        quantity=quantity,
        unit=entry["unit"],
        comparator=entry["comparator"],
        value=_number(entry["value"], f"{where}, value"),
        severity=Severity(_one_of(entry["severity"], tuple(Severity), where, "severity")),
        applies_to=tuple(entry["applies_to"]),
        source=str(entry["source"]),
        edition=str(cited_edition),
        section=str(section),
        checked=Checked(_one_of(entry["checked"], tuple(Checked), where, "checked")),
        guards=entry.get("guards", ""),
        note=str(entry.get("note", "")),
        address=str(entry.get("address", "")),
    )


def _apply_local(table: LimitTable, local: Path) -> LimitTable:
    data, digest = _read_toml(local)
    where = local.name
    _only_keys(data, {"jurisdiction", "limit"}, where)
    jurisdiction = data.get("jurisdiction")
    if not isinstance(jurisdiction, str) or not jurisdiction.strip():
        raise RuleError(where, "jurisdiction is missing", "say where these limits apply")
    limits = {limit.limit_id: limit for limit in table}
    seen: set[str] = set()
    problems: list[SlabError] = []
    for number, entry in enumerate(data.get("limit", []), start=1):
        subject = f"{where}, limit {entry.get('id', number)}"
        try:
            _only_keys(entry, _LOCAL_KEYS, subject)
            missing = sorted(key for key in _LOCAL_REQUIRED if entry.get(key) in (None, ""))
            if missing:
                raise RuleError(subject, f"{', '.join(missing)} missing", "a local limit needs its citation")
            old = limits.get(entry["id"])
            if old is None:
                raise RuleError(subject, "no such limit to replace", "use an id of the shipped table")
            if entry["id"] in seen:
                raise RuleError(subject, "the id appears twice", "give each limit once")
            seen.add(entry["id"])
            if entry.get("unit", old.unit) != old.unit:
                raise RuleError(
                    subject,
                    f"unit {entry['unit']!r} differs",
                    f"give the value in {old.unit}, as the table has it",
                )
            value = _number(entry["value"], f"{subject}, value")
            looser = value > old.value if old.comparator.startswith(">") else value < old.value
            limits[old.limit_id] = replace(
                old,
                value=value,
                source=str(entry["source"]),
                edition=str(entry["edition"]),
                section=str(entry["section"]),
                checked=Checked(_one_of(entry["checked"], tuple(Checked), subject, "checked")),
                note=str(entry.get("note", "")),
                address=str(entry.get("address", "")),
                local=True,
                loosened=looser and old.guards != "",
            )
        except RuleError as problem:
            problems.append(problem)
    _raise(problems, where)
    return replace(
        table,
        limits=tuple(limits.values()),
        sha256=(*table.sha256, (where, digest)),
        jurisdiction=jurisdiction.strip(),
    )


def _read_toml(path: Path) -> tuple[dict[str, Any], str]:
    try:
        raw = path.read_bytes()
        return tomllib.loads(raw.decode("utf-8")), hashlib.sha256(raw).hexdigest()
    except OSError as error:
        raise RuleError(str(path), f"cannot be read ({error.strerror})", "check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RuleError(path.name, f"is not valid TOML ({error})", "correct that line") from error


def _only_keys(entry: Mapping[str, Any], allowed: set[str], where: str) -> None:
    unknown = sorted(set(entry) - allowed)
    if unknown:
        raise RuleError(
            where,
            f"unknown key {', '.join(map(repr, unknown))}",
            f"known keys are {', '.join(sorted(allowed))}",
            expected=tuple(sorted(allowed)),
            found=tuple(unknown),
        )


def _one_of(value: Any, allowed: Iterable[str], where: str, what: str) -> str:
    choices = tuple(str(choice) for choice in allowed)
    if value not in choices:
        raise RuleError(
            where,
            f"{what} {value!r} is unknown",
            f"use one of {', '.join(repr(c) for c in choices)}",
            expected=choices,
            found=value,
        )
    return str(value)


def _number(value: object, where: str) -> float:
    """A number, or a text as sources print them: ``7 3/4``, ``1/48``."""
    try:
        if isinstance(value, str):
            return float(sum(Fraction(part) for part in value.split()))
        if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
            return float(value)
    except (ValueError, ZeroDivisionError):
        pass
    raise RuleError(where, f"{value!r} is not a number", 'write 2.5, "7 3/4" or "1/48"', found=value)


def _raise(problems: list[SlabError], where: str) -> None:
    if len(problems) == 1:
        raise problems[0]
    if problems:
        raise ManyProblems(where, problems)
