"""Reads a field book: one pass, every problem of the file told at once.

Decisions that a reader may want to know:

* Missing or ``"unknown"`` is unknown (None), never zero and never no.
* A photo lies inside the field book's own folder (no ``..``, no absolute path, no link that leads
  out): folder and book are the evidence, and travel together.
* Rod readings and heights are not mixed in one book: nothing would tie the two datums together.
* A date later than tomorrow is a slip of the pen (tomorrow: time zones).
* Places on the slab may lie 2 in (51 mm) outside the outline, heights and marker sheets 6 ft
  (1.83 m); marked points on photos may lie anywhere in the plane.
* A clockwise outline is turned anticlockwise.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import tomllib
from pathlib import Path

from analyzer.acquire.checks import check_book
from analyzer.acquire.entries import build_field_book
from analyzer.acquire.syntax import locate, syntax_error
from analyzer.acquire.tables import BOOK
from analyzer.acquire.walk import Corners, read_table, resolve_places
from analyzer.errors import FieldBookError, ManyProblems, SlabError
from analyzer.records import FieldBook

MAX_BYTES = 5_000_000


def read_field_book(path: str | Path, *, need_photos: bool = True, today: dt.date | None = None) -> FieldBook:
    """Read and check a field book.

    Parameters
    ----------
    path : str or pathlib.Path
        TOML file, UTF-8, up to 5 MB. Photo files are looked for in its folder.
    need_photos : bool
        Whether photo files must be there (not to decide on what was typed alone).
    today : datetime.date, optional
        Day after which a date lies in the future; the computer's own if not given.

    Returns
    -------
    FieldBook
        Lengths in mm as readings with standard uncertainty, places in plan mm, outline
        anticlockwise, marks as (row, col).

    Raises
    ------
    FieldBookError, UnitError
        The one thing that is wrong.
    ManyProblems
        All that is wrong, if it is more than one thing.
    """
    path = Path(path)
    data = _bytes(path)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise FieldBookError(
            path.name, f"is not UTF-8 text (line {line})", "save it as UTF-8 in the text editor"
        ) from error
    folder = path.parent if need_photos else None
    return _parse(text, path.name, folder, hashlib.sha256(data).hexdigest(), today)


def parse_field_book(
    text: str, source: str = "field book", folder: str | Path | None = None, today: dt.date | None = None
) -> FieldBook:
    """Check a field book that is already in memory.

    Parameters
    ----------
    text : str
        TOML.
    source : str
        Its name for messages.
    folder : str or pathlib.Path, optional
        Where its photo files must lie; without it they are not looked for.
    today : datetime.date, optional
        As :func:`read_field_book`.

    Raises
    ------
    FieldBookError, UnitError, ManyProblems
        As :func:`read_field_book`. ``sha256`` is that of the text in UTF-8.
    """
    data = text.encode("utf-8", "replace")
    if len(data) > MAX_BYTES:
        raise FieldBookError(source, f"has {len(data) / 1e6:.1f} MB", "a field book has 5 MB at most")
    home = None if folder is None else Path(folder)
    return _parse(text.removeprefix("\ufeff"), source, home, hashlib.sha256(data).hexdigest(), today)


def _bytes(path: Path) -> bytes:
    if path.is_dir():
        raise FieldBookError(str(path), "is a folder", "name the field book (a .toml file) in it")
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError as error:
        raise FieldBookError(str(path), "does not exist", "check the name of the field book") from error
    except (OSError, ValueError) as error:
        raise FieldBookError(str(path), "cannot be opened", "check that you may read it") from error
    if len(data) > MAX_BYTES:
        raise FieldBookError(path.name, "is larger than 5 MB", "a field book is text and holds no pictures")
    if not data.strip():
        raise FieldBookError(path.name, "is empty", "start from the blank form that `slab schema` describes")
    return data


def _parse(text: str, source: str, folder: Path | None, sha256: str, today: dt.date | None) -> FieldBook:
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise syntax_error(source, text, error) from error
    problems: list[SlabError] = []
    values = read_table(BOOK, raw, source, problems)
    named = [corner for corner in values.get("corner", ()) if "name" in corner]
    corners: Corners = {corner["name"]: corner.get("at") for corner in named}
    resolve_places(BOOK, values, corners, problems)
    problems.extend(check_book(values, folder, today or dt.date.today()))
    if problems:
        locate(problems, values, text, source)
    if len(problems) == 1:
        raise problems[0]
    if problems:
        raise ManyProblems(source, problems)
    return build_field_book(values, source, sha256)
