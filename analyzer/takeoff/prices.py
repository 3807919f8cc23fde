"""Options side by side in money, from a price book of the firm's own (TOML or CSV)."""

from __future__ import annotations

import csv
import io
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from analyzer.errors import RuleError
from analyzer.records import Bill, OptionPrice, PriceLine, Quantity
from analyzer.terms import Option
from analyzer.units import (
    KG_PER_LB,
    KG_PER_TONNE,
    LB_PER_SHORT_TON,
    M3_PER_YD3,
    MM2_PER_FT2,
    MM2_PER_M2,
    MM_PER_FT,
    MM_PER_M,
)

DEFAULT_PATH = Path(__file__).with_name("prices.toml")
# How many of the bill's units one unit of the book is, and which unit of the bill that is.
_UNITS: Mapping[str, tuple[str, float]] = {
    "m3": ("m3", 1.0),
    "yd3": ("m3", M3_PER_YD3),
    "m2": ("m2", 1.0),
    "ft2": ("m2", MM2_PER_FT2 / MM2_PER_M2),
    "m": ("m", 1.0),
    "ft": ("m", MM_PER_FT / MM_PER_M),
    "t": ("t", 1.0),
    "ton": ("t", LB_PER_SHORT_TON * KG_PER_LB / KG_PER_TONNE),
    "pieces": ("pieces", 1.0),
    "job": ("job", 1.0),
}
_COLUMNS = ("item", "unit", "low", "likely", "high")


@dataclass(frozen=True, slots=True)
class Price:
    """Low, likely and high price of one unit; ``options`` empty = all."""

    item: str
    unit: str
    low: float
    likely: float
    high: float
    options: frozenset[Option]


@dataclass(frozen=True, slots=True)
class PriceBook:
    """A price book. ``not_priced`` are quantities that cost nothing by themselves."""

    title: str
    currency: str
    invented: bool
    prices: tuple[Price, ...]
    not_priced: frozenset[str] = frozenset()


def load_prices(path: Path = DEFAULT_PATH) -> PriceBook:
    """Read a price book.

    TOML as the shipped one, or CSV with the columns item, unit, low, likely, high and, if wanted,
    options (separated by semicolons) and currency.

    Raises
    ------
    RuleError
        The file cannot be read, has an unknown or missing key, unit or option, a negative price,
        or low, likely and high out of order.
    """
    name = path.name
    try:
        text = path.read_text(encoding="utf-8-sig")
        data = _from_csv(text, name) if path.suffix.lower() == ".csv" else tomllib.loads(text)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise RuleError(name, f"cannot be read ({error})", "give a TOML or CSV price book") from error
    for key in sorted(set(data) - {"title", "currency", "invented", "not_priced", "price"}):
        raise RuleError(name, f"unknown key {key!r}", "compare with the shipped price book")
    prices = tuple(_price(entry, name) for entry in data.get("price", []))
    if not prices:
        raise RuleError(name, "holds no price", "add at least one [[price]]")
    return PriceBook(
        str(data.get("title", name)),
        str(data.get("currency", "money")),
        bool(data.get("invented", False)),
        prices,
        frozenset(data.get("not_priced", ())),
    )


def price_bill(bill: Bill, book: PriceBook) -> Bill:
    """The bill with a price for each option that has quantities.

    Low takes each price low and its quantity one standard uncertainty short, high the opposite.
    """
    options = list(dict.fromkeys(q.option for q in bill.quantities))
    return replace(bill, prices=tuple(_price_option(o, bill, book) for o in options))


def _price_option(option: Option, bill: Bill, book: PriceBook) -> OptionPrice:
    own = [q for q in bill.quantities if q.option is option]
    lines: list[PriceLine] = []
    unpriced = []
    for q in own:
        price = next((p for p in book.prices if _fits(p, q, option)), None)
        if price is not None:
            lines.append(_line(price, q))
        elif q.item not in book.not_priced:
            unpriced.append(q.item)
    for p in book.prices:
        if p.unit == "job" and (not p.options or option in p.options):
            lines.append(PriceLine(p.item, 1.0, "job", p.low, p.likely, p.high))
    drivers = sorted((ln for ln in lines if ln.high > ln.low), key=lambda ln: ln.low - ln.high)
    total = sum(ln.high - ln.low for ln in drivers)
    spread = tuple(f"{ln.item}: {(ln.high - ln.low) / total:.0%} of the spread" for ln in drivers[:3])
    return OptionPrice(
        option,
        book.currency,
        tuple(lines),
        sum(ln.low for ln in lines),
        sum(ln.likely for ln in lines),
        sum(ln.high for ln in lines),
        spread,
        tuple(unpriced),
        book.title,
        book.invented,
    )


def _fits(price: Price, quantity: Quantity, option: Option) -> bool:
    return (
        price.item == quantity.item
        and _UNITS[price.unit][0] == quantity.unit
        and (not price.options or option in price.options)
    )


def _line(price: Price, quantity: Quantity) -> PriceLine:
    factor = _UNITS[price.unit][1]
    amount, u = quantity.value / factor, (quantity.u or 0.0) / factor
    return PriceLine(
        quantity.item,
        amount,
        price.unit,
        price.low * max(0.0, amount - u),
        price.likely * amount,
        price.high * (amount + u),
    )


def _from_csv(text: str, name: str) -> dict[str, Any]:
    rows = csv.DictReader(io.StringIO(text))
    columns = set(rows.fieldnames or ())
    for column in sorted(set(_COLUMNS) - columns):
        raise RuleError(name, f"has no column {column!r}", f"use the columns {', '.join(_COLUMNS)}")
    for column in sorted(columns - {*_COLUMNS, "options", "currency"}):
        raise RuleError(name, f"unknown column {column!r}", f"use the columns {', '.join(_COLUMNS)}")
    data: dict[str, Any] = {"title": name, "price": []}
    for row in rows:
        entry: dict[str, Any] = {k: row[k] for k in _COLUMNS}
        if row.get("currency"):
            data["currency"] = row["currency"]
        if row.get("options"):
            entry["options"] = [o.strip() for o in str(row["options"]).split(";")]
        data["price"].append(entry)
    return data


def _price(entry: dict[str, Any], name: str) -> Price:
    where = f"{name}, price of {entry.get('item', '?')!r}"
    for key in sorted(set(entry) - {*_COLUMNS, "options"}):
        raise RuleError(where, f"unknown key {key!r}", f"use {', '.join(_COLUMNS)} and options")
    for key in _COLUMNS:
        if entry.get(key) in (None, ""):
            raise RuleError(where, f"has no {key}", "add it")
    if entry["unit"] not in _UNITS:
        raise RuleError(where, f"unknown unit {entry['unit']!r}", f"use one of {', '.join(_UNITS)}")
    try:
        low, likely, high = (float(entry[k]) for k in ("low", "likely", "high"))
        options = frozenset(Option(o) for o in entry.get("options", ()))
    except (TypeError, ValueError) as error:
        raise RuleError(where, f"{error}", "write plain numbers and the options' names") from error
    if not 0 <= low <= likely <= high < float("inf"):
        raise RuleError(where, "low, likely and high are not in order", "write 0 <= low <= likely <= high")
    return Price(str(entry["item"]), str(entry["unit"]), low, likely, high, options)
