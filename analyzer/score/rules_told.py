"""The texts of the rules in another language: the same rules, the same names to fill, other words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from analyzer.phrase_tables import ENGLISH, check_same, in_language, load_phrases, read_texts
from analyzer.score.options import DEFAULT_WORDS, PHRASES, Rules


def texts_of(rules: Rules) -> dict[str, str]:
    """Every text of the rules that a person reads, by a name: ``stop.suspended.question``."""
    out: dict[str, str] = {}
    for stop in rules.stops:
        out |= {f"stop.{stop.id}.{part}": getattr(stop, part) for part in ("question", "reason", "look")}
    out |= {f"gate.{gate.id}": gate.reason for gate in rules.gates}
    out |= {f"share.{share.id}": share.reason for share in rules.shares}
    out |= {f"criterion.{criterion.id}": criterion.says for criterion in rules.criteria}
    for ask in rules.asks.values():
        out |= {f"ask.{ask.quantity}.{part}": getattr(ask, part) for part in ("what", "why", "effort")}
    out |= {f"caution.{caution.id}": caution.text for caution in rules.cautions}
    out |= {f"clue.{name}": clue.says for name, clue in rules.causes.clues.items()}
    for cause in rules.causes.causes:
        out |= {f"cause.{cause.id}.{part}": getattr(cause, part) for part in ("name", "confirm")}
    return out


def rules_in(rules: Rules, language: str, words: Path | None = None) -> Rules:
    """The same rules told in another language; nothing that decides is touched.

    Parameters
    ----------
    rules : Rules
        In English, from :func:`analyzer.score.options.load_options`.
    language : str
    words : Path, optional
        The table of their texts in that language; the shipped one if left out.

    Raises
    ------
    RuleError
        The table lacks a text of these rules, has one too many, or fills other names.
    """
    if language == ENGLISH:
        return rules
    path = words or in_language(DEFAULT_WORDS, language)
    told, digest = read_texts(path)
    check_same(texts_of(rules), told, path.name)
    phrases = load_phrases(PHRASES, language)
    return replace(
        rules,
        stops=tuple(replace(s, **_parts(told, f"stop.{s.id}")) for s in rules.stops),
        gates=tuple(replace(g, reason=told[f"gate.{g.id}"]) for g in rules.gates),
        shares=tuple(replace(s, reason=told[f"share.{s.id}"]) for s in rules.shares),
        criteria=tuple(replace(c, says=told[f"criterion.{c.id}"]) for c in rules.criteria),
        asks={name: replace(ask, **_parts(told, f"ask.{name}")) for name, ask in rules.asks.items()},
        cautions=tuple(replace(c, text=told[f"caution.{c.id}"]) for c in rules.cautions),
        causes=replace(
            rules.causes,
            clues={
                name: replace(clue, says=told[f"clue.{name}"]) for name, clue in rules.causes.clues.items()
            },
            causes=tuple(
                replace(c, name=told[f"cause.{c.id}.name"], confirm=told[f"cause.{c.id}.confirm"])
                for c in rules.causes.causes
            ),
        ),
        phrases=phrases,
        sha256=(*rules.sha256, digest, phrases.sha256),
    )


def _parts(told: Mapping[str, str], start: str) -> dict[str, str]:
    """The texts of one rule by the name of their part."""
    return {key[len(start) + 1 :]: text for key, text in told.items() if key.startswith(f"{start}.")}
