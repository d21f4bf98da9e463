"""Registration against known homographies, and which shots are left out and why."""

import cv2
import numpy as np
import pytest
from worn_face import SIZE, SPINE, camera, finder, height_field, shot, stack

from stampreader.errors import PhotoError, UsageError
from stampreader.photo import photo_from_pixels
from stampreader.relief import stack_shots
from stampreader.relief.register import block_shifts, edges, find_features, in_blocks, rough_fit

GRID = np.array([[(x, y) for x in (200, 450, 700) for y in (150, 210, 270)]], np.float64)


def misplaced(found, true, reference):
    """Mean distance in pixels between where points go and where they should go."""
    base = np.linalg.inv(true[reference])
    out = []
    for fit in found.fits:
        if fit.to_shot is not None and fit.number != reference:
            there = cv2.perspectiveTransform(GRID, fit.to_shot)
            should = cv2.perspectiveTransform(GRID, true[fit.number] @ base)
            out.append(float(np.linalg.norm(there - should, axis=2).mean()))
    return out


@pytest.fixture(scope="module")
def face():
    """A worn face."""
    return height_field()


def test_registered_to_well_under_a_pixel(face):
    """Six shots under six lamps, each from another place: all fit to a third of a pixel."""
    photos, true = stack(face)
    found = stack_shots(photos, finder)
    assert (0, 1, 2, 3, 4, 5) == found.used
    assert max(misplaced(found, true, found.reference)) < 0.35
    assert all(fit.residual_px < 0.5 for fit in found.fits)
    assert (6, found.frame.size[1], found.frame.size[0]) == found.shots.shape


def test_the_residual_is_the_true_one(face):
    """A shift left on purpose is what phase correlation measures, to a twentieth of a pixel."""
    still, _ = shot(face, 0)
    moved = cv2.warpAffine(still.grey, np.array([[1, 0, 0.6], [0, 1, -0.4]]), SIZE)
    fields = [edges(grey, 44.0) for grey in (still.grey, np.asarray(moved, np.uint8))]
    _, shifts, _ = block_shifts(in_blocks(fields[0], 64), fields[1])
    assert np.median(shifts, axis=0) == pytest.approx((0.6, -0.4), abs=0.05)


def test_edges_do_not_depend_on_the_side_of_the_light(face):
    """Opposite lamps give brightness of opposite sign and the same edges."""
    left, right = shot(face, 0)[0].grey, shot(face, 3)[0].grey
    inner = slice(SPINE[0] + 20, SPINE[1] - 20)
    grey = np.corrcoef(left[inner, 100:-100].ravel(), right[inner, 100:-100].ravel())[0, 1]
    a, b = (edges(g, 44.0)[inner, 100:-100].ravel() for g in (left, right))
    same = float(np.real(np.vdot(a, b)) / np.sqrt(np.vdot(a, a).real * np.vdot(b, b).real))
    assert grey < -0.5
    assert same > 0.5


def test_a_large_turn_and_another_size(face):
    """A shot turned by 90 degrees and one of 0.7 times the size fit as well."""
    photos, _ = stack(face, 5)
    turned = cv2.rotate(shot(face, 1)[0].grey, cv2.ROTATE_90_CLOCKWISE)
    small = cv2.resize(shot(face, 2)[0].grey, None, fx=0.7, fy=0.7, interpolation=cv2.INTER_AREA)
    extra = [photo_from_pixels(np.asarray(p, np.uint8), "x.jpg") for p in (turned, small)]
    found = stack_shots([*photos, *extra], finder)
    assert {5, 6} <= set(found.used)


def test_another_face_is_named(face):
    """A shot of another connector is left out and named; the others go on."""
    photos, _ = stack(face, 5)
    other, _ = shot(height_field("NO 12 STAMP", seed=9), 2, move=camera(3), name="other.jpg")
    found = stack_shots([*photos, other], finder)
    assert (0, 1, 2, 3, 4) == found.used
    assert "another face" in found.fits[5].trouble


def test_a_blurred_shot_is_named(face):
    """One blurred shot is left out and called blurred."""
    photos, _ = stack(face, 5)
    blurred = cv2.GaussianBlur(photos[2].grey, (0, 0), 6.0)
    photos[2] = photo_from_pixels(np.asarray(blurred, np.uint8), "blurred.jpg")
    found = stack_shots(photos, finder)
    assert 2 not in found.used
    assert "is blurred" == found.fits[2].trouble


FACES = ("CE 9123", "27 KN 8", "MODEL X", "UIAA H")


def test_different_faces_on_one_bench_are_not_put_together():
    """Four connectors on one bench fit by the bench, but nothing shows that they are one face."""
    photos = [
        shot(height_field(text, seed=20 + n), n, name=f"face-{n}.jpg")[0]
        for n, text in enumerate(FACES)
    ]
    assert not stack_shots(photos, finder).proven


def test_one_face_is_proven(face):
    """Shots of one face have enough in common on the face."""
    assert stack_shots(stack(face, 5)[0], finder).proven
    assert stack_shots(stack(face, 3)[0], finder).proven


def test_shots_without_overlap():
    """Pictures with nothing in common are refused in one line, each named, with what to do."""
    rng = np.random.default_rng(4)
    photos = []
    for n in range(4):
        spots = cv2.GaussianBlur(rng.standard_normal((420, 900)).astype(np.float32), (0, 0), 4.0)
        picture = np.clip(128 + 300 * spots, 0, 255).astype(np.uint8)
        photos.append(photo_from_pixels(picture, f"face-{n}.jpg"))
    with pytest.raises(PhotoError) as caught:
        stack_shots(photos, finder)
    assert "only 1 of the 4 shots" in str(caught.value)
    assert sum(f"face-{n}.jpg" in str(caught.value) for n in range(4)) == 3
    assert "move only the lamp" in caught.value.remedy
    assert "\n" not in caught.value.line()


@pytest.mark.parametrize(
    ("count", "words"),
    [(1, "1 shot is too few"), (2, "2 shots are too few"), (13, "more than the 12")],
)
def test_too_few_and_too_many(face, count, words):
    """One, two or thirteen shots are wrong usage, said in one line, before any work."""
    photos = [shot(face, 0)[0]] * count
    with pytest.raises(UsageError, match=words) as caught:
        stack_shots(photos, finder)
    assert caught.value.remedy
    assert "\n" not in caught.value.line()


def test_features_of_an_empty_picture():
    """A picture with nothing in it has no features and fits nothing."""
    plain = find_features(np.full((200, 300), 90, np.uint8))
    assert (0, 2) == plain.points.shape
    assert rough_fit(plain, plain) is None
