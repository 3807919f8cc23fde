"""Records to JSON and back, for ``record.json``.

Every field keeps its name, and the name carries the unit (``width_mm`` beside ``width_u_mm``).
The file is versioned (``schema``); a file of a newer version is refused, not guessed at.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import enum
import json
import types
import typing
from typing import Any

import numpy as np
import numpy.typing as npt

from analyzer.errors import VerifyError
from analyzer.records import JobRecord

RECORD_SCHEMA = 1
_ARRAY: Any = npt.NDArray


def plain(value: Any) -> Any:
    """Turn records, enums, dates, arrays and tuples into what JSON holds.

    Raises
    ------
    TypeError
        A value of a kind that no record should hold.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, enum.Enum):
        return value.value
    if isinstance(value, np.ndarray):
        return value.tolist()
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, dt.date | dt.datetime):
        return value.isoformat()
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, float | int | str | bool) or value is None:
        return value
    raise TypeError(f"a record holds a {type(value).__name__}, which JSON cannot")


def record_to_json(record: JobRecord) -> str:
    """The text of ``record.json``: sorted by the order of the flow, indented, no NaN.

    Raises
    ------
    ValueError
        A number is nan or infinite: unknown is None in a record, never nan.
    """
    return json.dumps(
        {"schema": RECORD_SCHEMA, **plain(record)}, indent=1, allow_nan=False, ensure_ascii=False
    )


def record_from_json(text: str, source: str = "record.json") -> JobRecord:
    """Read ``record.json`` back into records.

    Raises
    ------
    VerifyError
        Not JSON, another schema version, or fields that do not fit the records.
    """
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise VerifyError(source, f"is not JSON ({error})", "restore it from a backup") from error
    found = data.pop("schema", None) if isinstance(data, dict) else None
    if found != RECORD_SCHEMA:
        raise VerifyError(
            source,
            f"has schema version {found}, this program reads version {RECORD_SCHEMA}",
            "read it with the version of the program that is named in it",
            expected=RECORD_SCHEMA,
            found=found,
        )
    try:
        record: JobRecord = _build(JobRecord, data)
    except (TypeError, KeyError, ValueError) as error:
        raise VerifyError(source, f"does not fit the record ({error})", "restore it from a backup") from error
    return record


def _build(kind: Any, data: Any) -> Any:
    """Rebuild ``kind`` from plain data by its type hints."""
    origin, arguments = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        if data is None:
            return None
        (inner,) = [a for a in arguments if a is not type(None)]
        return _build(inner, data)
    if origin is tuple:
        if len(arguments) == 2 and arguments[1] is Ellipsis:
            return tuple(_build(arguments[0], item) for item in data)
        return tuple(_build(a, item) for a, item in zip(arguments, data, strict=True))
    if origin is np.ndarray:
        return np.asarray(data, dtype=typing.get_args(arguments[1])[0])
    if origin is _ARRAY:  # NumPy 2.5 and newer keep the alias itself
        return np.asarray(data, dtype=arguments[0])
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        hints = typing.get_type_hints(kind)
        known = {f.name for f in dataclasses.fields(kind)}
        unknown = set(data) - known
        if unknown:
            raise KeyError(f"{kind.__name__} has no {sorted(unknown)}")
        return kind(**{name: _build(hints[name], value) for name, value in data.items()})
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return kind(data)
    if kind is dt.date:
        return dt.date.fromisoformat(data)
    if kind is dt.datetime:
        return dt.datetime.fromisoformat(data)
    if kind is float and isinstance(data, int | float) and not isinstance(data, bool):
        return float(data)
    if isinstance(kind, type) and isinstance(data, kind):
        return data
    raise TypeError(f"expected {kind}, found {data!r}")
