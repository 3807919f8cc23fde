"""Value of information: by how many points the best decision is expected to gain from one reading.

Expected value of partial perfect information: with the draws sorted by one reading and cut into bins of
equal count, the best option is chosen in each bin by its mean; what that gains over choosing once for
all is the worth of knowing the reading. (Strong & Oakley, Med. Decis. Making 33, 2013; from memory.)
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analyzer.records import DistressSummary, LevelMap, Measurement, PanelLayout
from analyzer.score.evidence import Bool, Evidence, Float
from analyzer.score.judgement import Case, Judgement
from analyzer.score.options import Rules

_BINS = 20
# A refused option that is carried out all the same costs more than any line of the table.
_REFUSED = -200.0
_NOTHING = 0.02
_RARE = 0.02
_STATIONS = 3  # a panel's height and tilt take three


def worth_of_readings(case: Case, judgement: Judgement, normal: Float) -> Float:
    """Worth of knowing each reading exactly, in points, shape (keys + 1,); the last is the unseen area.

    Readings that no draw varies are worth nothing.
    """
    drawn = judgement.drawn
    utility = np.where(drawn.refused, _REFUSED, drawn.points.totals)
    count = len(utility) // _BINS * _BINS
    once = utility[:count].mean(axis=0).max()
    worth = np.zeros(normal.shape[1])
    for column in np.flatnonzero(_varies(case.evidence)):
        order = np.argsort(normal[:count, column])
        binned = utility[order].reshape(_BINS, count // _BINS, -1).mean(axis=1)
        worth[column] = binned.max(axis=1).mean() - once
    worth[worth < _NOTHING] = 0.0
    return worth


def next_measurements(
    case: Case, judgement: Judgement, worth: Float, limit: int | None = None
) -> tuple[Measurement, ...]:
    """What to measure next: what most options wait for, then what is worth most.

    Nothing here opens the slab: the table of words holds only looking, asking and measuring.
    """
    evidence, rules = case.evidence, case.rules
    waits: dict[str, int] = {}
    for option, often in zip(rules.options, judgement.first, strict=True):
        # What an option waits for comes first, if the option could come first at all.
        if often >= _RARE or judgement.best is None or option is judgement.rival:
            for quantity in dict(judgement.verdicts[option].missing):
                waits[quantity] = waits.get(quantity, 0) + 1
    missing = {quantity for verdict in judgement.verdicts.values() for quantity, _ in verdict.missing}
    noted = {
        quantity
        for option, verdict in judgement.verdicts.items()
        if judgement.best in (None, option)
        for quantity, _ in verdict.notes
    }
    total: dict[str, float] = {}
    for key, quantities in _quantities(evidence).items():
        for quantity in quantities:
            ask = rules.asks.get(quantity)
            if ask is not None and worth[key] > 0.0:
                total[ask.what] = total.get(ask.what, 0.0) + float(worth[key])
                break
    if worth[-1] > 0.0:
        what = rules.asks["unseen_fraction"].what
        total[what] = total.get(what, 0.0) + float(worth[-1])
    found: dict[str, tuple[int, float, Measurement]] = {}
    for quantity in (*sorted(missing), *sorted(noted), *_asked(rules, total)):
        ask = rules.asks.get(quantity)
        if ask is None or ask.what in found:
            continue
        gain = total.get(ask.what, 0.0)
        item = Measurement(ask.what, ask.why, ask.effort, round(gain, 2))
        found[ask.what] = (-waits.get(quantity, 0), -gain, item)
    return tuple(item for *_, item in sorted(found.values(), key=lambda entry: entry[:2])[:limit])


def would_make_surer(
    case: Case,
    levels: LevelMap | None,
    layout: PanelLayout,
    distress: DistressSummary,
    asked: Sequence[Measurement],
) -> tuple[Measurement, ...]:
    """Readings that nobody took and that would make any answer surer, a firm one too; those asked left out.

    Levels with every corner and three stations in each panel, a thickness with its uncertainty, the
    steps at the joints, and photos.
    """
    rules, thickness = case.rules, case.field.slab.thickness
    thin = levels is None or bool(levels.corners) or any(p.n_stations < _STATIONS for p in levels.panels)
    wanted = {
        "settlement": thin,
        "old_thickness": thickness is None or thickness.u_mm is None,
        "level_change": not distress.faults and len(layout.panels) > 1,
        "photo": all(panel.seen_fraction is None for panel in layout.panels),
    }
    have = {measurement.what for measurement in asked}
    asks = [rules.asks[name] for name, wants in wanted.items() if wants and name in rules.asks]
    return tuple(
        Measurement(ask.what, rules.phrases("surer", why=ask.why), ask.effort, 0.0)
        for ask in asks
        if ask.what not in have
    )


def _asked(rules: Rules, total: dict[str, float]) -> tuple[str, ...]:
    return tuple(quantity for quantity, ask in rules.asks.items() if ask.what in total)


def _varies(evidence: Evidence) -> Bool:
    """(keys + 1,) whether a reading is uncertain enough to change anything in the draws."""
    varies = np.zeros(len(evidence.key_names) + 1, dtype=bool)
    unsure = (evidence.probability > 1e-3) & (evidence.probability < 1 - 1e-3)
    varies[evidence.key[unsure]] = True
    for index in evidence.share_index.values():
        varies[evidence.key[index]] = True
    varies[-1] = evidence.unseen > 0.0
    return varies


def _quantities(evidence: Evidence) -> dict[int, tuple[str, ...]]:
    """Quantities that hang on each key, in the order of the findings."""
    out: dict[int, dict[str, None]] = {}
    for key, finding in zip(evidence.key.tolist(), evidence.findings, strict=True):
        out.setdefault(key, {})[finding.limit.quantity] = None
    return {key: tuple(names) for key, names in out.items()}
