"""Output appears whole or not at all, and every refusal says what to do."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from analyzer.errors import OutputError
from analyzer.transmit.safe_folder import check_target, whole_folder, write_whole_file


def _ours(_: Path) -> bool:
    return True


def test_interrupt_in_the_middle_leaves_nothing(tmp_path: Path) -> None:
    def work() -> None:
        with whole_folder(tmp_path / "out", False, _ours) as part:
            (part / "half").write_text("x")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        work()
    assert list(tmp_path.iterdir()) == []


def test_interrupt_keeps_the_old_folder(tmp_path: Path) -> None:
    old = tmp_path / "out"
    old.mkdir()
    (old / "kept").write_text("x")

    def work() -> None:
        with whole_folder(old, True, _ours):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        work()
    assert (old / "kept").read_text() == "x"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def test_disk_full_is_one_sentence(tmp_path: Path) -> None:
    def work() -> None:
        with whole_folder(tmp_path / "out", False, _ours):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with pytest.raises(OutputError, match="disk is full"):
        work()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
def test_a_really_full_device_is_told(tmp_path: Path) -> None:
    def work() -> None:
        with whole_folder(tmp_path / "out", False, _ours), open("/dev/full", "wb", buffering=0) as full:
            full.write(b"x")

    with pytest.raises(OutputError, match="disk is full"):
        work()


def test_parent_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")

    def work() -> None:
        with whole_folder(tmp_path / "file" / "out", False, _ours):
            pass

    with pytest.raises(OutputError, match="under something that is a file"):
        work()


def test_too_long_a_name(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="too long a name"):
        write_whole_file(tmp_path / ("x" * 300), b"")


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_folder_not_writable(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(OutputError, match="cannot be written to"):
        write_whole_file(tmp_path / "x", b"")


def test_empty_folder_is_used(tmp_path: Path) -> None:
    (tmp_path / "out").mkdir()
    check_target(tmp_path / "out", False, lambda _: False)
    with whole_folder(tmp_path / "out", False, lambda _: False) as part:
        (part / "x").write_text("1")
    assert (tmp_path / "out" / "x").read_text() == "1"


def test_file_only_with_force(tmp_path: Path) -> None:
    write_whole_file(tmp_path / "a.pdf", b"1")
    with pytest.raises(OutputError, match="exists already"):
        write_whole_file(tmp_path / "a.pdf", b"2")
    write_whole_file(tmp_path / "a.pdf", b"2", force=True)
    assert (tmp_path / "a.pdf").read_bytes() == b"2"
