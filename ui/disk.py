"""Files of a job: written whole or not at all, read with one sentence where they are broken."""

from __future__ import annotations

import contextlib
import json
import os
import re
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import tomli_w

from analyzer.errors import FieldBookError, OutputError

_HEAD = re.compile(rb"# Saved by slab ui, revision ([0-9]{1,9})\.")
_TAIL_BYTES = 1 << 16


def replace_file(target: Path, data: bytes) -> None:
    """Write a file beside its place, force it to the disk, and rename it into place.

    Raises
    ------
    OutputError
        The disk is full or the folder cannot be written to; the old file is then still there.
    """
    part = None
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
        part = None
    except OSError as error:
        raise OutputError(
            target.name,
            f"cannot be saved ({error.strerror})",
            "free some space or choose another --jobs folder",
        ) from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def read_book(path: Path) -> tuple[dict[str, Any], int]:
    """A field book as plain values (dates as text) and its revision, 0 if it has none.

    Raises
    ------
    FieldBookError
        It cannot be read or is no TOML.
    """
    try:
        data = path.read_bytes()
        book = tomllib.loads(data.decode("utf-8"))
    except (OSError, ValueError) as error:
        raise FieldBookError(
            f"{path.parent.name}/{path.name}",
            "cannot be read",
            "correct it in a text editor, or copy the job",
        ) from error
    head = _HEAD.match(data)
    plain: dict[str, Any] = json.loads(json.dumps(book, default=str))
    return plain, int(head[1]) if head else 0


def write_book(path: Path, book: dict[str, Any], revision: int) -> None:
    """Replace a field book; see :func:`replace_file`."""
    text = f"# Saved by slab ui, revision {revision}.\n{tomli_w.dumps(book)}"
    replace_file(path, text.encode("utf-8"))


@contextlib.contextmanager
def book_in_passing(book: dict[str, Any]) -> Iterator[Path]:
    """A field book as a file for as long as the block runs."""
    with tempfile.TemporaryDirectory(prefix="slab-") as folder:
        path = Path(folder) / "field_book.toml"
        path.write_text(tomli_w.dumps(book), "utf-8")
        yield path


def read_json(path: Path) -> dict[str, Any]:
    """A JSON object, empty where there is none that can be read."""
    try:
        data = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError):
        return {}
    return data if isinstance(data, dict) else {}


def append_lines(path: Path, lines: list[str]) -> None:
    """Add lines to a file and force them to the disk; a line cut off by a kill stays by itself."""
    with path.open("ab+") as file:
        end = file.seek(0, os.SEEK_END)
        if end:
            file.seek(end - 1)
            if file.read(1) != b"\n":
                file.write(b"\n")
        file.write(("\n".join(lines) + "\n").encode("utf-8"))
        file.flush()
        os.fsync(file.fileno())


def read_lines(path: Path, tail: bool = False) -> list[dict[str, Any]]:
    """JSON objects, one a line; broken lines are passed over. ``tail``: only the last of them."""
    try:
        with path.open("rb") as file:
            if tail:
                end = file.seek(0, os.SEEK_END)
                file.seek(max(0, end - _TAIL_BYTES))
            data = file.read()
    except OSError:
        return []
    found = []
    for line in data.split(b"\n"):
        try:
            item = json.loads(line)
        except ValueError:
            continue
        if isinstance(item, dict):
            found.append(item)
    return found
