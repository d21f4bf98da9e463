"""What a phone does to light: lens, sensor, noise reduction, tone, sharpening, JPEG."""

from __future__ import annotations

import io
from dataclasses import dataclass, replace

import cv2
import numpy as np
from PIL import Image


@dataclass(frozen=True)
class Look:
    """The phone's faults and habits for one picture."""

    exposure: float
    warmth: tuple[float, float, float]
    bloom: float
    blur: float
    motion: tuple[float, float]
    noise: float
    denoise: float
    sharpen: float
    contrast: float
    local: float
    quality: int
    fringe: float


def invent_look(rng: np.random.Generator, spoilt: str, kind: str) -> Look:
    """Random faults; most pictures are decent, some are poor."""
    u = rng.uniform
    poor = rng.random() < 0.18
    motion = (0.0, 0.0)
    if spoilt == "blurred":
        motion = (u(14, 30), u(0, 180))
    elif rng.random() < 0.16:
        motion = (u(1.5, 5.0), u(0, 180))
    tint = np.exp(rng.normal(0, 0.07, 3))
    return Look(
        exposure=float(np.clip(rng.normal(0, 0.7 if poor else 0.3), -1.6, 1.5)),
        warmth=(float(tint[0]), 1.0, float(tint[2])),
        bloom=u(0.0, 0.05) + (u(0.03, 0.12) if rng.random() < 0.12 else 0.0),
        blur=u(0.35, 0.75) + (u(0.4, 1.6) if poor else 0.0),
        motion=motion,
        noise=float(rng.lognormal(np.log(0.006), 0.6)) * (2.0 if poor else 1.0),
        denoise=u(0.0, 1.0),
        sharpen=u(0.15, 1.1),
        contrast=u(0.1, 0.7),
        local=u(0.0, 0.45),
        quality=int(u(60, 92)) if kind != "calibration" else int(u(66, 92)),
        fringe=u(-0.0006, 0.0006),
    )


def shaken(look: Look, rng: np.random.Generator) -> Look:
    """The same phone at the next shot of a stack: each is shaken anew, most are not."""
    length, angle = float(rng.uniform(1.0, 3.5)), float(rng.uniform(0, 180))
    motion = (length, angle) if rng.random() < 0.12 else (0.0, 0.0)
    return replace(look, motion=motion)


def defects(picture: np.ndarray) -> str:
    """Why a traced picture cannot be used, or ''."""
    if float((~np.isfinite(picture)).mean()) > 1e-4:
        return "non-finite pixels"
    picture = np.nan_to_num(picture, nan=0.0, posinf=0.0)
    grey = picture.mean(-1)
    if float(np.quantile(grey, 0.98)) < 1e-4:
        return "black picture"
    if float((grey < 1e-5).mean()) > 0.5:
        return "half of the picture is black"
    return ""


def calm(picture: np.ndarray) -> np.ndarray:
    """Single pixels far brighter than their neighbours (tracing noise) taken down."""
    broken = ~np.isfinite(picture).all(-1)
    picture = np.where(broken[..., None], 1e4, picture)  # taken down with the other wild ones
    grey = picture.max(-1)
    around = cv2.medianBlur(grey, 3)
    wild = (grey > 3.0 * around + 0.3)[..., None]
    soft = np.stack(
        [cv2.medianBlur(np.ascontiguousarray(picture[..., k]), 3) for k in range(3)], -1
    )
    return np.where(wild, soft, picture)


Meter = tuple[slice, slice]
"""Rows and columns the exposure is taken from."""


def _expose(picture: np.ndarray, look: Look, meter: Meter | None) -> np.ndarray:
    grey = picture.mean(-1)
    h, w = grey.shape
    middle = grey[meter or (slice(h // 5, -h // 5 or None), slice(w // 5, -w // 5 or None))]
    key = float(np.exp(np.log(middle + 1e-3).mean()))
    bright = float(np.quantile(middle, 0.985))
    gain = min(0.25 / key, 1.6 / max(bright, 1e-6) * 1.6)
    if meter is not None:  # who taps on the spine sees to it that its highlights hold
        gain = min(gain, 1.4 / max(bright, 1e-6))
    return picture * gain * 2.0**look.exposure * np.array(look.warmth, np.float32)


def _optics(picture: np.ndarray, look: Look) -> np.ndarray:
    h, w = picture.shape[:2]
    wide = cv2.GaussianBlur(
        cv2.resize(np.minimum(picture, 8), (w // 8, h // 8), interpolation=cv2.INTER_AREA),
        (0, 0),
        w / 8 * 0.03,
    )
    picture = picture * (1 - look.bloom) + cv2.resize(wide, (w, h)) * look.bloom
    picture = cv2.GaussianBlur(picture, (0, 0), look.blur)
    if look.motion[0] > 0:
        picture = cv2.filter2D(picture, -1, _streak(*look.motion))
    y, x = np.mgrid[-1 : 1 : h * 1j, -1 : 1 : w * 1j].astype(np.float32)
    picture = picture * (1 - 0.16 * (x * x + y * y))[..., None]
    for k, sign in ((0, 1), (2, -1)):
        z = 1 + sign * look.fringe
        turn = np.array([[z, 0, (1 - z) * w / 2], [0, z, (1 - z) * h / 2]])
        picture[..., k] = cv2.warpAffine(
            np.ascontiguousarray(picture[..., k]), turn, (w, h), borderMode=cv2.BORDER_REPLICATE
        )
    return picture


def _streak(length: float, angle: float) -> np.ndarray:
    n = int(np.ceil(length)) * 2 + 1
    kernel = np.zeros((n, n), np.float32)
    a = np.radians(angle)
    d = np.array([np.cos(a), np.sin(a)]) * length / 2
    c = n // 2
    p, q = (
        (int((c - d[0]) * 16), int((c - d[1]) * 16)),
        (int((c + d[0]) * 16), int((c + d[1]) * 16)),
    )
    cv2.line(kernel, p, q, 1.0, 1, cv2.LINE_AA, 4)
    return kernel / kernel.sum()


def _sensor(picture: np.ndarray, look: Look, rng: np.random.Generator) -> np.ndarray:
    """Shot and read noise, blurred colour as after demosaicing, noise reduction."""
    level = np.sqrt(np.clip(picture, 0, 4) * look.noise * 0.12 + (look.noise * 0.35) ** 2)
    noisy = picture + level * rng.standard_normal(picture.shape, dtype=np.float32)
    root = np.sqrt(np.clip(noisy, 0, 1.0)).astype(np.float32)
    ycc = cv2.cvtColor(root, cv2.COLOR_RGB2YCrCb)
    ycc[..., 1:] = cv2.GaussianBlur(ycc[..., 1:], (0, 0), 1.4 + 1.5 * look.denoise)
    if look.denoise > 0.15:
        smooth = cv2.bilateralFilter(ycc[..., 0], 5, 0.03 + 0.05 * look.denoise, 1.6)
        ycc[..., 0] += (smooth - ycc[..., 0]) * min(1.0, look.denoise * 1.2)
    return np.clip(cv2.cvtColor(ycc, cv2.COLOR_YCrCb2RGB), 0, 1) ** 2


def _tone(picture: np.ndarray, look: Look) -> np.ndarray:
    shoulder = np.where(picture > 0.7, 0.7 + 0.3 * np.tanh((picture - 0.7) / 0.5), picture)
    code = np.where(
        shoulder <= 0.0031308,
        12.92 * shoulder,
        1.055 * np.maximum(shoulder, 1e-9) ** (1 / 2.4) - 0.055,
    ).astype(np.float32)
    h, w = code.shape[:2]
    base = cv2.GaussianBlur(cv2.resize(code.mean(-1), (w // 8, h // 8)), (0, 0), w / 8 * 0.04)
    base = cv2.resize(base, (w, h))[..., None]
    code = code + look.local * (0.5 - base) * 0.5
    curve = code * code * (3 - 2 * np.clip(code, 0, 1))
    return np.clip(code * (1 - look.contrast) + curve * look.contrast, 0, 1)


def develop(
    picture: np.ndarray, look: Look, rng: np.random.Generator, meter: Meter | None = None
) -> np.ndarray:
    """Linear picture to what the phone stores, (H, W, 3) uint8 RGB; metered in the middle, or
    where it was tapped.
    """
    picture = _expose(calm(picture.astype(np.float32)), look, meter).astype(np.float32)
    picture = np.minimum(picture, 12)
    code = _tone(_sensor(np.minimum(_optics(picture, look), 1.35), look, rng), look)
    soft = cv2.GaussianBlur(code, (0, 0), 1.1)
    code = code + look.sharpen * (code - soft)
    return (np.clip(code, 0, 1) * 255 + 0.5).astype(np.uint8)


TURNS = {1: None, 3: cv2.ROTATE_180, 6: cv2.ROTATE_90_COUNTERCLOCKWISE, 8: cv2.ROTATE_90_CLOCKWISE}


def encode(upright: np.ndarray, exif: int, quality: int, limit: int) -> tuple[bytes, int]:
    """JPEG bytes as the phone writes them: sensor-wise with an EXIF orientation."""
    turn = TURNS[exif]
    stored = upright if turn is None else cv2.rotate(upright, turn)
    image = Image.fromarray(stored)
    tags = Image.Exif()
    tags[0x0112] = exif
    while True:
        buffer = io.BytesIO()
        image.save(buffer, "JPEG", quality=quality, exif=tags, subsampling=2, optimize=True)
        if buffer.tell() <= limit or quality <= 48:
            return buffer.getvalue(), quality
        quality -= 4
