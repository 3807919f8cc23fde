"""Parts of a bill: what to order, the slip for the plant, the list for the day, prices."""

from __future__ import annotations

from dataclasses import dataclass

from analyzer.terms import Option


@dataclass(frozen=True, slots=True)
class OrderLine:
    """How much concrete to order for one option.

    ``order_m3`` is the volume with the chosen waste, rounded up to the plant's step;
    ``order_low_m3`` and ``order_high_m3`` the same with the least and most waste.
    ``short_probability`` is that this order does not reach, ``left_over_m3`` what is left over on
    average: numbers for the estimator, not for a homeowner. ``aggregate_mm`` is the largest
    stone that fits the thinnest spot, None if none on the list does.
    """

    option: Option
    volume_m3: float
    volume_u_m3: float
    waste: float
    step_m3: float
    order_m3: float
    order_low_m3: float
    order_high_m3: float
    short_probability: float
    left_over_m3: float
    loads: int
    short_load: bool
    aggregate_mm: float | None
    sentences: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SlipItem:
    """One line of the order slip or of the day's list; ``value`` None = still to be chosen."""

    topic: str
    item: str
    value: str | None
    source: str


@dataclass(frozen=True, slots=True)
class OrderSlip:
    """What to tell the plant and what to have ready on the day, for one option."""

    option: Option
    plant: tuple[SlipItem, ...]
    day: tuple[SlipItem, ...]


@dataclass(frozen=True, slots=True)
class PriceLine:
    """One priced quantity of one option: low, likely and high in the book's currency."""

    item: str
    quantity: float
    unit: str
    low: float
    likely: float
    high: float


@dataclass(frozen=True, slots=True)
class OptionPrice:
    """Price of one option. ``spread`` names what drives low to high, the largest first.

    ``unpriced`` are quantities for which the book has no price, ``invented`` marks a book whose
    prices are made up: neither ever reaches a homeowner's page.
    """

    option: Option
    currency: str
    lines: tuple[PriceLine, ...]
    low: float
    likely: float
    high: float
    spread: tuple[str, ...]
    unpriced: tuple[str, ...]
    book: str
    invented: bool
