"""Loading photos: every format, turned upright once, limits before decoding, one line for errors."""

import hashlib
import os
import struct
import tracemalloc
import zlib

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from stampreader.errors import PhotoError
from stampreader.photo import Limits, load_photo, photo_from_pixels


def gradient(width=320, height=200):
    """A colour picture whose four corners all differ, as a Pillow picture."""
    x, y = np.meshgrid(np.linspace(0, 255, width), np.linspace(0, 255, height))
    return Image.fromarray(np.stack([x, y, 255 - (x + y) / 2], axis=-1).astype(np.uint8))


def near(expected, actual, tolerance=3.0):
    """Whether two pictures of the same shape differ little on average."""
    assert np.asarray(expected).shape == actual.shape
    return np.abs(np.asarray(expected).astype(float) - actual).mean() < tolerance


@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tif", "bmp", "gif", "avif", "heic"])
def test_formats(tmp_path, suffix):
    """Each format gives the grey that Pillow's own conversion gives, and BGR colour."""
    if suffix == "heic":
        import pillow_heif

        pillow_heif.from_pillow(gradient()).save(tmp_path / "a.heic", quality=95)
    else:
        gradient().save(tmp_path / f"a.{suffix}", quality=95)
    photo = load_photo(tmp_path / f"a.{suffix}")
    assert near(gradient().convert("L"), photo.grey, 6)
    assert near(np.asarray(gradient())[:, :, ::-1], photo.colour(), 8)
    assert (np.uint8, (320, 200)) == (photo.grey.dtype, photo.size)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("suffix", ["jpg", "png", "webp", "tif"])
def test_upright_exactly_once(tmp_path, orientation, suffix):
    """All eight EXIF orientations come out as Pillow's exif_transpose turns them."""
    path = tmp_path / f"a.{suffix}"
    exif = Image.Exif()
    exif[0x0112] = orientation
    gradient().save(path, exif=exif, quality=95)
    with Image.open(path) as stored:
        expected = ImageOps.exif_transpose(stored).convert("RGB")
    photo = load_photo(path)
    assert expected.size == photo.size
    assert near(expected.convert("L"), photo.grey)
    assert near(np.asarray(expected)[:, :, ::-1], photo.colour())


def test_heic_is_turned_by_its_decoder_and_not_again(tmp_path):
    """A HEIC whose EXIF says "turned" is already upright when decoded (ISO/IEC 23008-12)."""
    import pillow_heif

    exif = Image.Exif()
    exif[0x0112] = 6
    path = tmp_path / "a.heic"
    pillow_heif.from_pillow(gradient()).save(path, exif=exif.tobytes(), quality=95)
    with pillow_heif.HeifImageFile(path) as expected:
        size = expected.size
    assert size == load_photo(path).size


def test_hash_is_of_the_bytes(tmp_path):
    """The SHA-256 is that of the file, so that the same file is known again under any name."""
    path = tmp_path / "a.png"
    gradient().save(path)
    assert hashlib.sha256(path.read_bytes()).hexdigest() == load_photo(path).sha256


@pytest.mark.parametrize(
    "stored, expected",
    [
        ("2026:05:01 09:30:00", "2026-05-01T09:30:00"),
        ("2026:13:01 09:30:00", None),
        ("0000:00:00 00:00:00", None),
        ("yesterday", None),
    ],
)
def test_time_taken(tmp_path, stored, expected):
    """The EXIF time (tag 0x9003, EXIF 2.3) in ISO 8601; nonsense is no time."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = stored
    gradient().save(tmp_path / "a.jpg", exif=exif)
    assert expected == load_photo(tmp_path / "a.jpg").taken_on


def test_broken_exif_counts_as_none(tmp_path):
    """Nonsense in the EXIF segment does not stop the photo from being read."""
    exif = Image.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "maker"
    gradient().save(tmp_path / "a.jpg", exif=exif)
    data = bytearray((tmp_path / "a.jpg").read_bytes())
    at = data.index(b"Exif\0\0") + 6
    data[at + 4 : at + 30] = b"\xff" * 26
    (tmp_path / "b.jpg").write_bytes(data)
    assert (320, 200) == load_photo(tmp_path / "b.jpg").size


@pytest.mark.parametrize("top", [0x0FFF, 0xFFFF], ids=["12 of 16 bits used", "all bits used"])
def test_sixteen_bit_grey(tmp_path, top):
    """A 16-bit PNG fills 8 bits, whether the camera used all of its bits or 12."""
    ramp = np.linspace(0, top, 256 * 64).reshape(64, 256).astype(np.uint16)
    cv2.imwrite(str(tmp_path / "a.png"), ramp)
    photo = load_photo(tmp_path / "a.png")
    assert near(np.linspace(0, 255, 256 * 64).reshape(64, 256), photo.grey, 1)
    assert (64, 256, 3) == photo.colour().shape


def test_sixteen_bit_colour(tmp_path):
    """A 16-bit colour PNG is read as its upper 8 bits."""
    deep = np.asarray(gradient())[:, :, ::-1].astype(np.uint16) * 257
    cv2.imwrite(str(tmp_path / "a.png"), deep)
    assert near(np.asarray(gradient())[:, :, ::-1], load_photo(tmp_path / "a.png").colour(), 1)


def test_cmyk_jpeg(tmp_path):
    """A CMYK JPEG (Adobe, inverted) gives what Pillow's conversion gives."""
    gradient().convert("CMYK").save(tmp_path / "a.jpg", quality=95)
    with Image.open(tmp_path / "a.jpg") as stored:
        assert stored.mode == "CMYK"
        expected = np.asarray(stored.convert("RGB"))
    photo = load_photo(tmp_path / "a.jpg")
    assert near(expected[:, :, ::-1], photo.colour())
    assert near(cv2.cvtColor(expected, cv2.COLOR_RGB2GRAY), photo.grey)


@pytest.mark.parametrize("mode", ["L", "P", "1", "LA", "RGBA"])
def test_colour_modes(tmp_path, mode):
    """Grey, palette, black-and-white and pictures with alpha are read; see-through is white."""
    picture = gradient().convert(mode)
    if "A" in mode:
        picture.putalpha(Image.new("L", picture.size, 0))
    picture.save(tmp_path / "a.png")
    photo = load_photo(tmp_path / "a.png")
    expected = np.full((200, 320), 255) if "A" in mode else picture.convert("L")
    assert near(expected, photo.grey)


def test_animated_gif_gives_its_first_picture_and_says_so(tmp_path):
    """Of an animation the first picture is read, with a note that names the number."""
    frames = [Image.new("RGB", (80, 60), (v, v, v)) for v in (200, 100, 10)]
    frames[0].save(tmp_path / "a.gif", save_all=True, append_images=frames[1:])
    photo = load_photo(tmp_path / "a.gif")
    assert near(np.full((60, 80), 200), photo.grey)
    assert ("The file holds 3 pictures; only the first was read.",) == photo.notes[:1]


def test_phone_jpeg_with_a_second_picture_behind(tmp_path):
    """A multi-picture JPEG (CIPA DC-007), as phones write them, is read as its first picture."""
    second = Image.new("RGB", (320, 200))
    gradient().save(tmp_path / "a.jpg", "MPO", save_all=True, append_images=[second], quality=95)
    photo = load_photo(tmp_path / "a.jpg")
    assert near(gradient().convert("L"), photo.grey)


def test_wrong_ending_does_not_matter(tmp_path):
    """What the file holds decides, not its name."""
    gradient().save(tmp_path / "a.png")
    (tmp_path / "a.png").rename(tmp_path / "a.jpg")
    assert (320, 200) == load_photo(tmp_path / "a.jpg").size


@pytest.mark.parametrize("size", [(1, 1), (20000, 200), (3, 7)])
def test_odd_sizes(tmp_path, size):
    """Tiny and very long pictures load; a tiny one carries a note."""
    Image.new("L", size, 90).save(tmp_path / "a.png")
    photo = load_photo(tmp_path / "a.png")
    assert (size, (size[1], size[0])) == (photo.size, photo.grey.shape)
    assert (min(size) < 64) == bool(photo.notes)


def test_photo_in_memory():
    """Pixels in memory become a photo: BGR gives grey by the weights of ITU-R BT.601."""
    pixels = np.zeros((4, 6, 3), np.uint8)
    pixels[..., 2] = 200
    photo = photo_from_pixels(pixels)
    assert round(0.299 * 200) == photo.grey[0, 0]
    assert pixels is photo.colour()


# What cannot be read -------------------------------------------------------------------------


def bomb(width, height):
    """A PNG header that claims a size, with hardly any data behind it (PNG, W3C 2003, 11.2)."""

    def chunk(name, body):
        return (
            struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))
        )

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(b"\0" * 1000))
        + chunk(b"IEND", b"")
    )


def jpeg_bytes():
    """A good JPEG of moderate size."""
    return cv2.imencode(".jpg", np.asarray(gradient()))[1].tobytes()


CUT_SHORT = "cut short"
BAD_FILES = {
    "zero bytes": (b"", "0 bytes"),
    "text": (b"hello, this is no picture\n" * 40, "not a picture"),
    "PDF": (b"%PDF-1.7\n" + b"x" * 500, "not a picture"),
    "JPEG cut in half": (jpeg_bytes()[: len(jpeg_bytes()) // 2], CUT_SHORT),
    "JPEG without its last two bytes": (jpeg_bytes()[:-2], CUT_SHORT),
    "JPEG cut in its header": (jpeg_bytes()[:100], "cannot read"),
    "JPEG of start marker alone": (b"\xff\xd8\xff", "cannot read"),
    "300-megapixel bomb": (bomb(20000, 15000), "more pixels than can be read safely"),
    "150-megapixel picture": (bomb(15000, 10000), "15000 × 10000 pixels are more than"),
    "bomb beyond 32 bits": (bomb(2**31 - 1, 2**31 - 1), "cannot read"),
    "PNG cut short": (bomb(100, 100), "cut short or damaged"),
    "HEIC that is none": (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 64, "cannot read"),
    "TIFF header alone": (b"II*\0\x08\0\0\0", "cannot read"),
}


@pytest.mark.parametrize("name", BAD_FILES)
def test_bad_files_give_one_line(tmp_path, name):
    """Each bad file gives a PhotoError that names the file, what is wrong, and what to do."""
    data, reason = BAD_FILES[name]
    path = tmp_path / "odd.jpg"
    path.write_bytes(data)
    with pytest.raises(PhotoError) as raised:
        load_photo(path)
    line = raised.value.line()
    assert "odd.jpg" in line and reason in line
    assert "\n" not in line and raised.value.remedy


def test_a_bomb_is_refused_before_it_is_decoded(tmp_path):
    """A picture of 300 megapixels costs less than a megabyte to refuse."""
    Image.new("1", (20000, 15000)).save(tmp_path / "a.png")
    tracemalloc.start()
    with pytest.raises(PhotoError, match="more pixels"):
        load_photo(tmp_path / "a.png")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 1_000_000


def test_too_many_bytes(tmp_path):
    """A file beyond the limit is refused by its size alone."""
    (tmp_path / "a.jpg").write_bytes(b"\xff\xd8" + b"\0" * 4096)
    with pytest.raises(PhotoError, match="MB allowed"):
        load_photo(tmp_path / "a.jpg", Limits(max_bytes=1024))


def test_heic_without_its_decoder(tmp_path, monkeypatch):
    """Without pillow-heif the line says what to install."""
    import builtins

    real = builtins.__import__

    def without(name, *rest):
        if name.startswith("pillow_heif"):
            raise ImportError(name)
        return real(name, *rest)

    (tmp_path / "a.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 64)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(PhotoError) as raised:
        load_photo(tmp_path / "a.heic")
    assert 'pip install "stampreader[heic]"' in raised.value.remedy


def test_missing_file(tmp_path):
    """A name that does not exist is said so."""
    with pytest.raises(PhotoError, match=r"there is no file .*gone\.jpg"):
        load_photo(tmp_path / "gone.jpg")


@pytest.fixture
def nobody():
    """The test runs without the rights of root, which no permission binds."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    yield
    if root:
        os.seteuid(0)


def test_unreadable_file_by_permission(tmp_path, nobody):
    """A file without permission says that, and not that it is no picture."""
    with pytest.raises(PhotoError, match="Permission denied"):
        load_photo("/etc/shadow")


def test_unreadable_file(tmp_path, monkeypatch):
    """A file the system will not open says the system's reason."""
    from pathlib import Path

    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg_bytes())

    def refuse(*_args, **_options):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(PhotoError, match=r"cannot open .*a\.jpg: Permission denied"):
        load_photo(path)


def test_a_pipe_is_no_photo(tmp_path):
    """A named pipe is refused instead of waited for."""
    os.mkfifo(tmp_path / "a.jpg")
    with pytest.raises(PhotoError, match="not a file"):
        load_photo(tmp_path / "a.jpg")


def test_a_name_with_a_null_byte():
    """A path no system can hold is an error line, not a crash."""
    with pytest.raises(PhotoError, match="cannot open"):
        load_photo("a\0b.jpg")
