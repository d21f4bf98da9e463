"""What does not wear, on drawn connectors whose size, gate and colour are known."""

import cv2
import numpy as np
import pytest

from stampreader.likeness import (
    Gate,
    Speaks,
    Tint,
    compare_outlines,
    compare_tints,
    find_outline,
    find_tint,
)


def drawn(long=300, wide=170, bar=22, sleeve=False, ground=235, metal=90):
    """A ring-shaped connector seen from above on a plain ground, `(H, W, 3) uint8 BGR`."""
    picture = np.full((480, 640, 3), ground, np.uint8)
    left, top = 320 - long // 2, 240 - wide // 2
    cv2.rectangle(picture, (left, top), (left + long, top + wide), (metal,) * 3, bar)
    if sleeve:
        middle = (left + long // 2, top)
        cv2.rectangle(
            picture,
            (middle[0] - 45, middle[1] - bar),
            (middle[0] + 45, middle[1] + bar),
            (70,) * 3,
            -1,
        )
    return picture


def face(hue_deg, chroma=60.0, lightness=45.0):
    """A face of one CIELAB colour, with a highlight along it."""
    a, b = chroma * np.cos(np.radians(hue_deg)), chroma * np.sin(np.radians(hue_deg))
    lab = np.full((40, 200, 3), (lightness, a, b), np.float32)
    bgr = cv2.cvtColor(lab, cv2.COLOR_Lab2BGR)
    bgr[18:21] = 1.0
    return (np.clip(bgr, 0, 1) * 255).round().astype(np.uint8)


def test_outline_of_a_known_ring():
    """Length, width and opening are those drawn, in mm where the scale is given."""
    found = find_outline(drawn(), mm_per_px=0.4)
    assert 322 * 0.4 == pytest.approx(found.length_mm, rel=0.02)
    assert 192 * 0.4 == pytest.approx(found.width_mm, rel=0.02)
    assert 278 * 148 / (322 * 192) == pytest.approx(found.opening, abs=0.03)
    assert Gate.PLAIN is found.gate


def test_a_sleeve_is_seen():
    """A thicker stretch on one long side is a sleeve."""
    assert Gate.SLEEVE is find_outline(drawn(sleeve=True)).gate


@pytest.mark.parametrize(
    "picture",
    [
        np.full((300, 400, 3), 200, np.uint8),
        drawn()[100:, :300],
        np.random.default_rng(2).integers(0, 255, (300, 400, 3)).astype(np.uint8),
    ],
    ids=["nothing there", "cut off", "a bench without rest"],
)
def test_no_outline_where_none_is_whole(picture):
    """Nothing, half a connector or clutter gives no outline."""
    assert find_outline(picture) is None


@pytest.mark.parametrize(
    ("hue", "name"), [(30, "orange"), (10, "red"), (70, "gold"), (140, "green"), (270, "blue")]
)
def test_colours_by_name(hue, name):
    """A face of a known CIELAB hue gets that hue's name, its highlight left out."""
    tint = find_tint([face(hue, 40)])
    assert name == tint.name
    assert hue == pytest.approx(tint.hue_deg, abs=4)


def test_bare_metal_has_no_hue():
    """A surface of no chroma is grey, black or light."""
    assert ["grey", "black", "light"] == [
        find_tint([face(0, 0, lightness)]).name for lightness in (50, 15, 88)
    ]


def test_too_dark_to_tell():
    """A picture without light has no colour."""
    assert find_tint([np.zeros((40, 200, 3), np.uint8)]) is None
    assert find_tint([]) is None


@pytest.mark.parametrize(
    ("before", "now", "speaks"),
    [
        (Tint(40, 60, 270), Tint(50, 50, 280), Speaks.FOR),
        (Tint(40, 60, 270), Tint(50, 60, 30), Speaks.AGAINST),
        (Tint(40, 60, 270), Tint(60, 5, 90), Speaks.NEITHER),
        (Tint(60, 5, 90), Tint(40, 60, 270), Speaks.AGAINST),
        (Tint(60, 5, 90), Tint(70, 6, 200), Speaks.FOR),
        (Tint(40, 30, 270), Tint(40, 30, 305), Speaks.NEITHER),
        (None, Tint(40, 30, 305), Speaks.NEITHER),
    ],
    ids=[
        "same blue",
        "blue to orange",
        "blue worn bare",
        "bare to blue",
        "both bare",
        "near",
        "none",
    ],
)
def test_what_a_colour_says(before, now, speaks):
    """Anodising wears off but does not change its hue; every answer says how much it says."""
    found = compare_tints(before, now)
    assert speaks is found.speaks
    assert found.why


def by_field(before, now):
    """Comparisons by their field."""
    return {item.field: item for item in compare_outlines(before, now)}


def test_the_same_connector_is_supported():
    """Shape, size and gate of one connector agree, and no line claims more than a little."""
    found = by_field(find_outline(drawn(), 0.4), find_outline(drawn(metal=60), 0.4))
    assert {"outline", "size", "gate"} == set(found)
    assert all(item.speaks is Speaks.FOR and "a little" in item.why for item in found.values())


def test_another_size_contradicts():
    """A connector a tenth longer on the photo sheet is another one."""
    found = by_field(find_outline(drawn(), 0.4), find_outline(drawn(), 0.44))
    assert Speaks.AGAINST is found["size"].speaks


def test_another_shape_contradicts():
    """A longer, narrower one has another outline."""
    found = by_field(find_outline(drawn()), find_outline(drawn(long=340, wide=120)))
    assert Speaks.AGAINST is found["outline"].speaks
    assert Speaks.NEITHER is found["size"].speaks


def test_another_gate_contradicts():
    """A sleeve where there was none speaks against it."""
    found = by_field(find_outline(drawn()), find_outline(drawn(sleeve=True)))
    assert Speaks.AGAINST is found["gate"].speaks


def test_not_seen_whole_is_said():
    """Where an evidence picture shows the stamp only, nothing is claimed."""
    (item,) = compare_outlines(None, find_outline(drawn()))
    assert Speaks.NEITHER is item.speaks
    assert "whole connector" in item.why
