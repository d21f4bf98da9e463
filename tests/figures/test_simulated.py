"""Thousands of random stamps through noisy readers: how often right, how often sure and wrong."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import numpy as np
import pytest
from stamp_simulator import LAYOUTS, PERFECT, SECOND, SIZE, Noise, Scene, scene, second_reader, seen

from stampreader.figures import find_stamps, judge
from stampreader.marks import find_spans
from stampreader.words import SLOTS, Glyph, Slot, Stamp, State

NOISE = Noise()
SAMPLES = {
    "before": 420,
    "after": 180,
    "column": 210,
    "above": 210,
    "below": 140,
    "set": 180,
    "bare": 120,
}


def read(first: Sequence[Glyph], second: Sequence[Glyph]) -> list[Stamp]:
    """Stamps of a photo as two readers see it."""
    return [judge(d, {"line": second}) for d in find_stamps(first, SIZE, find_spans)]


def owner_of(stamp: Stamp, photo: Scene) -> int:
    """The connector whose middle lies nearest to a stamp's."""
    assert stamp.box is not None
    x, y = (sum(p[k] for p in stamp.box) / 4 for k in (0, 1))

    def far(owner: int) -> float:
        own = [g for g, o in zip(photo.glyphs, photo.owners, strict=True) if o == owner]
        cx, cy = sum(g.x for g in own) / len(own), sum(g.y for g in own) / len(own)
        return (cx - x) ** 2 + (cy - y) ** 2

    return min(range(len(photo.truths)), key=far)


def count(layout: str, samples: int, noise: Noise, seed: int) -> Counter[str]:
    """Figures and connectors right, sure, and sure but wrong."""
    total: Counter[str] = Counter()
    for n in range(samples):
        rng = np.random.default_rng([seed, n])
        photo = scene(rng, layout)
        first = seen(rng, photo.glyphs, noise)
        second = photo.glyphs if noise is PERFECT else second_reader(rng, photo, SECOND)
        stamps: list[list[Stamp]] = [[] for _ in photo.truths]
        for stamp in read(first, second):
            stamps[owner_of(stamp, photo)].append(stamp)
        for truth, found in zip(photo.truths, stamps, strict=True):
            total += _compared(truth, found)
    return total


def _compared(truth: dict[Slot, Decimal], stamps: Sequence[Stamp]) -> Counter[str]:
    figures = [(slot, s.figure(slot)) for s in stamps for slot in SLOTS]
    given = [(slot, f) for slot, f in figures if f.kN is not None]
    right = {slot for slot, f in given if f.kN == truth[slot]}
    sure = [(slot, f) for slot, f in given if f.state is State.SURE]
    return Counter(
        connectors=1,
        right=len(right),
        triples=int(len(right) == 3 and len(given) == 3),
        sure=len(sure),
        wrong=sum(f.kN != truth[slot] for slot, f in given),
        sure_and_wrong=sum(f.kN != truth[slot] for slot, f in sure),
    )


def line(name: str, t: Counter[str]) -> str:
    """A row of the table."""
    n = t["connectors"]
    return (
        f"{name:8} {n:6} {100 * t['right'] / (3 * n):8.1f} {100 * t['triples'] / n:9.1f} "
        f"{100 * t['sure'] / (3 * n):7.1f} {t['wrong']:6} {t['sure_and_wrong']:6}"
    )


HEAD = "layout   stamps  figures%  triples%   sure%  wrong  sure and wrong"


@pytest.mark.parametrize("layout", LAYOUTS)
def test_perfect_glyphs_give_perfect_figures(layout: str) -> None:
    """Without noise every layout with pictograms is read right, and nearly always surely."""
    t = count(layout, 60, PERFECT, seed=11)
    print("\n" + HEAD + "\n" + line(layout, t))
    assert 0 == t["sure_and_wrong"]
    if layout == "bare":
        assert 0 == t["sure"]
    else:
        assert t["triples"] >= 0.98 * t["connectors"]
        assert t["sure"] >= 0.9 * 3 * t["connectors"]


@pytest.mark.slow
def test_two_noisy_readers_are_hardly_ever_sure_and_wrong() -> None:
    """Over 2,000 photos: glyphs missed, mistaken, doubled, turned; what is sure is right."""
    print("\n" + HEAD)
    total: Counter[str] = Counter()
    for layout, samples in SAMPLES.items():
        t = count(layout, samples, NOISE, seed=23)
        print(line(layout, t))
        total += t
        if layout == "bare":
            assert 0 == t["sure"]
        else:
            assert t["triples"] >= 0.75 * t["connectors"]
    print(line("all", total))
    assert total["connectors"] >= 2000
    assert total["sure"] >= 0.5 * 3 * total["connectors"]
    assert total["sure_and_wrong"] <= 0.001 * total["sure"]


def test_photos_without_figures_give_no_sure_figure() -> None:
    """Marks, years and serials alone are never a sure strength."""
    for n in range(150):
        rng = np.random.default_rng([5, n])
        photo = scene(rng, "before", connectors=1)
        left = [replace(g, role=None) for g, o in _decoys(photo)]
        for stamp in read(seen(rng, left, NOISE), seen(rng, left, SECOND)):
            assert State.SURE not in [stamp.figure(slot).state for slot in SLOTS]


def _decoys(photo: Scene) -> list[tuple[Glyph, int]]:
    """The glyphs that belong to no figure and no pictogram."""
    return [
        (g, o)
        for g, o in zip(photo.glyphs, photo.owners, strict=True)
        if not g.char.startswith("<") and (g.role is None or g.role[0] > 0.5)
    ]
