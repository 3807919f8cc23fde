"""Provenance names every rule file with its hash, and the versions that worked on the job."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np

import analyzer
from analyzer.transmit import collect_provenance


def test_rule_files_and_versions(tmp_path: Path) -> None:
    local = tmp_path / "county.toml"
    local.write_text("[[limit]]\n")
    found = collect_provenance({"method": "filters"}, "w" * 64, (local, None))
    rules = dict(found.rule_files)
    shipped = Path(analyzer.__file__).parent / "rate" / "limits.toml"
    assert rules["rate/limits.toml"] == hashlib.sha256(shipped.read_bytes()).hexdigest()
    assert rules["own/county.toml"] == hashlib.sha256(b"[[limit]]\n").hexdigest()
    assert dict(found.libraries)["numpy"] == np.__version__
    assert found.version == analyzer.__version__
    assert found.weights_sha256 == "w" * 64
    assert found.created_at.endswith("+00:00")


def test_no_own_file_no_line_of_it() -> None:
    assert not [name for name, _ in collect_provenance({}, None).rule_files if name.startswith("own/")]
