"""Damaged files of every format: a photo or a PhotoError, never anything else."""

import contextlib
import io

import numpy as np
import pytest
from PIL import Image

from stampreader.errors import PhotoError
from stampreader.photo import Limits, load_photo

CASES = 120
LIMITS = Limits(max_pixels=1_000_000)


def seed(kind):
    """A small good file of a format."""
    rng = np.random.default_rng(3)
    picture = Image.fromarray(rng.integers(0, 256, (48, 64, 3), np.uint8))
    buffer = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = 6
    exif.get_ifd(0x8769)[0x9003] = "2026:05:01 09:30:00"
    if kind == "HEIC":
        import pillow_heif

        pillow_heif.from_pillow(picture).save(buffer, exif=exif.tobytes())
    elif kind in ("GIF", "BMP"):
        picture.save(buffer, kind)
    else:
        picture.save(buffer, kind, exif=exif)
    return buffer.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "GIF", "BMP", "AVIF", "HEIC"])
def test_mutated_files(tmp_path, kind):
    """Bytes flipped, cut out, doubled or cut off: each gives a photo or one error line."""
    good = np.frombuffer(seed(kind), np.uint8)
    rng = np.random.default_rng(11)
    path = tmp_path / "a.img"
    photos = 0
    for case in range(CASES):
        data = good.copy()
        at = rng.integers(0, len(data), rng.integers(1, 9))
        data[at] = rng.integers(0, 256, len(at), np.uint8)
        a, b = sorted(rng.integers(0, len(data), 2))
        changed = [data, data[:b], np.delete(data, slice(a, b)), np.insert(data, a, data[a:b])]
        path.write_bytes(changed[case % 4].tobytes())
        with contextlib.suppress(PhotoError):
            photo = load_photo(path, LIMITS)
            assert photo.grey.shape == photo.size[::-1]
            with contextlib.suppress(PhotoError):
                assert photo.colour().shape == (*photo.grey.shape, 3)
            photos += 1
    assert photos < CASES
