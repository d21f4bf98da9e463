"""The photo sheet in a photo: corner markers, the cell's QR codes, scale and straightened cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from stampreader.errors import PhotoError
from stampreader.paper import (
    LAYOUTS,
    MARKER_BITS,
    MARKER_PATTERNS,
    CellPlace,
    Rect,
    SheetLayout,
    label_id,
    marker_rows,
)
from stampreader.photo.file import Photo
from stampreader.words import Quad

Pixels = NDArray[np.uint8]
Matrix = NDArray[np.float64]

SEARCH_PX = (1000, 1600, 2800)
"""Long sides at which markers are looked for; the later one if the earlier found some, not all."""
BIT_ERRORS = 4
"""Wrong modules tolerated in a marker; any two patterns differ in 14 or more."""
NEEDED_MARKERS = 3
SCALE_RANGE = (4.0, 24.0)
"""Pixels per mm of the straightened cells: as fine as the photo, inside these limits."""
QR_PX_PER_MM = 20.0
QR_QUIET_MM = 2.5
QR_MODULES = (21, 25, 29, 33)
"""Sizes of the QR symbols that ids up to 40 characters need."""
SHARPEN = 0.5
"""How much a module is set off from its neighbours before it is called black or white."""
MIN_CONTRAST = 40.0
INK_SHARE = 0.12
"""Dark share of the QR's place from which a code is taken to be printed there."""
EDGE_MM = 3.0
OFF_PAPER = 10.0
"""Grey levels off the paper's own brightness from which something lies there."""
COVERED_SHARE = 0.01
MAX_MISFIT_MM = 1.5
"""Largest distance of a marker's corner from where a flat sheet would have it."""


@dataclass(frozen=True, slots=True, eq=False)
class Cell:
    """One cell of a photographed sheet.

    Attributes:
        number: number of the cell on its sheet, from 1 in reading order.
        id: connector id from the cell's QR code; `None` if the code cannot be read or is missing.
        printed: whether a QR code is printed there, readable or not.
        occupied: whether something lies there; in doubt it does.
        quad: corners of the place of the connector, in pixels of the upright photo.
        crop: that place straightened, `(H, W, 3) uint8 BGR`, upright as the sheet is read.
        mm_per_px: size of a pixel of `crop` on the paper. A stamp standing `h` mm above the paper
            looks larger by `h` / camera distance, about 2 % at 10 mm and half a metre.
    """

    number: int
    id: str | None
    printed: bool
    occupied: bool
    quad: Quad
    crop: Pixels
    mm_per_px: float


def read_sheet(photo: Photo) -> tuple[Cell, ...] | None:
    """The cells of a photo sheet, in the order of their numbers; `None` if no sheet is seen.

    Three of the four corner markers are enough.

    Raises:
        PhotoError: a sheet is there, but only two markers are seen, or it lies too crumpled.
    """
    seen = find_markers(photo.grey)
    layout = _layout_of(seen)
    if layout is None:
        return None
    to_photo = _sheet_to_photo(layout, seen)
    scale = _px_per_mm(layout, to_photo)
    colour = photo.colour()
    return tuple(_read_cell(photo.grey, colour, place, to_photo, scale) for place in layout.cells)


def find_markers(grey: Pixels) -> dict[int, Matrix]:
    """Corner markers in a grey picture `(H, W) uint8`: number → four corners `(4, 2)` in pixels.

    Corners run from the marker's own top-left corner clockwise, refined at full size.
    """
    seen: dict[int, Matrix] = {}
    for side in SEARCH_PX:
        scale = min(1.0, side / max(grey.shape))
        small = grey if scale == 1 else cv2.resize(
            grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA
        )  # fmt: skip
        corners, numbers, _ = _detector().detectMarkers(small)
        for number, quad in zip([] if numbers is None else numbers.ravel(), corners, strict=True):
            full = (quad.reshape(4, 2).astype(np.float64) + 0.5) / scale - 0.5
            seen.setdefault(int(number), _refined(grey, full))
        if len(seen) >= 4 or not seen or scale == 1:
            break
    return seen


@lru_cache(maxsize=1)
def _detector() -> cv2.aruco.ArucoDetector:
    listed = [
        cv2.aruco.Dictionary.getByteListFromBits(_white_bits(number))
        for number in range(len(MARKER_PATTERNS))
    ]
    dictionary = cv2.aruco.Dictionary(np.concatenate(listed), MARKER_BITS, BIT_ERRORS)
    settings = cv2.aruco.DetectorParameters()
    settings.errorCorrectionRate = 1.0
    settings.minMarkerPerimeterRate = 0.02
    settings.adaptiveThreshWinSizeMax = 33
    return cv2.aruco.ArucoDetector(dictionary, settings)


def _white_bits(number: int) -> Pixels:
    """A marker's inner modules `(6, 6) uint8`, 1 for white."""
    inner = [row[1:-1] for row in marker_rows(number)[1:-1]]
    return np.array([[0 if black else 1 for black in row] for row in inner], np.uint8)


def _refined(grey: Pixels, corners: Matrix) -> Matrix:
    """Corners moved to the nearest black-to-white corner, at most a third of a module away."""
    module = float(np.linalg.norm(corners[0] - corners[2])) / np.sqrt(2) / (MARKER_BITS + 2)
    window = max(2, int(module / 2))
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 30, 0.01)
    points = corners.astype(np.float32).reshape(-1, 1, 2).copy()
    try:
        moved = cv2.cornerSubPix(grey, points, (window, window), (-1, -1), stop)
    except cv2.error:  # a corner at the very edge of the photo
        return corners
    shifted = np.asarray(moved, np.float64).reshape(4, 2)
    far = np.linalg.norm(shifted - corners, axis=1) > module / 2 + 1
    return np.where(far[:, None], corners, shifted)


def _layout_of(seen: dict[int, Matrix]) -> SheetLayout | None:
    """The layout most markers belong to; `None` when there is no sheet."""
    best = max(LAYOUTS, key=lambda layout: len(layout.markers.keys() & seen.keys()))
    count = len(best.markers.keys() & seen.keys())
    if count >= NEEDED_MARKERS:
        return best
    if count == 2:
        raise PhotoError(
            "a photo sheet is in the picture, but only two of its corner marks are seen",
            remedy="Take the photo again with all four corner marks in it and uncovered.",
        )
    return None


def _sheet_to_photo(layout: SheetLayout, seen: dict[int, Matrix]) -> Matrix:
    """Homography `(3, 3)` from mm on the sheet to pixels of the photo, by least squares."""
    numbers = sorted(layout.markers.keys() & seen.keys())
    on_sheet = np.array([layout.markers[n].corners for n in numbers], np.float64).reshape(-1, 2)
    in_photo = np.array([seen[n] for n in numbers], np.float64).reshape(-1, 2)
    found, _ = cv2.findHomography(on_sheet, in_photo, 0)
    to_photo = np.eye(3) if found is None else np.asarray(found, np.float64)
    if found is None or _misfit_mm(to_photo, on_sheet, in_photo) > MAX_MISFIT_MM:
        raise PhotoError(
            "a photo sheet is in the picture, but it is not lying flat",
            remedy="Lay the sheet on a board and take the photo again from above.",
        )
    return to_photo


def _misfit_mm(to_photo: Matrix, on_sheet: Matrix, in_photo: Matrix) -> float:
    back = _moved(np.asarray(np.linalg.inv(to_photo), np.float64), in_photo)
    return float(np.abs(back - on_sheet).max())


def _moved(matrix: Matrix, points: Matrix) -> Matrix:
    """Points `(N, 2)` through a homography."""
    moved = cv2.perspectiveTransform(points.reshape(-1, 1, 2).astype(np.float64), matrix)
    return np.asarray(moved, np.float64).reshape(-1, 2)


def _px_per_mm(layout: SheetLayout, to_photo: Matrix) -> float:
    """Finest scale of the photo on the sheet, inside `SCALE_RANGE`."""
    size = (layout.paper.width, layout.paper.height)
    spots = np.array([(fx * size[0], fy * size[1]) for fx in (0.1, 0.9) for fy in (0.1, 0.9)])
    spans = [
        np.linalg.norm(_moved(to_photo, spots + step) - _moved(to_photo, spots), axis=1)
        for step in (np.array([1.0, 0.0]), np.array([0.0, 1.0]))
    ]
    return float(np.clip(np.max(spans), *SCALE_RANGE))


def _read_cell(
    grey: Pixels, colour: Pixels, place: CellPlace, to_photo: Matrix, scale: float
) -> Cell:
    corners = _moved(to_photo, np.array(place.free.corners))
    connector_id, printed = _read_code(grey, place.qr, to_photo)
    crop = _straightened(colour, place.free, to_photo, scale)
    return Cell(
        number=place.number,
        id=connector_id,
        printed=printed,
        occupied=_is_occupied(crop, scale),
        quad=tuple((float(x), float(y)) for x, y in corners),  # type: ignore[arg-type]
        crop=crop,
        mm_per_px=1.0 / scale,
    )


def _is_occupied(crop: Pixels, px_per_mm: float) -> bool:
    """Whether a cell's paper is covered anywhere: pixels far off the plane of its brightness."""
    edge = round(EDGE_MM * px_per_mm)
    inner = cv2.cvtColor(crop, cv2.COLOR_BGR2GRAY)[edge:-edge, edge:-edge]
    small = cv2.resize(
        inner, None, fx=2 / px_per_mm, fy=2 / px_per_mm, interpolation=cv2.INTER_AREA
    )
    ys, xs = np.mgrid[0 : small.shape[0], 0 : small.shape[1]]
    terms = np.column_stack([xs.ravel(), ys.ravel(), np.ones(small.size)])
    values = small.ravel().astype(np.float64)
    paper = values >= np.percentile(values, 50)
    for _ in range(3):
        plane, *_ = np.linalg.lstsq(terms[paper], values[paper], rcond=None)
        off = np.abs(values - terms @ plane)
        paper = off <= max(OFF_PAPER, float(np.percentile(off, 50)))
    return float(np.mean(off > OFF_PAPER)) > COVERED_SHARE


def _straightened(pixels: Pixels, place: Rect, to_photo: Matrix, px_per_mm: float) -> Pixels:
    """A place of the sheet seen from straight above, `px_per_mm` pixels a mm."""
    step = 1.0 / px_per_mm
    # pixel (0, 0) of the crop has its centre half a pixel inside the place's corner
    to_sheet = np.array(
        [[step, 0, place.x + step / 2], [0, step, place.y + step / 2], [0, 0, 1]], np.float64
    )
    size = (max(1, round(place.width * px_per_mm)), max(1, round(place.height * px_per_mm)))
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    straight = cv2.warpPerspective(
        pixels, to_photo @ to_sheet, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(straight, np.uint8)


def _read_code(grey: Pixels, place: Rect, to_photo: Matrix) -> tuple[str | None, bool]:
    """Connector id in the QR code at `place`, and whether a code is printed there at all."""
    picture = _straightened(grey, place.shrunk(-QR_QUIET_MM), to_photo, QR_PX_PER_MM)
    _, black = cv2.threshold(picture, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    spread = float(np.percentile(picture, 98)) - float(np.percentile(picture, 2))
    printed = spread > MIN_CONTRAST and float(np.mean(black == 0)) > INK_SHARE
    if not printed:
        return None, False
    if (connector_id := label_id(_decoded(picture))) is not None:
        return connector_id, True
    for modules in QR_MODULES:
        if (connector_id := label_id(_decoded(*_redrawn(picture, modules)))) is not None:
            return connector_id, True
    return None, True


def _redrawn(picture: Pixels, modules: int) -> tuple[Pixels, Matrix]:
    """A QR symbol drawn afresh from the mean brightness of each module's middle.

    The sheet says where the symbol lies to a tenth of a mm, so a code too blurred for a detector
    is still read module by module. `picture` shows the symbol with its quiet zone all round.
    Gives the drawing and the symbol's corners in it, `(1, 4, 2)`.
    """
    quiet = round(QR_QUIET_MM * QR_PX_PER_MM)
    symbol = picture[quiet:-quiet, quiet:-quiet]
    fine = cv2.resize(symbol, (modules * 9, modules * 9), interpolation=cv2.INTER_AREA)
    middles = fine.reshape(modules, 9, modules, 9)[:, 3:6, :, 3:6].mean(axis=(1, 3))
    around = cv2.blur(middles, (3, 3), borderType=cv2.BORDER_REPLICATE)
    middles = np.clip(middles + SHARPEN * (middles - around), 0, 255)
    level, _ = cv2.threshold(middles.astype(np.uint8), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    white = np.where(middles > level, 255, 0).astype(np.uint8)
    framed = cv2.copyMakeBorder(white, 4, 4, 4, 4, cv2.BORDER_CONSTANT, value=(255,))
    drawn = np.asarray(np.kron(framed, np.ones((8, 8), np.uint8)), np.uint8)
    low, high = 4 * 8.0, (4 + modules) * 8.0 - 1
    return drawn, np.array([[[low, low], [high, low], [high, high], [low, high]]])


def _decoded(picture: Pixels, corners: Matrix | None = None) -> str:
    """Text of the QR symbol in a picture, its corners given or to be found; empty if none."""
    reader = cv2.QRCodeDetector()
    try:
        if corners is None:
            text, _, _ = reader.detectAndDecode(picture)
        else:
            text, _ = reader.decode(picture, corners.astype(np.float32))
    except (cv2.error, UnicodeDecodeError):
        return ""
    return str(text)
