"""Parts of a bill are frozen; what is still to be chosen is None."""

from __future__ import annotations

import dataclasses

import pytest

from analyzer.records import Bill, OrderSlip, SlipItem
from analyzer.records.bill import OptionPrice, PriceLine
from analyzer.terms import Option


def test_parts_are_frozen_and_open_items_are_none() -> None:
    item = SlipItem("mix", "colour", None, "")
    slip = OrderSlip(Option.REMOVAL, (item,), ())
    assert slip.plant[0].value is None
    with pytest.raises(dataclasses.FrozenInstanceError):
        item.value = "grey"  # type: ignore[misc]


def test_a_bill_without_orders_or_prices_is_empty_and_not_zero() -> None:
    bill = Bill(())
    assert (bill.orders, bill.slips, bill.prices) == ((), (), ())
    line = PriceLine("joints", 2.0, "m", 1.0, 2.0, 3.0)
    price = OptionPrice(Option.PATCH, "money", (line,), 1.0, 2.0, 3.0, (), (), "book", True)
    assert price.invented
