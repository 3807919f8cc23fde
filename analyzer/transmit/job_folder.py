"""The job folder: everything of one job in an open packing that anyone can check.

The folder is a BagIt bag (RFC 8493): the payload lies under ``data/`` and is listed with its
SHA-256 in ``manifest-sha256.txt``; the tag files are listed in ``tagmanifest-sha256.txt``. Any
BagIt tool can check it, and so can ``sha256sum -c``. It proves against accident, not against a
forger, who could write new sums as well.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from analyzer.errors import SlabError, VerifyError
from analyzer.records import JobRecord
from analyzer.transmit.record_json import record_from_json, record_to_json
from analyzer.transmit.safe_folder import whole_folder

_BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
_MANIFEST = "manifest-sha256.txt"
_TAG_MANIFEST = "tagmanifest-sha256.txt"
_LINE = re.compile(r"^([0-9A-Fa-f]{64})[ \t]+(.+)$")


@dataclass(frozen=True, slots=True)
class JobFolder:
    """A written job folder and the files a person opens first."""

    folder: Path
    record_json: Path
    report_html: Path
    report_pdf: Path


@dataclass(frozen=True, slots=True)
class Verification:
    """What a check of a job folder found. ``ok`` when all four tuples are empty."""

    folder: Path
    n_files: int
    changed: tuple[str, ...]
    missing: tuple[str, ...]
    unexpected: tuple[str, ...]
    malformed: tuple[str, ...]

    @property
    def ok(self) -> bool:
        """Whether every file is there, unchanged, and nothing was added."""
        return not (self.changed or self.missing or self.unexpected or self.malformed)


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job as the list shows it; ``problem`` instead of the rest where it cannot be read."""

    folder: str
    job_id: str
    title: str
    date: str
    headline: str
    problem: str | None = None


def write_job(record: JobRecord, files: Mapping[str, bytes], out: Path, force: bool = False) -> JobFolder:
    """Write a job folder, check it by reading it back, and only then move it into place.

    Parameters
    ----------
    record : JobRecord
        Written as ``data/record.json``.
    files : mapping of str to bytes
        Payload by path under ``data/`` with forward slashes, ``report.html`` and ``report.pdf``
        among them.
    out : Path
        The folder to make.
    force : bool
        Replace an existing job folder.

    Raises
    ------
    OutputError
        The folder exists, cannot be written, or the disk is full.
    """
    payload = {"record.json": record_to_json(record).encode(), **files}
    with whole_folder(out, force, is_job_folder) as part:
        for name, data in payload.items():
            place = part / "data" / name
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(data)
        octets = sum(len(data) for data in payload.values())
        tags = {
            "bagit.txt": _BAGIT,
            "bag-info.txt": (
                f"External-Identifier: {_one_line(record.field.job.job_id)}\n"
                f"External-Description: {_one_line(record.field.job.title)}\n"
                f"Bagging-Date: {record.provenance.created_at[:10]}\n"
                f"Bag-Software-Agent: {record.provenance.software} {record.provenance.version}\n"
                f"Payload-Oxum: {octets}.{len(payload)}\n"
            ),
            _MANIFEST: _manifest((f"data/{name}", data) for name, data in sorted(payload.items())),
        }
        tags[_TAG_MANIFEST] = _manifest((name, text.encode()) for name, text in tags.items())
        for name, text in tags.items():
            (part / name).write_bytes(text.encode())
        check = verify_job(part)
        if not check.ok:
            raise VerifyError(str(out), "reads back different from what was written", "check the disk")
    inside = out / "data"
    return JobFolder(out, inside / "record.json", inside / "report.html", inside / "report.pdf")


def is_job_folder(folder: Path) -> bool:
    """Whether a folder looks like one that :func:`write_job` made."""
    return (folder / "bagit.txt").is_file() and (folder / "data" / "record.json").is_file()


def verify_job(folder: Path) -> Verification:
    """Compare every file of a job folder with its listed SHA-256, in one pass.

    Raises
    ------
    VerifyError
        The folder is missing or is not a job folder at all.
    """
    if not folder.is_dir():
        raise VerifyError(str(folder), "is not a folder", "name the job folder, the one that holds bagit.txt")
    if not (folder / "bagit.txt").is_file() or not (folder / _MANIFEST).is_file():
        raise VerifyError(
            str(folder),
            "is not a job folder (no bagit.txt and manifest)",
            "name the folder that analyze wrote",
        )
    malformed: list[str] = []
    listed: dict[str, str] = {}
    for manifest in (_MANIFEST, _TAG_MANIFEST):
        path = folder / manifest
        if not path.is_file():
            malformed.append(f"{manifest} is missing")
            continue
        for number, line in enumerate(path.read_bytes().decode("utf-8", "replace").splitlines(), 1):
            match = _LINE.match(line)
            name = _decode(match[2]) if match else ""
            if not match or not _is_safe(name) or name in listed:
                malformed.append(f"{manifest}, line {number}")
                continue
            listed[name] = match[1].lower()
    if (folder / "bagit.txt").read_bytes() != _BAGIT.encode():
        malformed.append("bagit.txt")
    present = {
        p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file() or p.is_symlink()
    } - {_TAG_MANIFEST}
    changed = [n for n in sorted(present & set(listed)) if _sha256(folder / n) != listed[n]]
    return Verification(
        folder,
        len(listed),
        tuple(changed),
        tuple(sorted(set(listed) - present)),
        tuple(sorted(present - set(listed))),
        tuple(malformed),
    )


def read_job(folder: Path) -> JobRecord:
    """Read the record of a job folder.

    Raises
    ------
    VerifyError
        No such folder, no record in it, or a record of another version.
    """
    path = folder / "data" / "record.json"
    if not path.is_file():
        raise VerifyError(str(folder), "holds no data/record.json", "name a folder that analyze wrote")
    return record_from_json(path.read_text("utf-8"), str(path))


def list_jobs(
    root: Path,
    word: str | None = None,
    since: str | None = None,
    until: str | None = None,
    recommendation: str | None = None,
) -> tuple[JobLine, ...]:
    """All job folders below a folder, newest visit first; an unreadable one is listed as such.

    Parameters
    ----------
    root : Path
        Searched with all its folders.
    word : str, optional
        Only jobs with this word in identifier, title, notes or author, case ignored.
    since, until : str, optional
        Only visits on these days or between, ``YYYY-MM-DD``.
    recommendation : str, optional
        Only jobs with this headline.

    Raises
    ------
    VerifyError
        ``root`` is not a folder, or a date is none.
    """
    for name, day in (("--since", since), ("--until", until)):
        if day is not None:
            try:
                dt.date.fromisoformat(day)
            except ValueError as error:
                raise VerifyError(name, f"{day!r} is not a date", "write it as 2026-05-03") from error
    filtered = any(f is not None for f in (word, since, until, recommendation))
    if not root.is_dir():
        raise VerifyError(str(root), "is not a folder", "name the folder that holds your job folders")
    lines = []
    for path in sorted(root.rglob("data/record.json")):
        folder = path.parent.parent
        if any(part.startswith(".") for part in folder.relative_to(root).parts):
            continue
        name = folder.relative_to(root).as_posix()
        try:
            record = read_job(folder)
        except (SlabError, OSError, UnicodeDecodeError) as error:
            if not filtered:
                lines.append(JobLine(name, "", "", "", "", str(error)))
            continue
        job = record.field.job
        day = job.date.isoformat()
        text = " ".join((job.job_id, job.title, job.notes or "", job.by)).casefold()
        if (
            (word is not None and word.casefold() not in text)
            or (since is not None and day < since)
            or (until is not None and day > until)
            or (recommendation is not None and recommendation != str(record.ranking.headline))
        ):
            continue
        lines.append(JobLine(name, job.job_id, job.title, job.date.isoformat(), str(record.ranking.headline)))
    return tuple(sorted(lines, key=lambda line: line.date, reverse=True))


def _manifest(items: Iterable[tuple[str, bytes]]) -> str:
    """Manifest lines of RFC 8493, 2.1.3: checksum, two blanks, path with LF, CR, % encoded."""
    return "".join(f"{hashlib.sha256(data).hexdigest()}  {_encode(name)}\n" for name, data in items)


def _encode(name: str) -> str:
    return name.replace("%", "%25").replace("\n", "%0A").replace("\r", "%0D")


def _decode(name: str) -> str:
    return re.sub(r"%(0A|0D|25)", lambda m: chr(int(m[1], 16)), name, flags=re.IGNORECASE)


def _is_safe(name: str) -> bool:
    """Paths from a manifest are distrusted: relative, inside the folder, no parent steps."""
    parts = name.split("/")
    return (
        bool(name)
        and not name.startswith("/")
        and ".." not in parts
        and "\\" not in name
        and ":" not in parts[0]
    )


def _sha256(path: Path) -> str:
    """SHA-256 of a file, or a text that matches nothing where it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return "unreadable"


def _one_line(text: str) -> str:
    """Text for bag-info.txt, whose values may not hold line breaks here."""
    return " ".join(text.split())
