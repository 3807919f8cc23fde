"""Reading a table of rules: what is refused, and the hash of its bytes."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from analyzer.errors import RuleError
from analyzer.score.rules_file import only_keys, read_rules


def test_content_and_hash(tmp_path: Path) -> None:
    path = tmp_path / "r.toml"
    path.write_bytes(b"format = 1\nx = 2\n")
    data, digest = read_rules(path)
    assert data == {"format": 1, "x": 2}
    assert digest == hashlib.sha256(b"format = 1\nx = 2\n").hexdigest()


@pytest.mark.parametrize("raw", [b"format = 2\n", b"x = 1\n", b"format =\n", b"\xff\xfe"])
def test_other_formats_are_refused(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "r.toml"
    path.write_bytes(raw)
    with pytest.raises(RuleError, match=r"r\.toml"):
        read_rules(path)


def test_keys() -> None:
    only_keys({"a": 1}, {"a", "b"}, "here")
    with pytest.raises(RuleError, match="unknown key 'c'"):
        only_keys({"c": 1}, {"a"}, "here")
    with pytest.raises(RuleError, match="b missing"):
        only_keys({"a": 1}, {"a", "b"}, "here", all_of=True)
