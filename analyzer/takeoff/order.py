"""How much concrete to order: waste, the plant's step, the odds of running short, the largest stone."""

from __future__ import annotations

import math

from scipy import special

from analyzer.records import FieldBook, GradePlan, OrderLine
from analyzer.takeoff.rules import TakeoffRules
from analyzer.terms import UnitSystem
from analyzer.units import format_length, format_volume


def round_up(volume_m3: float, step_m3: float) -> float:
    """The next multiple of the plant's step, never below the volume (a hair of rounding apart)."""
    return math.ceil(volume_m3 / step_m3 - 1e-9) * step_m3


def order_volume(volume_m3: float, waste: float, step_m3: float) -> float:
    """Volume to order: the plan volume plus waste, rounded up to the plant's step."""
    return round_up(volume_m3 * (1.0 + waste), step_m3)


def outlook(
    volume_m3: float, u_m3: float, ordered_m3: float, fresh: tuple[float, float]
) -> tuple[float, float]:
    """Probability that an order runs short, and what is left over on average.

    The need is the plan volume, uncertain by ``u_m3``, times one plus a part between
    ``fresh[0]`` and ``fresh[1]`` that hardening, forms and spill take, both as one normal
    distribution (rectangular part: u = width / sqrt(12)).

    Returns
    -------
    short_probability : float
    left_over_m3 : float
        Mean of what remains where something remains, over all outcomes.
    """
    part = 1.0 + sum(fresh) / 2.0
    need = volume_m3 * part
    u = math.hypot(u_m3 * part, volume_m3 * (fresh[1] - fresh[0]) / math.sqrt(12.0))
    spare = ordered_m3 - need
    if u <= 0:
        return (0.0 if spare >= 0 else 1.0), max(spare, 0.0)
    z = spare / u
    density = math.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return float(special.ndtr(-z)), float(spare * special.ndtr(z) + u * density)


def largest_aggregate(thickness_mm: float, rules: TakeoffRules) -> tuple[float, str] | None:
    """The largest stone size on the list that fits the thinnest spot; None if none does."""
    fitting = [
        (size, written)
        for size, written in zip(rules.aggregate_sizes_mm, rules.aggregate_written, strict=True)
        if size <= rules.aggregate_part * thickness_mm * (1 + 1e-9)
    ]
    return max(fitting) if fitting else None


def plant_step(field: FieldBook, rules: TakeoffRules) -> float:
    """The plant's step in m3: as typed, else the usual one of the job's units."""
    return field.design.plant_step_m3 or rules.step_m3[field.job.units.value]


def order_line(
    plan: GradePlan, volume_m3: float, u_m3: float, field: FieldBook, rules: TakeoffRules
) -> OrderLine:
    """The order for one option."""
    low, usual, high = rules.waste
    waste = usual if field.design.waste_fraction is None else field.design.waste_fraction
    step = plant_step(field, rules)
    ordered = order_volume(volume_m3, waste, step)
    short, left = outlook(volume_m3, u_m3, ordered, rules.fresh)
    stone = largest_aggregate(plan.thickness_min_mm, rules)
    units = field.job.units.value
    is_short_load = ordered < rules.short_load_m3 - 1e-9
    sentences = [
        f"Order {format_volume(ordered, units)}: {format_volume(volume_m3, units)} by the plan and "
        f"{waste:.1%} waste, rounded up to the plant's step.",
        f"With this order the chance of running short is {_chance(short)}, and "
        f"{format_volume(left, units)} is left over on average.",
    ]
    if is_short_load:
        sentences.append(
            f"Under {format_volume(rules.short_load_m3, units)} many plants charge for a short load: ask."
        )
    if stone is None:
        sentences.append(
            f"No listed stone fits a third of {format_length(plan.thickness_min_mm, units)}: "
            "it takes a sand mix."
        )
    else:
        size = stone[1] if field.job.units is UnitSystem.IMPERIAL else format_length(stone[0], units)
        sentences.append(f"Largest stone {size}, at most a third of the thinnest spot.")
    return OrderLine(
        option=plan.option,
        volume_m3=volume_m3,
        volume_u_m3=u_m3,
        waste=waste,
        step_m3=step,
        order_m3=ordered,
        order_low_m3=order_volume(volume_m3, low, step),
        order_high_m3=order_volume(volume_m3, high, step),
        short_probability=short,
        left_over_m3=left,
        loads=math.ceil(ordered / rules.truck_m3 - 1e-9),
        short_load=is_short_load,
        aggregate_mm=stone[0] if stone else None,
        sentences=tuple(sentences),
    )


def _chance(probability: float) -> str:
    """A probability in whole percent, never as none or certain."""
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"about {probability:.0%}"
