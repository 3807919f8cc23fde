"""The job folder: whole or not at all, checkable by anyone, every change found."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

from analyzer.errors import OutputError, VerifyError
from analyzer.records import JobRecord
from analyzer.transmit import is_job_folder, list_jobs, plain, read_job, verify_job, write_job
from analyzer.transmit.job_folder import _is_safe, _manifest

FILES = {
    "report.html": b"<p>x</p>",
    "report.pdf": b"%PDF-",
    "originals/photos/a.jpg": b"abc",
    "originals/50%.txt": b"percent",
}


@pytest.fixture
def folder(record: JobRecord, tmp_path: Path) -> Path:
    return write_job(record, FILES, tmp_path / "job").folder


def test_manifest_line_of_the_standard() -> None:
    # RFC 8493, 2.1.3 (read): checksum, blanks, path. SHA-256 of "abc": FIPS 180-4 example, computed
    # and in agreement with memory of NIST's example values.
    assert _manifest([("data/abc.txt", b"abc")]) == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad  data/abc.txt\n"
    )
    # RFC 8493, 2.1.3 (read): LF, CR and % in names are percent-encoded, nothing else.
    assert _manifest([("data/50%\n.txt", b"")]).endswith("  data/50%25%0A.txt\n")


def test_bag_is_what_the_standard_asks_for(folder: Path) -> None:
    # RFC 8493, 2.1.1 (read): exactly these two lines; every payload file listed once.
    assert (folder / "bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    payload = {p.relative_to(folder).as_posix() for p in (folder / "data").rglob("*") if p.is_file()}
    listed = [line.split("  ", 1)[1] for line in (folder / "manifest-sha256.txt").read_text().splitlines()]
    assert sorted(x.replace("%25", "%") for x in listed) == sorted(payload)
    octets = sum((folder / n).stat().st_size for n in payload)
    assert f"Payload-Oxum: {octets}.{len(payload)}" in (folder / "bag-info.txt").read_text()


@pytest.mark.skipif(shutil.which("sha256sum") is None, reason="sha256sum (coreutils) is not on this machine")
def test_coreutils_agree(record: JobRecord, tmp_path: Path) -> None:
    plain_names = {k: v for k, v in FILES.items() if "%" not in k}
    folder = write_job(record, plain_names, tmp_path / "job").folder
    done = subprocess.run(["sha256sum", "-c", "--quiet", "manifest-sha256.txt"], cwd=folder, check=False)
    assert done.returncode == 0


def test_fresh_folder_verifies_and_reads_back(folder: Path, record: JobRecord) -> None:
    assert verify_job(folder).ok
    assert plain(read_job(folder)) == plain(record)


def test_one_flipped_bit_is_found_in_every_file(folder: Path) -> None:
    for path in [p for p in folder.rglob("*") if p.is_file() and p.name != "tagmanifest-sha256.txt"]:
        whole = path.read_bytes()
        path.write_bytes(bytes([whole[0] ^ 1]) + whole[1:])
        check = verify_job(folder)
        assert not check.ok, path
        assert path.relative_to(folder).as_posix() in check.changed
        path.write_bytes(whole)
    assert verify_job(folder).ok


def test_missing_added_and_malformed_are_told_apart(folder: Path) -> None:
    (folder / "data/report.pdf").unlink()
    (folder / "data/extra.txt").write_text("x")
    with (folder / "manifest-sha256.txt").open("a") as file:
        file.write(f"{'0' * 64}  ../../etc/passwd\nnonsense\n")
    check = verify_job(folder)
    assert check.missing == ("data/report.pdf",)
    assert check.unexpected == ("data/extra.txt",)
    assert check.malformed == ("manifest-sha256.txt, line 6", "manifest-sha256.txt, line 7")
    assert "manifest-sha256.txt" in check.changed


@pytest.mark.parametrize("name", ["../x", "/etc/passwd", "a/../b", "C:/x", "a\\b", ""])
def test_dangerous_paths_are_refused(name: str) -> None:
    assert not _is_safe(name)


def test_existing_folder_is_never_overwritten_without_force(folder: Path, record: JobRecord) -> None:
    before = {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()}
    with pytest.raises(OutputError, match="exists already"):
        write_job(record, FILES, folder)
    assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before
    write_job(record, {**FILES, "more.txt": b"1"}, folder, force=True)
    assert (folder / "data/more.txt").exists()
    assert verify_job(folder).ok


def test_force_never_deletes_what_this_program_did_not_write(record: JobRecord, tmp_path: Path) -> None:
    theirs = tmp_path / "photos"
    theirs.mkdir()
    (theirs / "wedding.jpg").write_bytes(b"x")
    with pytest.raises(OutputError, match="not a folder that this command wrote"):
        write_job(record, FILES, theirs, force=True)
    assert (theirs / "wedding.jpg").read_bytes() == b"x"


def test_failure_leaves_nothing_behind(record: JobRecord, tmp_path: Path) -> None:
    with pytest.raises(TypeError):
        write_job(record, {**FILES, "bad": None}, tmp_path / "job")  # type: ignore[dict-item]
    assert list(tmp_path.iterdir()) == []


def test_not_a_job_folder(tmp_path: Path) -> None:
    with pytest.raises(VerifyError, match="not a job folder"):
        verify_job(tmp_path)
    with pytest.raises(VerifyError, match="is not a folder"):
        verify_job(tmp_path / "nowhere")
    with pytest.raises(VerifyError, match="holds no"):
        read_job(tmp_path)
    assert not is_job_folder(tmp_path)


def test_jobs_are_listed_and_filtered(folder: Path, tmp_path: Path) -> None:
    broken = tmp_path / "old" / "data"
    broken.mkdir(parents=True)
    (broken / "record.json").write_text("{}")
    lines = list_jobs(tmp_path)
    assert [(x.folder, x.problem is None) for x in lines] == [("job", True), ("old", False)]
    assert lines[0].headline == "overlay"
    assert list_jobs(tmp_path, word="PUMP")[0].job_id == "pump-apron"
    assert list_jobs(tmp_path, word="chapel") == ()
    assert list_jobs(tmp_path, since="2026-05-03", until="2026-05-03")
    assert not list_jobs(tmp_path, since="2026-05-04")
    assert not list_jobs(tmp_path, recommendation="removal")
    with pytest.raises(VerifyError, match="is not a date"):
        list_jobs(tmp_path, since="May")
    with pytest.raises(VerifyError, match="is not a folder"):
        list_jobs(tmp_path / "nowhere")
