"""Measures of printed paper: label texts, marker patterns, places on the sheet."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stampreader.paper import (
    A4,
    LAYOUTS,
    LETTER,
    MARKER_PATTERNS,
    label_id,
    label_text,
    layout_named,
    marker_rows,
)


def _turned(number):
    bits = np.array(marker_rows(number))[1:-1, 1:-1]
    return [np.rot90(bits, quarter) for quarter in range(4)]


def test_markers_stay_apart_however_turned():
    """Any two patterns, and a pattern and itself turned, differ in at least 14 of 36 modules."""
    for first, second in combinations(range(len(MARKER_PATTERNS)), 2):
        assert min((_turned(first)[0] != other).sum() for other in _turned(second)) >= 14
    for number in range(len(MARKER_PATTERNS)):
        own = _turned(number)
        assert min((own[0] != other).sum() for other in own[1:]) >= 14


def test_every_layout_has_its_own_markers():
    """The four markers of a sheet name its layout; none is shared."""
    used = [number for layout in LAYOUTS for number in layout.markers]
    assert sorted(range(len(MARKER_PATTERNS))) == sorted(used)


def test_paper_sizes_are_the_standard_ones():
    """A4 is 210 × 297 mm (ISO 216); Letter is 8.5 × 11 inches of 25.4 mm (ANSI Y14.1 size A)."""
    assert (210, 297) == (A4.width, A4.height)
    assert (8.5 * 25.4, 11 * 25.4) == pytest.approx((LETTER.width, LETTER.height))


def _apart(first, second, gap):
    return (
        first.x + first.width + gap <= second.x + 1e-9
        or second.x + second.width + gap <= first.x + 1e-9
        or first.y + first.height + gap <= second.y + 1e-9
        or second.y + second.height + gap <= first.y + 1e-9
    )


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda x: f"{x.paper.name}-{x.cells_count}")
def test_nothing_printed_overlaps(layout):
    """QR symbols keep a 4-module quiet zone (ISO/IEC 18004) to markers, texts and connectors."""
    quiet = 4 * 16 / 25
    for cell in layout.cells:
        for marker in layout.markers.values():
            assert _apart(cell.qr, marker, quiet)
            assert _apart(cell.free, marker, 2.0)
            assert _apart(cell.text, marker, 2.0)
        assert _apart(cell.qr, cell.free, quiet)
        assert _apart(cell.qr, cell.text, quiet)
        assert cell.text.width > 18
        assert cell.free.height >= 40
    for first, second in combinations(layout.cells, 2):
        assert _apart(first.free, second.free, 0)
        assert _apart(first.qr, second.qr, quiet)


def test_unknown_layout_is_none():
    """Five cells are on no sheet."""
    assert layout_named("a4", 5) is None
    assert layout_named("foolscap", 6) is None


@given(st.from_regex(r"[A-Z]{1,4}-[0-9]{1,6}", fullmatch=True))
def test_label_text_reads_back(connector_id):
    """What a label holds is read as the same id, with our prefix or bare."""
    assert connector_id == label_id(label_text(connector_id))
    assert connector_id == label_id(connector_id)


@pytest.mark.parametrize(
    "text",
    ["", "STAMPREADER:", "https://example.org/9", "HELLO", "a b 7", "x" * 60 + "1", "1//2", ";1"],
)
def test_other_codes_are_not_ids(text):
    """Links, words and empty prefixes on other people's codes give no id."""
    assert label_id(text) is None
