"""Values as people read them: in the units of the job, with their uncertainty, in sensible digits."""

from __future__ import annotations

from analyzer.records import Finding
from analyzer.units import (
    KG_PER_LB,
    KG_PER_TONNE,
    LB_PER_SHORT_TON,
    M3_PER_YD3,
    MM2_PER_FT2,
    MM2_PER_M2,
    MM_PER_FT,
    MM_PER_M,
    format_length,
    format_width,
)

UNKNOWN = "unknown"
NONE = "–"
_COMPARATORS = {">": "over", ">=": "at or over", "<": "under", "<=": "at or under"}
_UNITS = {"percent": "%", "times thickness": "times the thickness", "rise/run": "", "count": "", "ratio": ""}
_SHORT = 20
_BLANK = {"", "-", "–"}
# Unit of the bill: factor to the unit people order in, that unit, decimals.
_PER = {
    ("m3", "imperial"): (M3_PER_YD3, "yd³", 2),
    ("m3", "metric"): (1.0, "m³", 2),
    ("m2", "imperial"): (MM2_PER_FT2 / MM2_PER_M2, "ft²", 0),
    ("m2", "metric"): (1.0, "m²", 1),
    ("mm2", "imperial"): (MM2_PER_FT2, "ft²", 0),
    ("mm2", "metric"): (MM2_PER_M2, "m²", 1),
    ("m", "imperial"): (MM_PER_FT / MM_PER_M, "ft", 1),
    ("m", "metric"): (1.0, "m", 1),
    ("t", "imperial"): (LB_PER_SHORT_TON * KG_PER_LB / KG_PER_TONNE, "short tons", 1),
    ("t", "metric"): (1.0, "t", 1),
    ("pieces", "imperial"): (1.0, "", 0),
    ("pieces", "metric"): (1.0, "", 0),
}


def length(mm: float | None, u_mm: float | None, system: str) -> str:
    """A length with its standard uncertainty, or the word unknown."""
    if mm is None:
        return UNKNOWN
    if u_mm is None:
        return format_length(mm, system)
    return f"{format_length(mm, system)} ± {small(u_mm, system)}"


def small(u_mm: float, system: str) -> str:
    """A standard uncertainty: millimetres, or decimals of an inch where fractions would lie."""
    if system == "metric":
        return f"{u_mm:.1f} mm" if u_mm < 10 else f"{u_mm:.0f} mm"
    return format_width(u_mm, "imperial").split(" (")[0]


def place(x_mm: float, y_mm: float, system: str) -> str:
    """A place in plan, x then y."""
    return f"{format_length(x_mm, system, 4)}, {format_length(y_mm, system, 4)}"


def quantity(value: float, u: float | None, unit: str, system: str) -> str:
    """A quantity in the units people order in; a unit that is not known is printed as it is.

    A small value keeps the digits it needs: 0.6 ft² and not 1 ft².
    """
    if unit == "mm":
        return length(value, u, system)
    factor, name, digits = _PER.get((unit, system), (1.0, unit, 2))
    number = value / factor
    if 0 < abs(number) < 10 and unit not in {"pieces", "m3"}:
        digits += 1
    if 0 < abs(number) < 0.5 * 10.0**-digits:
        return f"under {10.0**-digits:.{digits}f} {name}".strip()
    text = f"{number:.{digits}f}"
    spread = "" if not u else f" ± {u / factor:.{max(digits, 1)}f}"
    return f"{text}{spread} {name}".strip()


def money(value: float, currency: str) -> str:
    """A price in whole units, thousands apart."""
    return f"{value:,.0f} {currency}"


def reading(finding: Finding) -> str:
    """Value of a finding in the limit's own unit, with its standard uncertainty."""
    if finding.value is None:
        return UNKNOWN
    return _together(_in_unit(finding.value, finding.u, finding.unit))


def limit(finding: Finding) -> str:
    """When the limit is exceeded: ``at or over 3 mm``."""
    bound = finding.limit
    if bound.unit == "answer":
        return "yes" if bound.comparator.startswith(">") else "no"
    return f"{_COMPARATORS[bound.comparator]} {_together(_in_unit(bound.value, None, bound.unit))}"


def source(finding: Finding) -> str:
    """Where a limit stands, how it was checked, and its name in the table of limits."""
    bound = finding.limit
    cited = ", ".join(part for part in (bound.source, bound.edition, bound.section) if part not in _BLANK)
    checked = "" if str(bound.checked) in cited else str(bound.checked)
    applies = "" if finding.binding else "written for other slabs"
    told = "; ".join(part for part in (checked, applies) if part)
    local = "local limit; " if bound.local else ""
    return f"{local}{cited}{f' ({told})' if told else ''}; {bound.limit_id}"


def words(name: str) -> str:
    """A quantity's name as words: ``door_weather_step`` is door weather step."""
    return name.replace("_", " ")


def sentence(text: str) -> str:
    """Text with a capital and a full stop."""
    text = text.strip()
    if not text:
        return text
    text = text[0].upper() + text[1:]
    return text if text[-1] in ".!?" else text + "."


def _together(text: str) -> str:
    """A short value that must not be broken over two lines."""
    return text.replace(" ", "\u00a0") if len(text) <= _SHORT else text


def _in_unit(value: float, u: float | None, unit: str) -> str:
    if unit == "answer":
        return "yes" if value > 0.5 else "no"
    if unit == "fraction":
        value, u, unit = value * 100.0, None if u is None else u * 100.0, "percent"
    name = _UNITS.get(unit, unit)
    if name == "pieces" and value == 1:
        name = "piece"
    spread = f" ± {_digits(u)}" if u else ""
    return f"{_digits(value)}{spread} {name}".strip()


def _digits(value: float) -> str:
    """Two decimals, or as many as three figures need, without idle zeros: 2.08, 15, 0.004."""
    if value == 0:
        return "0"
    if abs(value) >= 100:
        return f"{value:.0f}"
    if abs(value) >= 0.1:
        return f"{value:.2f}".rstrip("0").rstrip(".")
    return f"{value:.2g}"
