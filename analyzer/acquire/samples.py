"""The shipped samples: invented jobs with drawn photos, each in a folder of ``sample_images``."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from analyzer.errors import MissingPartError, PictureError


def samples() -> tuple[str, ...]:
    """Names of the shipped samples, in order.

    Raises
    ------
    MissingPartError
        The samples were not installed.
    """
    return tuple(sorted(p.parent.name for p in _root().glob("*/field_book.toml")))


def sample_field_book(name: str | None = None) -> Path:
    """Field book of a sample; the first one without a name.

    Raises
    ------
    MissingPartError
        The samples were not installed.
    PictureError
        There is no sample of that name.
    """
    known = samples()
    if not known:
        raise MissingPartError("sample_images", "holds no sample", "install the package again")
    if name is not None and name not in known:
        raise PictureError("--sample", f"there is no sample {name!r}", f"use one of {', '.join(known)}")
    return _root() / (name or known[0]) / "field_book.toml"


def _root() -> Path:
    """Folder of the samples, installed beside the package or in the source tree."""
    found = find_spec("sample_images")
    for place in (found.submodule_search_locations or ()) if found else ():
        if Path(place).is_dir():
            return Path(place)
    beside = Path(__file__).resolve().parents[2] / "sample_images"
    if beside.is_dir():
        return beside
    raise MissingPartError("sample_images", "is not installed", "install the package from its source folder")
