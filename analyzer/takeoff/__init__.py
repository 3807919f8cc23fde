"""Stage takeoff: quantities of every option.

In: the grade plans, the panel layout, the distress summary and the field book. Out: a bill with
area, volume, order, joints, strips, mass, cracks to seal and areas to patch, each with its
uncertainty and basis; orders, the slip for the plant and the day's list; and, from a price book,
what each option costs.
"""

from analyzer.takeoff.prices import PriceBook, load_prices, price_bill
from analyzer.takeoff.quantities import count_quantities
from analyzer.takeoff.rules import TakeoffRules, load_takeoff_rules

__all__ = [
    "PriceBook",
    "TakeoffRules",
    "count_quantities",
    "load_prices",
    "load_takeoff_rules",
    "price_bill",
]
