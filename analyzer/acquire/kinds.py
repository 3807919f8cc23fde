"""Kinds of values in a field book: each reads a typed value and states the same rule as JSON Schema.

Reader and published schema come from the same objects, so that they cannot drift apart. What JSON
Schema cannot say is checked on reading only: a length that must not be zero, an impossible day,
nan, a fraction above one after the inches.
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from analyzer import units
from analyzer.acquire.synonyms import meant_word
from analyzer.errors import FieldBookError, UnitError
from analyzer.terms import Answer

Schema = dict[str, Any]
MAX_LENGTH_MM = units.MM_PER_M * 1000.0
UNKNOWN = "unknown"
_MAX_TYPED = 60

_INT = r"[0-9]+"
_NUM = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)"
_FRACTION = rf"{_INT}\s*/\s*0*[1-9][0-9]*"
_VULGAR = "[¼½¾⅛⅜⅝⅞]"
_DASH = r"\-−–"
_PART = rf"(?:[\s{_DASH}]+{_FRACTION}|[\s{_DASH}]*{_VULGAR})"
_AMOUNT = rf"(?:{_INT}{_PART}|{_FRACTION}|{_VULGAR}|{_NUM})"
_UNDER_12 = rf"(?:0*(?:1[01]|[0-9])(?:{_PART}|\.[0-9]+)?|{_FRACTION}|{_VULGAR}|\.[0-9]+)"
_FOOT_MARK = "['′’‘]"
_INCH_MARK = rf"(?:[\"″”“]|{_FOOT_MARK}{_FOOT_MARK})"
_UNIT = (
    rf"(?:[mM][mM]|[cC][mM]|[mM]|[yY][dD]|[iI][nN](?:[cC][hH](?:[eE][sS])?)?|[fF][tT]"
    rf"|[fF][oO][oO][tT]|[fF][eE][eE][tT]|{_INCH_MARK}|{_FOOT_MARK})"
)
_FEET_INCHES = (
    rf"{_INT}\s*(?:{_FOOT_MARK}|ft|foot|feet)\s*[{_DASH}]?\s*{_UNDER_12}\s*(?:{_INCH_MARK}|in|inch|inches)?"
)
_ZERO = r"0+(?:\.0+)?"
_LENGTH = rf"\s*(?:{_AMOUNT}\s*{_UNIT}|{_FEET_INCHES}|{_ZERO})\s*"
_WITHIN = rf"(?:(?:±|\+/-|\+-){_LENGTH})?"
_AREA_UNIT = "(?:ft|m|in|cm|mm)"
# Answers in any case, as on the pencil sheet. The pattern spells both cases out: JSON Schema has no flags.
_REPLIES = {
    Answer.YES: "[yY][eE][sS]",
    Answer.NO: "[nN][oO]",
    Answer.UNKNOWN: "(?:[uU][nN][kK][nN][oO][wW][nN]|[dD][oO][nN]['’]?[tT] [kK][nN][oO][wW])",
}
_NONE = frozenset({"none", "no", "nothing", "nil", "0", ""})


class Kind(Protocol):
    """What a value must look like. ``read`` raises a SlabError, ``schema`` says the same rule."""

    def read(self, raw: object, subject: str) -> Any:
        """Return the value as the records hold it; raise a SlabError naming ``subject``."""

    def schema(self) -> Schema:
        """The rule as a JSON Schema (draft 2020-12)."""


def suggestion(word: object, known: Iterable[str]) -> str | None:
    """The known word nearest to a mistyped one, if one is near (difflib)."""
    words = tuple(known)
    folded = {other.casefold(): other for other in words}
    near = difflib.get_close_matches(str(word).casefold(), folded, n=1, cutoff=0.6)
    return folded[near[0]] if near else None


def refuse(subject: str, raw: object, problem: str, remedy: str) -> FieldBookError:
    """An error about one value."""
    return FieldBookError(subject, f"{shown(raw)} {problem}", remedy, found=raw)


def shown(raw: object) -> str:
    """A value as it stands in the file, cut to a readable length."""
    text = f'"{raw}"' if isinstance(raw, str) else str(raw)
    if isinstance(raw, bool):
        text = text.lower()
    return text if len(text) <= 50 else f"{text[:47]}..."


@dataclass(frozen=True, slots=True)
class Text:
    """Free text, at least one character that is not blank."""

    max_length: int = 200

    def read(self, raw: object, subject: str) -> str:
        """Return the text without blanks at its ends."""
        if not isinstance(raw, str):
            raise refuse(subject, raw, "is not text", "put it in quotation marks")
        if not re.search(r"\S", raw):
            raise refuse(subject, raw, "is empty", "fill it in")
        if len(raw) > self.max_length:
            raise refuse(subject, raw, f"is longer than {self.max_length} characters", "shorten it")
        return raw.strip()

    def schema(self) -> Schema:
        """String with something in it."""
        return {"type": "string", "pattern": r"\S", "maxLength": self.max_length}


@dataclass(frozen=True, slots=True)
class Pattern:
    """A word of a stated form: a name, a panel, a file."""

    pattern: str
    remedy: str
    max_length: int = 60

    def read(self, raw: object, subject: str) -> str:
        """Return the word."""
        if not isinstance(raw, str):
            raise refuse(subject, raw, "is not text", "put it in quotation marks")
        if len(raw) > self.max_length or not re.fullmatch(self.pattern, raw):
            raise refuse(subject, raw, "cannot be used here", self.remedy)
        return raw

    def schema(self) -> Schema:
        """String with a pattern."""
        return {"type": "string", "pattern": self.pattern, "maxLength": self.max_length}


@dataclass(frozen=True, slots=True)
class Word:
    """One word of a list, given as an enumeration or as plain words."""

    words: Sequence[str]

    def read(self, raw: object, subject: str) -> str:
        """Return the member of the enumeration, or the word itself."""
        for word in self.words:
            if raw == word and isinstance(raw, str):
                return word
        if self._is_question and isinstance(raw, str):
            for answer, pattern in _REPLIES.items():
                if re.fullmatch(pattern, raw):
                    return answer
        listed = ", ".join(f'"{word}"' for word in self.words)
        near = meant_word(raw, self.words) or suggestion(raw, self.words) if isinstance(raw, str) else None
        remedy = f'did you mean "{near}"? The words are {listed}' if near else f"write one of {listed}"
        raise refuse(subject, raw, "is not a word that is known here", remedy)

    def schema(self) -> Schema:
        """Enumeration of strings; of answers also the other ways to write them."""
        if self._is_question:
            return {"type": "string", "pattern": f"^(?:{'|'.join(_REPLIES.values())})$"}
        return {"enum": [str(word) for word in self.words]}

    @property
    def _is_question(self) -> bool:
        return tuple(self.words) == tuple(Answer)


@dataclass(frozen=True, slots=True)
class Number:
    """A plain number within limits, for what has no unit to type."""

    minimum: float
    maximum: float
    whole: bool = False

    def read(self, raw: object, subject: str) -> float | int:
        """Return int if ``whole``, else float."""
        if isinstance(raw, bool) or not isinstance(raw, int | float):
            raise refuse(subject, raw, "is not a number", "write a plain number without quotation marks")
        if not math.isfinite(raw):
            raise refuse(subject, raw, "is not a number that can be used", "leave it out if it is not known")
        if self.whole and raw != int(raw):
            raise refuse(subject, raw, "is not a whole number", "write a whole number")
        if not self.minimum <= raw <= self.maximum:
            one = self.minimum == self.maximum
            limits = f"{self.minimum:g}" if one else f"a number from {self.minimum:g} to {self.maximum:g}"
            raise refuse(subject, raw, "is out of range", f"write {limits}")
        return int(raw) if self.whole else float(raw)

    def schema(self) -> Schema:
        """Number or integer with its limits."""
        kind = "integer" if self.whole else "number"
        return {"type": kind, "minimum": self.minimum, "maximum": self.maximum}


@dataclass(frozen=True, slots=True)
class Flag:
    """``true`` or ``false`` without quotation marks."""

    def read(self, raw: object, subject: str) -> bool:
        """Return the flag."""
        if not isinstance(raw, bool):
            raise refuse(
                subject, raw, "is neither true nor false", "write true or false, without quotation marks"
            )
        return raw

    def schema(self) -> Schema:
        """Boolean."""
        return {"type": "boolean"}


@dataclass(frozen=True, slots=True)
class Day:
    """A date as text, ``2025-04-12``; a TOML date has become text before (see ``walk``)."""

    def read(self, raw: object, subject: str) -> dt.date:
        """Return the date."""
        remedy = "write year-month-day, for example 2025-04-12"
        if isinstance(raw, str) and re.fullmatch(r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$", raw):
            try:
                return dt.date.fromisoformat(raw)
            except ValueError:
                raise refuse(subject, raw, "is not a day of the calendar", remedy) from None
        raise refuse(subject, raw, "is not a date", remedy)

    def schema(self) -> Schema:
        """String in ISO 8601 form (a TOML date turned into JSON)."""
        return {"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}


@dataclass(frozen=True, slots=True)
class Length:
    """A typed length: a :class:`~analyzer.units.Reading`, or plain millimetres if ``plain``."""

    signed: bool = False
    positive: bool = False
    plain: bool = False

    def read(self, raw: object, subject: str) -> units.Reading | float:
        """Return the reading (mm, standard uncertainty, as typed) or the millimetres.

        A bare zero needs no unit, with or without quotation marks.
        """
        if isinstance(raw, int | float) and not isinstance(raw, bool) and raw == 0:
            raw = "0"
        if not isinstance(raw, str):
            example = f'write for example "{shown(raw)} in" with its unit, in quotation marks'
            if isinstance(raw, bool) or not isinstance(raw, int | float):
                example = 'write for example "4 3/8 in" in quotation marks'
            raise UnitError(subject, f"{shown(raw)} has no unit", example, found=raw)
        if len(raw) > _MAX_TYPED:
            raise refuse(subject, raw, "is too long for a length", 'write for example "4 3/8 in"')
        reading = (
            units.Reading(units.parse_length(raw, subject, signed=self.signed), None, raw)
            if self.plain
            else units.parse_reading(raw, subject, signed=self.signed)
        )
        if self.positive and reading.mm <= 0:
            raise refuse(subject, raw, "is zero", 'leave it out or write "unknown" if it was not measured')
        if abs(reading.mm) > MAX_LENGTH_MM:
            raise refuse(subject, raw, "is more than a kilometre", "check the unit")
        return reading.mm if self.plain else reading

    def schema(self) -> Schema:
        """String with the pattern of a length, or the number 0 where a length may be zero."""
        sign = rf"\s*[{_DASH}]?" if self.signed else ""
        within = "" if self.plain else _WITHIN
        rule = {"pattern": f"^{sign}{_LENGTH}{within}$", "maxLength": _MAX_TYPED}
        if self.positive:
            return {"type": "string", **rule}
        return {"type": ["string", "number"], **rule, "minimum": 0, "maximum": 0}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A typed area, slope, volume or share of one: read by a function of :mod:`analyzer.units`."""

    what: str

    def read(self, raw: object, subject: str) -> float:
        """Return mm2, rise over run, m3 or a fraction of one."""
        if not isinstance(raw, str) or len(raw) > _MAX_TYPED:
            raise refuse(
                subject, raw, f"is not {self.what} with its unit", f'write for example "{self.example}"'
            )
        value = {
            "an area": units.parse_area,
            "a slope": units.parse_slope,
            "a volume": units.parse_volume,
            "a percentage": units.parse_percent,
        }[self.what](raw, subject)
        if value > MAX_LENGTH_MM**2:
            raise refuse(subject, raw, "is out of all proportion", "check the unit")
        return value

    @property
    def example(self) -> str:
        """How it is typed."""
        return {
            "an area": "12 ft2",
            "a slope": "1/4 in/ft",
            "a volume": "0.25 yd3",
            "a percentage": "8 %",
        }[self.what]

    def schema(self) -> Schema:
        """String with the pattern of the quantity."""
        pattern = {
            "an area": rf"{_NUM}\s*(?:sq\.?\s*{_AREA_UNIT}|{_AREA_UNIT}\s*(?:2|²|\^2))",
            "a slope": rf"(?:{_NUM}\s*%|{_NUM}\s*:\s*{_NUM}|{_LENGTH}(?:/|per)\s*(?:ft|foot|m))",
            "a volume": rf"{_NUM}\s*(?:cu\.?\s*(?:yd|ft|m)|(?:yd|ft|m)\s*(?:3|³|\^3))",
            "a percentage": rf"{_NUM}\s*%",
        }[self.what]
        return {"type": "string", "pattern": rf"^\s*{pattern}\s*$", "maxLength": _MAX_TYPED}


@dataclass(frozen=True, slots=True)
class ListOf:
    """A list of values of one kind."""

    item: Kind
    minimum: int = 0
    maximum: int = 1000
    example: str = ""

    def read(self, raw: object, subject: str) -> tuple[Any, ...]:
        """Return a tuple of the items."""
        word = raw[0] if isinstance(raw, list) and len(raw) == 1 else raw
        if self.minimum == 0 and isinstance(word, str) and word.strip().casefold() in _NONE:
            raise refuse(subject, word, "is not one of them", "write [] if you looked and found none")
        if not isinstance(raw, list):
            raise refuse(subject, raw, "is not a list", f"write for example {self.example}")
        if not self.minimum <= len(raw) <= self.maximum:
            exact = self.minimum == self.maximum
            wanted = f"{self.minimum}" if exact else f"{self.minimum} to {self.maximum}"
            problem = f"has {len(raw)} values instead of {wanted}"
            raise refuse(subject, raw, problem, f"write for example {self.example}")
        return tuple(self.item.read(value, subject) for value in raw)

    def schema(self) -> Schema:
        """Array with its limits."""
        return {
            "type": "array",
            "items": self.item.schema(),
            "minItems": self.minimum,
            "maxItems": self.maximum,
        }


COORDINATE = Length(signed=True, plain=True)
POINT = ListOf(COORDINATE, 2, 2, '["2 ft", "3 ft 6 in"]')
_PIXELS = ListOf(Number(0, 100_000), 2, 2, "[812, 1440]")
CORNER_NAME = Pattern(
    "^[A-Za-z0-9][A-Za-z0-9_.]*$", "use letters, digits, dots and underscores, at most 20 characters", 20
)


@dataclass(frozen=True, slots=True)
class Place:
    """A point in plan, ``[x, y]``, or the name of a corner; names are looked up after reading."""

    def read(self, raw: object, subject: str) -> tuple[float, float] | str:
        """Return (x_mm, y_mm) or the corner's name."""
        if isinstance(raw, str):
            if re.fullmatch(CORNER_NAME.pattern, raw) and len(raw) <= CORNER_NAME.max_length:
                return raw
            raise refuse(
                subject, raw, "is neither a point nor a corner", f'write for example {POINT.example} or "A"'
            )
        x_mm, y_mm = POINT.read(raw, subject)
        return x_mm, y_mm

    def schema(self) -> Schema:
        """Array of two lengths, or a corner's name."""
        return {"anyOf": [POINT.schema(), CORNER_NAME.schema()]}


@dataclass(frozen=True, slots=True)
class PicturePoint:
    """``[x, y]`` on the upright photo as viewers show it; turned to (row, col) here."""

    def read(self, raw: object, subject: str) -> tuple[float, float]:
        """Return (row_px, col_px)."""
        column, row = _PIXELS.read(raw, subject)
        return row, column

    def schema(self) -> Schema:
        """Array of two numbers."""
        return _PIXELS.schema()
