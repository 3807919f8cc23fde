"""From findings to the facts the rules speak of: the state of each panel, shares of the area, signals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analyzer.records import DistressSummary, Finding, LevelMap, PanelLayout
from analyzer.score.evidence import Bool, Evidence, Float, Worlds
from analyzer.score.options import Rules
from analyzer.terms import Distress

_OF_PANEL = frozenset({"pieces", "shattered_level", "settlement", "rocking", "panel_aspect"})
_OF_CRACK = frozenset({"crack_width", "crack_width_any", "crack_faulting", "corner_breaks", "crack_moving"})


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Which findings belong to which panel. ``index[signal][p]`` are finding indices of panel p.

    ``strangers`` are panels that the evidence names and the layout does not know; ``raised`` are
    those that stand above the plane of the others.
    """

    panel_ids: tuple[str, ...]
    area_share: Float
    index: dict[str, tuple[tuple[int, ...], ...]]
    slab_index: dict[str, tuple[int, ...]]
    bound: bool
    strangers: tuple[str, ...] = ()
    raised: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """Facts of N worlds.

    Attributes
    ----------
    values : dict of str to (N,) float
        Shares 0 to 1, and slab signals as 0 or 1.
    states : dict of str to (N, P) bool
        ``broken``, ``settled``, ``cracked``: at most one holds for a panel.
    """

    values: dict[str, Float]
    states: dict[str, Bool]


def lay_out(
    evidence: Evidence,
    rules: Rules,
    distress: DistressSummary,
    layout: PanelLayout,
    levels: LevelMap | None,
    bound: bool,
) -> Layout:
    """Assign findings to panels, once per job.

    A crack or step whose panel is not known counts for the largest panel; a step between two
    panels for the one that lies further off the plane of the others, if levels tell, else for both.
    Without panels the slab is one panel.
    """
    panel_ids = tuple(panel.panel_id for panel in layout.panels) or ("slab",)
    areas = np.array([panel.area_mm2 for panel in layout.panels] or [1.0])
    place = _Places(panel_ids, areas, distress, levels)
    index = {
        signal.id: tuple(
            tuple(i for i in evidence.of(signal.limits) if panel_id in place.of(evidence.findings[i]))
            for panel_id in panel_ids
        )
        for signal in rules.signals
        if signal.scope == "panel"
    }
    slab = {signal.id: evidence.of(signal.limits) for signal in rules.signals if signal.scope == "slab"}
    named = {panel for crack in distress.cracks for panel in crack.panels}
    named |= {area.panel_id for area in distress.areas if area.panel_id} | set(distress.rocking_panels or ())
    strangers = tuple(sorted(named - set(panel_ids)))
    raised = frozenset(panel.panel_id for panel in levels.panels if panel.settlement_mm < 0) if levels else ()
    return Layout(panel_ids, areas / areas.sum(), index, slab, bound, strangers, frozenset(raised))


def gather_facts(worlds: Worlds, laid: Layout, rules: Rules) -> Facts:
    """State of every panel in every world, and the shares and signals from them."""
    n, panels = worlds.count, len(laid.panel_ids)
    signal = {name: _by_panel(worlds.exceeds, by_panel) for name, by_panel in laid.index.items()}
    states: dict[str, Bool] = {}
    taken = np.zeros((n, panels), dtype=bool)
    for state in rules.states:
        holds = np.zeros((n, panels), dtype=bool)
        for together in state.any + (state.bound if laid.bound else ()):
            both = signal[together[0]]
            for name in together[1:]:
                both = both & signal[name]
            holds |= both
        states[state.id] = holds & ~taken
        taken |= holds
    values: dict[str, Float] = {"always": np.ones(n)}
    for name, holds in states.items():
        values[f"{name}_share"] = holds @ laid.area_share
    seen_broken, seen_settled = values["broken_share"], values["settled_share"]
    values["broken_share"] = seen_broken + worlds.shares["unseen_broken"] * (1.0 - seen_broken)
    values["sound_share"] = np.clip(1.0 - seen_broken - seen_settled - worlds.shares["unseen"], 0.0, 1.0)
    values["worn_share"] = worlds.shares["worn_fraction"]
    values["hollow_share"] = worlds.shares["hollow_fraction"]
    for name, indices in laid.slab_index.items():
        values[name] = _any(worlds.exceeds, indices).astype(float)
    return Facts(values, states)


class _Places:
    """Where a finding belongs."""

    def __init__(
        self, panel_ids: tuple[str, ...], areas: Float, distress: DistressSummary, levels: LevelMap | None
    ) -> None:
        self.all = frozenset(panel_ids)
        self.largest = frozenset({panel_ids[int(np.argmax(areas))]})
        self.cracks = {crack.crack_id: frozenset(crack.panels) & self.all for crack in distress.cracks}
        # A corner written down as an area is named by its place in the list, as its finding is.
        for number, area in enumerate(distress.areas, start=1):
            if area.kind is Distress.CORNER_BREAK and area.panel_id:
                self.cracks[f"{area.kind} {number}"] = frozenset({area.panel_id}) & self.all
        self.off = {panel.panel_id: abs(panel.settlement_mm) for panel in levels.panels} if levels else {}
        self.steps = [self._side(fault.panels) for fault in distress.faults]

    def _side(self, panels: Sequence[str]) -> frozenset[str]:
        sides = frozenset(panels) & self.all
        if len(sides) > 1 and all(side in self.off for side in sides):
            return frozenset({max(sorted(sides), key=lambda side: self.off[side])})
        return sides or self.largest

    def of(self, finding: Finding) -> frozenset[str]:
        """Ids of the panels that a finding speaks of; empty for what is not about panels."""
        quantity, subject = finding.limit.quantity, finding.subject
        if quantity in _OF_PANEL:
            return frozenset({subject}) & self.all if subject in self.all else self.all
        if quantity in _OF_CRACK:
            return self.cracks.get(subject, frozenset()) or self.largest
        if quantity == "level_change":
            if subject == "slab":
                return self.all
            head = subject.split()
            if head[0] == "step" and head[1].isdigit():
                return self.steps[int(head[1]) - 1]
        return frozenset()


def _by_panel(exceeds: Bool, by_panel: Sequence[Sequence[int]]) -> Bool:
    """(N, panels): whether any of a panel's findings is exceeded."""
    out = np.zeros((len(exceeds), len(by_panel)), dtype=bool, order="F")
    for column, indices in enumerate(by_panel):
        for index in indices:
            out[:, column] |= exceeds[:, index]
    return out


def _any(exceeds: Bool, indices: Sequence[int]) -> Bool:
    if not indices:
        return np.zeros(len(exceeds), dtype=bool)
    out = exceeds[:, indices[0]].copy()
    for index in indices[1:]:
        out |= exceeds[:, index]
    return out
