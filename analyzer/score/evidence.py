"""Findings as arrays: which limits are exceeded in the likeliest world, the best, the worst, and in draws.

N worlds, F findings. Findings on one quantity of one subject, before and after an option, share one
draw: a sill that stands higher than read stands higher before and after.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from analyzer.records import Finding
from analyzer.score.options import Rules
from analyzer.terms import Option

Bool = npt.NDArray[np.bool_]
Float = npt.NDArray[np.float64]
SHARE_QUANTITIES = ("worn_fraction", "hollow_fraction")
_UNSEEN_BROKEN = 0.5
_NORMAL = NormalDist()
# Heights over the slab at one place are one reading, whichever limits it is held against.
_HEIGHTS = frozenset(
    [
        "door_weather_step",
        "door_drop",
        "egress_door_drop",
        "weep_gap",
        "cladding_gap",
        "siding_gap",
        "garage_step",
        "riser_height",
        "drain_cover",
        "free_edge_drop",
        "gate_gap",
    ]
)


@dataclass(frozen=True, slots=True, eq=False)
class Worlds:
    """N possible states of the slab that the evidence allows.

    Attributes
    ----------
    exceeds : (N, F) bool
        Whether each finding's limit is exceeded.
    shares : dict of str to (N,) float
        ``worn_fraction``, ``hollow_fraction``, ``unseen`` (nobody saw it) and ``unseen_broken``
        (the part of the slab that is unseen and broken).
    """

    exceeds: Bool
    shares: dict[str, Float]

    @property
    def count(self) -> int:
        """N."""
        return len(self.exceeds)


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """Findings compiled for the rules.

    ``key`` (F,) says which draw a finding hangs on, ``threshold`` (F,) the standard normal value
    beyond which its limit is exceeded, ``upward`` (F,) in which direction. ``probability`` (F,)
    holds the prior chance where there is no value; ``known`` (F,) where there is one.
    """

    findings: tuple[Finding, ...]
    key: npt.NDArray[np.intp]
    key_names: tuple[tuple[str, str], ...]
    threshold: Float
    upward: Bool
    probability: Float
    known: Bool
    by_limit: dict[tuple[str, Option | None], tuple[int, ...]]
    share_index: dict[str, int]
    unseen: float

    def of(self, limits: Sequence[str], option: Option | None = None) -> tuple[int, ...]:
        """Indices of the findings on these limits, now (``option`` None) or as an option leaves it."""
        return tuple(i for limit in limits for i in self.by_limit.get((limit, option), ()))


def compile_evidence(findings: Sequence[Finding], rules: Rules) -> Evidence:
    """Turn findings into arrays, once per job."""
    keys: dict[tuple[str, str], int] = {}
    key, threshold, upward, probability, known = [], [], [], [], []
    by_limit: dict[tuple[str, Option | None], list[int]] = {}
    shares: dict[str, int] = {}
    unseen = 0.0
    for index, finding in enumerate(findings):
        quantity = finding.limit.quantity
        group = "height" if quantity in _HEIGHTS else quantity
        key.append(keys.setdefault((finding.subject, group), len(keys)))
        chance = rules.chance_of(quantity) if finding.probability is None else finding.probability
        up = finding.limit.comparator.startswith(">")
        upward.append(up)
        probability.append(chance)
        known.append(finding.probability is not None)
        threshold.append(_threshold(chance, up))
        by_limit.setdefault((finding.limit.limit_id, finding.option), []).append(index)
        if quantity in SHARE_QUANTITIES and finding.option is None:
            shares.setdefault(quantity, index)
        if quantity == "unseen_fraction":
            unseen = 1.0 if finding.value is None else finding.value
    return Evidence(
        findings=tuple(findings),
        key=np.asarray(key, dtype=np.intp),
        key_names=tuple(keys),
        threshold=np.asarray(threshold, dtype=float),
        upward=np.asarray(upward, dtype=bool),
        probability=np.asarray(probability, dtype=float),
        known=np.asarray(known, dtype=bool),
        by_limit={name: tuple(indices) for name, indices in by_limit.items()},
        share_index=shares,
        unseen=unseen,
    )


def move_evidence(evidence: Evidence, moved: Mapping[int, Finding]) -> Evidence:
    """The evidence with some findings put in the place of others on the same limits."""
    findings = list(evidence.findings)
    threshold, probability, known = (
        evidence.threshold.copy(),
        evidence.probability.copy(),
        evidence.known.copy(),
    )
    unseen = evidence.unseen
    for index, finding in moved.items():
        findings[index] = finding
        chance = finding.probability
        known[index] = chance is not None
        if chance is not None:
            probability[index] = chance
            threshold[index] = _threshold(chance, bool(evidence.upward[index]))
        if finding.limit.quantity == "unseen_fraction" and finding.value is not None:
            unseen = finding.value
    return replace(
        evidence,
        findings=tuple(findings),
        threshold=threshold,
        probability=probability,
        known=known,
        unseen=unseen,
    )


def stack_worlds(*parts: Worlds) -> Worlds:
    """Several sets of worlds, one after the other."""
    count = sum(part.count for part in parts)
    exceeds = np.empty((count, parts[0].exceeds.shape[1]), dtype=bool, order="F")
    at = 0
    for part in parts:
        exceeds[at : at + part.count] = part.exceeds
        at += part.count
    shares = {name: np.concatenate([part.shares[name] for part in parts]) for name in parts[0].shares}
    return Worlds(exceeds, shares)


def nominal_world(evidence: Evidence, rules: Rules) -> Worlds:
    """The likeliest world (N = 1): limits exceeded where that is likelier than not; unknown ones not."""
    exceeds = evidence.known & (evidence.probability > 0.5)
    shares = {name: np.array([_share(evidence, name, rules)[0]]) for name in SHARE_QUANTITIES}
    return Worlds(exceeds[None, :], {**shares, **_unseen(evidence, np.zeros(1))})


def bounding_worlds(evidence: Evidence, rules: Rules) -> Worlds:
    """Two worlds: the kindest that the verdicts allow, and the harshest (N = 2)."""
    sure = evidence.known & (evidence.probability >= 0.95)
    possible = ~evidence.known | (evidence.probability > 0.05)
    shares = {}
    for name in SHARE_QUANTITIES:
        mean, u = _share(evidence, name, rules)
        shares[name] = np.clip([mean - 2 * u, mean + 2 * u], 0.0, 1.0)
    unseen = _unseen(evidence, np.array([0.0, _UNSEEN_BROKEN]))
    return Worlds(np.stack([sure, possible]), {**shares, **unseen})


def standard_draws(evidence: Evidence, rules: Rules, count: int | None = None) -> Float:
    """Standard normal draws, shape (N, keys + 1), fixed seed; the last column is for the unseen area."""
    generator = np.random.default_rng(rules.seed)
    normal = generator.standard_normal((count or rules.count, len(evidence.key_names) + 1))
    return np.asfortranarray(normal)


def draw_worlds(evidence: Evidence, rules: Rules, normal: Float) -> Worlds:
    """Worlds drawn from all uncertainties; ``normal`` as :func:`standard_draws` gives it."""
    # Column by column: most limits are surely exceeded or surely not, and cost next to nothing.
    exceeds = np.zeros((len(normal), len(evidence.key)), dtype=bool, order="F")
    for column, threshold in enumerate(evidence.threshold.tolist()):
        if np.isinf(threshold):
            exceeds[:, column] = (threshold < 0) == evidence.upward[column]
        elif evidence.upward[column]:
            np.greater(normal[:, evidence.key[column]], threshold, out=exceeds[:, column])
        else:
            np.less(normal[:, evidence.key[column]], threshold, out=exceeds[:, column])
    shares = {}
    for name in SHARE_QUANTITIES:
        mean, u = _share(evidence, name, rules)
        index = evidence.share_index.get(name)
        drawn = normal[:, evidence.key[index]] if index is not None else np.zeros(len(normal))
        shares[name] = np.clip(mean + u * drawn, 0.0, 1.0)
    # Broken part of the unseen area: uniform between none and half of it (judgement of this tool).
    last = normal[:, -1]
    uniform = 1.0 / (1.0 + np.exp(-1.702 * last))  # logistic stand-in for the normal distribution function
    return Worlds(exceeds, {**shares, **_unseen(evidence, _UNSEEN_BROKEN * uniform)})


def _unseen(evidence: Evidence, broken_part: Float) -> dict[str, Float]:
    """What nobody saw is not sound; ``broken_part`` (N,) of it is broken."""
    unseen = np.full(len(broken_part), evidence.unseen)
    return {"unseen": unseen, "unseen_broken": unseen * broken_part}


def _share(evidence: Evidence, name: str, rules: Rules) -> tuple[float, float]:
    index = evidence.share_index.get(name)
    prior_mean, prior_u = rules.prior_share[name]
    if index is None or evidence.findings[index].value is None:
        return prior_mean, prior_u
    value, u = evidence.findings[index].value or 0.0, evidence.findings[index].u or 0.0
    bound_only = any(
        not known and finding.limit.quantity == name
        for finding, known in zip(evidence.findings, evidence.known, strict=True)
    )
    return (max(value, prior_mean), prior_u) if bound_only else (value, u)


def _threshold(probability: float, upward: bool) -> float:
    """Standard normal value beyond which a limit with this probability counts as exceeded."""
    if probability <= 0.0:
        return np.inf if upward else -np.inf
    if probability >= 1.0:
        return -np.inf if upward else np.inf
    below = _NORMAL.inv_cdf(probability)
    return -below if upward else below
