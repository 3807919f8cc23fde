"""The order slip for the plant and the list for the day."""

from __future__ import annotations

from analyzer.records import FieldBook, GradePlan, OrderLine, OrderSlip, SlipItem
from analyzer.takeoff.rules import SlipRule, TakeoffRules
from analyzer.terms import Abuts, Answer, UnitSystem, Use
from analyzer.units import format_length, format_volume


def write_slip(
    plan: GradePlan, order: OrderLine, field: FieldBook, rules: TakeoffRules, items: tuple[SlipRule, ...]
) -> OrderSlip:
    """Everything to say to the plant and to have ready, for one option.

    Volume, loads, stone and air follow from the order; the rest is the table's. What the
    estimator still has to choose (fibre, colour, access, wash-out place) has no value.
    """
    units = field.job.units.value
    stone = None
    if order.aggregate_mm is not None:
        number = rules.aggregate_sizes_mm.index(order.aggregate_mm)
        imperial = field.job.units is UnitSystem.IMPERIAL
        stone = rules.aggregate_written[number] if imperial else format_length(order.aggregate_mm, units)
    thinnest = format_length(plan.thickness_min_mm, units)
    plant = [
        SlipItem("order", "volume", format_volume(order.order_m3, units), rules.sources["waste"]),
        SlipItem("order", "loads", str(order.loads), rules.sources["truck"]),
        SlipItem("mix", "largest stone", stone and f"{stone} for {thinnest}", rules.sources["aggregate"]),
    ]
    if _freeze(field):
        air = None
        if order.aggregate_mm is not None:
            air = f"{rules.air_percent[rules.aggregate_sizes_mm.index(order.aggregate_mm)]:g} %"
        plant.append(SlipItem("mix", "air", air, rules.sources["aggregate_air"]))
    day: list[SlipItem] = []
    for rule in items:
        if (not rule.options or plan.option in rule.options) and _holds(rule.when, field):
            line = SlipItem(rule.topic, rule.item, rule.value, rule.source)
            (plant if rule.part == "plant" else day).append(line)
    return OrderSlip(plan.option, tuple(plant), tuple(day))


def _freeze(field: FieldBook) -> bool:
    """Freezing or de-icers, or not known: the careful answer is yes."""
    return field.site.freeze_thaw is not Answer.NO or field.site.deicer is Answer.YES


def _holds(when: str, field: FieldBook) -> bool:
    match when:
        case "freeze":
            return _freeze(field)
        case "no_freeze":
            return not _freeze(field)
        case "deicer":
            return field.site.deicer is not Answer.NO
        case "vehicles":
            return field.site.use is not Use.FOOT
        case "free_edge":
            return any(e.abuts is Abuts.FREE for e in field.edges)
        case _:
            return True
