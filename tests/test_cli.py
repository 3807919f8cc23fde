"""The command line: one sentence for bad input, exit codes, nothing overwritten, quiet when piped."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from analyzer.cli import run


def _slab(*arguments: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "analyzer", *arguments], cwd=cwd, capture_output=True, text=True, check=False
    )


def _refused(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Run and return the sentence; checks that it is one, on stderr, with exit code 2."""
    assert run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert "; " in err
    assert err.rstrip().endswith(".")
    return err


def test_help_names_every_command_and_loads_nothing_heavy() -> None:
    code = (
        "import sys; from analyzer.cli import run\n"
        "try: run(['--help'])\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'cv2', 'scipy', 'skimage', 'shapely', 'streamlit', 'onnxruntime', 'PIL'}\n"
        "heavy |= {'ezdxf', 'typst'}\n"
        "heavy &= set(sys.modules)\n"
        "print('HEAVY', sorted(heavy))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    for command in (
        "demo", "analyze", "detect", "assess", "plan", "jobs", "target", "sheet", "schema", "verify", "ui",
    ):  # fmt: skip
        assert f"\n    {command} " in done.stdout
    assert "HEAVY []" in done.stdout


def test_no_command_prints_help(capsys: pytest.CaptureFixture[str]) -> None:
    assert run([]) == 0
    assert "COMMAND" in capsys.readouterr().out


def test_assess_prints_a_recommendation_and_files_it(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["assess", str(book), "--out", str(tmp_path / "job")]) == 0
    out = capsys.readouterr().out
    assert "Report: " in out
    assert "Not a code approval" in out
    assert (tmp_path / "job/data/report.pdf").read_bytes().startswith(b"%PDF")
    assert run(["verify", str(tmp_path / "job")]) == 0
    assert "not against a forger" in capsys.readouterr().out
    assert run(["jobs", str(tmp_path)]) == 0
    assert "mill-walk" in capsys.readouterr().out


def test_verify_finds_one_flipped_byte(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["assess", str(book), "--out", str(tmp_path / "job")])
    report = tmp_path / "job/data/report.html"
    data = bytearray(report.read_bytes())
    data[100] ^= 1
    report.write_bytes(bytes(data))
    capsys.readouterr()
    assert run(["verify", str(tmp_path / "job")]) == 1
    assert "changed: data/report.html" in capsys.readouterr().out
    assert run(["verify", str(tmp_path / "job"), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["changed"] == ["data/report.html"]


def test_json_on_every_command(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    Image.fromarray(np.full((80, 90, 3), 128, np.uint8)).save(tmp_path / "a.png")
    for arguments in (
        ["assess", str(book), "--out", str(tmp_path / "job")],
        ["plan", str(book)],
        ["detect", str(tmp_path / "a.png"), "--out", str(tmp_path / "d"), "--method", "filters"],
        ["jobs", str(tmp_path)],
        ["target", "--out", str(tmp_path / "t.pdf")],
        ["sheet", "--out", str(tmp_path / "s.pdf")],
        ["schema"],
        ["verify", str(tmp_path / "job")],
        ["demo", "--list"],
    ):
        assert run([*arguments, "--json"]) == 0, arguments
        assert isinstance(json.loads(capsys.readouterr().out), dict), arguments


def test_errors_as_json_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["assess", str(tmp_path / "none.toml"), "--json"]) == 2
    assert "none.toml" in json.loads(capsys.readouterr().out)["error"]


def test_detect_writes_maps_of_the_pictures_own_size(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pictures = tmp_path / "in"
    pictures.mkdir()
    rgb = np.full((96, 130, 3), 160, np.uint8)
    rgb[40:43] = 40
    Image.fromarray(rgb).save(pictures / "one.png")
    (pictures / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 not a picture")
    assert run(["detect", str(pictures), "--out", str(tmp_path / "out"), "--method", "filters"]) == 0
    out = capsys.readouterr().out
    assert "one.png: " in out
    assert "broken.jpg" in out
    with Image.open(tmp_path / "out/one.crack.png") as image:
        assert image.size == (130, 96)
        assert image.mode == "L"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda t: t.replace('use = "foot"', 'usage = "foot"'), "usage"),
        (lambda t: t.replace('"20 ft", "0 ft"', '"20 feets", "0 ft"'), "feets"),
        (lambda t: t.replace('thickness = "4 in"', 'thickness = "-4 in"'), "negative"),
        (lambda t: t.replace("4 ft 0 in", "5'13\\\"", 1), "inches"),
        (lambda t: t.replace('thickness = "4 in"', "thickness = nan"), "nan"),
        (lambda t: t.replace('name = "S2"', 'name = "S1"'), "S1"),
        (lambda t: t + '\n[[station]]\nname = "S9"\nat = ["99 ft", "0 ft"]\nrod = "4 ft"\n', "S9"),
        (lambda t: t + '\n[[photo]]\nid = "p"\nfile = "nowhere.jpg"\n', "nowhere.jpg"),
        (lambda t: t.replace("[job]", "[job"), "line"),
        (lambda t: t.replace("title = ", "# title = "), "title"),
    ],
)
def test_bad_field_books_get_one_sentence(
    book: Path, book_text: str, capsys: pytest.CaptureFixture[str], change, words: str
) -> None:
    book.write_text(change(book_text), "utf-8")
    command = "analyze" if "nowhere" in words else "assess"
    arguments = [command, str(book)] + (["--out", str(book.parent / "job")] if command == "analyze" else [])
    assert words in _refused(capsys, *arguments)
    assert not (book.parent / "job").exists()


def test_several_problems_stand_one_below_the_other_with_their_lines(
    book: Path, book_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = book_text.replace('use = "foot"', 'use = "feets"').replace('name = "S2"', 'named = "S2"')
    text = text.replace('thickness = "4 in"', 'thickness = "4"')
    book.write_text(text, "utf-8")
    assert run(["assess", str(book)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    first, *faults, last = err.splitlines()
    assert first == f"slab assess: {book.name}: 4 things to correct:"
    assert last == "Correct them and run again."
    assert err.count(book.name) == 1
    # Counted in the text itself, not by the reader.
    typed = text.splitlines()
    for words in ('use = "feets"', 'named = "S2"', 'thickness = "4"'):
        line = next(i for i, t in enumerate(typed, start=1) if words in t)
        assert any(fault.startswith(f"  line {line}, ") for fault in faults), (words, faults)
    assert all("; " in fault and fault.endswith(".") for fault in faults)
    book.write_text("schema = 1\n", "utf-8")
    assert run(["assess", str(book), "--json"]) == 2
    out, _ = capsys.readouterr()
    assert json.loads(out)["lines"][0] == f"{book.name}: 2 things to correct:"


def test_a_slip_of_syntax_says_what_to_type(
    book: Path, book_text: str, capsys: pytest.CaptureFixture[str]
) -> None:
    book.write_text(book_text.replace('use = "foot"', "use = foot"), "utf-8")
    sentence = _refused(capsys, "assess", str(book))
    assert 'foot needs quotation marks; write use = "foot".' in sentence
    assert "TOML" not in sentence


def test_bad_pictures_get_one_sentence(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name, data in (("zero.jpg", b""), ("text.png", b"hello"), ("cut.jpg", _cut_jpeg(tmp_path))):
        (tmp_path / name).write_bytes(data)
        sentence = _refused(
            capsys, "detect", str(tmp_path / name), "--out", str(tmp_path / "out"), "--method", "filters"
        )
        assert name in sentence
        assert not (tmp_path / "out").exists()


def _cut_jpeg(folder: Path) -> bytes:
    rng = np.random.default_rng(0)
    Image.fromarray(rng.integers(0, 255, (300, 300, 3), np.uint8)).save(folder / "whole.jpg")
    return (folder / "whole.jpg").read_bytes()[:4000]


def test_nothing_is_overwritten_without_force(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "job"
    assert run(["assess", str(book), "--out", str(out)]) == 0
    before = (out / "manifest-sha256.txt").read_bytes()
    capsys.readouterr()
    assert "--force" in _refused(capsys, "assess", str(book), "--out", str(out))
    assert (out / "manifest-sha256.txt").read_bytes() == before
    assert run(["assess", str(book), "--out", str(out), "--force"]) == 0


def test_a_folder_of_somebody_elses_is_kept_even_with_force(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine/letter.txt").write_text("x")
    _refused(capsys, "assess", str(book), "--out", str(tmp_path / "mine"), "--force")
    assert (tmp_path / "mine/letter.txt").exists()


def test_ctrl_c_in_the_middle_leaves_nothing(tmp_path: Path) -> None:
    rng = np.random.default_rng(0)
    pictures = tmp_path / "in"
    pictures.mkdir()
    for i in range(40):
        Image.fromarray(rng.integers(0, 255, (900, 1200, 3), np.uint8)).save(pictures / f"{i}.jpg")
    process = subprocess.Popen(
        [sys.executable, "-m", "analyzer", "detect", str(pictures), "--out", str(tmp_path / "out"),
         "--method", "filters"],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    deadline = time.monotonic() + 60
    while not list(tmp_path.glob(".out.part-*/*")) and process.poll() is None and time.monotonic() < deadline:
        time.sleep(0.02)
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err.strip().endswith("Stopped. Nothing was half-written.")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in"]


def test_progress_is_silent_when_piped(book: Path) -> None:
    done = _slab("assess", str(book))
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""


def test_plan_writes_drawings_whole_and_once(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "plans"
    assert run(["plan", str(book), "--out", str(out), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert sorted(data["files"]) == sorted(p.name for p in out.iterdir())
    assert any(name.endswith(".dxf") for name in data["files"])
    assert data["prices"][0]["invented"] is True
    assert "--force" in _refused(capsys, "plan", str(book), "--out", str(out))
    assert run(["plan", str(book), "--out", str(out), "--force"]) == 0


def test_a_price_book_of_ones_own(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    prices = tmp_path / "ours.csv"
    prices.write_text("item,unit,low,likely,high\nconcrete to order,m3,1,2,3\n", "utf-8")
    assert run(["plan", str(book), "--prices", str(prices)]) == 0
    text = capsys.readouterr().out
    assert "Price book: ours.csv." in text
    assert "invented, to show" not in text
    prices.write_text("item,unit,low,likely,high\nconcrete to order,m3,3,2,1\n", "utf-8")
    assert "ours.csv" in _refused(capsys, "plan", str(book), "--prices", str(prices))


def test_unknown_sample_and_resolution(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "no sample" in _refused(capsys, "demo", "--sample", "nowhere", "--out", str(tmp_path / "x"))
    assert "out of range" in _refused(
        capsys, "analyze", "a.toml", "--out", str(tmp_path / "x"), "--mm-per-px", "99"
    )


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
def test_folder_not_writable(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o500)
    assert "cannot be written to" in _refused(capsys, "assess", str(book), "--out", str(closed / "job"))
