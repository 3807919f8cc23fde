"""What the page does with files, without Streamlit: uploads in, finished job out.

No path that a browser sends is used as a path: an upload is matched by its bare name with a name
in the field book, and the field book's own paths are checked where they are read.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import tomllib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from analyzer import chain
from analyzer.errors import FieldBookError
from analyzer.records import JobRecord
from analyzer.terms import DetectMethod
from ui import disk
from ui.paths import Book
from ui.store import Job, Workspace


@dataclass(frozen=True, slots=True, eq=False)
class Upload:
    """A file that a browser sent."""

    name: str
    data: bytes


@dataclass(frozen=True, slots=True, eq=False)
class Finished:
    """A finished job and the files of its folder that the page shows or offers."""

    record: JobRecord
    pictures: tuple[tuple[str, bytes], ...]
    report_html: bytes
    report_pdf: bytes


def run_uploads(
    book: Upload, photos: Sequence[Upload], method: DetectMethod, progress: Callable[[str], None]
) -> Finished:
    """Run the chain on uploaded files; without photos in the field book, assess it as typed.

    Raises
    ------
    SlabError
        As the chain; also when a photo named in the field book was not uploaded.
    """
    with tempfile.TemporaryDirectory(prefix="slab-") as folder:
        place = Path(folder)
        path = place / "field_book.toml"
        path.write_bytes(book.data)
        for name in _photo_names(book):
            wanted = PurePosixPath(name)
            sent = next((p for p in photos if PurePosixPath(p.name).name == wanted.name), None)
            if sent is None:
                raise FieldBookError(
                    book.name, f"names the photo {name!r}, which was not sent", "add it and run again"
                )
            if wanted.is_absolute() or ".." in wanted.parts:
                continue  # the reader refuses such a path with its own sentence
            target = place.joinpath(*wanted.parts)
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(sent.data)
        return run_book(path, method, progress)


def run_book(field_book: Path, method: DetectMethod, progress: Callable[[str], None]) -> Finished:
    """Run the chain on a field book on this machine and read back what it filed.

    Raises
    ------
    SlabError
        As the chain.
    """
    job = (
        chain.analyze_job(field_book, method, progress=progress)
        if _photo_names(Upload(field_book.name, field_book.read_bytes()))
        else chain.assess_job(field_book, progress=progress)
    )
    with tempfile.TemporaryDirectory(prefix="slab-") as folder:
        filed = chain.file_job(job, field_book, Path(folder) / "job", progress=progress)
        pictures = sorted((filed.report_html.parent / "pictures").iterdir())
        return Finished(
            job.record,
            tuple((p.name, p.read_bytes()) for p in pictures),
            filed.report_html.read_bytes(),
            filed.report_pdf.read_bytes(),
        )


def _photo_names(book: Upload) -> list[str]:
    """File names of the photos in a field book; a broken book has none and fails where it is read."""
    try:
        data = tomllib.loads(book.data.decode("utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError):
        return []
    entries = data.get("photo", [])
    if not isinstance(entries, list):
        return []
    return [e["file"] for e in entries if isinstance(e, dict) and isinstance(e.get("file"), str)]


def work_out(place: Workspace, key: str, with_photos: bool, progress: Callable[[str], None]) -> None:
    """Run the chain on a kept job as it stands now, and keep the finished job folder beside it.

    The field book is copied first: what is typed meanwhile is saved as ever and belongs to the
    next result. The last result stays until the new one is complete.

    Raises
    ------
    SlabError
        As the chain.
    """
    job = place.open(key)
    book = ready(job.book, with_photos)
    with _snapshot(place, job, book) as path:
        done = chain.analyze_job(path, progress=progress) if book.get("photo") else chain.assess_job(path)
        chain.file_job(done, path, job.folder / "result", force=True, progress=progress)
    ranking = done.record.ranking
    note = {
        "revision": job.revision,
        "headline": str(ranking.headline),
        "next": [[m.what, m.why, m.effort] for m in ranking.next_measurements[:5]],
    }
    place.note_result(key, note)


@contextlib.contextmanager
def one_photo(place: Workspace, job: Job, photo_id: str) -> Iterator[Path]:
    """The field book with one photo alone, as a file, for as long as the block runs."""
    book = ready(job.book)
    photos = [e for e in book.get("photo", ()) if e.get("id") == photo_id]
    with _snapshot(place, job, {**book, "photo": photos}) as path:
        yield path


def last_result(job: Job) -> Finished:
    """The finished job that lies beside a kept job.

    Raises
    ------
    VerifyError
        There is none, or it was made by another version.
    """
    from analyzer import transmit

    record = transmit.read_job(job.folder / "result")
    data = job.folder / "result" / "data"
    pictures = sorted((data / "pictures").iterdir())
    return Finished(
        record,
        tuple((p.name, p.read_bytes()) for p in pictures),
        (data / "report.html").read_bytes(),
        (data / "report.pdf").read_bytes(),
    )


def ready(book: Book, with_photos: bool = True) -> Book:
    """The field book without what was planned but not read yet: a station needs a reading."""
    read = [s for s in book.get("station", ()) if "rod" in s or "height" in s]
    new = {k: v for k, v in book.items() if k != "station" and (with_photos or k != "photo")}
    return {**new, "station": read} if read else new


@contextlib.contextmanager
def _snapshot(place: Workspace, job: Job, book: Book) -> Iterator[Path]:
    """A field book with its photos beside it, apart from the job that is being typed."""
    with tempfile.TemporaryDirectory(dir=job.folder, prefix=".work-") as folder:
        path = Path(folder) / "field_book.toml"
        disk.write_book(path, book, job.revision)
        (Path(folder) / "photos").mkdir()
        for entry in book.get("photo", ()):
            source = place.photo_file(job, str(entry["id"]))
            if source is not None:
                _same_file(source, Path(folder) / "photos" / source.name)
        yield path


def _same_file(source: Path, target: Path) -> None:
    """The same bytes at another place, without copying them where the system can."""
    try:
        os.link(source, target)
    except OSError:
        shutil.copyfile(source, target)
