"""Reading pictures: formats, colours, sizes, and one sentence for each that cannot be read."""

import contextlib
import hashlib
from pathlib import Path

import numpy as np
import pillow_heif
import pytest
import skimage.data
import skimage.metrics
from PIL import ExifTags, Image, ImageOps

from analyzer.acquire import list_pictures, note_photo, read_photo, read_picture
from analyzer.errors import PictureError


@pytest.fixture(scope="module")
def scene() -> np.ndarray:
    """An open test picture, 300 x 451 px, in colour (scikit-image ``chelsea``)."""
    return np.ascontiguousarray(skimage.data.chelsea())


def save(path: Path, pixels: np.ndarray, orientation: int = 1, **options: object) -> Path:
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    Image.fromarray(pixels).save(path, exif=exif, **options)
    return path


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", [".jpg", ".png", ".tif", ".webp"])
def test_every_format_and_orientation_reads_as_pillow_shows_it(
    tmp_path: Path, scene: np.ndarray, suffix: str, orientation: int
) -> None:
    # General library: Pillow's own decoding and ImageOps.exif_transpose.
    options = {".jpg": {"quality": 95}, ".webp": {"lossless": True}}.get(suffix, {})
    path = save(tmp_path / f"site{suffix}", scene[:120, :90], orientation, **options)
    with Image.open(path) as image:
        expected = np.asarray(ImageOps.exif_transpose(image).convert("RGB"))
    photo = read_picture(path)
    np.testing.assert_array_equal(photo.rgb, expected)
    assert photo.orientation == orientation
    assert not photo.rgb.flags.writeable
    assert photo.rgb.flags.c_contiguous


@pytest.mark.parametrize("orientation", [1, 3, 6, 8])
def test_heic_is_turned_once(tmp_path: Path, scene: np.ndarray, orientation: int) -> None:
    # libheif applies the turn that the file itself prescribes; the EXIF tag repeats it.
    path = tmp_path / "phone.heic"
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Model] = "Example"
    stored = Image.fromarray(scene)
    pillow_heif.from_pillow(stored).save(path, quality=90, exif=exif.tobytes())
    stored.getexif()[ExifTags.Base.Orientation] = orientation
    expected = np.asarray(ImageOps.exif_transpose(stored))
    photo = read_picture(path)
    assert photo.rgb.shape == expected.shape
    assert skimage.metrics.peak_signal_noise_ratio(expected, photo.rgb) > 30
    assert photo.camera == "Example"


def test_original_bytes_stay_and_are_hashed(tmp_path: Path, scene: np.ndarray) -> None:
    for name in ("a.jpg", "b.png"):
        path = save(tmp_path / name, scene, 6)
        before = path.read_bytes()
        photo = read_picture(path)
        assert path.read_bytes() == before
        assert photo.sha256 == hashlib.sha256(before).hexdigest()
        assert photo.n_bytes == len(before)


def test_names_and_focal_length(tmp_path: Path) -> None:
    exif = Image.Exif()
    exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = 50
    pixels = np.full((600, 900, 3), 128, np.uint8)
    Image.fromarray(pixels).save(tmp_path / "walk.jpg", exif=exif)
    photo = read_photo(tmp_path / "walk.jpg")
    assert (photo.photo_id, photo.file_name) == ("walk", "walk.jpg")
    # 900 px over 36 mm of film: 25 px per mm (worked by hand).
    assert photo.focal_px == pytest.approx(1250.0)
    assert read_photo(str(tmp_path / "walk.jpg"), photo_id="overview").photo_id == "overview"


def test_the_note_of_a_photo_keeps_no_place(tmp_path: Path, scene: np.ndarray) -> None:
    exif = Image.Exif()
    exif[ExifTags.Base.DateTime] = "2025:04:12 14:03:20"
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    gps[ExifTags.GPS.GPSLatitude] = gps[ExifTags.GPS.GPSLongitude] = (12.0, 30.0, 0.0)
    Image.fromarray(scene).save(tmp_path / "a.jpg", exif=exif)
    photo = read_picture(tmp_path / "a.jpg")
    assert photo.latitude_deg == 12.5
    note = note_photo(photo)
    assert (note.n_rows, note.n_cols, note.taken_at) == (300, 451, "2025-04-12T14:03:20")
    assert (note.sha256, note.n_bytes) == (photo.sha256, photo.n_bytes)
    assert "12.5" not in str(note)


# ---- unusual pixels that are read -----------------------------------------------------------


def test_alpha_lies_on_white(tmp_path: Path, scene: np.ndarray) -> None:
    alpha = np.tile(np.linspace(0, 255, scene.shape[1]).astype(np.uint8), (scene.shape[0], 1))
    image = Image.fromarray(np.dstack([scene, alpha]))
    white = Image.new("RGBA", image.size, "white")
    expected = np.asarray(Image.alpha_composite(white, image).convert("RGB")).astype(int)
    for name in ("a.png", "a.webp", "a.tif"):
        image.save(tmp_path / name, **({"lossless": True, "exact": True} if name == "a.webp" else {}))
        found = read_picture(tmp_path / name).rgb
        assert np.abs(found - expected).max() <= 1, name


@pytest.mark.parametrize("transparent", [False, True])
def test_palette(tmp_path: Path, scene: np.ndarray, transparent: bool) -> None:
    image = Image.fromarray(scene).quantize(16)
    options = {"transparency": 0} if transparent else {}
    image.save(tmp_path / "a.png", **options)
    expected = np.array(image.convert("RGB"))
    if transparent:
        expected[np.asarray(image) == 0] = 255
    np.testing.assert_array_equal(read_picture(tmp_path / "a.png").rgb, expected)


@pytest.mark.parametrize("suffix", [".jpg", ".png", ".tif"])
def test_greyscale(tmp_path: Path, scene: np.ndarray, suffix: str) -> None:
    path = tmp_path / f"a{suffix}"
    Image.fromarray(scene).convert("L").save(path)
    with Image.open(path) as image:
        grey = np.asarray(image)
    found = read_picture(path).rgb
    for channel in range(3):
        np.testing.assert_array_equal(found[:, :, channel], grey)


def test_black_and_white(tmp_path: Path, scene: np.ndarray) -> None:
    bits = scene[:, :, 0] > 128
    Image.fromarray(bits).save(tmp_path / "a.png")
    np.testing.assert_array_equal(read_picture(tmp_path / "a.png").rgb[:, :, 1], bits * np.uint8(255))


@pytest.mark.parametrize("suffix", [".png", ".tif"])
def test_sixteen_bit_is_scaled_to_eight(tmp_path: Path, suffix: str) -> None:
    ramp = np.tile(np.linspace(0, 65535, 200).astype(np.uint16), (80, 1))
    Image.fromarray(ramp).save(tmp_path / f"a{suffix}")
    found = read_picture(tmp_path / f"a{suffix}").rgb[:, :, 0].astype(float)
    assert np.abs(found - ramp / 257.0).max() <= 1.0


def test_sixteen_bit_colour_written_by_opencv(tmp_path: Path, scene: np.ndarray) -> None:
    import cv2

    cv2.imwrite(str(tmp_path / "a.png"), scene[:, :, ::-1].astype(np.uint16) * 257)
    np.testing.assert_array_equal(read_picture(tmp_path / "a.png").rgb, scene)


def test_cmyk(tmp_path: Path, scene: np.ndarray) -> None:
    path = tmp_path / "a.jpg"
    Image.fromarray(scene).convert("CMYK").save(path, quality=95)
    with Image.open(path) as image:
        assert image.mode == "CMYK"
        expected = np.asarray(image.convert("RGB"))
    np.testing.assert_array_equal(read_picture(path).rgb, expected)


@pytest.mark.parametrize("suffix", [".gif", ".png", ".webp", ".tif"])
def test_animation_gives_its_first_frame(tmp_path: Path, suffix: str) -> None:
    frames = [Image.new("RGB", (80, 70), colour) for colour in ("red", "blue", "lime")]
    path = tmp_path / f"a{suffix}"
    options = {"lossless": True} if suffix == ".webp" else {}
    frames[0].save(path, save_all=True, append_images=frames[1:], **options)
    rgb = read_picture(path).rgb
    assert rgb.shape == (70, 80, 3)
    assert np.array_equal(np.unique(rgb.reshape(-1, 3), axis=0), [[255, 0, 0]])


def test_the_content_decides_and_not_the_name(tmp_path: Path, scene: np.ndarray) -> None:
    Image.fromarray(scene).save(tmp_path / "a.png")
    (tmp_path / "a.png").rename(tmp_path / "a.jpg")
    np.testing.assert_array_equal(read_picture(tmp_path / "a.jpg").rgb, scene)


# ---- pictures that are refused, each in one sentence ------------------------------------------


def refused(path: Path, *words: str) -> None:
    with pytest.raises(PictureError) as caught:
        read_photo(path)
    sentence = str(caught.value)
    assert path.name in sentence
    assert "\n" not in sentence
    for word in words:
        assert word in sentence, sentence


def test_not_a_picture(tmp_path: Path) -> None:
    for name, content, word in [
        ("notes.jpg", b"just words, long enough to look at" * 9, "is not a picture"),
        ("plan.png", b"%PDF-1.7 ...", "PDF"),
        ("film.heic", b"\x00\x00\x00\x20ftypisom\x00\x00\x02\x00isomiso2avc1mp41", "video"),
        ("book.jpg", b"PK\x03\x04" + bytes(100), "zip"),
        ("one.jpg", b"\xff", "is not a picture"),
    ]:
        (tmp_path / name).write_bytes(content)
        refused(tmp_path / name, word)


def test_zero_bytes_missing_and_folder(tmp_path: Path) -> None:
    (tmp_path / "empty.jpg").touch()
    refused(tmp_path / "empty.jpg", "0 bytes")
    refused(tmp_path / "none.jpg", "does not exist")
    (tmp_path / "folder.jpg").mkdir()
    refused(tmp_path / "folder.jpg", "folder")


@pytest.mark.parametrize("suffix", [".jpg", ".png", ".tif", ".webp", ".gif", ".heic"])
@pytest.mark.parametrize("part", [0.02, 0.5, 0.97])
def test_cut_off(tmp_path: Path, suffix: str, part: float) -> None:
    rng = np.random.default_rng(7)
    noisy = rng.integers(0, 255, (600, 700, 3), dtype=np.uint8)
    path = tmp_path / f"a{suffix}"
    if suffix == ".heic":
        pillow_heif.from_pillow(Image.fromarray(noisy)).save(path, quality=50)
    else:
        Image.fromarray(noisy).save(path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * part)])
    refused(path)


def test_a_cut_off_jpeg_is_named_as_such(tmp_path: Path, scene: np.ndarray) -> None:
    for progressive in (False, True):
        big = np.kron(scene, np.ones((2, 2, 1), np.uint8))
        path = save(tmp_path / "a.jpg", big, progressive=progressive)
        path.write_bytes(path.read_bytes()[:-3000])
        refused(path, "cut off", "copy it from the camera again")


def png_that_declares(n_cols: int, n_rows: int) -> bytes:
    import struct
    import zlib

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", n_cols, n_rows, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(bytes(1000)))
        + chunk(b"IEND", b"")
    )


def test_a_billion_declared_pixels_are_refused_before_decoding(tmp_path: Path) -> None:
    import tracemalloc

    path = tmp_path / "bomb.png"
    path.write_bytes(png_that_declares(40_000, 25_000))
    tracemalloc.start()
    refused(path, "40000 x 25000", "1e+03 megapixels", "200 megapixels")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 5e6


def test_a_billion_declared_pixels_in_other_formats(tmp_path: Path) -> None:
    tiny = Image.new("RGB", (70, 70))
    for suffix, old, new in [
        (".gif", b"\x46\x00\x46\x00", b"\xff\xff\xff\xff"),
        (".jpg", b"\x00\x46\x00\x46", b"\xff\xdc\xff\xdc"),
        (".bmp", b"\x46\x00\x00\x00\x46\x00\x00\x00", b"\x00\x80\x00\x00\x00\x80\x00\x00"),
    ]:
        path = tmp_path / f"bomb{suffix}"
        tiny.save(path)
        data = path.read_bytes()
        assert old in data
        path.write_bytes(data.replace(old, new, 1))
        refused(path, "megapixels")


def test_too_small(tmp_path: Path) -> None:
    Image.new("RGB", (500, 599)).save(tmp_path / "a.png")  # 299,500 px
    refused(tmp_path / "a.png", "0.3 megapixels", "500 x 599")
    assert read_picture(tmp_path / "a.png").rgb.shape == (599, 500, 3)
    Image.new("RGB", (500, 600)).save(tmp_path / "b.png")
    assert read_photo(tmp_path / "b.png").rgb.shape == (600, 500, 3)
    Image.new("RGB", (64, 64)).save(tmp_path / "c.png")
    assert read_picture(tmp_path / "c.png").rgb.shape == (64, 64, 3)
    Image.new("RGB", (63, 5000)).save(tmp_path / "d.png")
    with pytest.raises(PictureError, match="64 px a side"):
        read_picture(tmp_path / "d.png")


def test_limits_are_the_callers(tmp_path: Path) -> None:
    Image.new("RGB", (1000, 1000)).save(tmp_path / "a.png")
    with pytest.raises(PictureError, match=r"more than the 0\.9 megapixels"):
        read_photo(tmp_path / "a.png", max_megapixels=0.9)


def test_values_that_are_no_picture(tmp_path: Path) -> None:
    Image.fromarray(np.ones((600, 600), np.float32)).save(tmp_path / "a.tif")
    refused(tmp_path / "a.tif", "values, not colours")


def test_a_raw_file_is_not_read_by_its_preview(tmp_path: Path) -> None:
    Image.new("RGB", (600, 600)).save(tmp_path / "a.dng.tif", tiffinfo={50706: b"\x01\x04\x00\x00"})
    refused(tmp_path / "a.dng.tif", "raw")


@pytest.mark.parametrize("suffix", [".jpg", ".png", ".tif", ".webp", ".gif", ".bmp", ".heic"])
def test_damaged_bytes_give_a_picture_or_a_sentence(tmp_path: Path, suffix: str) -> None:
    rng = np.random.default_rng(11)
    pixels = rng.integers(0, 255, (70, 90, 3), dtype=np.uint8)
    path = tmp_path / f"a{suffix}"
    if suffix == ".heic":
        pillow_heif.from_pillow(Image.fromarray(pixels)).save(path)
    else:
        save(path, pixels, 6) if suffix not in (".gif", ".bmp") else Image.fromarray(pixels).save(path)
    good = path.read_bytes()
    for _ in range(60):
        data = bytearray(good)
        for at in rng.integers(0, min(len(data), 400), rng.integers(1, 5)):
            data[at] = rng.integers(0, 256)
        path.write_bytes(data)
        with contextlib.suppress(PictureError):
            assert read_picture(path).rgb.shape[2] == 3


# ---- folders ---------------------------------------------------------------------------------


def test_list_pictures(tmp_path: Path) -> None:
    for name in ("b.JPG", "A.png", "notes.txt", ".hidden.jpg", "c.heic"):
        (tmp_path / name).touch()
    (tmp_path / "d.jpg").mkdir()
    assert [path.name for path in list_pictures(tmp_path)] == ["A.png", "b.JPG", "c.heic"]
    assert list_pictures(tmp_path / "notes.txt") == (tmp_path / "notes.txt",)


def test_list_pictures_of_nothing(tmp_path: Path) -> None:
    with pytest.raises(PictureError, match="holds no picture"):
        list_pictures(tmp_path)
    with pytest.raises(PictureError, match="does not exist"):
        list_pictures(tmp_path / "none")
