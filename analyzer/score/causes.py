"""Possible causes before cures: which the clues support, and which options one that goes on would defeat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError
from analyzer.phrase_tables import Phrases
from analyzer.records import (
    Cause,
    DistressSummary,
    FieldBook,
    Finding,
    LevelMap,
    PanelLayout,
    Reason,
    Refusal,
)
from analyzer.score.clues import PATTERNS, Clue, Scene, Seen, look
from analyzer.score.rules_file import only_keys, read_rules
from analyzer.terms import Option

DEFAULT_PATH = Path(__file__).with_name("causes.toml")
WELL_SUPPORTED, POSSIBLE, UNLIKELY = "well supported", "possible", "unlikely"
_CLUE_KEYS = {"id", "says", "limits", "state", "answer", "is", "pattern"}
_CAUSE_KEYS = {
    "id",
    "name",
    "for",
    "needs",
    "against",
    "active",
    "at_rest",
    "defeats",
    "confirm",
    "source",
}


@dataclass(frozen=True, slots=True)
class CauseRule:
    """One cause of the table. ``needs``: without one of these clues it is not mentioned."""

    id: str
    name: str
    weights_for: Mapping[str, float]
    needs: tuple[str, ...]
    weights_against: Mapping[str, float]
    active: tuple[str, ...]
    at_rest: tuple[str, ...]
    defeats: tuple[Option, ...]
    confirm: str
    source: str


@dataclass(frozen=True, slots=True)
class CauseRules:
    """The whole table, as read; ``sha256`` is (file name, hash)."""

    clues: Mapping[str, Clue]
    causes: tuple[CauseRule, ...]
    well_supported_from: float
    sha256: tuple[str, str]


def load_causes(path: Path | None = None) -> CauseRules:
    """Read the table of clues and causes.

    Raises
    ------
    RuleError
        Unknown key, clue, pattern or option, a clue of no kind or of two, a cause without its parts.
    """
    path = path or DEFAULT_PATH
    data, digest = read_rules(path)
    where = path.name
    only_keys(data, {"format", "well_supported_from", "clue", "cause"}, where)
    clues: dict[str, Clue] = {}
    for entry in data["clue"]:
        subject = f"{where}, clue {entry.get('id')}"
        only_keys(entry, _CLUE_KEYS, subject)
        kinds = [kind for kind in ("limits", "answer", "pattern") if kind in entry]
        paired = ("limits" in entry) == ("state" in entry) and ("answer" in entry) == ("is" in entry)
        if len(kinds) != 1 or not paired or entry["id"] in clues or not entry.get("says"):
            raise RuleError(
                subject, "is not one whole clue", "give limits and state, answer and is, or a pattern"
            )
        if entry.get("pattern", "wheels") not in PATTERNS or entry.get("state", "within") not in (
            "exceeds",
            "within",
        ):
            raise RuleError(subject, "unknown pattern or state", f"patterns: {', '.join(PATTERNS)}")
        clues[entry["id"]] = Clue(
            entry["id"],
            entry["says"],
            tuple(entry.get("limits", ())),
            entry.get("state", ""),
            entry.get("answer", ""),
            entry.get("is", ""),
            entry.get("pattern", ""),
        )
    causes = tuple(_cause(entry, clues, where) for entry in data["cause"])
    return CauseRules(clues, causes, float(data["well_supported_from"]), (where, digest))


def find_causes(
    findings: Sequence[Finding],
    field: FieldBook,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    rules: CauseRules,
) -> tuple[Cause, ...]:
    """Possible causes, the best supported first; those without a clue of their own are not mentioned.

    Returns
    -------
    tuple of Cause
        A clue whose reading is missing speaks neither for nor against.
    """
    scene = Scene(tuple(findings), field, distress, layout, levels)
    seen = {name: look(clue, scene) for name, clue in rules.clues.items()}
    weighed = []
    for rule in rules.causes:
        if not any(seen[name].holds for name in rule.needs):
            continue
        pros = [name for name in rule.weights_for if seen[name].holds]
        cons = [name for name in rule.weights_against if seen[name].holds]
        weight = sum(rule.weights_for[name] for name in pros) - sum(
            rule.weights_against[name] for name in cons
        )
        standing = UNLIKELY
        if weight >= rules.well_supported_from:
            standing = WELL_SUPPORTED
        elif weight > 0:
            standing = POSSIBLE
        weighed.append(
            (
                weight,
                Cause(
                    cause_id=rule.id,
                    name=rule.name,
                    standing=standing,
                    active=_active(rule, seen),
                    clues_for=tuple(_reason(rules.clues[name], seen[name]) for name in pros),
                    clues_against=tuple(_reason(rules.clues[name], seen[name]) for name in cons),
                    defeats=rule.defeats,
                    confirm=rule.confirm,
                    source=rule.source,
                ),
            )
        )
    return tuple(cause for _, cause in sorted(weighed, key=lambda pair: -pair[0]))


def defeated(causes: Sequence[Cause], say: Phrases) -> dict[Option, Refusal]:
    """Options that a well supported cause which goes on would defeat, with the reason."""
    out: dict[Option, Refusal] = {}
    for cause in causes:
        if cause.standing != WELL_SUPPORTED or not cause.active:
            continue
        clues = " ".join(reason.sentence for reason in cause.clues_for[:2])
        ids = tuple(name for reason in cause.clues_for for name in reason.finding_ids)
        for option in cause.defeats:
            out.setdefault(option, Refusal(say("reason.cause", name=cause.name, clues=clues), ids))
    return out


def _active(rule: CauseRule, seen: Mapping[str, Seen]) -> bool | None:
    if any(seen[name].holds for name in rule.active):
        return True
    return False if any(seen[name].holds for name in rule.at_rest) else None


def _reason(clue: Clue, seen: Seen) -> Reason:
    return Reason(clue.says.format(count=seen.count), seen.finding_ids)


def _cause(entry: Mapping[str, Any], clues: Mapping[str, Clue], where: str) -> CauseRule:
    subject = f"{where}, cause {entry.get('id')}"
    only_keys(entry, _CAUSE_KEYS, subject, all_of=True)
    named = [*entry["for"], *entry["needs"], *entry["against"], *entry["active"], *entry["at_rest"]]
    unknown = sorted(set(named) - set(clues))
    if unknown:
        raise RuleError(subject, f"unknown clue {unknown[0]!r}", "name one of the clues above")
    bad = [option for option in entry["defeats"] if option not in tuple(Option)]
    if bad:
        raise RuleError(subject, f"unknown option {bad[0]!r}", f"use {', '.join(Option)}")
    return CauseRule(
        entry["id"],
        entry["name"],
        {name: float(weight) for name, weight in entry["for"].items()},
        tuple(entry["needs"]),
        {name: float(weight) for name, weight in entry["against"].items()},
        tuple(entry["active"]),
        tuple(entry["at_rest"]),
        tuple(Option(option) for option in entry["defeats"]),
        entry["confirm"],
        entry["source"],
    )
