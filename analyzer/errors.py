"""Errors that a person can act on: every message says what, where and what to do.

Standard library only. One root, :class:`SlabError`; the command line prints its text and exits
with code 2, the page shows it in a box. Several problems found in one pass are raised together
as one :class:`ManyProblems`, so that a field book is corrected once and not line by line.
"""

from __future__ import annotations

from collections.abc import Sequence


class SlabError(Exception):
    """Root of all errors the package raises on purpose.

    Parameters
    ----------
    subject : str
        What it is about, with its place: ``"field_book.toml, station S4"``.
    problem : str
        What is wrong, without a full stop: ``"the rod reading has no unit"``.
    remedy : str
        What the person can do, without a full stop: ``"write for example 4 3/8 in"``.
    expected, found : object, optional
        Kept as fields, for programs and tests.

    Attributes
    ----------
    source, line : str
        File with which the subject begins, and the line in it (``"line 12"``); empty if not known.
        The text of the error has no line: only who has the file before them wants it.
    """

    source: str = ""
    line: str = ""

    def __init__(
        self,
        subject: str,
        problem: str,
        remedy: str,
        *,
        expected: object = None,
        found: object = None,
    ) -> None:
        self.subject = subject
        self.problem = problem
        self.remedy = remedy
        self.expected = expected
        self.found = found
        super().__init__(f"{subject}: {problem}; {remedy}.")

    def told(self, *, with_source: bool = True) -> str:
        """The sentence with the line after the file, or without the file where it was named before."""
        rest = self.subject.removeprefix(self.source).removeprefix(", ") if self.source else self.subject
        where = ", ".join(part for part in (self.source if with_source else "", self.line, rest) if part)
        return f"{where}: {self.problem}; {self.remedy}." if where else f"{self.problem}; {self.remedy}."


class UnitError(SlabError, ValueError):
    """A typed quantity cannot be read (missing or misspelt unit, 13 inches in a foot, nan)."""


class RecordError(SlabError, ValueError):
    """A record was built from values that contradict each other (a programming error)."""


class PictureError(SlabError, ValueError):
    """A picture cannot be read or is outside what the tool takes."""


class FieldBookError(SlabError, ValueError):
    """A field book has an unknown key, a wrong value or a missing entry."""


class CalibrationError(SlabError, ValueError):
    """A photo cannot be scaled, or not well enough to be measured on."""


class NotASlabError(SlabError, ValueError):
    """A picture does not seem to show a concrete slab."""


class RuleError(SlabError, ValueError):
    """A table of limits, options or prices is malformed or misses a citation."""


class OutputError(SlabError, OSError):
    """A result cannot be written: the folder exists, is not writable or the disk is full."""


class VerifyError(SlabError, ValueError):
    """A job folder is not one, or a file in it differs from what was written."""


class MissingPartError(SlabError, RuntimeError):
    """Something the command needs is not installed on this machine."""


class ManyProblems(SlabError, ValueError):
    """Several problems of one file, raised together; ``problems`` holds each error."""

    def __init__(self, subject: str, problems: Sequence[SlabError]) -> None:
        if not problems:
            raise ValueError("ManyProblems needs at least one problem")
        self.problems: tuple[SlabError, ...] = tuple(problems)
        super().__init__(
            subject,
            f"{self._count}: " + " | ".join(line.rstrip(".") for line in self._lines(subject)),
            "correct them and run again",
        )

    @property
    def _count(self) -> str:
        return f"{len(self.problems)} things to correct"

    def _lines(self, subject: str) -> list[str]:
        """Each problem's sentence, without the file they all are in."""
        named = f"{subject}, "
        return [problem.told(with_source=False).removeprefix(named) for problem in self.problems]

    def lines(self) -> tuple[str, ...]:
        """To be printed one below the other: how many, each in a sentence, what to do."""
        head = f"{self.subject}: {self._count}:"
        return (head, *(f"  {line}" for line in self._lines(self.subject)), "Correct them and run again.")
