"""What made a record: version, parameters, hashes of every rule file, versions of libraries."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Mapping, Sequence
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

import analyzer
from analyzer.records import Provenance

SOFTWARE = "existing-slab-analyzer"
_STAGES_WITH_RULES = ("observe", "propose", "rate", "score", "takeoff", "detect")
_LIBRARIES = ("numpy", "scipy", "opencv-python", "scikit-image", "shapely", "pillow", "onnxruntime", "typst")


def collect_provenance(
    parameters: Mapping[str, str], weights_sha256: str | None, own: Sequence[Path | None] = ()
) -> Provenance:
    """Gather what a later reader needs to get the same numbers again.

    Parameters
    ----------
    parameters : mapping of str to str
        What the command was told (method, mm per pixel, edition, ...).
    weights_sha256 : str or None
        Hash of the detector's weights, None where no network was used.
    own : sequence of Path or None
        Files of the user's own (local limits, price book); their hashes are kept beside those of
        the shipped rules.
    """
    rules = [
        (f"{stage}/{item.name}", _sha256(item))
        for stage in _STAGES_WITH_RULES
        for item in sorted(files("analyzer").joinpath(stage).iterdir(), key=lambda i: i.name)
        if item.name.endswith(".toml")
    ]
    rules += [
        (f"own/{path.name}", hashlib.sha256(path.read_bytes()).hexdigest())
        for path in own
        if path is not None
    ]
    return Provenance(
        software=SOFTWARE,
        version=analyzer.__version__,
        created_at=dt.datetime.now(dt.UTC).replace(microsecond=0).isoformat(),
        parameters=tuple(sorted(parameters.items())),
        rule_files=tuple(rules),
        weights_sha256=weights_sha256,
        libraries=tuple((name, _version(name)) for name in _LIBRARIES),
    )


def _sha256(item: Traversable) -> str:
    return hashlib.sha256(item.read_bytes()).hexdigest()


def _version(name: str) -> str:
    """Installed version of a distribution; another build of the same library may have its place."""
    try:
        return version(name)
    except PackageNotFoundError:
        return "not installed under this name"
