"""Holding one known, bounded or missing value against every limit on its quantity."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from pathlib import Path

from analyzer import units
from analyzer.phrase_tables import Phrases, load_phrases
from analyzer.rate.limits import QUANTITIES, Dimension, LimitTable
from analyzer.records import FieldBook, Finding, Limit, PointMm
from analyzer.records.judge import DETERMINED, below_upper_probability, exceed_probability, verdict_of
from analyzer.terms import Answer, Grade, Option, UnitSystem, Use, Verdict

PHRASES = Path(__file__).with_name("phrases.toml")
_PAVEMENT = {"road pavement", "airfield pavement"}
_METRES_FROM_MM = 3000.0
_HUNDREDTHS_FROM_IN = 0.1
# Clearances that are below zero where the slab stands higher than what they are measured to.
_STANDS_OVER = ("door_weather_step", "garage_step", "siding_gap", "weep_gap", "gate_gap")


@dataclass(frozen=True, slots=True)
class Known:
    """What is known of a quantity: lengths in mm, slopes as rise over run, the rest plain.

    Attributes
    ----------
    value : float or None
        None = nobody measured or said it.
    u : float
        Standard uncertainty, same unit.
    grade : Grade
    upper : float or None
        The value is only known to lie between 0 and this (then ``value`` is its middle).
    at_least : bool
        Only part was looked at: the true value can be larger, so it can exceed but never be
        within an upper limit.
    applies : float
        Probability that the limits on this quantity apply here at all (an unanswered "is this the
        egress door?" is 0.5: the reading can then pass, but not fail).
    """

    value: float | None
    u: float = 0.0
    grade: Grade = Grade.MEASURED
    upper: float | None = None
    at_least: bool = False
    applies: float = 1.0


UNKNOWN = Known(None, grade=Grade.UNKNOWN)


def below(upper: float, grade: Grade = Grade.MEASURED) -> Known:
    """Known to lie between 0 and ``upper``: the middle, with the rectangular u = upper / sqrt(12)."""
    return Known(upper / 2.0, upper / math.sqrt(12.0), grade, upper=upper)


def answered(answer: Answer) -> Known:
    """A yes or no from site as 1 or 0; unknown has no value."""
    if answer is Answer.UNKNOWN:
        return UNKNOWN
    return Known(float(answer is Answer.YES), 0.0, Grade.REPORTED)


@dataclass(frozen=True, slots=True)
class Scope:
    """The limits in force, the job they are held against, and the language of the sentences."""

    limits: LimitTable
    field: FieldBook
    say: Phrases = dataclasses.field(default_factory=lambda: load_phrases(PHRASES))

    def about(self, key: str, option: Option | None = None, **values: object) -> str:
        """What a finding is about, now or as an option leaves it."""
        told = self.say(f"about.{key}", **values)
        told = told[:1].upper() + told[1:]
        if option is None:
            return told
        return self.say("after.option", about=told, option=self.say.word("option", option))

    @property
    def reading_u_mm(self) -> float:
        """Standard uncertainty of a length that was typed without one (rectangular half-width)."""
        return self.limits.half_width_in * units.MM_PER_IN / math.sqrt(3.0)

    @property
    def walked_over(self) -> bool:
        """Whether somebody walked the whole slab and wrote down what can be seen."""
        return self.field.slab.walked_over is Answer.YES

    def applies(self, limit: Limit) -> bool:
        """Whether to mention the limit at all: rules for public routes only where one may be."""
        only_public = set(limit.applies_to) <= {"public route"}
        return not (only_public and self.field.site.public_route is Answer.NO)

    def binding(self, limit: Limit) -> bool:
        """Whether the limit was written for this kind of slab.

        Road and airfield limits bind under cars and trucks; access rules on public routes.
        """
        kinds = set(limit.applies_to)
        if kinds <= _PAVEMENT:
            return self.field.site.use in (Use.CAR, Use.TRUCK)
        if "public route" in kinds:
            return self.field.site.public_route is Answer.YES
        return True


def hold(
    scope: Scope,
    quantity: str,
    subject: str,
    words: str,
    known: Known,
    *,
    term: str | None = None,
    option: Option | None = None,
    place_mm: PointMm | None = None,
) -> tuple[Finding, ...]:
    """Findings of one quantity of one subject, one for each limit that applies.

    Parameters
    ----------
    scope : Scope
    quantity : str
        A key of ``QUANTITIES``.
    subject : str
        What it is about ("C3", "panel P2", "kitchen door"); part of the finding's id.
    words : str
        The quantity in plain words, for the sentence.
    known : Known
    term : str, optional
        Only the limits of this term.
    option : Option, optional
        Set where the value is what an option would leave.
    place_mm : (float, float), optional

    Raises
    ------
    KeyError
        Unknown quantity.
    """
    dimension = QUANTITIES[quantity]
    findings = []
    for limit in scope.limits.on(quantity, term):
        if not scope.applies(limit):
            continue
        value = u = upper = probability = None
        if known.value is not None:
            value = _in_unit(known.value, dimension, limit.unit)
            u = _in_unit(known.u, dimension, limit.unit)
            if known.upper is not None:
                upper = _in_unit(known.upper, dimension, limit.unit)
                probability = below_upper_probability(upper, limit.comparator, limit.value)
            else:
                probability = exceed_probability(value, u, limit.comparator, limit.value)
            probability *= known.applies
            if known.at_least and limit.comparator.startswith(">") and probability < DETERMINED:
                probability = None  # a lower bound below its limit tells nothing
        verdict = verdict_of(probability)
        findings.append(
            Finding(
                finding_id=f"{limit.limit_id}@{subject}" + (f"/{option}" if option else ""),
                subject=subject,
                limit=limit,
                value=value,
                u=u,
                unit=limit.unit,
                probability=probability,
                verdict=verdict,
                grade=known.grade if value is not None else Grade.UNKNOWN,
                binding=scope.binding(limit),
                statement=_statement(scope, words, limit, value, u, upper, known.at_least, verdict),
                option=option,
                place_mm=place_mm,
            )
        )
    return tuple(findings)


def _in_unit(value: float, dimension: Dimension, unit: str) -> float:
    if dimension is Dimension.LENGTH:
        return units.from_mm(value, unit)
    if dimension is Dimension.SLOPE:
        return units.from_slope(value, unit)
    return value


def number(value: float, unit: str, say: Phrases, system: str) -> str:
    """A value for a sentence: shares as percent, counts whole, lengths in the units of the job first.

    Where the source has another unit than the job, its own number follows in parentheses.
    """
    if unit == "fraction":
        return f"{value * 100:.3g} %"
    if unit == "rise/run":
        return f"{value * 100:.2f} %"
    if unit == "percent":
        return f"{value:.2f} %"
    if unit in ("count", "pieces", "level"):
        return f"{value:.0f}"
    if unit == "ratio":
        return f"{value:.2g}"
    if unit == "times thickness":
        return f"{value:.0f} {say.word('unit', unit)}"
    told = f"{_short(value, 1 if unit == 'mm' else 2)} {say.word('unit', unit)}"
    if system == UnitSystem.METRIC and unit in ("in", "ft"):
        mm = value / units.from_mm(1.0, unit)
        long = abs(mm) >= _METRES_FROM_MM
        return f"{_short(mm / units.MM_PER_M, 2)} m ({told})" if long else f"{_short(mm, 1)} mm ({told})"
    if system == UnitSystem.IMPERIAL and unit == "mm":
        inches = units.from_mm(value, "in")
        digits = 2 if abs(inches) >= _HUNDREDTHS_FROM_IN else 3
        return f"{_short(inches, digits)} {say.word('unit', 'in')} ({told})"
    return told


def _short(value: float, digits: int) -> str:
    """Without zeros that say nothing; never minus zero."""
    told = f"{value:.{digits}f}"
    told = told.rstrip("0").rstrip(".") if "." in told else told
    return "0" if told == "-0" else told


def _statement(
    scope: Scope,
    words: str,
    limit: Limit,
    value: float | None,
    u: float | None,
    upper: float | None,
    at_least: bool,
    verdict: Verdict,
) -> str:
    say, system = scope.say, scope.field.job.units
    cited = {
        "about": words,
        "limit": limit.limit_id.split(".")[0],
        "checked": say.word("checked", limit.checked),
    }
    if limit.unit == "answer":
        said = "not answered" if value is None else ("yes" if value > 0.5 else "no")
        return say("said.answered", **cited, answer=say(f"said.{said}"))
    bound = say(f"comparator.{limit.comparator}", value=number(limit.value, limit.unit, say, system))
    if value is None or u is None:
        return say("said.not measured", **cited, bound=bound)
    if upper is not None:
        told = say("said.less than", value=number(upper, limit.unit, say, system))
    else:
        over = value < 0.0 and limit.quantity in _STANDS_OVER
        told = number(-value if over else value, limit.unit, say, system)
        if at_least:
            told = say("said.at least", value=told)
        if u > 0.0:
            told = say("said.give or take", value=told, u=number(u, limit.unit, say, system))
        if over:
            told = say(f"over.{limit.quantity}", height=told)
    return say("said.measured", **cited, value=told, bound=bound, verdict=say.word("verdict", verdict))
