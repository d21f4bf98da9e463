"""Stamps are legal for the class they claim, legible in their layout, and sets kept apart."""

from __future__ import annotations

import re
from collections import Counter
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from stampreader.train.photos import KINDS, faces, pictograms, shot
from stampreader.train.photos.connector import room, set_stamp
from stampreader.train.photos.content import MAKERS, invent

# EN 12275:2013 static strengths as listed by a test house (satra.com/ppe/EN12275.php); EN 362:2004
# from a secondary source; NFPA T and G from training sources (see DEVELOPERS.md). kN.
MINIMA = {
    "EN 12275/B": (20, 7, 7),
    "EN 12275/H": (20, 7, 6),
    "EN 12275/K": (25, 7, 8),
    "EN 12275/X": (18, 7, 5),
    "EN 12275/A": (20, 0, 7),
    "EN 12275/T": (20, 0, 7),
    "EN 12275/Q": (25, 10, 0),
    "EN 362/B": (20, 7, 0),
    "EN 362/M": (20, 15, 0),
    "EN 362/T": (20, 0, 0),
    "EN 362/A": (20, 0, 0),
    "EN 362/Q": (25, 10, 0),
    "NFPA T": (27, 7, 7),
    "NFPA G": (40, 11, 11),
    "ANSI": (Decimal("22.2"), 16, 0),
}
CONTENTS = [invent(np.random.default_rng(i)) for i in range(1500)]


def test_figures_meet_the_claimed_class() -> None:
    """No stamped figure lies under the minimum of the class claimed beside it."""
    checked = 0
    for content in CONTENTS:
        if content.unit != "kN" or content.klass not in MINIMA:
            continue
        for slot, low in zip(("closed", "cross", "open"), MINIMA[content.klass], strict=True):
            value = content.value(slot)
            if value is not None:
                assert value >= low, (content.klass, slot)
                checked += 1
    assert checked > 2500


def test_figures_are_varied() -> None:
    """Closed figures spread over more than twenty values, some with a comma or a point."""
    closed = Counter(c.figures["closed"] for c in CONTENTS if c.unit == "kN")
    assert len(closed) > 30
    assert any("," in t for t in closed) and any("." in t for t in closed)
    assert max(closed.values()) < 0.15 * sum(closed.values())


def test_marks_are_in_normal_form() -> None:
    """Every mark has the project's normal form, and body numbers are invented (begin with 9)."""
    form = re.compile(
        r"(CE|UKCA) 9\d{3}|EN 362(:2004)?(/[ABMTQ])?|EN 12275(:2013)?(/[ABHKTQX])?|UIAA"
        r"|NFPA (2500|1983) [TG]|ANSI Z359\.12|AS/NZS 4488"
    )
    for content in CONTENTS:
        for mark, text in content.marks.items():
            assert form.fullmatch(mark), mark
            squeezed = text.replace(" ", "").replace("(", "/").replace(")", "")
            assert mark.replace(" ", "") == squeezed


def test_quick_links_carry_no_open_figure() -> None:
    """A class Q connector has a closed and perhaps a cross figure, never gate open."""
    links = [c for c in CONTENTS if c.klass.endswith("/Q")]
    assert links and all("open" not in c.figures for c in links)


def test_enough_invented_makers() -> None:
    """There are at least twelve makers."""
    assert len(set(MAKERS)) >= 12


def test_a_layout_fits_and_shows_all_figures() -> None:
    """Every figure's digits stand in the strip, in their slot's role, within the room there is."""
    for index in range(60):
        plan = shot.invent_shot("test", 3, index).connectors[0]
        strip = set_stamp(plan, 55.0, np.random.default_rng(plan.seed))
        if strip is None or plan.content is None:
            continue
        for slot, text in plan.content.figures.items():
            drawn = [g.char for g in strip.glyphs if g.role == slot and g.drawing is None]
            assert text == "".join(drawn)
        long, high = room(plan.form, 55.0)
        assert strip.length <= long + 1e-6 and strip.height <= high + 1e-6


def test_pictograms_name_their_slot() -> None:
    """Every family draws the three slots differently, in the words of the project."""
    for family in pictograms.FAMILIES:
        names = [pictograms.glyph_name(family, s) for s in ("closed", "cross", "open")]
        assert len(set(names)) == 3
        for slot in ("closed", "cross", "open"):
            drawing = pictograms.draw(family, slot)
            points = np.concatenate([np.array(p) for p in (*drawing.strokes, *drawing.fills)])
            assert np.abs(points).max() < 1.3
    bare = next(f for f in pictograms.FAMILIES if f.arrows == "bare")
    assert pictograms.glyph_name(bare, "closed") == "<along>"


def test_sets_have_faces_and_drawings_of_their_own() -> None:
    """Test, tuning and calibration each use faces and some drawings the others do not."""
    sets = ("test", "tuning", "calibration")
    for kind in sets:
        others = [k for k in sets if k != kind]
        assert not set(faces.own_names(kind)) & {n for k in others for n in faces.own_names(k)}
        assert len(faces.own_names(kind)) >= 6
        rest = {f for k in others for f in pictograms.OF_KIND[k]}
        assert set(pictograms.OF_KIND[kind]) - rest
    assert len({n for k in sets for n in faces.names(k)}) >= 20


def test_faces_do_not_train_a_reader() -> None:
    """No face of the photos stands in the training renderer's list."""
    train = Path(shot.__file__).parents[1]
    lists = [p for p in train.glob("*.json") if "@fontsource" in p.read_text()]
    lists += [p for p in train.glob("*.txt")]
    mine = {f["package"].split("/")[-1] for f in faces.face_list()}
    reserved = {"routed-gothic", "osifont", "opendin", "b612"}
    assert not mine & reserved
    for path in lists:
        named = set(re.findall(r"[a-z0-9]+(?:-[a-z0-9]+)*", path.read_text()))
        assert not mine & named, path.name


def test_kinds_never_share_random_numbers() -> None:
    """The same seed and index give another picture in every kind."""
    first = {k: float(shot.rng_of(k, 1, 0, 0).random()) for k in KINDS}
    assert len(set(first.values())) == len(KINDS)


@pytest.mark.parametrize(("kind", "count", "least"), [("test", 100, 12), ("stack", 40, 8)])
def test_enough_blank_and_unreadable(kind: str, count: int, least: int) -> None:
    """The test set has at least 12 spoilt pictures of four sorts, the stacks 8 blank ones."""
    spoilt = Counter(shot.invent_shot(kind, 1, i).spoilt for i in range(count))
    assert sum(v for k, v in spoilt.items() if k) >= least
    assert kind == "stack" or len(spoilt) == 5
    assert kind == "test" or spoilt["blank"] == 8


def test_a_delivery_is_one_model_with_one_odd_one():
    """Forty plans of a delivery differ in the serial alone, but for one with another figure."""
    plans = [shot.of_delivery(5, index) for index in range(40)]
    figures = [tuple(sorted(plan.content.figures.items())) for plan in plans]
    assert 2 == len(set(figures))
    assert [shot.ODD_ONE] == [k for k, own in enumerate(figures) if own != figures[0]]
    assert 40 == len({plan.content.extras["serial"] for plan in plans})
    assert 1 == len({(plan.face, plan.family, plan.method.name) for plan in plans})
