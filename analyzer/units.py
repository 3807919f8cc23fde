"""The only place with conversion factors, and the only reader of typed lengths.

Inside the package every length is in millimetres. People type and read feet, inches and
fractions, or metric. Factors: 1 in = 25.4 mm exactly (international inch); 1 yd3 = 27 ft3;
1 lb = 0.45359237 kg exactly.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from analyzer.errors import UnitError

MM_PER_IN = 25.4
MM_PER_FT = 304.8  # 12 in exactly; the product of the two doubles is not
MM_PER_M = 1000.0
MM2_PER_M2 = MM_PER_M**2
MM2_PER_FT2 = MM_PER_FT**2
MM3_PER_M3 = MM_PER_M**3
M3_PER_FT3 = MM_PER_FT**3 / MM3_PER_M3
M3_PER_YD3 = 27 * M3_PER_FT3
KG_PER_LB = 0.45359237
KG_PER_TONNE = 1000.0
LB_PER_SHORT_TON = 2000.0
KG_M3_PER_LB_FT3 = KG_PER_LB / M3_PER_FT3
KPA_PER_PSI = 6.894757
PERCENT_PER_IN_PER_FT = 100.0 / 12.0

_UNIT_MM: dict[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": MM_PER_M,
    "in": MM_PER_IN,
    "inch": MM_PER_IN,
    "inches": MM_PER_IN,
    '"': MM_PER_IN,
    "ft": MM_PER_FT,
    "foot": MM_PER_FT,
    "feet": MM_PER_FT,
    "'": MM_PER_FT,
    "yd": 3 * MM_PER_FT,
}
_SINGLE_CHARACTERS = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "−": "-", "–": "-", "\u00a0": " "}
)
_VULGAR = {"¼": "1/4", "½": "1/2", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_NUMBER = r"\d+(?:\.\d+)?|\.\d+"
_AMOUNT = (
    rf"(?:(?P<{{p}}whole>{_NUMBER})(?:[\s-]+(?P<{{p}}num>\d+)\s*/\s*(?P<{{p}}den>\d+))?"
    r"|(?P<{p}fnum>\d+)\s*/\s*(?P<{p}fden>\d+))"
)
_SIMPLE = re.compile(rf"^\s*{_AMOUNT.format(p='a')}\s*(?P<unit>[A-Za-z'\"]+|)\s*$")
_FEET_INCHES = re.compile(
    rf"^\s*(?P<feet>\d+)\s*(?:'|ft|foot|feet)\s*-?\s*{_AMOUNT.format(p='b')}\s*(?:\"|in|inch|inches)?\s*$"
)
_ZERO = re.compile(r"0+(?:\.0+)?")  # the one length that is the same in every unit
_REMEDY = "write a number with its unit, for example 4 3/8 in, 3' 6-1/2\", 95 mm or 1.2 m"


@dataclass(frozen=True, slots=True)
class Reading:
    """A length as it was typed, with the half-width the person gave for it, if any.

    Attributes
    ----------
    mm : float
        The value in millimetres.
    u_mm : float or None
        Standard uncertainty; a typed ``+- a`` is read as a rectangular distribution of
        half-width a, so u = a / sqrt(3) (JCGM 100:2008, 4.3.7, from memory). None if not given.
    typed : str
        The text as typed, kept as evidence.
    """

    mm: float
    u_mm: float | None
    typed: str


def parse_length(text: str, subject: str = "length", *, signed: bool = False) -> float:
    """Read a typed length and return millimetres.

    Parameters
    ----------
    text : str
        ``3' 6-1/2"``, ``10 1/2 in``, ``3 ft 6 in``, ``3/4 in``, ``1.25 m``, ``250 mm``; a bare ``0``.
    subject : str
        What and where, for the error sentence.
    signed : bool
        Whether a leading minus is allowed.

    Raises
    ------
    UnitError
        No unit, unknown unit, 12 or more inches after feet, zero denominator, a negative value
        where none can be, or anything else that is not a length.
    """
    if not isinstance(text, str):
        raise UnitError(subject, f"{text!r} has no unit", _REMEDY, found=text)
    cleaned = text.translate(_SINGLE_CHARACTERS).strip()
    for sign, plain in _VULGAR.items():
        cleaned = re.sub(rf"(\d)\s*{sign}", rf"\1 {plain}", cleaned).replace(sign, plain)
    cleaned = cleaned.replace("''", '"')
    negative = cleaned.startswith("-")
    if negative:
        if not signed:
            raise UnitError(subject, f"{text!r} is negative", "a length here is zero or more", found=text)
        cleaned = cleaned[1:].strip()
    match = _FEET_INCHES.match(cleaned)
    if match:
        inches = _amount(match, "b", text, subject)
        if inches >= 12:
            raise UnitError(
                subject,
                f"{text!r} has 12 or more inches after the feet",
                "carry the inches over into feet, 5' 13\" is 6' 1\"",
                found=text,
            )
        value_mm = _tidy(int(match["feet"]) * MM_PER_FT + float(inches) * MM_PER_IN)
        return -value_mm if negative and value_mm else value_mm
    match = _SIMPLE.match(cleaned)
    if not match:
        raise UnitError(subject, f"{text!r} is not a length", _REMEDY, found=text)
    unit = match["unit"]
    if not unit and _ZERO.fullmatch(cleaned):
        return 0.0
    if not unit:
        raise UnitError(subject, f"{text!r} has no unit", _REMEDY, found=text)
    if unit not in _UNIT_MM and unit.lower() not in _UNIT_MM:
        raise UnitError(
            subject,
            f"{text!r} has the unknown unit {unit!r}",
            "use one of mm, cm, m, in, ft, yd, ' or \"",
            expected=tuple(_UNIT_MM),
            found=unit,
        )
    factor = _UNIT_MM.get(unit) or _UNIT_MM[unit.lower()]
    value_mm = _tidy(float(_amount(match, "a", text, subject)) * factor)
    return -value_mm if negative and value_mm else value_mm


def parse_reading(text: str, subject: str = "length", *, signed: bool = False) -> Reading:
    """Read a typed length with an optional ``+- half-width`` (``4 3/8 in +- 1/16 in``).

    Raises
    ------
    UnitError
        As :func:`parse_length`, for either part.
    """
    if not isinstance(text, str):
        raise UnitError(subject, f"{text!r} has no unit", _REMEDY, found=text)
    parts = re.split(r"±|\+/-|\+-", text)
    if len(parts) > 2:
        raise UnitError(subject, f"{text!r} has two uncertainties", _REMEDY, found=text)
    value_mm = parse_length(parts[0], subject, signed=signed)
    if len(parts) == 1:
        return Reading(value_mm, None, text)
    half_width_mm = parse_length(parts[1], f"{subject}, its uncertainty")
    return Reading(value_mm, half_width_mm / math.sqrt(3.0), text)


def parse_slope(text: str, subject: str = "slope") -> float:
    """Read a typed slope (``1/4 in/ft``, ``2 %``, ``1:48``) and return rise over run.

    Raises
    ------
    UnitError
        The text is none of the three forms.
    """
    if isinstance(text, str):
        cleaned = text.strip()
        if match := re.fullmatch(rf"({_NUMBER})\s*%", cleaned):
            return float(match[1]) / 100.0
        match = re.fullmatch(rf"({_NUMBER})\s*:\s*({_NUMBER})", cleaned)
        if match and float(match[2]) > 0:
            return float(match[1]) / float(match[2])
        if match := re.fullmatch(r"(.+?)\s*(?:/|per)\s*(ft|foot|m)", cleaned):
            run_mm = MM_PER_M if match[2] == "m" else MM_PER_FT
            return parse_length(match[1], subject) / run_mm
    raise UnitError(
        subject, f"{text!r} is not a slope", "write for example 1/4 in/ft, 2 % or 1:48", found=text
    )


def parse_area(text: str, subject: str = "area") -> float:
    """Read a typed area (``12 ft2``, ``12 sq ft``, ``1.5 m2``, ``300 in2``); returns mm2.

    Raises
    ------
    UnitError
        The text is not an area, or is negative.
    """
    factors = {"ft": MM2_PER_FT2, "m": MM2_PER_M2, "in": MM_PER_IN**2, "cm": 100.0, "mm": 1.0}
    if isinstance(text, str):
        match = re.fullmatch(
            rf"\s*({_NUMBER})\s*(?:sq\.?\s*(ft|m|in|cm|mm)|(ft|m|in|cm|mm)\s*(?:2|²|\^2))\s*", text
        )
        if match:
            return float(match[1]) * factors[match[2] or match[3]]
    raise UnitError(subject, f"{text!r} is not an area", "write for example 12 ft2 or 1.5 m2", found=text)


def parse_volume(text: str, subject: str = "volume") -> float:
    """Read a typed volume (``0.25 yd3``, ``1 cu yd``, ``0.1 m3``, ``3 ft3``); returns m3.

    Raises
    ------
    UnitError
        The text is not a volume, or is negative.
    """
    factors = {"yd": M3_PER_YD3, "ft": M3_PER_FT3, "m": 1.0}
    if isinstance(text, str):
        match = re.fullmatch(rf"\s*({_NUMBER})\s*(?:cu\.?\s*(yd|ft|m)|(yd|ft|m)\s*(?:3|³|\^3))\s*", text)
        if match:
            return float(match[1]) * factors[match[2] or match[3]]
    raise UnitError(subject, f"{text!r} is not a volume", "write for example 0.25 yd3 or 0.1 m3", found=text)


def parse_percent(text: str, subject: str = "percentage") -> float:
    """Read a typed percentage (``8 %``); returns it as a fraction of one.

    Raises
    ------
    UnitError
        The text is not a percentage, or is negative.
    """
    if isinstance(text, str) and (match := re.fullmatch(rf"\s*({_NUMBER})\s*%\s*", text)):
        return float(match[1]) / 100.0
    raise UnitError(subject, f"{text!r} is not a percentage", "write for example 8 %", found=text)


def from_mm(mm: float, unit: str) -> float:
    """A length in millimetres as a number of ``unit`` (mm, cm, m, in, ft, yd).

    Raises
    ------
    UnitError
        The unit is none of these.
    """
    if unit not in _UNIT_MM:
        raise UnitError("length", f"unknown unit {unit!r}", "use mm, cm, m, in, ft or yd", found=unit)
    return mm / _UNIT_MM[unit]


def from_slope(slope: float, unit: str) -> float:
    """A slope (rise over run) as a number of ``unit``: ``percent``, ``in/ft`` or ``rise/run``.

    Raises
    ------
    UnitError
        The unit is none of the three.
    """
    factors = {"percent": 100.0, "in/ft": MM_PER_FT / MM_PER_IN, "rise/run": 1.0}
    if unit not in factors:
        raise UnitError("slope", f"unknown unit {unit!r}", "use percent, in/ft or rise/run", found=unit)
    return slope * factors[unit]


def format_length(mm: float, system: str = "imperial", denominator: int = 16) -> str:
    """Write a length for people: ``3' 6-1/2"`` to the nearest 1/``denominator`` in, or mm / m.

    Parameters
    ----------
    mm : float
        Value in millimetres, may be negative.
    system : str
        ``imperial`` or ``metric``.
    denominator : int
        Fraction of an inch that is still shown; a power of two.
    """
    sign = "-" if mm < 0 else ""
    if system == "metric":
        return f"{mm / MM_PER_M:.2f} m" if abs(mm) >= 3000 else f"{round(mm)} mm"
    steps = round(abs(mm) / MM_PER_IN * denominator)
    if steps == 0:
        return '0"'
    feet, rest = divmod(steps, 12 * denominator)
    whole, part = divmod(rest, denominator)
    fraction = Fraction(part, denominator)
    inches = f"{whole}-{fraction}" if whole and part else (f"{fraction}" if part else f"{whole}")
    if not feet:
        return f'{sign}{inches}"'
    return f"{sign}{feet}' {inches}\"" if rest else f"{sign}{feet}'"


def format_width(mm: float, system: str = "imperial") -> str:
    """Write a crack width: two decimals of a millimetre with inches beside it in imperial jobs."""
    if system == "metric":
        return f"{mm:.1f} mm"
    return f"{mm / MM_PER_IN:.2f} in ({mm:.1f} mm)"


def format_area(mm2: float, system: str = "imperial") -> str:
    """Write an area in square feet or square metres."""
    if system == "metric":
        return f"{mm2 / MM2_PER_M2:.1f} m\u00b2"
    return f"{mm2 / MM2_PER_FT2:.0f} ft\u00b2"


def format_volume(m3: float, system: str = "imperial") -> str:
    """Write a volume in cubic yards or cubic metres."""
    if system == "metric":
        return f"{m3:.2f} m\u00b3"
    return f"{m3 / M3_PER_YD3:.2f} yd\u00b3"


def format_slope(slope: float, system: str = "imperial") -> str:
    """Write a slope in percent, with inches per foot beside it in imperial jobs."""
    if system == "metric":
        return f"{slope * 100:.1f} %"
    return f"{slope * 100:.1f} % ({slope * 12:.2f} in/ft)"


def _tidy(mm: float) -> float:
    """Without the noise of binary fractions: 9 mm and not 8.999999999999998."""
    return round(mm, 9)


def _amount(match: re.Match[str], prefix: str, text: str, subject: str) -> Fraction:
    """Whole number with an optional fraction, from the named groups of one pattern."""
    num = match[f"{prefix}num"] or match[f"{prefix}fnum"]
    den = match[f"{prefix}den"] or match[f"{prefix}fden"]
    whole = match[f"{prefix}whole"]
    if den is not None and int(den) == 0:
        raise UnitError(subject, f"{text!r} divides by zero", _REMEDY, found=text)
    if num and whole and "." in whole:
        raise UnitError(subject, f"{text!r} mixes decimals and a fraction", _REMEDY, found=text)
    value = Fraction(whole) if whole else Fraction(0)
    return value + (Fraction(int(num), int(den)) if num else 0)
