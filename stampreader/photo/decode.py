"""Decoding to 8-bit grey or colour, and turning upright by the EXIF orientation."""

from __future__ import annotations

import warnings

import cv2
import numpy as np
import numpy.typing as npt
from PIL import Image

from stampreader.errors import PhotoError
from stampreader.photo.header import Header, is_cut_short, open_lazily, orientation_of

Pixels = npt.NDArray[np.uint8]

PAPER = 255
"""Grey that transparent parts are laid on."""


def decode(data: bytes, header: Header, *, colour: bool) -> Pixels:
    """Decode a file and turn it upright.

    Args:
        data: the whole file.
        header: what `read_header` said about it.
        colour: three channels instead of one.

    Returns:
        `(H, W) uint8` grey, or `(H, W, 3) uint8 BGR`.

    Raises:
        PhotoError: the file is cut short or damaged.
    """
    if header.kind == "JPEG":
        return turn_upright(_decode_jpeg(data, colour), header.orientation)
    return _decode_other(data, colour)


def turn_upright(pixels: Pixels, orientation: int) -> Pixels:
    """Undo the camera's turn (EXIF 2.3, tag 0x0112, values 1 to 8)."""
    if orientation in (2, 5, 7):
        pixels = cv2.flip(pixels, 1)  # type: ignore[assignment]
    if orientation == 4:
        pixels = cv2.flip(pixels, 0)  # type: ignore[assignment]
    turn = {
        3: cv2.ROTATE_180,
        5: cv2.ROTATE_90_COUNTERCLOCKWISE,
        6: cv2.ROTATE_90_CLOCKWISE,
        7: cv2.ROTATE_90_CLOCKWISE,
        8: cv2.ROTATE_90_COUNTERCLOCKWISE,
    }.get(orientation)
    return pixels if turn is None else cv2.rotate(pixels, turn)  # type: ignore[return-value]


def _decode_jpeg(data: bytes, colour: bool) -> Pixels:
    """JPEG straight to the channels wanted: dropping colour saves half the time."""
    if is_cut_short(data):
        raise PhotoError("the JPEG is cut short", remedy="Copy the file again from the camera.")
    flag = cv2.IMREAD_COLOR if colour else cv2.IMREAD_GRAYSCALE
    try:
        pixels = cv2.imdecode(np.frombuffer(data, np.uint8), flag | cv2.IMREAD_IGNORE_ORIENTATION)
    except cv2.error as error:
        raise PhotoError("the JPEG cannot be decoded") from error
    if pixels is None:
        raise PhotoError("the JPEG is damaged", remedy="Copy the file again from the camera.")
    return pixels  # type: ignore[return-value]


def _decode_other(data: bytes, colour: bool) -> Pixels:
    """Other formats through Pillow.

    Some of its decoders turn the picture themselves and then say so in the EXIF they leave, so
    the orientation is read after decoding.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        picture = open_lazily(data)
        try:
            picture.load()
            return turn_upright(_to_channels(picture, colour), orientation_of(picture))
        except MemoryError:
            raise
        except Exception as error:  # damaged files raise almost anything
            raise PhotoError(
                "the picture is cut short or damaged", remedy="Copy the file again."
            ) from error


def _to_channels(picture: Image.Image, colour: bool) -> Pixels:
    if picture.mode.startswith(("I", "F")):
        grey = _deep_to_8_bit(np.asarray(picture))
        return cv2.cvtColor(grey, cv2.COLOR_GRAY2BGR) if colour else grey  # type: ignore[return-value]
    if "A" in picture.getbands() or "transparency" in picture.info:
        picture = _on_paper(picture)
    if not colour:
        return np.asarray(picture.convert("L"))
    return np.ascontiguousarray(np.asarray(picture.convert("RGB"))[:, :, ::-1])


def _on_paper(picture: Image.Image) -> Image.Image:
    """Lay transparent parts on white, as a viewer does."""
    rgba = picture.convert("RGBA")
    paper = Image.new("RGBA", rgba.size, (PAPER, PAPER, PAPER, 255))
    return Image.alpha_composite(paper, rgba).convert("RGB")


def _deep_to_8_bit(deep: npt.NDArray[np.generic]) -> Pixels:
    """More than 8 bits to 8: the brightest value becomes 255, zero stays black.

    Cameras that fill 12 of 16 bits would otherwise come out nearly black.
    """
    values = np.nan_to_num(deep.astype(np.float32), posinf=0.0, neginf=0.0)
    top = float(values.max(initial=0.0))
    eight: Pixels = np.clip(values * (255.0 / top if top > 0 else 0.0), 0, 255).astype(np.uint8)
    return eight
