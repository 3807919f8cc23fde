"""What a patch takes: cracks to rout and seal by width, areas to patch, panels to replace."""

from __future__ import annotations

import math
from collections.abc import Iterable

from analyzer.records import CrackSize, DistressSummary, PanelLayout, Quantity
from analyzer.takeoff.rules import TakeoffRules
from analyzer.terms import Distress, Option
from analyzer.units import MM2_PER_M2, MM_PER_M

_PATCHED = (Distress.SPALLING, Distress.SCALING, Distress.POPOUTS, Distress.PATCH_DETERIORATION)
_NOT_SEALED = (Distress.MAP_CRACKING,)


def count_repairs(
    distress: DistressSummary, layout: PanelLayout, rules: TakeoffRules
) -> tuple[tuple[Quantity, ...], tuple[str, ...]]:
    """Quantities of a patch and notes on what could not be counted.

    Cracks on panels that are replaced are not sealed as well. A crack's class is that of its
    greatest width; where only an upper bound is known that bound is used. Cracks without width
    or length are told apart, not taken as thin or short.
    """
    replaced = _panels_to_replace(distress, rules)
    out: list[Quantity] = []
    notes: list[str] = []
    cracks = [
        c
        for c in distress.cracks
        if c.distress not in _NOT_SEALED and not (c.panels and set(c.panels) <= set(replaced))
    ]
    edges = rules.crack_edges_mm
    for k in range(len(edges) + 1):
        low, high = (0.0, *edges)[k], (*edges, math.inf)[k]
        inside = [c for c in cracks if (w := _width(c)) is not None and low <= w < high]
        name = f"{low:g} mm and wider" if math.isinf(high) else f"{low:g} to {high:g} mm"
        out += _length(f"cracks to rout and seal, {name}", inside, rules.sources["crack_class"])
    unmeasured = [c for c in cracks if _width(c) is None]
    out += _length("cracks, width not measured", unmeasured, "")
    lost = [c.crack_id for c in cracks if c.length_mm is None]
    if lost:
        notes.append(f"Length not known, not counted: crack {', '.join(lost)}.")
    for kind in _PATCHED:
        out += _area(distress, kind, f"{kind.value} to patch", notes)
    out += _area(distress, Distress.HOLLOW_SOUNDING, "hollow-sounding area to remove and patch", notes)
    corners = [c for c in cracks if c.distress is Distress.CORNER_BREAK]
    if corners:
        cuts = [c.corner_cut for c in corners if c.corner_cut is not None]
        area = sum(c.leg_a_mm * c.leg_b_mm / 2.0 for c in cuts) / MM2_PER_M2
        basis = "corner breaks cut out full depth" + (
            f", {area:.2f} m2 of corner triangles measured on {len(cuts)} of them" if cuts else ""
        )
        source = "FHWA-FDR-TABLE1: FHWA, Full-Depth Repairs, Table 1 (read)"
        out.append(_pieces("corners to replace full depth", len(corners), basis, source))
    panels = [p for p in layout.panels if p.panel_id in replaced]
    if panels:
        total = sum(p.area_mm2 for p in panels) / MM2_PER_M2
        u = math.sqrt(sum(p.area_u_mm2**2 for p in panels)) / MM2_PER_M2
        names = ", ".join(p.panel_id for p in panels)
        basis = f"panels {names}: rocking, or in {rules.shattered_pieces} pieces or more"
        source = rules.sources["panel"]
        out.append(_pieces("panels to replace full depth", len(panels), basis, source))
        out.append(Quantity(Option.PATCH, "area of panels to replace", total, u, "m2", basis, source))
    steps = [f for f in distress.faults if f.step_mm > 0]
    if steps:
        basis = ", ".join(f"{f.step_mm:.0f} mm at {f.along or 'a crack'}" for f in steps)
        out.append(_pieces("steps to grind or lift", len(steps), basis, ""))
    if distress.unseen_fraction:
        notes.append(
            f"Photos leave {distress.unseen_fraction:.0%} of the slab unseen: repairs there are not counted."
        )
    return tuple(out), tuple(notes)


def _panels_to_replace(distress: DistressSummary, rules: TakeoffRules) -> tuple[str, ...]:
    rocking = distress.rocking_panels or ()
    broken = [p for p, n in distress.pieces_by_panel if n is not None and n >= rules.shattered_pieces]
    return tuple(dict.fromkeys([*rocking, *broken]))


def _pieces(item: str, count: int, basis: str, source: str) -> Quantity:
    return Quantity(Option.PATCH, item, count, 0.0, "pieces", basis, source)


def _width(crack: CrackSize) -> float | None:
    if crack.width_max_mm is not None:
        return crack.width_max_mm
    return crack.width_upper_mm


def _length(item: str, cracks: Iterable[CrackSize], source: str) -> list[Quantity]:
    known = [c for c in cracks if c.length_mm is not None]
    if not known:
        return []
    total = sum(c.length_mm or 0.0 for c in known) / MM_PER_M
    u = math.sqrt(sum((c.length_u_mm or 0.0) ** 2 for c in known)) / MM_PER_M
    basis = f"centreline length of crack {', '.join(c.crack_id for c in known)}"
    return [Quantity(Option.PATCH, item, total, u, "m", basis, source)]


def _area(distress: DistressSummary, kind: Distress, item: str, notes: list[str]) -> list[Quantity]:
    own = [a for a in distress.areas if a.kind is kind]
    if any(a.area_mm2 is None for a in own):
        notes.append(f"Area of {kind.value} not known everywhere: what is not known is not counted.")
    known = [a for a in own if a.area_mm2]
    if not known:
        return []
    total = sum(a.area_mm2 or 0.0 for a in known) / MM2_PER_M2
    u = math.sqrt(sum((a.area_u_mm2 or 0.0) ** 2 for a in known)) / MM2_PER_M2
    basis = "areas " + ", ".join(f"{a.panel_id or 'slab'} ({a.source})" for a in known)
    return [Quantity(Option.PATCH, item, total, u, "m2", basis)]
