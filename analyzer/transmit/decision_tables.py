"""The decision in tables: stops, options, points, panels, causes, flips, next readings, findings."""

from __future__ import annotations

from analyzer.records import Finding, JobRecord, Limit, Reason
from analyzer.terms import Option, Verdict
from analyzer.transmit import writing
from analyzer.transmit.content import Cell, Line, Ref, Table, make_table
from analyzer.transmit.refs import FindingNumbers, by_verdict
from analyzer.transmit.writing import NONE

_STATE = {True: "can be done", False: "refused", None: "cannot be decided yet"}
_GOES_ON = {True: "goes on", False: "at rest", None: "unknown"}
_VERDICTS = (
    (Verdict.EXCEEDS, "Limits exceeded"),
    (Verdict.NOT_DETERMINED, "Not determined: no reading, or too close to call"),
    (Verdict.WITHIN, "Within the limit"),
)


def stops(record: JobRecord) -> tuple[Table, ...]:
    """Questions that come before advice, the open ones first; each with its answer and rule."""
    found = sorted(record.ranking.stops, key=lambda s: not s.blocks)
    rows: list[tuple[Cell, ...]] = [
        (
            question_ref(record, s.stop_id).label,
            Line("open", strong=True) if s.blocks else "answered",
            s.question,
            s.answer if s.cleared_by is None else f"{s.answer}; cleared by {s.cleared_by}",
            s.reason,
            s.source or NONE,
        )
        for s in found
    ]
    columns = ("No.", "State", "Question", "Answer", "Why it is asked", "Source")
    return make_table(
        "Questions that come first", columns, rows, "llllll", [f"stop-{s.stop_id}" for s in found]
    )


def question_ref(record: JobRecord, stop_id: str) -> Ref:
    """The number of a question that comes first, Q1, Q2, ..., and its row."""
    ids = [s.stop_id for s in record.ranking.stops]
    return Ref(f"Q{ids.index(stop_id) + 1}", f"stop-{stop_id}")


def options(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """Every option: whether it can be done, why not, and the parts of its points."""
    rows: list[tuple[Cell, ...]] = []
    for rating in record.ranking.ratings:
        why = [r.reason for r in rating.refusals] or [f"missing: {m}" for m in rating.missing]
        ids = [i for r in rating.refusals for i in r.finding_ids]
        refs = numbers.refs(ids) if ids else numbers.about(" ".join(rating.missing))
        chosen = rating.option is record.ranking.option
        rows.append(
            (
                Line(str(rating.option), strong=chosen),
                _STATE[rating.admissible],
                f"{rating.total:.0f}",
                Line(" ".join(map(writing.sentence, why)) or NONE, refs),
            )
        )
    robust = record.ranking.weights_robust
    note = (
        ""
        if robust is None
        else "First place stays the same when the weights are changed."
        if robust
        else "First place depends on the weights: another weighting would change it."
    )
    return make_table(
        "Options side by side",
        ("Option", "State", "Points", "Why not, or what is missing"),
        rows,
        "llrl",
        note=note,
    ) + _points(record, numbers)


def _points(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """Points part by part: a criterion with its reason in a row, an option in a column."""
    ratings = record.ranking.ratings
    parts: dict[tuple[str, str, str, tuple[str, ...]], dict[Option, float]] = {}
    for rating in ratings:
        for c in rating.contributions:
            row = parts.setdefault((c.criterion, c.statement, c.source, c.finding_ids), {})
            row[rating.option] = row.get(rating.option, 0.0) + c.points
    rows: list[tuple[Cell, ...]] = [
        (
            criterion,
            *(f"{points[r.option]:+.1f}" if r.option in points else NONE for r in ratings),
            Line(statement, numbers.refs(ids)),
            source,
        )
        for (criterion, statement, source, ids), points in parts.items()
    ]
    if rows:
        totals = (Line(f"{r.total:+.1f}", strong=True) for r in ratings)
        rows.append((Line("together", strong=True), *totals, NONE, NONE))
    columns = ("Criterion", *(str(r.option) for r in ratings), "Because", "Source of the rule")
    numeric = "l" + "r" * len(ratings) + "ll"
    return make_table("Points of each option, part by part", columns, rows, numeric)


def panel_actions(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """What to do with each panel and the readings behind it."""
    found = record.ranking.panel_actions
    rows: list[tuple[Cell, ...]] = [
        (a.panel_id, a.action, Line(a.reason, numbers.about(a.reason))) for a in found
    ]
    anchors = [f"panel-{a.panel_id}" for a in found]
    return make_table("Panel by panel", ("Panel", "Work", "Because"), rows, "lll", anchors)


def causes(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """Possible causes with the clues for and against each."""
    found = record.ranking.causes
    rows: list[tuple[Cell, ...]] = []
    for c in found:
        defeats = ", ".join(map(str, c.defeats))
        end = f" While it goes on it defeats: {defeats}." if defeats else ""
        rows.append(
            (
                c.name,
                f"{c.standing}; {_GOES_ON[c.active]}",
                _clues(c.clues_for, numbers),
                _clues(c.clues_against, numbers),
                f"{c.confirm}{end}",
                c.source,
            )
        )
    columns = ("Possible cause", "Standing", "Speaks for it", "Speaks against it", "Confirmed by", "Source")
    return make_table(
        "Possible causes",
        columns,
        rows,
        "llllll",
        [f"cause-{c.cause_id}" for c in found],
        "Each is possible, never more: a laboratory or an engineer confirms.",
    )


def flips(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """The smallest changes that would change the answer, each found by running it."""
    known = {f.sentence: f for f in record.ranking.flips}
    rows: list[tuple[Cell, ...]] = []
    for text in dict.fromkeys((*record.ranking.would_change, *known)):
        flip = known.get(text)
        refs = numbers.behind(flip) if flip else numbers.about(text)
        rows.append((str(len(rows) + 1), Line(text, refs), str(flip.headline) if flip else NONE))
    columns = ("", "Smallest change of one reading", "Answer then")
    return make_table("What would change the answer", columns, rows, "rll")


def next_readings(record: JobRecord) -> tuple[Table, ...]:
    """What to measure next, the most worth first; worth is in points of the decision."""
    found = record.ranking.next_measurements
    rows: list[tuple[Cell, ...]] = [
        (str(n), m.what, m.why, m.effort, NONE if m.worth is None else f"{m.worth:.1f}")
        for n, m in enumerate(found, 1)
    ]
    columns = ("", "What to measure or ask", "Why", "Effort", "Worth, points")
    return make_table("What to measure next", columns, rows, "rlllr", note="In this order.")


def local_limits(record: JobRecord) -> tuple[Table, ...]:
    """A jurisdiction's own limits in use; one that loosens a limit for people's safety stands in bold."""
    found = _local(record)
    rows: list[tuple[Cell, ...]] = []
    for bound in found:
        told = f"{bound.quantity.replace('_', ' ')} {bound.comparator} {bound.value:g} {bound.unit}"
        effect = "LOOSER than the cited limit" if bound.loosened else "in place of the cited limit"
        cells = (bound.limit_id, told, effect, bound.guards or NONE, f"{bound.source}, {bound.section}")
        rows.append(tuple(Line(c, strong=bound.loosened) for c in cells))
    columns = ("Limit", "Exceeded when", "Effect", "Guards", "Source")
    return make_table("Local limits in use", columns, rows, "lllll")


def loosened(record: JobRecord) -> tuple[Line, ...]:
    """A sentence in bold for each local limit that is looser than the cited one it replaces."""
    return tuple(
        Line(
            f"A local rule is used for {b.term or b.quantity.replace('_', ' ')}. It is looser than the usual "
            f"limit{f' that guards {b.guards}' if b.guards else ''}: {b.value:g} {b.unit} ({b.source}).",
            strong=True,
        )
        for b in _local(record)
        if b.loosened
    )


def findings(record: JobRecord, numbers: FindingNumbers) -> tuple[Table, ...]:
    """Every finding with reading, limit and source: exceeded ones, open ones, then the rest."""
    columns = ("No.", "About", "Reading", "Exceeded when", "Known by", "Source, and how it was checked")
    out: tuple[Table, ...] = ()
    for verdict, caption in _VERDICTS:
        found = by_verdict(record.findings, verdict)
        rows = [_finding_row(f, numbers) for f in found]
        out += make_table(caption, columns, rows, "llrlll", [numbers.label(f) for f in found])
    return out


def _finding_row(f: Finding, numbers: FindingNumbers) -> tuple[Cell, ...]:
    strong = f.limit.loosened
    where = "" if f.option is None else f", after {f.option}"
    return (
        numbers.label(f),
        f"{f.subject}, {writing.words(f.limit.quantity)}{where}",
        writing.reading(f),
        Line(writing.limit(f), strong=strong),
        str(f.grade),
        Line(("LOOSENED LOCALLY; " if strong else "") + writing.source(f), strong=strong),
    )


def _clues(clues: tuple[Reason, ...], numbers: FindingNumbers) -> Line:
    refs: dict[Ref, None] = {}
    for clue in clues:
        refs.update(dict.fromkeys(numbers.refs(clue.finding_ids)))
    return Line(" ".join(c.sentence for c in clues) or "nothing found", tuple(refs))


def _local(record: JobRecord) -> list[Limit]:
    """Every local limit once, loosened ones first."""
    found = {f.limit.limit_id: f.limit for f in record.findings if f.limit.local}
    return sorted(found.values(), key=lambda b: not b.loosened)
