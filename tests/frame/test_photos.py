"""Every test photo has its row and its truth, and is what the repository says it is."""

import json
from pathlib import Path

import cv2
import pytest

FOLDER = Path(__file__).parent.parent.parent / "test_images"
TRUTH = json.loads((FOLDER / "truth.json").read_text("utf-8"))
ROWS = (FOLDER / "README.md").read_text("utf-8")
PHOTOS = sorted(p.name for p in FOLDER.glob("*.jpg"))


def test_enough_photos():
    """At least 80 photos, at least 12 without a readable stamp."""
    assert 80 <= len(PHOTOS)
    assert 12 <= sum(not any(c["readable"] for c in t["connectors"]) for t in TRUTH)


def test_every_photo_has_its_truth():
    """The truth names exactly the photos that are there."""
    assert PHOTOS == sorted(t["photo"] for t in TRUTH)


@pytest.mark.parametrize("name", PHOTOS)
def test_every_photo_has_its_row(name):
    """Source, licence and purpose stand in the folder's README."""
    (row,) = [line for line in ROWS.splitlines() if line.startswith(f"| {name} |")]
    assert 4 == len([cell for cell in row.strip("|").split("|") if cell.strip()])


def test_sizes():
    """Each photo stays under 400 KB but for a few of 12 megapixels; all together stay under 22 MB."""
    sizes = {p.name: p.stat().st_size for p in FOLDER.glob("*.jpg")}
    assert 3 >= sum(size > 400_000 for size in sizes.values())
    assert 22e6 > sum(sizes.values())


def test_photos_are_as_large_as_their_truth_says():
    """Upright width and height are the truth's."""
    for truth in TRUTH[::12]:
        picture = cv2.imread(str(FOLDER / truth["photo"]))
        assert truth["size"] == [picture.shape[1], picture.shape[0]]


def test_invented_bodies_only():
    """Numbers beside CE and UKCA begin with 9, so that no real body is meant."""
    marks = [m for t in TRUTH for c in t["connectors"] for m in c["marks"]]
    assert all(m.split()[1].startswith("9") for m in marks if m.split()[0] in ("CE", "UKCA"))
