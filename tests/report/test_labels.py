"""Labels: on the right place of the sheet, and their codes read back from the print."""

from __future__ import annotations

from datetime import UTC, datetime

import cv2
import numpy as np
import pypdfium2
import pytest

from stampreader.errors import UsageError
from stampreader.paper import A4, LETTER, label_id
from stampreader.report.labels import GRIDS, Grid, Label, labels_pdf, parse_grid

PRINTED_AT = datetime(2026, 11, 25, tzinfo=UTC)
DPI = 300
PX = DPI / 25.4


def _printed(pdf: bytes, page: int = 0) -> np.ndarray:
    opened = pypdfium2.PdfDocument(pdf)[page]
    return np.asarray(opened.render(scale=DPI / 72, grayscale=True).to_numpy()).squeeze()


def _cut(picture: np.ndarray, place) -> np.ndarray:
    top, left = round(place.y * PX), round(place.x * PX)
    return picture[top : top + round(place.height * PX), left : left + round(place.width * PX)]


def _blurred(picture: np.ndarray) -> np.ndarray:
    """As a phone sees a label at 20 cm: about 15 pixels a mm, a little blurred."""
    close = cv2.resize(picture, None, fx=15 / PX, fy=15 / PX, interpolation=cv2.INTER_AREA)
    return cv2.GaussianBlur(np.pad(close, 20, constant_values=255), (0, 0), 1.2)


@pytest.mark.parametrize("name", GRIDS)
def test_codes_read_back_from_every_grid(name):
    """The first and last label of a full sheet, cut out at their places, give their ids."""
    grid = GRIDS[name]
    labels = [Label(f"NF-{n:04d}", ("Felsnase Oval", "FN 1")) for n in range(1, grid.count + 1)]
    picture = _printed(labels_pdf(labels, grid, PRINTED_AT))
    for index in (0, grid.columns - 1, grid.count - 1):
        label = _blurred(_cut(picture, grid.place(index)))
        text, _, _ = cv2.QRCodeDetector().detectAndDecode(label)
        assert labels[index].id == label_id(text)


@pytest.mark.parametrize("name", GRIDS)
def test_print_stays_inside_its_label(name):
    """Between and around the labels the sheet is white, 1 mm inside each label's edge too."""
    grid = GRIDS[name]
    labels = [Label(f"NF-{n:04d}", ("Felsnase Oval", "FN 1")) for n in range(1, grid.count + 1)]
    picture = _printed(labels_pdf(labels, grid, PRINTED_AT)).copy()
    for index in range(grid.count):
        inner = _cut(picture, grid.place(index).shrunk(-0.3 if grid.cut else 1.0))
        assert inner.min() < 100
        inner[:] = 255
    assert picture.min() > 250


def test_code_keeps_its_quiet_zone():
    """Four modules of white all round the code (ISO/IEC 18004), words included."""
    grid = GRIDS["a4-24"]
    label = _cut(
        _printed(labels_pdf([Label("NF-0042", ("Felsnase",))], grid, PRINTED_AT)), grid.place(0)
    )
    found, corners = cv2.QRCodeDetector().detect(label)
    assert found
    left, top = corners[0].min(axis=0)
    right, bottom = corners[0].max(axis=0)
    module = (right - left) / 21
    zone = label[
        round(top) : round(bottom), round(right + 0.6 * module) : round(right + 3.8 * module)
    ]
    assert zone.min() > 250
    assert left > 3.8 * module


def test_skipped_places_and_copies():
    """Two places skipped on the first sheet, two copies of each, and on to the next sheet."""
    grid = GRIDS["a4-14"]
    labels = [Label(f"NF-{number:04d}") for number in range(7)]
    pdf = labels_pdf(labels, grid, PRINTED_AT, skip=2, copies=2)
    assert 2 == len(pypdfium2.PdfDocument(pdf))
    first = _printed(pdf)
    assert _cut(first, grid.place(1)).min() > 250
    assert _cut(first, grid.place(2)).min() < 100
    second = pypdfium2.PdfDocument(pdf)[1].get_textpage().get_text_bounded()
    assert ["NF-0006"] * 2 == second.split()


@pytest.mark.parametrize("name", GRIDS)
def test_grids_fit_their_paper(name):
    """Every grid named lies on its paper, in columns that do not overlap."""
    grid = GRIDS[name]
    last = grid.place(grid.count - 1)
    assert grid.place(0).x >= 0
    assert grid.place(0).y >= 0
    assert last.x + last.width <= grid.paper.width + 0.05
    assert last.y + last.height <= grid.paper.height + 0.05
    assert int(name.split("-")[1]) == grid.count if name[-1].isdigit() else grid.cut


def test_grid_written_out():
    """Columns, rows, size, first label and gaps are read in this order."""
    grid = parse_grid("3x7@63.5x38.1+7.2+15.1/2.5x0", A4)
    assert (3, 7, 63.5, 38.1) == (grid.columns, grid.rows, grid.width, grid.height)
    assert (7.2, 15.1, 2.5, 0.0) == (grid.left, grid.top, grid.gap_x, grid.gap_y)
    assert (7.2 + 66.0, 15.1 + 38.1) == pytest.approx((grid.place(4).x, grid.place(4).y))
    assert LETTER == parse_grid(" 2 × 5 @ 100 x 50 ", LETTER).paper


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("b5-12", "no label grid"),
        ("", "no label grid"),
        ("3x8", "no label grid"),
        ("3x8@70", "no label grid"),
        ("-3x8@70x37", "no label grid"),
        ("0x8@70x37", "holds no label"),
        ("4x8@70x37", "does not fit"),
        ("3x8@70x37+10+0", "does not fit"),
        ("9x9@9x9", "too small"),
        ("99x99@999x999", "does not fit"),
    ],
)
def test_grid_that_cannot_be(text, said):
    """A grid not understood, or not fitting its paper, is refused with how to write one."""
    with pytest.raises(UsageError, match=said) as caught:
        parse_grid(text, A4)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("labels", "options", "said"),
    [
        ([], {}, "no connector"),
        ([Label("A-1")], {"skip": 24}, "cannot skip 24"),
        ([Label("A-1")], {"skip": -1}, "cannot skip -1"),
        ([Label("A-1")], {"copies": 0}, "in 0 copies"),
        ([Label("A-1")], {"copies": 20_001}, "in 20001 copies"),
    ],
)
def test_impossible_orders_are_refused(labels, options, said):
    """Nothing to print, a place that is not there, no copies: one line each."""
    with pytest.raises(UsageError, match=said):
        labels_pdf(labels, GRIDS["a4-24"], PRINTED_AT, **options)


def test_long_id_is_broken_not_cut():
    """An id is printed to its last letter: a cut id would name another connector."""
    label = Label("rope-store/north.shelf_2/0042ab")
    pdf = labels_pdf([label], GRIDS["a4-65"], PRINTED_AT)
    printed = pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_bounded()
    # PDFium gives a hyphen at a line's end as \x02
    assert label.id == "".join(printed.split()).replace("\x02", "-")


def test_id_too_long_for_its_label_is_refused():
    """An id that cannot be printed whole is refused, with what to do."""
    grid = Grid("small", A4, 1, 1, 15.0, 8.0)
    with pytest.raises(UsageError, match="does not fit its place"):
        labels_pdf([Label("X" * 40)], grid, PRINTED_AT)


def test_labels_are_the_same_twice():
    """Same labels, same bytes."""
    labels = [Label("NF-0001", ("Felsnase",))]
    assert labels_pdf(labels, GRIDS["a4-tags"], PRINTED_AT) == labels_pdf(
        labels, GRIDS["a4-tags"], PRINTED_AT
    )
