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
    """

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
            f"{len(self.problems)} things to correct: "
            + " | ".join(f"{p.subject}: {p.problem}; {p.remedy}" for p in self.problems),
            "correct them and run again",
        )
