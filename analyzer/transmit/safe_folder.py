"""Folders that appear whole or not at all.

Everything is written into a hidden sibling folder and moved into place with one rename, so that a
full disk, a crash or Ctrl-C leaves no half-written result and destroys nothing that was there.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from analyzer.errors import OutputError


def check_target(target: Path, force: bool, may_replace: Callable[[Path], bool]) -> None:
    """Refuse a target that exists and may not be replaced; see :func:`whole_folder`.

    Raises
    ------
    OutputError
        With the reason and what to do.
    """
    target = target.absolute()
    if _exists(target):
        empty = target.is_dir() and not any(target.iterdir())
        if not empty and not force:
            raise OutputError(
                str(target), "exists already", "name another folder, or give --force to replace it"
            )
        if not empty and not may_replace(target):
            raise OutputError(
                str(target),
                "is not a folder that this command wrote, so --force does not replace it",
                "name another folder",
            )


@contextmanager
def whole_folder(target: Path, force: bool, may_replace: Callable[[Path], bool]) -> Iterator[Path]:
    """Give a folder to write into, and move it to ``target`` when the block ends without error.

    Parameters
    ----------
    target : Path
        Where the finished folder goes.
    force : bool
        Whether an existing folder may be replaced; without it, an existing target is refused.
    may_replace : callable
        Says of the existing folder whether this program made it. Anything else is never deleted,
        not even with ``force``.

    Raises
    ------
    OutputError
        Target exists, is not ours, its parent cannot be written to, or the disk is full.
    """
    target = target.absolute()
    check_target(target, force, may_replace)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        part = Path(tempfile.mkdtemp(prefix=f".{target.name}.part-", dir=target.parent))
        part.chmod(0o755)
    except OSError as error:
        raise _explain(target, error) from error
    try:
        yield part
        old = part.with_name(part.name + "-old")
        if target.exists():
            os.replace(target, old)
        try:
            os.replace(part, target)
        except OSError:
            if old.exists():
                os.replace(old, target)
            raise
        shutil.rmtree(old, ignore_errors=True)
    except OSError as error:
        if isinstance(error, OutputError):
            raise
        raise _explain(target, error) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def write_whole_file(target: Path, data: bytes, force: bool = False) -> None:
    """Write one file so that it appears whole; an existing one only with ``force``.

    Raises
    ------
    OutputError
        The file exists, its folder cannot be written to, or the disk is full.
    """
    target = target.absolute()
    if _exists(target) and not force:
        raise OutputError(str(target), "exists already", "name another file, or give --force to replace it")
    part = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.part-", dir=target.parent)
        part = Path(name)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        part.chmod(0o644)
        os.replace(part, target)
    except OSError as error:
        raise _explain(target, error) from error
    finally:
        if part is not None:
            part.unlink(missing_ok=True)


def _exists(target: Path) -> bool:
    """Whether something has this name; a name the system cannot hold is told as a sentence."""
    try:
        return os.path.lexists(target)
    except OSError as error:  # pragma: no cover (lexists answers False on most systems)
        raise _explain(target, error) from error


def _explain(target: Path, error: OSError) -> OutputError:
    """The system's error as a sentence with a remedy."""
    if error.errno == errno.ENOSPC:
        return OutputError(
            str(target), "the disk is full", "free some space and run again; nothing was left behind"
        )
    if error.errno in {errno.EACCES, errno.EPERM, errno.EROFS}:
        return OutputError(str(target), "cannot be written to", "choose a folder where you may write")
    if error.errno in {errno.ENOTDIR, errno.EEXIST}:
        return OutputError(str(target), "lies under something that is a file", "choose another folder")
    if error.errno == errno.ENAMETOOLONG:
        return OutputError(str(target), "has too long a name", "choose a shorter one")
    return OutputError(str(target), f"cannot be written ({error.strerror})", "choose another folder")
