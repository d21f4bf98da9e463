"""The photo sheet, printed, photographed and read back."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from stampreader.errors import PhotoError
from stampreader.paper import LAYOUTS, layout_named
from stampreader.photo import photo_from_pixels
from stampreader.photo.sheet import SCALE_RANGE, find_markers, read_sheet

SIZES = ((1944, 2592), (2592, 1944), (1536, 2048), (2448, 3264))


def _ids_for(layout, start=40):
    return [f"TM-{number:04d}" for number in range(start, start + layout.cells_count)]


def _random_camera(camera_class, number):
    chance = np.random.default_rng(1000 + number)
    size = SIZES[number % 4]
    return camera_class(
        tilt_deg=chance.uniform(0, 35),
        roll_deg=chance.uniform(0, 360),
        turn_deg=chance.uniform(0, 360),
        blur_px=chance.uniform(0.4, 1.8) * max(size) / 4000,
        falloff=chance.uniform(0.1, 0.6),
        noise=chance.uniform(1, 5),
        quality=int(chance.integers(70, 95)),
        size=size,
        fill=chance.uniform(0.8, 0.97),
        k1=chance.uniform(-0.01, 0.01),
        seed=number,
    )


def _true_quad(matrix, place):
    points = np.array(place.free.corners).reshape(-1, 1, 2)
    return cv2.perspectiveTransform(points, matrix).reshape(-1, 2)


@pytest.mark.parametrize("number", range(20))
def test_any_camera_reads_the_printed_sheet_back(number, camera_class, take_photo):
    """Twenty cameras, tilted to 35° and turned any way: every id is read, cells lie within 1 mm."""
    layout = LAYOUTS[number % len(LAYOUTS)]
    camera = _random_camera(camera_class, number)
    photo, matrix = take_photo(_ids_for(layout), layout, camera)
    cells = read_sheet(photo)
    assert cells is not None
    assert _ids_for(layout) == [cell.id for cell in cells]
    assert list(range(1, layout.cells_count + 1)) == [cell.number for cell in cells]
    for cell, place in zip(cells, layout.cells, strict=True):
        misplaced = np.abs(np.array(cell.quad) - _true_quad(matrix, place)) * cell.mm_per_px
        assert misplaced.max() < 1.0


def test_crop_is_a_straight_colour_picture_of_the_cell(camera_class, take_photo):
    """A crop is (H, W, 3) uint8 and its size in mm is the size of the printed cell."""
    layout = layout_named("a4", 6)
    cells = read_sheet(take_photo(_ids_for(layout), layout, camera_class())[0])
    for cell, place in zip(cells, layout.cells, strict=True):
        height, width, channels = cell.crop.shape
        assert (3, np.uint8) == (channels, cell.crop.dtype)
        assert place.free.width == pytest.approx(width * cell.mm_per_px, abs=0.2)
        assert place.free.height == pytest.approx(height * cell.mm_per_px, abs=0.2)
        assert SCALE_RANGE[0] <= 1 / cell.mm_per_px <= SCALE_RANGE[1]


def test_scale_measures_a_card_of_known_size(camera_class, take_photo):
    """A dark ID-1 card in cell 1 measures 85.60 × 53.98 mm (ISO/IEC 7810) within 0.3 mm."""
    layout = layout_named("a4", 4)
    place = layout.cells[0].free

    def with_card(page):
        step = page.shape[1] / layout.paper.width
        left, top = (place.x + 5) * step, (place.y + 20) * step
        right, bottom = left + 85.60 * step, top + 53.98 * step
        cv2.rectangle(
            page, (round(left), round(top)), (round(right) - 1, round(bottom) - 1), 60, -1
        )
        return page

    camera = camera_class(tilt_deg=25, roll_deg=200)
    cell = read_sheet(take_photo(_ids_for(layout), layout, camera, with_card)[0])[0]
    grey = cv2.cvtColor(cell.crop, cv2.COLOR_BGR2GRAY)
    _, dark = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY_INV + cv2.THRESH_OTSU)
    across, down = (dark > 0).sum(axis=1), (dark > 0).sum(axis=0)
    assert 85.60 == pytest.approx(np.median(across[across > 200]) * cell.mm_per_px, abs=0.3)
    assert 53.98 == pytest.approx(np.median(down[down > 200]) * cell.mm_per_px, abs=0.3)


def _covered(rect, layout, shade=90):
    def edit(page):
        step = page.shape[1] / layout.paper.width
        box = rect.shrunk(-1.5)
        top, left = round(box.y * step), round(box.x * step)
        page[top : round((box.y + box.height) * step), left : round((box.x + box.width) * step)] = (
            shade
        )
        return page

    return edit


@pytest.mark.parametrize("corner", range(4))
def test_three_corner_marks_are_enough(corner, camera_class, take_photo):
    """With any one corner mark covered the ids are still read."""
    layout = layout_named("letter", 6)
    hidden = list(layout.markers.values())[corner]
    photo, _ = take_photo(_ids_for(layout), layout, camera_class(), _covered(hidden, layout))
    assert _ids_for(layout) == [cell.id for cell in read_sheet(photo)]


def test_two_corner_marks_ask_for_another_photo(camera_class, take_photo):
    """A sheet with only two corner marks in sight is refused with what to do, not passed over."""
    layout = layout_named("a4", 6)
    first, second = list(layout.markers.values())[:2]

    def edit(page):
        return _covered(second, layout)(_covered(first, layout)(page))

    photo, _ = take_photo(_ids_for(layout), layout, camera_class(), edit)
    with pytest.raises(PhotoError, match="only two of its corner marks") as caught:
        read_sheet(photo)
    assert "all four corner marks" in caught.value.remedy


def test_covered_code_leaves_its_cell_without_id(camera_class, take_photo):
    """A QR code half under a connector gives a printed cell without id; the others keep theirs."""
    layout = layout_named("a4", 6)
    code = layout.cells[2].qr
    from stampreader.paper import Rect

    half = Rect(code.x, code.y, code.width, code.height * 0.6)
    photo, _ = take_photo(_ids_for(layout), layout, camera_class(), _covered(half, layout))
    cells = read_sheet(photo)
    wanted = _ids_for(layout)
    wanted[2] = None
    assert wanted == [cell.id for cell in cells]
    assert cells[2].printed


def test_cells_without_a_code_are_told_apart(camera_class, take_photo):
    """On a half-filled sheet the empty cells are given, without id and not printed."""
    layout = layout_named("a4", 12)
    cells = read_sheet(take_photo(_ids_for(layout)[:5], layout, camera_class())[0])
    assert [True] * 5 + [False] * 7 == [cell.printed for cell in cells]
    assert [None] * 7 == [cell.id for cell in cells[5:]]


def test_long_and_lower_case_ids_are_read(camera_class, take_photo):
    """Ids of 40 characters, with lower case, dots and slashes, come back letter by letter."""
    layout = layout_named("a4", 4)
    ids = ["rope-store/north.shelf_2/0000000000042ab", "A1", "tm-7", "X" * 39 + "9"]
    camera = camera_class(tilt_deg=15, size=(3000, 4000))
    assert ids == [cell.id for cell in read_sheet(take_photo(ids, layout, camera)[0])]


@pytest.mark.parametrize("seed", range(3))
def test_picture_without_a_sheet_gives_none(seed):
    """Noise, stripes and squares hold no sheet."""
    chance = np.random.default_rng(seed)
    picture = chance.integers(0, 255, (1500, 2000), dtype=np.uint8)
    picture[200:800] = np.kron(chance.integers(0, 2, (30, 100)), np.ones((20, 20))) * 255
    assert read_sheet(photo_from_pixels(picture)) is None


@pytest.mark.parametrize("size", [(1, 1), (8, 3), (64, 64)])
def test_tiny_picture_gives_none(size):
    """A picture too small to hold a sheet gives none and no crash."""
    assert read_sheet(photo_from_pixels(np.full(size, 200, np.uint8))) is None


def test_sheet_seen_in_a_mirror_is_not_read(camera_class, take_photo):
    """A mirrored picture is no sheet: its markers are none of ours."""
    layout = layout_named("a4", 6)
    photo, _ = take_photo(_ids_for(layout), layout, camera_class())
    mirrored = photo_from_pixels(np.ascontiguousarray(photo.colour()[:, ::-1]))
    assert read_sheet(mirrored) is None


def test_sheet_with_a_folded_corner_is_refused(camera_class, take_photo):
    """A corner folded up, its mark seen at a slant, is refused with what to do."""
    layout = layout_named("a4", 6)
    place = list(layout.markers.values())[1]

    def folded(page):
        step = page.shape[1] / layout.paper.width
        top, left = round((place.y - 2) * step), round((place.x - 2) * step)
        side = round((place.width + 4) * step)
        corner = page[top : top + side, left : left + side]
        flat = cv2.resize(corner, None, fx=0.6, fy=1.0, interpolation=cv2.INTER_AREA)
        page[top : top + side, left : left + side] = 255
        page[top : top + side, left : left + flat.shape[1]] = flat
        return page

    photo, _ = take_photo(_ids_for(layout), layout, camera_class(tilt_deg=5), folded)
    with pytest.raises(PhotoError, match="not lying flat"):
        read_sheet(photo)


def test_marker_corners_are_found_to_a_fraction_of_a_pixel(camera_class, take_photo):
    """Every marker's corners lie within 0.6 px of the truth."""
    layout = layout_named("a4", 9)
    photo, matrix = take_photo(_ids_for(layout), layout, camera_class(k1=0.0))
    seen = find_markers(photo.grey)
    assert layout.markers.keys() == seen.keys()
    for number, rect in layout.markers.items():
        truth = cv2.perspectiveTransform(np.array(rect.corners).reshape(-1, 1, 2), matrix)
        assert np.abs(seen[number] - truth.reshape(-1, 2)).max() < 0.6
