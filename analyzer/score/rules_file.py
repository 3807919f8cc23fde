"""Reading the tables of rules: TOML, UTF-8, format 1, known keys only."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError


def read_rules(path: Path) -> tuple[dict[str, Any], str]:
    """The content of a table and the SHA-256 of its bytes.

    Raises
    ------
    RuleError
        It cannot be read, is not TOML, or has another format than 1.
    """
    try:
        raw = path.read_bytes()
        data = tomllib.loads(raw.decode("utf-8"))
    except OSError as error:
        raise RuleError(str(path), f"cannot be read ({error.strerror})", "check the path") from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RuleError(path.name, f"is not valid TOML ({error})", "correct that line") from error
    if data.get("format") != 1:
        raise RuleError(path.name, f"format is {data.get('format')!r}", "this version reads format 1")
    return data, hashlib.sha256(raw).hexdigest()


def only_keys(entry: Mapping[str, Any], allowed: set[str], where: str, *, all_of: bool = False) -> None:
    """Refuse unknown keys, and with ``all_of`` missing ones.

    Raises
    ------
    RuleError
        Naming the first such key.
    """
    unknown, missing = sorted(set(entry) - allowed), sorted(allowed - set(entry))
    if unknown:
        raise RuleError(where, f"unknown key {unknown[0]!r}", f"known keys are {', '.join(sorted(allowed))}")
    if all_of and missing:
        raise RuleError(where, f"{missing[0]} missing", "give it")
