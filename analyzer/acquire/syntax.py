"""Where things stand in the text of a field book, and slips of its syntax in plain words."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Sequence

from analyzer.acquire.form import Table
from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import WHERE, Entry
from analyzer.errors import FieldBookError, SlabError

_HEADING = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_.-]+)\s*(\]\]?)\s*(?:#.*)?")
_BARE = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=\s*([^\s\"'#\[{][^\"'#]*?)\s*(?:#.*)?")
_DATE = re.compile(r"[0-9]{1,4}([-./])[0-9]{1,2}\1[0-9]{1,4}")
_TABLE_NAME = re.compile(r"'([A-Za-z0-9_-]+)'")
_LONGEST_LINE = 300
_REASONS = (
    ("Cannot overwrite a value", "the same key is there twice"),
    ("Expected '=' after a key", "there is no = after the name"),
    ("Expected ']", "a bracket is not closed"),
    ("Unclosed array", "a bracket is not closed"),
    ("Unterminated string", "a quotation mark is not closed"),
    ("Illegal character", "a character or a quotation mark is wrong"),
    ("Expected newline or end of document", "there is more behind the value than can be read"),
    ("Invalid value", "the value is missing or has no quotation marks"),
    ("Invalid statement", "it is neither a heading in brackets nor key = value"),
)
_REMEDY = (
    "put texts and lengths in quotation marks (an inch mark inside them as in '5 1/2\"' or with "
    "the word in), one key = value a line, each key once"
)


def syntax_error(source: str, text: str, error: Exception) -> FieldBookError:
    """One sentence with the line, from whatever the TOML parser says.

    Parameters
    ----------
    source : str
        Name of the field book.
    text : str
        Its text.
    error : Exception
        As raised by ``tomllib.loads``; its wording is taken from CPython 3.11 to 3.13, and an
        unknown wording is passed on as it is.

    Raises
    ------
    Nothing.
    """
    match = re.search(r"^(.*?)\s*\(at (?:line (\d+), column (\d+)|end of document)\)$", str(error), re.DOTALL)
    if match is None:
        reason = "it is nested too deeply or holds a number that is too long"
        return FieldBookError(f"{source}, file", f"cannot be read: {reason}", _REMEDY)
    if match[2] is None:
        return FieldBookError(f"{source}, end of the file", f"cannot be read: {_plain(match[1])}", _REMEDY)
    where = f"{source}, line {match[2]}"
    lines = text.split("\n")
    number = int(match[2]) - 1
    line = lines[number].rstrip("\r") if number < len(lines) else ""
    bare = _BARE.fullmatch(line) if len(line) <= _LONGEST_LINE else None
    if bare and _reads(bare[2]):
        bare = None
    if bare and _DATE.fullmatch(bare[2]):
        remedy = f"write year-month-day as in {bare[1]} = 2025-04-12"
        return FieldBookError(where, f"{bare[2]} is not a date that can be read", remedy)
    if bare and re.match(r"[A-Za-z0-9.+-]", bare[2]) and "\\" not in bare[2]:
        return FieldBookError(where, f"{bare[2]} needs quotation marks", f'write {bare[1]} = "{bare[2]}"')
    return FieldBookError(where, f"cannot be read: {_plain(match[1])}", _REMEDY)


def _reads(value: str) -> bool:
    """Whether a value is right as it stands, so that something else is wrong with its line."""
    try:
        tomllib.loads(f"x = {value}")
    except ValueError:
        return False
    return True


def _plain(reason: str) -> str:
    twice = re.match(r"Cannot declare \((.*?)\) twice", reason)
    if twice:
        return f"the heading [{'.'.join(_TABLE_NAME.findall(twice[1]))}] is there twice"
    for start, words in _REASONS:
        if reason.startswith(start):
            return words
    reason = " ".join(reason.split()).rstrip(".")
    return f"{reason[:1].lower()}{reason[1:]}"


def locate(problems: Sequence[SlabError], values: Entry, text: str, source: str) -> None:
    """Tell each problem its file and, where it can be found, its line.

    The n-th heading of a kind opens the n-th entry of it. Where headings and entries do not
    count the same (written in another way, or a heading inside a text of several lines), no line
    is given rather than a wrong one; entries of the same name share theirs ("line 12 or 30").
    """
    lines = text.split("\n")
    opened: dict[str, list[int]] = {}
    for number, line in enumerate(lines):
        if match := _HEADING.fullmatch(line):
            opened.setdefault(match[2] if len(match[1]) == len(match[3]) else "", []).append(number)
    starts = sorted({0, *(number for numbers in opened.values() for number in numbers)})
    places: dict[str, list[int]] = {}
    for path, entries in _entries(BOOK, [values], ""):
        headings = opened.get(path, [])
        if len(entries) == len(headings):
            for entry, number in zip(entries, headings, strict=True):
                places.setdefault(entry[WHERE], []).append(number)
    for problem in problems:
        problem.source = source
        subject = problem.subject.removesuffix(", its uncertainty")
        where, _, key = subject.rpartition(", ")
        unknown = re.fullmatch(r"unknown key (\S+)", problem.problem)
        if unknown:
            where, key = subject, unknown[1]
        elif subject in places:
            where, key = subject, ""
        found = places.get(where, opened.get(key, [])[:1] if where == source else [])
        numbers = [_key_line(lines, start, starts, key) + 1 for start in found]
        if numbers:
            problem.line = " or ".join(["line " + str(numbers[0]), *map(str, numbers[1:])])


def _entries(outer: Table, holders: Sequence[Entry], prefix: str) -> Iterator[tuple[str, list[Entry]]]:
    """Every table's entries in the order of the text, with the path that opens them."""
    for inner in outer.tables:
        found: list[Entry] = []
        for holder in holders:
            held = holder.get(inner.name, ())
            found.extend(held if inner.many else [held] if held else [])
        yield f"{prefix}{inner.name}", found
        yield from _entries(inner, found, f"{prefix}{inner.name}.")


def _key_line(lines: Sequence[str], start: int, starts: Sequence[int], key: str) -> int:
    """The line of a key of the entry opened at ``start``, or else that of its heading."""
    end = next((other for other in starts if other > start), len(lines))
    if key:
        pattern = re.compile(rf"\s*{re.escape(key)}\s*=")
        for number in range(start, end):
            if pattern.match(lines[number]):
                return number
    return start
