"""Field books as text: tables with their comments, and readings as a person writes them down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from analyzer.units import MM_PER_FT, MM_PER_IN

Value = str | bool | int | float | Sequence["Value"]


@dataclass(frozen=True, slots=True)
class Table:
    """One TOML table: ``[name]``, or ``[[name]]`` if ``many``; ``comment`` is written above it."""

    name: str
    values: dict[str, Value]
    many: bool = True
    comment: str = ""


def to_toml(tables: Sequence[Table], head: str) -> str:
    """The field book as TOML text, ``head`` as comment on top."""
    lines = [f"# {line}".rstrip() for line in head.splitlines()] + ["", "schema = 1"]
    last = ""
    for table in tables:
        if not (table.many and table.name == last) or table.comment:
            lines.append("")
        lines += [f"# {line}" for line in table.comment.splitlines()]
        lines.append(f"[[{table.name}]]" if table.many else f"[{table.name}]")
        lines += [f"{key} = {_value(value)}" for key, value in table.values.items()]
        last = table.name
    return "\n".join(lines) + "\n"


def _value(value: Value) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        if "\\" in value:
            raise ValueError(f"{value!r}: a backslash has no place in a field book")
        quote = "'" if '"' in value else '"'
        return f"{quote}{value}{quote}"
    if isinstance(value, int | float):
        return f"{value:g}" if isinstance(value, float) else str(value)
    return "[" + ", ".join(_value(item) for item in value) + "]"


def day(text: str) -> Value:
    """A date; the reader takes it as text as well as a TOML date."""
    return text


def inches(mm: float, denominator: int = 16) -> str:
    """A length in inches and fractions, as read on a tape: ``41 3/8 in``."""
    parts = round(abs(mm) / MM_PER_IN * denominator)
    whole, rest = divmod(parts, denominator)
    fraction = Fraction(rest, denominator)
    text = f"{whole} {fraction}" if whole and rest else f"{fraction if rest else whole}"
    return f"{'-' if mm < 0 and parts else ''}{text} in"


def feet(mm: float, denominator: int = 4) -> str:
    """A length in feet, inches and fractions: ``9 ft 5 1/4 in``."""
    parts = round(abs(mm) / MM_PER_IN * denominator)
    whole, rest = divmod(parts, 12 * denominator)
    sign = "-" if mm < 0 and parts else ""
    if not rest:
        return f"{sign}{whole} ft"
    tail = inches(rest * MM_PER_IN / denominator, denominator)
    return f"{sign}{whole} ft {tail}" if whole else f"{sign}{tail}"


def millimetres(mm: float, step: float = 1.0) -> str:
    """A length in whole millimetres, or in steps of ``step``."""
    return f"{round(mm / step) * step:g} mm"


def place_ft(x_mm: float, y_mm: float) -> list[Value]:
    """A plan point in feet and inches, to 1/4 in."""
    return [feet(x_mm), feet(y_mm)]


def place_m(x_mm: float, y_mm: float) -> list[Value]:
    """A plan point in millimetres, to 5 mm."""
    return [millimetres(x_mm, 5.0), millimetres(y_mm, 5.0)]


def ft(number: float, inch: float = 0.0) -> float:
    """Feet and inches in millimetres."""
    return number * MM_PER_FT + inch * MM_PER_IN
