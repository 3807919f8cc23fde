"""Jobs on disk: nothing typed is lost, whatever happens to browser, server or disk."""

from __future__ import annotations

import datetime as dt
import multiprocessing
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from analyzer import chain
from analyzer.errors import FieldBookError, OutputError, PictureError
from ui import disk
from ui.store import Change, Conflict, Workspace, default_root

JPEG = b"\xff\xd8\xff\xe0" + b"x" * 40
THICK = ("slab", "thickness")


def test_what_is_typed_is_there_for_another_server(place: Workspace) -> None:
    job = place.create("Walk to the mill office", "M. Example", day=dt.date(2026, 5, 3))
    place.save(job.key, "M. Example", [Change(THICK, "4 in")])
    again = Workspace(place.root).open(job.key)
    assert again.book["slab"] == {"thickness": "4 in"}
    assert again.book["job"]["date"] == "2026-05-03"
    assert again.revision == 2
    # The file is plain TOML, as the Python standard library reads it.
    assert tomllib.loads((job.folder / "field_book.toml").read_text("utf-8"))["slab"]["thickness"] == "4 in"


def test_every_change_says_who_when_and_what_was_before(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    place.save(job.key, "M. Example", [Change(THICK, "4 in")])
    place.save(job.key, "R. Sample", [Change(THICK, "5 in", seen="4 in")])
    last = place.edits(job.key)[-1]
    assert (last["who"], last["path"], last["value"], last["before"]) == (
        "R. Sample", list(THICK), "5 in", "4 in",
    )  # fmt: skip
    assert dt.datetime.fromisoformat(last["when"]).tzinfo is not None


def test_two_tabs_on_different_fields_both_stay(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    place.save(job.key, "one", [Change(THICK, "4 in")])
    done = place.save(job.key, "two", [Change(("slab", "age_years"), 30)])
    assert done.book["slab"] == {"thickness": "4 in", "age_years": 30}


def test_second_writer_of_one_field_is_told_and_nothing_is_lost(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    place.save(job.key, "one", [Change(THICK, "4 in")])
    with pytest.raises(Conflict, match=r"one changed it at [0-9]{2}:[0-9]{2}") as told:
        place.save(job.key, "two", [Change(THICK, "5 in")])
    assert told.value.theirs == "4 in"
    assert place.open(job.key).book["slab"]["thickness"] == "4 in"
    aside = place.edits(job.key)[-1]
    assert (aside["aside"], aside["value"], aside["who"]) == (True, "5 in", "two")
    assert place.save(job.key, "two", [Change(THICK, "5 in")], force=True).book["slab"]["thickness"] == "5 in"


def test_the_same_value_from_both_is_no_conflict(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    first = place.save(job.key, "one", [Change(THICK, "4 in")])
    assert place.save(job.key, "two", [Change(THICK, "4 in")]).revision == first.revision


def _write_many(root: Path, key: str, name: str) -> None:
    place = Workspace(root)
    for i in range(15):
        entry = {"name": f"{name}{i}", "at": "A", "rod": "4 ft"}
        place.save(key, name, [Change(("station", entry["name"]), entry)])


def test_two_servers_writing_at_once_lose_nothing(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    context = multiprocessing.get_context(
        "fork" if "fork" in multiprocessing.get_all_start_methods() else None
    )
    workers = [context.Process(target=_write_many, args=(place.root, job.key, n)) for n in ("a", "b")]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join(30)
    done = place.open(job.key)
    assert len(done.book["station"]) == 30
    assert done.revision == 31


def test_killed_between_log_and_field_book_loses_nothing(
    place: Workspace, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = place.create("Walk", "M. Example")

    def die(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(disk, "write_book", die)
    with pytest.raises(KeyboardInterrupt):
        place.save(job.key, "one", [Change(THICK, "4 in")])
    monkeypatch.undo()
    with (job.folder / "edits.jsonl").open("a", encoding="utf-8") as log:
        log.write('{"revision": 9, "who": "cut o')
    again = Workspace(place.root).open(job.key)
    assert again.book["slab"]["thickness"] == "4 in"
    assert again.revision == 2
    after = place.save(job.key, "one", [Change(THICK, "5 in", seen="4 in")])
    assert after.revision == 3
    assert place.edits(job.key)[-1]["value"] == "5 in"


def test_a_server_killed_hard_leaves_every_finished_save(tmp_path: Path) -> None:
    code = (
        "import sys, os, itertools; from pathlib import Path; from ui.store import *\n"
        "place = Workspace(Path(sys.argv[1])); job = place.create('Walk', 'x')\n"
        "for i in itertools.count(1):\n"
        "    place.save(job.key, 'x', [Change(('slab', 'age_years'), i, None if i == 1 else i - 1)])\n"
        "    print(i, flush=True)\n"
    )
    root = Path(__file__).resolve().parents[2]
    worker = subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "jobs")], stdout=subprocess.PIPE, cwd=root,
        env={**os.environ, "PYTHONPATH": str(root)},
    )  # fmt: skip
    assert worker.stdout
    told = 0
    while told < 20:
        told = int(worker.stdout.readline())
    worker.kill()
    worker.wait()
    told = max([told, *(int(line) for line in worker.stdout.read().split())])
    worker.stdout.close()
    place = Workspace(tmp_path / "jobs")
    (line,) = place.lines()
    assert place.open(line.key).book["slab"]["age_years"] >= told


def test_a_full_disk_keeps_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.toml"
    disk.replace_file(target, b"old")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="No space left"):
        disk.replace_file(target, b"new")
    assert target.read_bytes() == b"old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]


@pytest.mark.parametrize("key", ["", "..", "../jobs", "/etc", "j-0123456789", "j-../../..", "J-0123456789\0"])
def test_no_text_of_a_browser_is_a_path(place: Workspace, key: str) -> None:
    place.create("Walk", "M. Example")
    with pytest.raises(FieldBookError, match="not here"):
        place.open(key)


def test_photos_keep_their_bytes_under_our_own_names(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    job = place.add_photo(job.key, JPEG, "M. Example")
    job = place.add_photo(job.key, b"\x89PNG\r\n\x1a\n" + b"y" * 20, "M. Example")
    assert [p["file"] for p in job.book["photo"]] == ["photos/photo-01.jpg", "photos/photo-02.png"]
    found = place.photo_file(job, "photo-01")
    assert found
    assert found.read_bytes() == JPEG
    with pytest.raises(PictureError, match="no picture"):
        place.add_photo(job.key, b"#!/bin/sh", "M. Example")


def test_a_photo_file_outside_the_job_is_never_opened(place: Workspace) -> None:
    job = place.create("Walk", "M. Example")
    (place.root / "secret.jpg").write_bytes(JPEG)
    job = place.save(job.key, "x", [Change(("photo", "p"), {"id": "p", "file": "photos/../../secret.jpg"})])
    assert place.photo_file(job, "p") is None


def test_list_and_search(place: Workspace) -> None:
    place.create("Walk to the mill office", "M. Example", day=dt.date(2026, 5, 3))
    second = place.create("Pool deck", "R. Sample", day=dt.date(2026, 6, 1))
    place.save(second.key, "R. Sample", [Change(("job", "notes"), "by the diving board")])
    assert [line.title for line in place.lines()] == ["Pool deck", "Walk to the mill office"]
    assert [line.title for line in place.lines("mill 2026")] == ["Walk to the mill office"]
    assert [line.title for line in place.lines("DIVING")] == ["Pool deck"]
    assert place.lines("garage") == ()


def test_second_visit_keeps_the_slab_and_no_reading(place: Workspace) -> None:
    source = chain.sample_field_book()
    first = place.take_in(source.parent, "M. Example")
    again = place.copy(first.key, "R. Sample", dt.date(2026, 4, 2))
    assert again.key != first.key
    assert again.book["corner"] == first.book["corner"]
    assert again.book["stops"] == first.book["stops"]
    assert again.book["job"]["date"] == "2026-04-02"
    assert again.book["job"]["by"] == "R. Sample"
    assert "photo" not in again.book
    assert again.book["station"]
    assert not any("rod" in s or "check_of" in s for s in again.book["station"])
    assert not any("above_slab" in h for h in again.book["height"])
    assert "seasonal_movement" not in again.book["slab"]


def test_a_sample_taken_in_reads_as_the_sample(place: Workspace) -> None:
    from analyzer.acquire import read_field_book

    source = chain.sample_field_book()
    job = place.take_in(source.parent, "M. Example")
    kept, shipped = read_field_book(job.folder / "field_book.toml"), read_field_book(source)
    assert kept.outline == shipped.outline
    assert kept.stations == shipped.stations
    assert [p.photo_id for p in kept.photos] == [p.photo_id for p in shipped.photos]


def test_settings_and_default_place(
    place: Workspace, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert place.settings() == {}
    place.set_settings(who="M. Example")
    place.set_settings(units="metric")
    assert Workspace(place.root).settings() == {"who": "M. Example", "units": "metric"}
    monkeypatch.setenv("SLAB_JOBS", str(tmp_path / "mine"))
    assert default_root() == tmp_path / "mine"
    monkeypatch.delenv("SLAB_JOBS")
    assert default_root().name == "jobs"
