"""How probable it is that a value with its uncertainty exceeds a limit, and the verdict from that."""

from __future__ import annotations

import math

from analyzer.terms import Verdict

DETERMINED = 0.95
_EXACT = 1e-9


def exceed_probability(value: float, u: float, comparator: str, limit: float) -> float:
    """Probability that the true value stands on the wrong side of the limit.

    Parameters
    ----------
    value, u : float
        Value and standard uncertainty, normal distribution, in the unit of the limit.
        u = 0 means exact (a count, a design value): the answer is then 0 or 1, with one part in
        1e9 given away so that 0.02 stored in binary still meets 2 %.
    comparator : str
        ``>``, ``>=``, ``<`` or ``<=``: exceeded when ``value comparator limit``.
    limit : float

    Raises
    ------
    ValueError
        The uncertainty is negative or not a number, or the comparator is unknown.
    """
    if not u >= 0.0 or not math.isfinite(value):
        raise ValueError(f"value {value} with uncertainty {u}")
    if comparator not in (">", ">=", "<", "<="):
        raise ValueError(f"unknown comparator {comparator!r}")
    over = value - limit
    tolerance = _EXACT * max(1.0, abs(limit))
    if u <= tolerance:
        if abs(over) <= tolerance:
            return 1.0 if comparator.endswith("=") else 0.0
        return float((over > 0) == comparator.startswith(">"))
    above = 0.5 * math.erfc(-over / (u * math.sqrt(2.0)))
    return above if comparator.startswith(">") else 1.0 - above


def below_upper_probability(upper: float, comparator: str, limit: float) -> float:
    """The same for a value known only to lie between 0 and ``upper`` (rectangular).

    A crack too thin to be measured on a photo is such a value.

    Raises
    ------
    ValueError
        ``upper`` is not positive.
    """
    if not upper > 0.0:
        raise ValueError(f"upper bound {upper}")
    above = min(1.0, max(0.0, 1.0 - limit / upper))
    return above if comparator.startswith(">") else 1.0 - above


def verdict_of(probability: float | None) -> Verdict:
    """Exceeds from 95 %, within up to 5 %, not determined between and without a value."""
    if probability is None:
        return Verdict.NOT_DETERMINED
    if probability >= DETERMINED:
        return Verdict.EXCEEDS
    if probability <= 1.0 - DETERMINED:
        return Verdict.WITHIN
    return Verdict.NOT_DETERMINED
