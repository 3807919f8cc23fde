"""Everyday words for those of the form, read from ``synonyms.toml``: only ever for "did you mean"."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

_FILE = Path(__file__).with_name("synonyms.toml")


@cache
def _tables() -> dict[str, Any]:
    return tomllib.loads(_FILE.read_text("utf-8"))


def meant_key(table: str, word: str, free: Iterable[str]) -> str | None:
    """The key of ``table`` that people mean by ``word``, if it is one of the keys still ``free``.

    Raises
    ------
    Nothing. Source of the words: common practice, no source.
    """
    meant = _tables()["keys"].get(table, {}).get(word.casefold(), ())
    still = set(free)
    return next((key for key in meant if key in still), None)


def meant_word(word: str, known: Iterable[str]) -> str | None:
    """The word of a list that people mean by ``word``, if it is one of the ``known``.

    Raises
    ------
    Nothing. Source of the words: common practice, no source.
    """
    meant = _tables()["words"].get(" ".join(word.casefold().split()), ())
    listed = {str(other) for other in known}
    return next((other for other in meant if other in listed), None)
