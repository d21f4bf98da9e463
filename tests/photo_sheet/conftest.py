"""A camera for printed sheets: a pinhole with tilt, roll, lens, blur, light falloff and JPEG."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

import cv2
import numpy as np
import pypdfium2
import pytest

from stampreader.paper import SheetLayout
from stampreader.photo import Photo, photo_from_pixels
from stampreader.report.photo_sheet import photo_sheet_pdf

PRINTED_AT = datetime(2026, 11, 25, 14, 3, tzinfo=UTC)
DPI = 240
PX_PER_MM = DPI / 25.4


@dataclass(frozen=True)
class Camera:
    """Where the camera stands and what it does to the picture; `seed` draws the rest."""

    tilt_deg: float = 12.0
    roll_deg: float = 7.0
    turn_deg: float = 30.0
    blur_px: float = 0.8
    falloff: float = 0.35
    noise: float = 3.0
    quality: int = 88
    size: tuple[int, int] = (1944, 2592)
    fill: float = 0.9
    k1: float = 0.0
    seed: int = 1

    def matrix(self, layout: SheetLayout) -> np.ndarray:
        """Homography from mm on the sheet to photo pixels, before the lens's bend."""
        width, height = layout.paper.width, layout.paper.height
        tilt, roll, turn = map(math.radians, (self.tilt_deg, self.roll_deg, self.turn_deg))
        axis = np.array([math.cos(turn), math.sin(turn), 0.0]) * tilt
        lean, _ = cv2.Rodrigues(axis)
        spin, _ = cv2.Rodrigues(np.array([0.0, 0.0, roll]))
        rotation = lean @ spin
        focal = 0.8 * max(self.size)
        centre = np.array([[1, 0, -width / 2], [0, 1, -height / 2], [0, 0, 1.0]])

        def view(distance: float) -> np.ndarray:
            inner = np.column_stack([rotation[:, 0], rotation[:, 1], [0, 0, distance]])
            lens = np.array([[focal, 0, self.size[0] / 2], [0, focal, self.size[1] / 2], [0, 0, 1]])
            return lens @ inner @ centre

        near, far = 150.0, 3000.0
        corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], float)
        for _ in range(40):
            distance = (near + far) / 2
            spots = cv2.perspectiveTransform(corners.reshape(-1, 1, 2), view(distance)).reshape(
                -1, 2
            )
            reach = np.abs(spots - np.array(self.size) / 2) / (np.array(self.size) / 2)
            near, far = (near, distance) if reach.max() < self.fill else (distance, far)
        return view(far)


def rendered(pdf: bytes, page: int = 0) -> np.ndarray:
    """A page of a PDF as grey pixels at `DPI`, by PDFium."""
    document = pypdfium2.PdfDocument(pdf)
    return np.asarray(document[page].render(scale=DPI / 72, grayscale=True).to_numpy()).squeeze()


def bent(camera: Camera, points: np.ndarray) -> np.ndarray:
    """Where the lens's radial bend moves points `(N, 2)` of the ideal picture."""
    centre = np.array(camera.size) / 2
    ray = (points - centre) / max(camera.size) * 2
    return centre + (points - centre) * (1 + camera.k1 * (ray**2).sum(axis=1, keepdims=True))


def photographed(page: np.ndarray, layout: SheetLayout, camera: Camera) -> np.ndarray:
    """A colour photo `(H, W, 3) uint8 BGR` of the printed page on a speckled board."""
    chance = np.random.default_rng(camera.seed)
    width, height = camera.size
    to_photo = camera.matrix(layout) @ np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1.0])
    board = cv2.resize(chance.normal(105, 18, (height // 8, width // 8)), (width, height))
    lit = cv2.warpPerspective(
        page.astype(np.float32) * 0.86 + 12, to_photo, (width, height), flags=cv2.INTER_AREA,
        borderMode=cv2.BORDER_CONSTANT, borderValue=-1,
    )  # fmt: skip
    lit = np.where(lit < 8, board, lit).astype(np.float32)
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    if camera.k1:
        # the inverse bend by fixed-point steps: which ideal point lands on each pixel
        points = np.stack([xs.ravel(), ys.ravel()], axis=1)
        ideal = points.copy()
        for _ in range(3):
            ideal += points - bent(camera, ideal)
        lit = cv2.remap(lit, ideal[:, 0].reshape(lit.shape).astype(np.float32),
                        ideal[:, 1].reshape(lit.shape).astype(np.float32), cv2.INTER_LINEAR,
                        borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
    angle = chance.uniform(0, 2 * math.pi)
    ramp = (xs / width - 0.5) * math.cos(angle) + (ys / height - 0.5) * math.sin(angle)
    lit *= 1 - camera.falloff * (0.5 + ramp)
    lit = cv2.GaussianBlur(lit, (0, 0), camera.blur_px)
    lit += chance.normal(0, camera.noise, lit.shape).astype(np.float32)
    tinted = lit[..., None] * np.array([0.94, 1.0, 1.03], np.float32)
    whole = np.clip(tinted, 0, 255).astype(np.uint8)
    ok, packed = cv2.imencode(".jpg", whole, [cv2.IMWRITE_JPEG_QUALITY, camera.quality])
    assert ok
    return cv2.imdecode(packed, cv2.IMREAD_COLOR)


@pytest.fixture(scope="session")
def take_photo() -> Callable[..., tuple[Photo, np.ndarray]]:
    """Print ids on a sheet, photograph it; gives the photo and the true mm-to-pixel matrix."""
    printed: dict[tuple[object, ...], np.ndarray] = {}

    def take(
        ids: Sequence[str], layout: SheetLayout, camera: Camera, edit: Callable | None = None
    ) -> tuple[Photo, np.ndarray]:
        key = (tuple(ids), layout)
        if key not in printed:
            printed[key] = rendered(photo_sheet_pdf(ids, layout, PRINTED_AT))
        page = printed[key] if edit is None else edit(printed[key].copy())
        pixels = photographed(page, layout, camera)
        return photo_from_pixels(pixels), camera.matrix(layout)

    return take


@pytest.fixture(scope="session")
def camera_class() -> type[Camera]:
    """The camera."""
    return Camera
