"""Sentences for people as data: one table of templates for each language, all with the same keys.

A table ``phrases.toml`` is English; ``phrases.es.toml`` beside it is Spanish. Keys of nested
tables are joined with a point (``kind.door sill``). A template holds ``{names}`` that the code
fills; every language fills the same names.
"""

from __future__ import annotations

import hashlib
import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError

ENGLISH, SPANISH = "en", "es"
LANGUAGES = (ENGLISH, SPANISH)


@dataclass(frozen=True, slots=True)
class Phrases:
    """The templates of one table in one language, and the SHA-256 of its file."""

    language: str
    texts: Mapping[str, str]
    sha256: tuple[str, str]

    def __call__(self, phrase: str, **values: object) -> str:
        """The template of this key with its names filled.

        Raises
        ------
        KeyError
            Unknown key, or a name without a value.
        """
        return self.texts[phrase].format(**values)

    def word(self, group: str, name: str) -> str:
        """The word for a name of a group ("kind", "door sill"); a name without one stands as it is."""
        return self.texts.get(f"{group}.{name}", name)

    def of(self, group: str) -> Mapping[str, str]:
        """All templates of a group, by the rest of their key."""
        start = f"{group}."
        return {key[len(start) :]: text for key, text in self.texts.items() if key.startswith(start)}


@cache
def load_phrases(path: Path, language: str = ENGLISH) -> Phrases:
    """Read a table in one language.

    Parameters
    ----------
    path : Path
        The English table; another language lies beside it.
    language : str
        One of ``LANGUAGES``.

    Raises
    ------
    RuleError
        Unreadable, another format than 1, or keys or names that differ from the English table.
    """
    english, digest = read_texts(path)
    if language == ENGLISH:
        return Phrases(language, english, digest)
    beside = in_language(path, language)
    texts, digest = read_texts(beside)
    check_same(english, texts, beside.name)
    return Phrases(language, texts, digest)


def in_language(path: Path, language: str) -> Path:
    """Where the table of another language lies.

    Raises
    ------
    RuleError
        The language is not known.
    """
    if language not in LANGUAGES:
        raise RuleError(path.name, f"no language {language!r}", f"use {', '.join(LANGUAGES)}")
    return path if language == ENGLISH else path.with_suffix(f".{language}{path.suffix}")


def read_texts(path: Path) -> tuple[dict[str, str], tuple[str, str]]:
    """All texts of a table by their joined keys, with (file name, SHA-256).

    Raises
    ------
    RuleError
        It cannot be read, is not TOML, has another format than 1, or holds something that is no text.
    """
    try:
        raw = path.read_bytes()
        data = tomllib.loads(raw.decode("utf-8"))
    except OSError as error:
        raise RuleError(str(path), f"cannot be read ({error.strerror})", "check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RuleError(path.name, f"is not valid TOML ({error})", "correct that line") from error
    if data.pop("format", None) != 1:
        raise RuleError(path.name, "has another format than 1", "this version reads format 1")
    return _flat(data, "", path.name), (path.name, hashlib.sha256(raw).hexdigest())


def check_same(english: Mapping[str, str], other: Mapping[str, str], where: str) -> None:
    """Refuse a language that lacks a text, has one too many, or fills other names.

    Raises
    ------
    RuleError
        Naming the first such key.
    """
    for key in sorted(set(english) - set(other)):
        raise RuleError(where, f"{key!r} is missing", "give every text in every language")
    for key in sorted(set(other) - set(english)):
        raise RuleError(where, f"unknown text {key!r}", "the English table has none of that name")
    for key, text in english.items():
        if names_in(text) != names_in(other[key]):
            wanted = ", ".join(sorted(names_in(text))) or "none"
            raise RuleError(where, f"{key!r} does not fill the same names", f"it fills: {wanted}")


def names_in(template: str) -> frozenset[str]:
    """The names that a template fills."""
    return frozenset(name for _, name, _, _ in string.Formatter().parse(template) if name)


def _flat(data: Mapping[str, Any], start: str, where: str) -> dict[str, str]:
    out: dict[str, str] = {}
    for key, value in data.items():
        if isinstance(value, str):
            out[start + key] = value
        elif isinstance(value, dict):
            out |= _flat(value, f"{start}{key}.", where)
        else:
            raise RuleError(where, f"{start + key!r} is no text", "put it in quotes")
    return out
