"""Order slip and day's list: what follows from the order, what is open, what depends on the site."""

from __future__ import annotations

from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.records import SiteUse
from analyzer.takeoff.order import order_line
from analyzer.takeoff.rules import SLIP_PATH, load_slip, load_takeoff_rules
from analyzer.takeoff.slip import write_slip
from analyzer.terms import Abuts, Answer, Option, Use

CORNERS = [(0.0, 0.0), (3000.0, 0.0), (0.0, 3000.0)]


def slip(make_book, make_plan, option=Option.OVERLAY_BONDED, thickness=60.0, **more):
    rules = load_takeoff_rules()
    plan = make_plan([(x, y, thickness, 1.0) for x, y in CORNERS], [(0, 1, 2)], option=option)
    book = make_book(CORNERS, **more)
    return write_slip(plan, order_line(plan, 2.0, 0.1, book, rules), book, rules, load_slip())


def lines(items):
    return {(i.topic, i.item): i.value for i in items}


def test_plant_hears_volume_stone_air_and_what_is_open(make_book, make_plan) -> None:
    freezing = SiteUse(use=Use.FOOT, freeze_thaw=Answer.YES, deicer=Answer.YES)
    found = lines(slip(make_book, make_plan, site=freezing).plant)
    assert found["order", "volume"].endswith("yd³")
    assert found["mix", "largest stone"].startswith("3/4 in")
    assert found["mix", "air"] == "6 %"  # ACI 318 Table 19.3.3.1, 3/4 in stone, from memory
    assert found["mix", "strength"].startswith("4000 psi")
    assert found["mix", "water to cement"] == "at most 0.45"
    for open_item in (("mix", "fibre"), ("mix", "colour"), ("access", "wash-out place")):
        assert found[open_item] is None


def test_no_frost_no_air_and_not_known_counts_as_frost(make_book, make_plan) -> None:
    mild = SiteUse(use=Use.FOOT, freeze_thaw=Answer.NO, deicer=Answer.NO)
    found = slip(make_book, make_plan, site=mild)
    assert lines(found.plant)["mix", "air"] == "none added"
    assert ("mix", "water to cement") not in lines(found.plant)
    assert ("after", "de-icer") not in lines(found.day)
    open_ = lines(slip(make_book, make_plan, site=SiteUse()).plant)
    assert open_["mix", "air"] == "6 %"


def test_each_option_gets_its_own_surface_and_the_cautions(make_book, make_plan) -> None:
    bonded = lines(slip(make_book, make_plan).day)
    unbonded = lines(slip(make_book, make_plan, Option.OVERLAY_UNBONDED).day)
    removal = lines(slip(make_book, make_plan, Option.REMOVAL).day)
    assert ("surface", "profile") in bonded
    assert ("surface", "separation layer") in unbonded
    assert ("surface", "profile") not in unbonded
    assert "811" in removal["before", "utilities"]
    for day in (bonded, unbonded, removal):
        assert ("before", "tendons and tubes") in day
        assert ("safety", "wet concrete burns") in day
        assert ("safety", "dust") in day


def test_backfill_and_cars_depend_on_the_site(make_book, make_plan) -> None:
    car = slip(make_book, make_plan, site=SiteUse(use=Use.CAR), abuts={0: Abuts.FREE})
    assert ("after", "backfill") in lines(car.day)
    assert ("after", "opening to cars") in lines(car.day)
    foot = slip(make_book, make_plan, site=SiteUse(use=Use.FOOT), abuts={0: Abuts.WALL})
    assert ("after", "backfill") not in lines(foot.day)
    assert ("after", "opening to cars") not in lines(foot.day)


def test_too_thin_for_any_stone_leaves_it_open(make_book, make_plan) -> None:
    assert lines(slip(make_book, make_plan, thickness=15.0).plant)["mix", "largest stone"] is None


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ('part = "plant"', 'part = "plants"', "unknown part"),
        ('when = "deicer"', 'when = "de-icer"', "unknown part or condition"),
        ('options = ["removal"]', 'options = ["remove"]', "remove"),
        ('value = "at most 0.45"', 'valu = "at most 0.45"', "unknown key"),
        ('source = "MAT-WCM: ACI 201.2R (read as quoted)"', 'source = ""', "no source"),
        ('item = "fibre"\nsource = ""', 'item = "fibre"', "has no source"),
    ],
)
def test_a_spoilt_table_is_refused(tmp_path: Path, old: str, new: str, complaint: str) -> None:
    text = SLIP_PATH.read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "slip.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(RuleError, match=complaint):
        load_slip(path)
