"""Jobs on disk, saved while they are typed. No Streamlit here.

One folder a job under one workspace folder::

    JOBS/settings.json            who works here, units
    JOBS/j-0123456789/
        field_book.toml           everything typed; its first line holds the revision
        photos/photo-01.jpg       byte for byte as sent, under names of our own making
        edits.jsonl               one line a change: revision, who, when, where, what
        result/                   the last finished job folder; result.json says of which field book

A change is first added to ``edits.jsonl`` and then the field book is replaced in one rename, so that
a server killed at any moment loses nothing: on the next opening, lines that the field book does not
hold yet are put into it. Two tabs may work on one job: a change says what it replaces, and where
somebody else wrote there meanwhile it is set aside in ``edits.jsonl`` and :class:`Conflict` is raised.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import json
import os
import re
import secrets
import sys
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analyzer.errors import FieldBookError, PictureError, SlabError
from ui import disk
from ui.paths import Book, look, put
from ui.paths import Path as BookPath

if sys.platform == "win32":
    fcntl = None
else:
    import fcntl

VARIABLE = "SLAB_JOBS"
MAX_PHOTO_BYTES = 60_000_000
_KEY = re.compile(r"j-[0-9a-f]{10}")
_PICTURE_STARTS = (
    (b"\xff\xd8\xff", 0, ".jpg"),
    (b"\x89PNG\r\n", 0, ".png"),
    (b"II*\0", 0, ".tif"),
    (b"MM\0*", 0, ".tif"),
    (b"WEBP", 8, ".webp"),
    (b"ftyp", 4, ".heic"),
)
_STAYS = frozenset({"schema", "site", "stops", "corner", "edge", "joint", "design"})
_SLAB_STAYS = frozenset(
    {"thickness", "age_years", "pours_of_different_dates", "reinforced", "expansive_ground"}
)
_READ_ANEW = {
    "station": frozenset({"rod", "height"}),
    "height": frozenset({"above_slab"}),
    "crack": frozenset({"width", "length", "moving", "through", "date"}),
}


@dataclass(frozen=True, slots=True)
class Change:
    """One thing typed: where, the new value (None takes it out), and the value it replaces."""

    path: BookPath
    value: Any
    seen: Any = None


@dataclass(frozen=True, slots=True)
class Job:
    """A job as it stands on disk. ``key`` is the name of its folder, made here."""

    key: str
    folder: Path
    revision: int
    book: Book

    @property
    def title(self) -> str:
        """What the slab is called."""
        return str(self.book.get("job", {}).get("title") or "Slab without a name")

    @property
    def units(self) -> str:
        """``imperial`` or ``metric``."""
        return str(self.book.get("job", {}).get("units", "imperial"))


@dataclass(frozen=True, slots=True)
class JobLine:
    """One line of the list of jobs; ``headline`` is that of the last result, None before one."""

    key: str
    title: str
    date: str
    by: str
    n_photos: int
    headline: str | None
    invented: bool
    changed: float


class Conflict(SlabError):
    """Somebody else changed the same place since it was shown; ``mine`` is kept in the edits."""

    def __init__(self, job: Job, change: Change, who: str, when: str) -> None:
        self.change = change
        self.theirs = look(job.book, change.path)
        super().__init__(
            " ".join(change.path),
            f"{who or 'somebody'} changed it at {when[11:16] or 'another time'}, after this page was shown",
            "choose which of the two to keep; both are recorded",
            expected=change.seen,
            found=self.theirs,
        )


def default_root() -> Path:
    """Where jobs lie: ``SLAB_JOBS``, or the user's own data folder."""
    given = os.environ.get(VARIABLE)
    if given:
        return Path(given).expanduser()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA", "~/AppData/Local"))
    elif sys.platform == "darwin":
        base = Path("~/Library/Application Support")
    else:
        base = Path(os.environ.get("XDG_DATA_HOME") or "~/.local/share")
    return base.expanduser() / "existing-slab-analyzer" / "jobs"


class Workspace:
    """All jobs under one folder.

    No text that a browser sends becomes part of a path: a job is found by comparing the text with
    the folders that are there, and photo files are numbered.
    """

    def __init__(self, root: Path) -> None:
        self.root = root
        self._threads = threading.RLock()
        self._held = False

    def settings(self) -> dict[str, str]:
        """Who works here and in which units; empty before anybody said so."""
        return {str(k): str(v) for k, v in disk.read_json(self.root / "settings.json").items()}

    def set_settings(self, **values: str) -> None:
        """Keep settings; others stay as they are."""
        self.root.mkdir(parents=True, exist_ok=True)
        text = json.dumps({**self.settings(), **values}, ensure_ascii=False, indent=1)
        disk.replace_file(self.root / "settings.json", text.encode("utf-8"))

    def lines(self, word: str = "") -> tuple[JobLine, ...]:
        """Jobs, the last changed first; with ``word`` those that have it in title, notes, names or date."""
        found = []
        for folder in self._folders():
            job = self.open(folder.name)
            head = job.book.get("job", {})
            text = " ".join(str(v) for v in head.values()).casefold()
            if all(part in text for part in word.casefold().split()):
                found.append(
                    JobLine(
                        job.key,
                        job.title,
                        str(head.get("date", "")),
                        str(head.get("by", "")),
                        len(job.book.get("photo", ())),
                        self.result_note(job.key).get("headline"),
                        head.get("invented") is True,
                        (folder / "field_book.toml").stat().st_mtime,
                    )
                )
        return tuple(sorted(found, key=lambda line: -line.changed))

    def create(self, title: str, by: str, units: str = "imperial", day: dt.date | None = None) -> Job:
        """A new job with nothing but its head."""
        head = {"title": title.strip(), "by": by.strip(), "units": units}
        head = {key: value for key, value in head.items() if value}
        date = (day or dt.date.today()).isoformat()
        return self._begin({"schema": 1, "job": {"id": _short(title), **head, "date": date}}, by)

    def take_in(self, folder: Path, who: str) -> Job:
        """A job from a field book with its photos that lie on this machine (a shipped sample).

        Raises
        ------
        FieldBookError, PictureError
            The field book or a photo of it cannot be read.
        """
        book, _ = disk.read_book(folder / "field_book.toml")
        photos = book.pop("photo", [])
        job = self._begin(book, who)
        for entry in photos:
            kept = self.add_photo(job.key, (folder / entry["file"]).read_bytes(), who, str(entry["id"]))
            more = {**entry, "file": look(kept.book, ("photo", str(entry["id"])))["file"]}
            job = self.save(job.key, who, [Change(("photo", str(entry["id"])), more)], force=True)
        return job

    def copy(self, key: str, who: str, day: dt.date | None = None) -> Job:
        """The same slab at a second visit: what stays is kept, every reading is to be taken anew."""
        old = self.open(key).book
        book: Book = {k: v for k, v in old.items() if k in _STAYS}
        date = (day or dt.date.today()).isoformat()
        book["job"] = {
            k: v for k, v in old.get("job", {}).items() if k in {"id", "title", "units", "invented"}
        }
        book["job"] |= {"date": date, "notes": f"Second visit; the first was on {old['job'].get('date')}."}
        if who:
            book["job"]["by"] = who
        for table, dropped in _READ_ANEW.items():
            kept = [{k: v for k, v in e.items() if k not in dropped} for e in old.get(table, ())]
            kept = [entry for entry in kept if "check_of" not in entry]
            if kept:
                book[table] = kept
        slab = {k: v for k, v in old.get("slab", {}).items() if k in _SLAB_STAYS}
        if slab:
            book["slab"] = slab
        return self._begin(book, who)

    def open(self, key: str) -> Job:
        """The job of that key, with any change that a killed server left unfinished put in.

        Raises
        ------
        FieldBookError
            No such job, or its field book was damaged from outside.
        """
        folder = self._find(key)
        job = Job(key, folder, *_read(folder))
        log = folder / "edits.jsonl"
        if _newest(disk.read_lines(log, tail=True)) > job.revision:
            with self._alone(folder):
                revision, book = _read(folder)
                edits = disk.read_lines(log)
                for edit in edits:
                    if edit["revision"] > revision and not edit.get("aside"):
                        book = put(book, tuple(edit["path"]), edit["value"])
                job = Job(key, folder, max(revision, _newest(edits)), book)
                disk.write_book(folder / "field_book.toml", book, job.revision)
        return job

    def save(self, key: str, who: str, changes: Sequence[Change], force: bool = False) -> Job:
        """Put changes into a job, all or none, and record each.

        Parameters
        ----------
        key, who : str
        changes : sequence of Change
        force : bool
            Write over what somebody else wrote meanwhile (they were asked).

        Raises
        ------
        Conflict
            The first change whose place holds neither what it replaces nor what it says; all
            changes are then set aside in the edits.
        """
        folder = self._find(key)
        with self._alone(folder):
            job = self.open(key)
            fresh = [c for c in changes if look(job.book, c.path) != c.value]
            if not fresh:
                return job
            clash = next((c for c in fresh if not force and look(job.book, c.path) != c.seen), None)
            if clash:
                self._record(job, who, fresh, job.revision, aside=True)
                last = self._last_at(key, clash.path)
                raise Conflict(job, clash, last.get("who", ""), last.get("when", ""))
            book = job.book
            for change in fresh:
                book = put(book, change.path, change.value)
            new = Job(job.key, folder, job.revision + 1, book)
            self._record(job, who, fresh, new.revision)
            disk.write_book(folder / "field_book.toml", new.book, new.revision)
            return new

    def edits(self, key: str) -> tuple[dict[str, Any], ...]:
        """Every change of a job in the order it was made; a line cut off by a kill is passed over."""
        return tuple(disk.read_lines(self._find(key) / "edits.jsonl"))

    def add_photo(self, key: str, data: bytes, who: str, photo_id: str | None = None) -> Job:
        """Keep a photo byte for byte under a name of our own and enter it in the field book.

        Raises
        ------
        PictureError
            Not a picture by its first bytes, empty, or over 60 MB.
        """
        suffix = next((end for start, at, end in _PICTURE_STARTS if data[at:].startswith(start)), None)
        if suffix is None:
            raise PictureError("the file", "is no picture", "send JPEG, PNG, TIFF, WebP or HEIC")
        if len(data) > MAX_PHOTO_BYTES:
            raise PictureError("the photo", "is larger than 60 MB", "send it as the phone took it, as JPEG")
        folder = self._find(key)
        with self._alone(folder):
            place = folder / "photos"
            place.mkdir(exist_ok=True)
            taken = [int(p.stem[6:]) for p in place.iterdir() if re.fullmatch(r"photo-[0-9]+", p.stem)]
            number = max(taken, default=0) + 1
            target = place / f"photo-{number:02d}{suffix}"
            disk.replace_file(target, data)
            name = photo_id or f"photo-{number:02d}"
            entry = {"id": name, "file": f"photos/{target.name}"}
            return self.save(key, who, [Change(("photo", name), entry)])

    def photo_file(self, job: Job, photo_id: str) -> Path | None:
        """The file of a photo, if it lies among the photos of its job."""
        said = (look(job.book, ("photo", photo_id)) or {}).get("file", "")
        place = job.folder / "photos"
        names = place.iterdir() if place.is_dir() else ()
        return next((p for p in names if f"photos/{p.name}" == said), None)

    def note_result(self, key: str, note: dict[str, Any]) -> None:
        """Keep what the list of jobs shows of the last result."""
        text = json.dumps(note, ensure_ascii=False)
        disk.replace_file(self._find(key) / "result.json", text.encode("utf-8"))

    def result_note(self, key: str) -> dict[str, Any]:
        """What was kept of the last result; empty before one."""
        return disk.read_json(self._find(key) / "result.json")

    def _folders(self) -> list[Path]:
        if not self.root.is_dir():
            return []
        return [
            p for p in self.root.iterdir() if _KEY.fullmatch(p.name) and (p / "field_book.toml").is_file()
        ]

    def _find(self, key: str) -> Path:
        folder = next((p for p in self._folders() if p.name == key), None)
        if folder is None:
            raise FieldBookError("the job", "is not here", "open it from the list of jobs")
        return folder

    def _begin(self, book: Book, who: str) -> Job:
        self.root.mkdir(parents=True, exist_ok=True)
        key = f"j-{secrets.token_hex(5)}"
        folder = self.root / key
        folder.mkdir()
        job = Job(key, folder, 1, book)
        self._record(job, who, [Change((), None)], 1)
        disk.write_book(folder / "field_book.toml", book, job.revision)
        return job

    def _record(
        self, job: Job, who: str, changes: Sequence[Change], revision: int, aside: bool = False
    ) -> None:
        when = dt.datetime.now(dt.UTC).astimezone().isoformat(timespec="seconds")
        lines = []
        for change in changes:
            edit = {"revision": revision, "who": who, "when": when, "path": change.path}
            edit |= {"value": change.value, "before": look(job.book, change.path) if change.path else None}
            lines.append(
                json.dumps({**edit, "aside": True} if aside else edit, ensure_ascii=False, default=str)
            )
        disk.append_lines(job.folder / "edits.jsonl", lines)

    def _last_at(self, key: str, path: BookPath) -> dict[str, Any]:
        def touches(edit: dict[str, Any]) -> bool:
            there = tuple(edit["path"])
            shared = min(len(there), len(path))
            return bool(there) and there[:shared] == path[:shared] and not edit.get("aside")

        return next((e for e in reversed(self.edits(key)) if touches(e)), {})

    @contextlib.contextmanager
    def _alone(self, folder: Path) -> Iterator[None]:
        """One writer at a time: among threads, and among processes where the system can."""
        with self._threads, (folder / ".lock").open("a") as lock:
            if fcntl is None or self._held:
                yield
                return
            fcntl.flock(lock, fcntl.LOCK_EX)
            self._held = True
            try:
                yield
            finally:
                self._held = False


def _read(folder: Path) -> tuple[int, Book]:
    book, revision = disk.read_book(folder / "field_book.toml")
    return revision, book


def _newest(edits: list[dict[str, Any]]) -> int:
    return max((e["revision"] for e in edits if not e.get("aside")), default=0)


def _short(title: str) -> str:
    """A short name for files and reports, from the title's plain letters."""
    words = re.findall(r"[a-z0-9]+", title.lower())
    return "-".join(words)[:40].strip("-") or "slab"
