"""A blank field book: every table and key with what it is for, made from the reader's own tables."""

from __future__ import annotations

import textwrap

from analyzer.acquire.form import Key, Table
from analyzer.acquire.kinds import UNKNOWN, Word
from analyzer.acquire.tables import BOOK
from analyzer.terms import Answer

_WIDTH = 96
_SHOWN = {"corner": 4}
"""Empty entries shown where more than the fewest are common: most slabs have four corners."""
_HEAD = """\
# Field book of one slab. Fill in what was read; leave out what was not: missing means unknown,
# never zero and never no.
#
# Lengths stand in quotation marks with their unit: "3 ft 6 1/2 in", "10 1/2 in", "95 mm". What a
# reading may be off is put behind it: "4 3/8 in +- 1/16 in". A point in plan is [x, y]: seen from
# above, x to the right, y towards the top of the sketch; the name of a corner may stand for it.
# Panels are numbered P1, P2, ... row by row from the house outwards, each row from left to right on
# the sketch (from top to bottom where the house side runs up and down); without a house edge, from
# the first edge. A crack or an area may give its place (at) instead of a panel.
# Questions are answered "yes", "no" or "unknown". Take away the # in front of a line to use it.
# Tables in [[double brackets]] are repeated, one for each entry.
"""


def blank_field_book() -> str:
    """A commented TOML form with every key that the reader knows.

    What must be filled in stands empty (``""``); questions stand answered ``"unknown"``;
    everything else is commented out with an example. Filled in at the empty places, and with
    nothing else done, it reads without an error.

    Raises
    ------
    Nothing. Source: none, the form is this tool's own.
    """
    parts = [_HEAD, *(f"{key.name} = {key.example}\n" for key in BOOK.keys)]
    parts.extend(_table(table, table.name) for table in BOOK.tables)
    return "\n".join(parts)


def _table(table: Table, path: str) -> str:
    heading = f"[[{path}]]" if table.many else f"[{path}]"
    lines = [f"# {line}" for line in textwrap.wrap(table.doc, _WIDTH - 2)]
    shown = max(_SHOWN.get(table.name, 0), table.minimum or (0 if table.many else 1))
    for copy in range(max(shown, 1)):
        off = "" if shown else "# "
        lines.append(f"{off}{heading}")
        lines.extend(_line(key, required_part=bool(shown), doc=copy == 0) for key in table.keys)
    text = "\n".join(lines) + "\n"
    return text + "".join("\n" + _table(inner, f"{path}.{inner.name}") for inner in table.tables)


def _line(key: Key, *, required_part: bool, doc: bool) -> str:
    if required_part and key.required:
        empty = '["", ""]' if key.example.startswith("[") else '""'
        text = f"{key.name} = {empty}"
    elif required_part and isinstance(key.kind, Word) and UNKNOWN in key.kind.words and key.takes_unknown:
        text = f'{key.name} = "{UNKNOWN}"'
    else:
        text = f"# {key.name} = {key.example}"
    if not doc:
        return text
    must = " (must be filled in)" if required_part and key.required else ""
    example = f", for example {key.example}" if must else ""
    words = ""
    if isinstance(key.kind, Word):
        question = tuple(key.kind.words) == tuple(Answer)
        words = "?" if question else f": {', '.join(key.kind.words)}"
    note = f"{key.doc}{words}{example}{must}"
    if len(text) + len(note) + 4 <= _WIDTH:
        return f"{text}  # {note}"
    return "\n".join(f"# {line}" for line in textwrap.wrap(note, _WIDTH - 2)) + f"\n{text}"
