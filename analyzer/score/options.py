"""The rules of the decision as data: reading ``options.toml`` and ``words.toml``, strictly."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any, TypeVar

from analyzer.errors import RuleError
from analyzer.phrase_tables import Phrases, load_phrases
from analyzer.score.causes import CauseRules, load_causes
from analyzer.score.mixture import DEFECTS, Work
from analyzer.score.rules_file import only_keys, read_rules
from analyzer.terms import Option

DEFAULT_OPTIONS = Path(__file__).with_name("options.toml")
DEFAULT_WORDS = Path(__file__).with_name("words.toml")
PHRASES = Path(__file__).with_name("phrases.toml")
Entry = TypeVar("Entry")


@dataclass(frozen=True, slots=True)
class StopRule:
    """A question that comes first; ``look`` says how to answer it without touching the slab."""

    id: str
    question: str
    reason: str
    look: str
    source: str


@dataclass(frozen=True, slots=True)
class Signal:
    """Limits whose excess, any of them, means one thing about a panel or the slab."""

    id: str
    scope: str
    limits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class State:
    """Condition of a panel: any inner tuple of signals that holds together."""

    id: str
    any: tuple[tuple[str, ...], ...]
    bound: tuple[tuple[str, ...], ...]
    source: str


@dataclass(frozen=True, slots=True)
class Gate:
    """A hard requirement on some options; see the head of the table for the words."""

    id: str
    options: tuple[Option, ...]
    limits: tuple[str, ...]
    when: str
    missing: str
    exceeds: str
    reason: str
    binding_only: bool = False


@dataclass(frozen=True, slots=True)
class ShareGate:
    """The largest share of the area that some options can bear, and how well it has to be known."""

    id: str
    fact: str
    options: tuple[Option, ...]
    max: float
    known_within: float
    reason: str
    source: str


@dataclass(frozen=True, slots=True)
class Need:
    """Signals of panels that have to be known in every panel before some options are firm."""

    id: str
    options: tuple[Option, ...]
    signals: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Criterion:
    """One visible line of the score: points for each option, in the order of ``Rules.options``."""

    id: str
    kind: str
    points: tuple[float, ...]
    source: str
    says: str
    fact: str = ""
    limits: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Ask:
    """What to measure when a quantity is open."""

    quantity: str
    what: str
    why: str
    effort: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A warning that goes with some options; with none, it goes with an open stop."""

    id: str
    options: tuple[Option, ...]
    text: str
    source: str
    when: str = ""


@dataclass(frozen=True, slots=True)
class Rules:
    """Everything the decision rests on, as read, with its texts in the language of ``phrases``.

    ``sha256`` names each file and its hash.
    """

    options: tuple[Option, ...]
    count: int
    seed: int
    firm_from: float
    leaning_from: float
    undecided_rival: float
    robust_change: float
    stops: tuple[StopRule, ...]
    signals: tuple[Signal, ...]
    states: tuple[State, ...]
    gates: tuple[Gate, ...]
    shares: tuple[ShareGate, ...]
    criteria: tuple[Criterion, ...]
    needs: tuple[Need, ...]
    reach: Mapping[str, float]
    chance: Mapping[str, float]
    prior_share: Mapping[str, tuple[float, float]]
    asks: Mapping[str, Ask]
    cautions: tuple[Caution, ...]
    works: tuple[Work, ...]
    causes: CauseRules
    phrases: Phrases
    sha256: tuple[tuple[str, str], ...]

    def chance_of(self, quantity: str) -> float:
        """Probability that a limit on an unmeasured quantity is exceeded."""
        return self.chance.get(quantity, self.chance["default"])

    def limits_of(self, signals: Sequence[str]) -> tuple[str, ...]:
        """The limits of some signals, in the order of the table."""
        return tuple(limit for signal in self.signals if signal.id in signals for limit in signal.limits)

    @property
    def limit_ids(self) -> frozenset[str]:
        """Every limit that a signal, gate or criterion names."""
        named: set[str] = set()
        for limits in (
            *(signal.limits for signal in self.signals),
            *(gate.limits for gate in self.gates),
            *(criterion.limits for criterion in self.criteria),
        ):
            named.update(limits)
        return frozenset(named)


STOP_IDS = (
    "suspended",
    "post_tension",
    "void_below",
    "carries_posts",
    "carries_walls",
    "heating_tubes",
    "foundation_movement",
    "retaining_wall_movement",
)
_FACTS = (
    "always",
    "sound_share",
    "broken_share",
    "settled_share",
    "cracked_share",
    "worn_share",
    "hollow_share",
)
_STATE_IDS = ("broken", "settled", "cracked")
_ALLOWED: dict[str, tuple[str, ...]] = {
    "scope": ("panel", "slab"),
    "when": ("now", "after"),
    "missing": ("blocks", "damaged", "notes"),
    "exceeds": ("refuse", "undecided", "cause"),
    "kind": ("now", "after", "cures", "remains"),
}


def load_options(options: Path | None = None, words: Path | None = None, causes: Path | None = None) -> Rules:
    """Read the rules of the decision, the words for people and the table of causes.

    Parameters
    ----------
    options, words, causes : Path, optional
        Other tables than the shipped ones, same format. Stops are fixed: a table without one of
        the eight is refused, and no weight in it can loosen them.

    Raises
    ------
    RuleError
        Unknown key, unknown option, fact, signal or word, a missing stop, a share outside 0 to 1, or an
        unreadable file.
    """
    options, words = options or DEFAULT_OPTIONS, words or DEFAULT_WORDS
    caused = load_causes(causes)
    data, digest = read_rules(options)
    told, told_digest = read_rules(words)
    where = options.name
    top = {
        "format",
        "options",
        "draws",
        "stop",
        "signal",
        "state",
        "gate",
        "share",
        "criterion",
        "need",
        "reach",
        "prior",
        "work",
    }
    only_keys(data, top, where)
    only_keys(told, {"format", "ask", "caution"}, words.name)
    only_keys(data["options"], {"order"}, where)
    order = _options(data["options"]["order"], where)
    if sorted(order) != sorted(Option):
        raise RuleError(where, "order does not hold every option once", f"list {', '.join(Option)}")
    stops = _entries(StopRule, data, "stop", where)
    if tuple(stop.id for stop in stops) != STOP_IDS:
        raise RuleError(
            where, "the stops are not the eight that always come first", f"keep {', '.join(STOP_IDS)}"
        )
    signals = _entries(Signal, data, "signal", where)
    states = tuple(
        State(
            entry["id"],
            tuple(tuple(together) for together in entry["any"]),
            tuple(tuple(together) for together in entry["bound"]),
            entry["source"],
        )
        for entry in _checked(State, data, "state", where)
    )
    if tuple(state.id for state in states) != _STATE_IDS:
        raise RuleError(where, "the states are not broken, settled, cracked", "keep them in this order")
    panel_signals = {signal.id for signal in signals if signal.scope == "panel"}
    for state in states:
        for together in state.any + state.bound:
            if not together or set(together) - panel_signals:
                raise RuleError(
                    f"{where}, state {state.id}", f"{together} is not made of panel signals", "use their ids"
                )
    facts = {*_FACTS, *(signal.id for signal in signals if signal.scope == "slab")}
    criteria = tuple(
        _criterion(entry, order, facts, where) for entry in _checked(Criterion, data, "criterion", where)
    )
    shares = _entries(ShareGate, data, "share", where)
    for share in shares:
        if share.fact not in facts or not 0 <= share.max <= 1 or not 0 <= share.known_within <= 1:
            raise RuleError(
                f"{where}, share {share.id}", "unknown fact, or a number outside 0 to 1", "correct it"
            )
    needs = _entries(Need, data, "need", where)
    for need in needs:
        if set(need.signals) - panel_signals:
            raise RuleError(f"{where}, need {need.id}", "names what is no panel signal", "use their ids")
    prior = data["prior"]
    only_keys(prior, {"chance", "share"}, f"{where}, [prior]")
    chance = {str(key): float(value) for key, value in prior["chance"].items()}
    if "default" not in chance or not all(0 < value < 1 for value in chance.values()):
        raise RuleError(
            f"{where}, [prior.chance]", "no default, or a chance not between 0 and 1", "correct it"
        )
    draws = data["draws"]
    draw_keys = {"count", "seed", "firm_from", "leaning_from", "undecided_rival", "robust_change"}
    only_keys(draws, draw_keys, f"{where}, [draws]", all_of=True)
    asks = _entries(Ask, told, "ask", words.name)
    return Rules(
        options=order,
        **draws,
        stops=stops,
        signals=signals,
        states=states,
        gates=_entries(Gate, data, "gate", where),
        shares=shares,
        criteria=criteria,
        needs=needs,
        reach={str(key): float(value) for key, value in data.get("reach", {}).items()},
        chance=chance,
        prior_share={str(key): (float(pair[0]), float(pair[1])) for key, pair in prior["share"].items()},
        asks={ask.quantity: ask for ask in asks},
        cautions=_entries(Caution, told, "caution", words.name),
        works=_works(data, where),
        causes=caused,
        phrases=load_phrases(PHRASES),
        sha256=((where, digest), (words.name, told_digest), caused.sha256),
    )


def _works(data: Mapping[str, Any], where: str) -> tuple[Work, ...]:
    works = _entries(Work, data, "work", where)
    for work in works:
        if not all(math.isfinite(cost) and cost >= 0 for cost in (work.setup, work.per_panel)):
            raise RuleError(f"{where}, work {work.id}", "a cost is negative", "give zero or more")
        unknown = sorted(set(work.cures) - set(DEFECTS))
        if unknown:
            raise RuleError(
                f"{where}, work {work.id}", f"unknown defect {unknown[0]!r}", f"use {', '.join(DEFECTS)}"
            )
    return works


def _criterion(entry: Mapping[str, Any], order: Sequence[Option], facts: set[str], where: str) -> Criterion:
    subject = f"{where}, criterion {entry['id']}"
    points = entry["points"]
    only_keys(points, {str(option) for option in order}, subject, all_of=True)
    by_fact = entry["kind"] == "now"
    if by_fact != ("fact" in entry) or by_fact == ("limits" in entry):
        raise RuleError(
            subject, "needs a fact when it is about now, else limits", "give the one that belongs"
        )
    if by_fact and entry["fact"] not in facts:
        raise RuleError(subject, f"unknown fact {entry['fact']!r}", f"use one of {', '.join(sorted(facts))}")
    return Criterion(
        id=entry["id"],
        kind=entry["kind"],
        points=tuple(float(points[str(option)]) for option in order),
        source=entry["source"],
        says=entry["says"],
        fact=entry.get("fact", ""),
        limits=tuple(entry.get("limits", ())),
    )


def _checked(kind: type[Any], data: Mapping[str, Any], key: str, where: str) -> list[Mapping[str, Any]]:
    """The tables of one name: known keys only, nothing that is needed missing, no double ids."""
    entries = data.get(key, [])
    allowed = {field.name for field in fields(kind)}
    optional = {"binding_only", "fact", "limits", "when"} if kind in (Gate, Criterion, Caution) else set()
    if kind is Gate:
        optional = {"binding_only"}
    name = "quantity" if kind is Ask else "id"
    seen: set[str] = set()
    for number, entry in enumerate(entries, start=1):
        subject = f"{where}, {key} {entry.get(name, number)}"
        only_keys(entry, allowed, subject)
        missing = sorted(allowed - optional - set(entry))
        if missing:
            raise RuleError(subject, f"{', '.join(missing)} missing", "every rule needs all its parts")
        for word, choices in _ALLOWED.items():
            if word in entry and kind is not Caution and entry[word] not in choices:
                raise RuleError(subject, f"{word} is {entry[word]!r}", f"use one of {', '.join(choices)}")
        if entry[name] in seen:
            raise RuleError(subject, "appears twice", "give each rule its own name")
        seen.add(entry[name])
    return list(entries)


def _entries(kind: type[Entry], data: Mapping[str, Any], key: str, where: str) -> tuple[Entry, ...]:
    out = []
    for entry in _checked(kind, data, key, where):
        values = {name: tuple(value) if isinstance(value, list) else value for name, value in entry.items()}
        if "options" in values:
            values["options"] = _options(values["options"], f"{where}, {key}")
        out.append(kind(**values))
    return tuple(out)


def _options(names: Sequence[str], where: str) -> tuple[Option, ...]:
    unknown = [name for name in names if name not in tuple(Option)]
    if unknown:
        raise RuleError(where, f"unknown option {unknown[0]!r}", f"use {', '.join(Option)}")
    return tuple(Option(name) for name in names)
