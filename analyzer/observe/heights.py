"""Heights of doors, risers, claddings, walks, drains and the like over the old surface."""

from __future__ import annotations

from analyzer.observe.readings import ReadingRules, load_readings
from analyzer.records import Clearance, FieldBook, LevelMap


def read_clearances(
    field: FieldBook, levels: LevelMap | None, rules: ReadingRules | None = None
) -> tuple[Clearance, ...]:
    """Give every typed height its standard uncertainty; one that was not read stays None.

    Parameters
    ----------
    field : FieldBook
    levels : LevelMap or None
        Not needed for the heights themselves, which were taken over the slab at their place; a
        riser flight keeps its order whatever the levels say.
    rules : ReadingRules, optional

    Returns
    -------
    tuple of Clearance
        In the order of the field book, risers of a flight from the slab outwards. ``height_mm`` is
        positive upwards from the old surface; for a riser it is the rise itself.
    """
    del levels
    rules = rules or load_readings()
    flights = {h.flight for h in field.heights if h.flight}
    entries = [h for h in field.heights if not h.flight]
    for flight in sorted(flights):
        steps = [h for h in field.heights if h.flight == flight]
        entries += sorted(steps, key=lambda h: h.order if h.order is not None else len(steps) + 1)
    return tuple(
        Clearance(
            kind=h.kind,
            name=h.name,
            at_mm=h.at_mm,
            height_mm=None if h.above_slab is None else h.above_slab.mm,
            height_u_mm=None if h.above_slab is None else rules.u_mm(h.above_slab, "above_slab"),
            flight=h.flight,
            order=h.order,
            egress_door=h.egress_door,
            swings_over=h.swings_over,
            goes=h.goes,
        )
        for h in entries
    )
