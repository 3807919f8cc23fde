"""Quantities, order, slip, day's list and prices: the estimator's part alone prints them."""

from __future__ import annotations

from analyzer.records import JobRecord, OptionPrice, OrderSlip, SlipItem
from analyzer.terms import Option
from analyzer.transmit import writing
from analyzer.transmit.content import Cell, Line, Table, make_table
from analyzer.transmit.writing import NONE
from analyzer.units import format_length, format_volume

_TO_CHOOSE = "to be chosen: ____________"


def quantities(record: JobRecord) -> tuple[Table, ...]:
    """Quantities of all options side by side, then how each was worked out."""
    system = str(record.field.job.units)
    options = _options(record)
    found: dict[str, dict[Option, str]] = {}
    for q in record.bill.quantities:
        text = writing.quantity(q.value, q.u, q.unit, system)
        cells = found.setdefault(q.item, {})
        cells[q.option] = f"{cells[q.option]}; {text}" if q.option in cells else text
    rows: list[tuple[Cell, ...]] = [
        (item, *(cells.get(o, NONE) for o in options)) for item, cells in found.items()
    ]
    basis: list[tuple[Cell, ...]] = [
        (str(q.option), q.item, q.basis, q.source or NONE) for q in record.bill.quantities
    ]
    return make_table(
        "Quantities side by side", ("Item", *map(str, options)), rows, "l" + "r" * len(options)
    ) + make_table("How the quantities were worked out", ("Option", "Item", "Basis", "Source"), basis, "llll")


def orders(record: JobRecord) -> tuple[Table, ...]:
    """Concrete to order for each option, and the risk of running short against what is left over."""
    system = str(record.field.job.units)
    rows: list[tuple[Cell, ...]] = []
    for o in record.bill.orders:
        stone = "sand mix" if o.aggregate_mm is None else format_length(o.aggregate_mm, system)
        u = writing.quantity(o.volume_m3, o.volume_u_m3, "m3", system)
        rows.append(
            (
                str(o.option),
                u,
                f"{o.waste:.1%}",
                Line(format_volume(o.order_m3, system), strong=True),
                f"{format_volume(o.order_low_m3, system)} to {format_volume(o.order_high_m3, system)}",
                _chance(o.short_probability),
                format_volume(o.left_over_m3, system),
                f"{o.loads}{', short load' if o.short_load else ''}",
                stone,
            )
        )
    columns = ("Option", "By the plan", "Waste", "Order", "With least to most waste", "Chance it runs short",
               "Left over, mean", "Loads", "Largest stone")  # fmt: skip
    return make_table("Concrete to order", columns, rows, "lrrrrrrll")


def slip(record: JobRecord, option: Option) -> tuple[Table, ...]:
    """Order slip for the plant and list for the day, for one option."""
    found = next((s for s in record.bill.slips if s.option is option), None)
    if found is None:
        return ()
    return _list(f"Order slip for the plant: {option}", found, found.plant) + _list(
        f"The day's list: {option}", found, found.day
    )


def prices(record: JobRecord) -> tuple[Table, ...]:
    """All options side by side in money, then line by line."""
    found = record.bill.prices
    rows: list[tuple[Cell, ...]] = [
        (
            str(p.option),
            writing.money(p.low, p.currency),
            Line(writing.money(p.likely, p.currency), strong=True),
            writing.money(p.high, p.currency),
            "; ".join(p.spread) or NONE,
            "; ".join(p.unpriced) or "nothing",
        )
        for p in found
    ]
    parts: list[tuple[Cell, ...]] = [
        (
            str(p.option),
            part.item,
            f"{part.quantity:,.2f}".rstrip("0").rstrip(".") + f" {part.unit}",
            *(writing.money(v, p.currency) for v in (part.low, part.likely, part.high)),
        )
        for p in found
        for part in p.lines
    ]
    columns = ("Option", "Low", "Likely", "High", "What drives the spread", "Without a price")
    return make_table(
        "Price of each option, side by side", columns, rows, "lrrrll", note=_book(found)
    ) + make_table(
        "Prices line by line", ("Option", "Item", "Quantity", "Low", "Likely", "High"), parts, "llrrrr"
    )


def invented_prices(record: JobRecord) -> tuple[Line, ...]:
    """A warning in bold where the price book is made up."""
    if not any(p.invented for p in record.bill.prices):
        return ()
    return (
        Line("These prices are invented, to show the table. Put in a price book of your own.", strong=True),
    )


def _book(found: tuple[OptionPrice, ...]) -> str:
    return "Price book: " + ", ".join(dict.fromkeys(p.book for p in found)) + "." if found else ""


def _list(caption: str, slip: OrderSlip, items: tuple[SlipItem, ...]) -> tuple[Table, ...]:
    rows: list[tuple[Cell, ...]] = []
    topic = ""
    for item in items:
        shown = "" if item.topic == topic else item.topic
        topic = item.topic
        value: Cell = Line(_TO_CHOOSE, strong=True) if item.value is None else item.value
        rows.append((shown, item.item, value, item.source or NONE))
    return make_table(caption, ("", "Item", "What", "Source"), rows, "llll")


def _options(record: JobRecord) -> list[Option]:
    present = {q.option for q in record.bill.quantities}
    return [o for o in Option if o in present]


def _chance(probability: float) -> str:
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"about {probability * 100:.0f} %"
