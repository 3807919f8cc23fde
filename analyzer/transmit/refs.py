"""From a sentence to the findings it rests on: every finding gets a short number, F1, F2, ...

A reader starts at any sentence and reaches reading, limit and source in two steps: the number
beside the sentence, then the row of that number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from analyzer.records import Finding, Flip, JobRecord
from analyzer.terms import Verdict
from analyzer.transmit.content import Ref

_ORDER = {Verdict.EXCEEDS: 0, Verdict.NOT_DETERMINED: 1, Verdict.WITHIN: 2}
_HEAD = re.compile(r"; limit:| \(")
_LEAST_HEAD = 12


class FindingNumbers:
    """Short numbers of a job's findings, in the order of the record."""

    def __init__(self, record: JobRecord) -> None:
        self._findings = record.findings
        self._number = {f.finding_id: n for n, f in enumerate(record.findings, 1)}
        self._verdict = {f.finding_id: f.verdict for f in record.findings}
        self._head = [(_HEAD.split(f.statement)[0].rstrip("."), f.finding_id) for f in record.findings]

    def label(self, finding: Finding) -> str:
        """``F12``."""
        return f"F{self._number[finding.finding_id]}"

    def refs(self, finding_ids: Iterable[str], most: int | None = None) -> tuple[Ref, ...]:
        """The findings' numbers, exceeded ones first; runs are written as F3–F9.

        ``most`` keeps the first few alone. An id that is not in the record is left out.
        """
        known = [i for i in dict.fromkeys(finding_ids) if i in self._number]
        known.sort(key=lambda i: (_ORDER[self._verdict[i]], self._number[i]))
        if most is not None:
            known = known[:most]
            return tuple(Ref(f"F{n}", f"F{n}") for n in map(self._number.__getitem__, known))
        return _runs(sorted(self._number[i] for i in known))

    def about(self, sentence: str, most: int | None = None) -> tuple[Ref, ...]:
        """Findings whose own statement, as far as its limit, stands in the sentence."""
        told = [i for head, i in self._head if len(head) >= _LEAST_HEAD and head in sentence]
        return self.refs(told, most)

    def behind(self, flip: Flip, most: int | None = None) -> tuple[Ref, ...]:
        """Findings on the reading that a flip changes, before any option."""
        ids = [
            f.finding_id
            for f in self._findings
            if f.subject == flip.subject and f.limit.quantity == flip.quantity and f.option is None
        ]
        return self.refs(ids, most)


def by_verdict(findings: Iterable[Finding], verdict: Verdict) -> list[Finding]:
    """The findings with this verdict, in their order."""
    return [f for f in findings if f.verdict is verdict]


def _runs(numbers: list[int]) -> tuple[Ref, ...]:
    """Neighbouring numbers, three and more, as one run that leads to its first."""
    out: list[Ref] = []
    start = 0
    while start < len(numbers):
        end = start
        while end + 1 < len(numbers) and numbers[end + 1] == numbers[end] + 1:
            end += 1
        first, last = numbers[start], numbers[end]
        if end - start >= 2:
            out.append(Ref(f"F{first}–F{last}", f"F{first}"))
        else:
            out += [Ref(f"F{n}", f"F{n}") for n in numbers[start : end + 1]]
        start = end + 1
    return tuple(out)
