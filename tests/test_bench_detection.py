"""The scoring command on folders with a known answer."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parent))

import bench_detection as bench


def _case(found_shift: int, name: str = "a") -> tuple[bench.Case, bench.Found]:
    true = np.zeros((96, 96), bool)
    true[47:50] = True
    found = np.roll(true, found_shift, axis=0)
    rgb = np.full((96, 96, 3), 150, np.uint8)
    return bench.Case(name, rgb, true), bench.Found(np.where(found, 200, 0).astype(np.uint8), 128, found)


def test_perfect_and_missed_lines_score_one_and_zero_in_every_way() -> None:
    right = bench.score_case(*_case(0), 2)
    wrong = bench.score_case(*_case(20), 2)
    for way in bench.WAYS:
        assert right.counts[way].f1 == 1.0
        assert wrong.counts[way].f1 == 0.0
    assert right.false_px == 0
    assert wrong.false_px == pytest.approx(95, abs=4)
    assert wrong.longest_false_px == pytest.approx(96, abs=2)


def test_summary_sums_over_pictures_and_tells_false_length_per_megapixel() -> None:
    empty = bench.Case("empty", np.zeros((100, 100, 3), np.uint8), np.zeros((100, 100), bool))
    line = np.zeros((100, 100), bool)
    line[50] = True
    found = bench.Found(line.astype(np.uint8) * 255, 128, line)
    rows = [
        bench.score_case(*_case(0), 2),
        bench.score_case(*_case(20), 2),
        bench.score_case(empty, found, 2),
    ]
    text = "\n".join(bench.summary(rows, 2))
    assert "2 pictures with cracks" in text
    shipped = next(line for line in text.splitlines() if line.startswith("shipped threshold, map "))
    assert shipped.split()[-3:] == ["0.500", "0.500", "0.500"]
    false_px = float(text.split("without cracks: ")[1].split(" px")[0])
    assert false_px == pytest.approx(99 / 0.01, rel=0.03)
    assert "100.0% with one longer than 60 px" in text


def test_lines_that_are_no_cracks_are_counted_apart() -> None:
    case, found = _case(20)
    seam = np.roll(case.true, 20, axis=0)
    row = bench.score_case(bench.Case("s", case.rgb, case.true, None, seam), found, 2)
    assert "joints and seams called crack: 100.0%" in "\n".join(bench.summary([row], 2))


def test_folder_is_read_with_masks_other_lines_and_scale(tmp_path: Path) -> None:
    for kind in ("images", "masks", "masks_formwork"):
        (tmp_path / kind).mkdir()
    line = np.zeros((80, 64), np.uint8)
    line[:, 30:34] = 255
    Image.fromarray(np.dstack([line] * 3)).save(tmp_path / "images" / "p.jpg")
    Image.fromarray(line).save(tmp_path / "masks" / "p.png")
    Image.fromarray(line.T[:64, :80].copy().T).save(tmp_path / "masks_formwork" / "p.png")
    (case,) = bench.read_folder(tmp_path, scale=2.0)
    assert case.rgb.shape == (160, 128, 3)
    assert case.true[:, 60:68].all()
    assert case.other_lines is not None
    (tmp_path / "masks" / "p.png").unlink()
    with pytest.raises(SystemExit, match="no mask"):
        list(bench.read_folder(tmp_path))


@pytest.mark.parametrize(("text", "scale", "expected"), [("5px", None, 5), ("4", None, 4), ("2mm", 0.5, 4)])
def test_tolerances(text: str, scale: float | None, expected: float) -> None:
    assert bench.tolerance_of(text, scale) == expected


def test_tolerance_in_mm_needs_a_scale() -> None:
    with pytest.raises(SystemExit, match="mm-per-px"):
        bench.tolerance_of("2mm", None)


def test_worst_pictures_come_first_on_the_sheet(tmp_path: Path) -> None:
    good, bad = bench.score_case(*_case(0, "good"), 2), bench.score_case(*_case(20, "bad"), 2)
    path = tmp_path / "sheet.png"
    bench.contact_sheet([good, bad], path, count=1, side=64)
    sheet = np.asarray(Image.open(path))
    assert sheet.shape == (64, 3 * 128, 3)
    over = sheet[20:, 64:128].reshape(-1, 3).astype(int)
    assert ((over[:, 0] > 200) & (over[:, 1] < 120)).any()  # red: false
    assert ((over[:, 1] > 180) & (over[:, 0] < 120)).any()  # green: missed


def test_command_prints_the_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for kind in ("images", "masks"):
        (tmp_path / kind).mkdir()
    rgb = np.random.default_rng(1).normal(150, 5, (128, 128, 3)).clip(0, 255).astype(np.uint8)
    rgb[60:64] = 30
    mask = np.zeros((128, 128), np.uint8)
    mask[60:64] = 255
    Image.fromarray(rgb).save(tmp_path / "images" / "one.png")
    Image.fromarray(mask).save(tmp_path / "masks" / "one.png")
    assert bench.main([str(tmp_path), "--method", "filters", "--tolerance", "3px"]) == 0
    out = capsys.readouterr().out
    assert "one " in out
    assert "OIS, map, skeletons" in out
