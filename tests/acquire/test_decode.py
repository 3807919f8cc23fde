"""Colour profiles, the decoder in two ways, and what reading costs in memory."""

import os
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from analyzer.acquire import decode as module
from analyzer.acquire.decode import decode
from analyzer.errors import PictureError

ANY_SIZE = (1, 0.0, 1e9)


def profile(red: tuple[float, ...], green: tuple[float, ...], blue: tuple[float, ...]) -> bytes:
    """A small ICC version 2 display profile: primaries (XYZ, D50) and gamma 2.2."""
    # Layout after ICC.1:2001-04, from memory; Pillow and Little CMS check it on reading.
    fixed = lambda v: struct.pack(">i", round(v * 65536))  # noqa: E731
    xyz = lambda t: b"XYZ \0\0\0\0" + b"".join(fixed(v) for v in t)  # noqa: E731
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(2.2 * 256)) + b"\0\0"
    name = b"wide gamut\0"
    desc = b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + bytes(78)
    desc += bytes(-len(desc) % 4)
    text = b"text\0\0\0\0none\0\0\0\0"
    tags = [
        (b"desc", desc),
        (b"cprt", text),
        (b"wtpt", xyz((0.9642, 1.0, 0.8249))),
        (b"rXYZ", xyz(red)),
        (b"gXYZ", xyz(green)),
        (b"bXYZ", xyz(blue)),
        (b"rTRC", curve),
        (b"gTRC", curve),
        (b"bTRC", curve),
    ]
    at = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for tag, content in tags:
        table += tag + struct.pack(">II", at + len(body), len(content))
        body += content
    size = 128 + len(table) + len(body)
    header = struct.pack(">I", size) + bytes(4) + bytes([2, 0x40, 0, 0]) + b"mntrRGB XYZ " + bytes(12)
    header += b"acsp" + bytes(28) + fixed(0.9642) + fixed(1.0) + fixed(0.8249)
    return header.ljust(128, b"\0") + table + body


# Display P3 primaries adapted to D50, as such profiles carry them (from memory).
DISPLAY_P3 = profile((0.51512, 0.24120, -0.00105), (0.29198, 0.69225, 0.04189), (0.15710, 0.06657, 0.78407))


@pytest.mark.parametrize("suffix", [".png", ".tif", ".webp", ".jpg"])
def test_wide_gamut_colours_become_srgb(tmp_path: Path, suffix: str) -> None:
    # CSS Color 4 (from memory): sRGB red is color(display-p3 0.9175 0.2003 0.1386), that is
    # (234, 51, 35) of 255. Grey stays grey: the white points are the same.
    pixels = np.full((80, 200, 3), 128, np.uint8)
    pixels[:, :96] = (234, 51, 35)
    options = {".webp": {"lossless": True}, ".jpg": {"quality": 100, "subsampling": 0}}.get(suffix, {})
    path = tmp_path / f"a{suffix}"
    Image.fromarray(pixels).save(path, icc_profile=DISPLAY_P3, **options)
    rgb = decode(path, *ANY_SIZE).rgb.astype(int)
    assert np.abs(rgb[20, 20] - (255, 0, 0)).max() <= 8  # gamma 2.2 here, not the sRGB curve
    assert np.abs(rgb[20, 180] - 128).max() <= 2
    plain = tmp_path / f"b{suffix}"
    Image.fromarray(pixels).save(plain, **options)
    assert abs(int(decode(plain, *ANY_SIZE).rgb[20, 20, 1]) - 51) <= 2


def test_a_damaged_profile_is_no_reason_to_refuse(tmp_path: Path) -> None:
    pixels = np.full((80, 80, 3), (234, 51, 35), np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.png", icc_profile=DISPLAY_P3[:150])
    np.testing.assert_array_equal(decode(tmp_path / "a.png", *ANY_SIZE).rgb, pixels)


@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"subsampling": 0}, {"quality": 30}])
def test_both_decoders_give_the_same_pixels(
    tmp_path: Path, options: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    # General library: Pillow against OpenCV on the same file.
    rng = np.random.default_rng(3)
    pixels = rng.integers(0, 255, (90, 110, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.jpg", **options)
    fast = decode(tmp_path / "a.jpg", *ANY_SIZE).rgb
    monkeypatch.setattr(module.cv2, "imdecode", lambda *_: None)
    slow = decode(tmp_path / "a.jpg", *ANY_SIZE).rgb
    np.testing.assert_array_equal(fast, slow)


def test_lack_of_memory_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.new("RGB", (80, 80)).save(tmp_path / "a.png")

    def no_memory(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(module.np, "empty", no_memory)
    with pytest.raises(PictureError, match="needs more memory"):
        decode(tmp_path / "a.png", *ANY_SIZE)


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs a user whom files can refuse")
def test_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    Image.new("RGB", (80, 80)).save(tmp_path / "a.png")
    (tmp_path / "a.png").chmod(0)
    with pytest.raises(PictureError, match="cannot be opened"):
        decode(tmp_path / "a.png", *ANY_SIZE)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="peak memory is read the Linux way")
@pytest.mark.parametrize("orientation", [1, 6])
def test_a_large_jpeg_takes_little_more_than_twice_its_pixels(tmp_path: Path, orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    tile = np.random.default_rng(5).integers(100, 160, (500, 500, 3), dtype=np.uint8)
    Image.fromarray(np.tile(tile, (8, 10, 1))).save(tmp_path / "a.jpg", exif=exif)  # 20 megapixels
    code = (
        "import resource, sys\n"
        "from analyzer.acquire import read_photo\n"
        "peak = lambda: resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024\n"
        "before = peak()\n"
        "n = read_photo(sys.argv[1]).rgb.nbytes\n"
        "print((peak() - before) / n)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "a.jpg")], capture_output=True, text=True, check=True
    )
    assert float(run.stdout) < 2.5
