"""Prices: unit conversion, sums by hand, both file kinds, refusals."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.records import Bill, Quantity
from analyzer.takeoff.prices import DEFAULT_PATH, load_prices, price_bill
from analyzer.terms import Option
from analyzer.units import M3_PER_YD3, MM2_PER_FT2, MM2_PER_M2

BONDED, REMOVAL = Option.OVERLAY_BONDED, Option.REMOVAL
BILL = Bill(
    (
        Quantity(BONDED, "concrete by the plan", 1.8, 0.1, "m3", ""),
        Quantity(BONDED, "concrete to order", 2.5 * M3_PER_YD3, None, "m3", ""),
        Quantity(
            BONDED,
            "area to clean, roughen and bond",
            240 * MM2_PER_FT2 / MM2_PER_M2,
            2 * MM2_PER_FT2 / MM2_PER_M2,
            "m2",
            "",
        ),
        Quantity(BONDED, "gold leaf", 1.0, None, "m2", ""),
        Quantity(REMOVAL, "mass to haul off", 10.0, None, "t", ""),
    )
)
CSV = (
    "item,unit,low,likely,high,options,currency\n"
    'concrete to order,yd3,100,120,150,,crowns\n"area to clean, roughen and bond",ft2,1,2,3,,\n'
    'haul,job,50,60,70,removal,\nmass to haul off,ton,20,30,40,"overlay, bonded;removal",\n'
)


def priced(tmp_path: Path, text: str = CSV, name: str = "book.csv"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return {p.option: p for p in price_bill(BILL, load_prices(path)).prices}


def test_sums_by_hand(tmp_path: Path) -> None:
    found = priced(tmp_path)
    bonded = found[BONDED]
    # 2.5 yd3 and 240 +- 2 ft2
    assert bonded.low == pytest.approx(2.5 * 100 + 238 * 1)
    assert bonded.likely == pytest.approx(2.5 * 120 + 240 * 2)
    assert bonded.high == pytest.approx(2.5 * 150 + 242 * 3)
    assert bonded.currency == "crowns"
    assert bonded.unpriced == ("concrete by the plan", "gold leaf")
    assert bonded.spread[0].startswith("area to clean")
    removal = found[REMOVAL]
    # 10 t = 11.023 short tons
    assert removal.likely == pytest.approx(60 + 30 * 10 / 0.90718474)
    assert [ln.item for ln in removal.lines] == ["mass to haul off", "haul"]


def test_the_shipped_book_says_that_it_is_invented() -> None:
    book = load_prices()
    assert book.invented
    assert "INVENTED" in DEFAULT_PATH.read_text(encoding="utf-8")
    bonded = price_bill(BILL, book).prices[0]
    assert bonded.invented
    assert bonded.low < bonded.likely < bonded.high
    assert bonded.unpriced == ("gold leaf",)


def test_every_item_of_the_bill_is_in_the_shipped_book(
    make_book, make_plan, nothing_wrong, no_panels
) -> None:
    from analyzer.records import SlabFacts
    from analyzer.takeoff import count_quantities
    from analyzer.terms import Abuts
    from analyzer.units import Reading

    corners = [(0.0, 0.0), (3000.0, 0.0), (0.0, 3000.0)]
    points = [(x, y, 60.0, 1.0) for x, y in corners]
    plans = tuple(make_plan(points, [(0, 1, 2)], option=o) for o in list(Option) if o is not Option.PATCH)
    book = make_book(corners, {0: Abuts.HOUSE}, slab=SlabFacts(thickness=Reading(100.0, 3.0, "4 in")))
    bill = price_bill(count_quantities(plans, no_panels, nothing_wrong, book), load_prices())
    assert [p.unpriced for p in bill.prices] == [(), (), ()]


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("item,unit,low", "item,units,low", "no column 'unit'"),
        ("options,currency", "options,curency", "unknown column"),
        ("100,120,150", "130,120,150", "not in order"),
        ("100,120,150", "-1,120,150", "not in order"),
        ("100,120,150", "ten,120,150", "plain numbers"),
        ("100,120,150", "100,,150", "has no likely"),
        ("order,yd3", "order,yard", "unknown unit"),
        ("60,70,removal", "60,70,remove", "options' names"),
    ],
)
def test_a_spoilt_csv_is_refused(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    assert old in CSV
    with pytest.raises(RuleError, match=complaint):
        priced(tmp_path, CSV.replace(old, new, 1))


def test_other_refusals(tmp_path: Path) -> None:
    with pytest.raises(RuleError, match="unknown key 'curency'"):
        priced(tmp_path, 'curency = "x"\n[[price]]\nitem="a"\nunit="m"\nlow=1\nlikely=1\nhigh=1\n', "b.toml")
    with pytest.raises(RuleError, match="holds no price"):
        priced(tmp_path, 'title = "empty"\n', "b.toml")
    with pytest.raises(RuleError, match="cannot be read"):
        priced(tmp_path, "not toml", "b.toml")
    with pytest.raises(RuleError, match="cannot be read"):
        load_prices(tmp_path / "missing.toml")
