"""A stack of shots of one face: which of them fit, and the fitting ones laid on each other."""

from __future__ import annotations

import os
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.errors import PhotoError, UsageError
from stampreader.photo import Photo, printable
from stampreader.relief.frame import Frame, Matrix, Pixels, frame_over, frame_round, whole_frame
from stampreader.relief.maps import FEWEST_SHOTS
from stampreader.relief.register import (
    LARGE,
    SMALL,
    Blocks,
    Features,
    Field,
    Residual,
    edges,
    find_features,
    in_sides,
    measure_residual,
    refine,
    rough_fit,
    still_fit,
)
from stampreader.spine import Face, quad_size
from stampreader.words import Quad

T = TypeVar("T")
Finder = Callable[[Photo], tuple[Face, ...]]

MOST_SHOTS = 12
BLURRED = 0.5
"""A shot is blurred if its fine detail is below so much of the middle one's."""
LEAST_SHARE = 0.15
"""Least share of blocks that agree, over the whole picture and on the spine; of rendered shots of
two connectors it was never more than 0.09."""
STRANGE = 0.12
"""A shot that agrees less on the spine is not shown to be of the same face."""
CHANCE_PX = 1.2
"""Nor one whose agreeing blocks lie so far off: those that agree by chance lie 1.4 pixels off."""
TRIES = 3
"""So many shots are tried as the one the others are laid on."""
ROUNDS = 4
"""Rounds of laying each shot on all that fit so far."""
LONE = "shows another face, another connector, or nothing that the others show"
BLUR = "is blurred"


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """How one shot lies on the reference.

    Attributes:
        number: place among the shots given, from 0.
        to_shot: takes points of the reference to this shot; `None` if it was left out.
        residual_px: what is left between the two, in pixels of the frame.
        share: part of the blocks that agree.
        trouble: why it was left out; empty if it fits.
    """

    number: int
    to_shot: Matrix | None
    residual_px: float = 0.0
    share: float = 1.0
    trouble: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Registered shots of one face.

    Attributes:
        reference: number of the shot the others are laid on.
        frame: the part worked on.
        fits: one a shot given, in the order given.
        shots: `(n, H, W) uint8`, those that fit, in their order.
        proven: whether three shots have something in common on the spine itself; if not, they
            lie on one bench, but may show different faces, or one with nothing on it.
    """

    reference: int
    frame: Frame
    fits: tuple[Fit, ...]
    shots: npt.NDArray[np.uint8]
    proven: bool = True

    @property
    def used(self) -> tuple[int, ...]:
        """Numbers of the shots that fit."""
        return tuple(fit.number for fit in self.fits if fit.to_shot is not None)


def stack_shots(photos: Sequence[Photo], finder: Finder) -> Stack:
    """Lay shots of one face on each other.

    Args:
        photos: 3 to 12 upright shots.
        finder: finds written faces; what it finds on any shot helps to place the frame.

    Raises:
        UsageError: too few or too many shots.
        PhotoError: fewer than three fit; which do not, and why.
    """
    check_count(len(photos))
    features = [find_features(photo.grey) for photo in photos]
    faces = [finder(photo) for photo in photos]
    reference, rough = _best_reference(faces, features)
    rough = [
        still_fit(photos[reference].grey, photo.grey) if fit is None else fit
        for photo, fit in zip(photos, rough, strict=True)
    ]
    whole = whole_frame(photos[reference].size)
    fits = _fits(photos, whole, reference, rough)
    placed = [fit.to_shot for fit in fits]
    frame = frame_over(_on_reference(faces, placed), photos[reference].grey)
    on_spine = _fits(photos, frame, reference, placed)
    fits, proven = _on_the_spine(fits, on_spine)
    fits = _without_blurred(photos, fits, frame)
    if _fitting(fits) < FEWEST_SHOTS:
        raise _too_few(photos, fits)
    cut = [frame.cut(photos[f.number].grey, f.to_shot) for f in fits if f.to_shot is not None]
    return Stack(reference, frame, tuple(fits), np.stack(cut), proven)


def look_closer(stack: Stack, photos: Sequence[Photo], quad: Quad, glyph_px: float) -> Stack:
    """The same shots in a smaller frame, laid on each other afresh by what it shows.

    Args:
        stack: registered shots.
        photos: all shots given.
        quad: where the marks stand, in pixels of the reference shot.
        glyph_px: height of a character there.
    """
    frame = frame_round(quad, glyph_px)
    fits = {f.number: f.to_shot for f in stack.fits if f.to_shot is not None}
    shared = in_sides(_mean(_fields(photos, frame, fits).values()), SMALL)
    others = fits.keys() - {stack.reference}
    finer = fits | _refined(photos, frame, fits, others, shared)
    moved = _fields(photos, frame, finer)
    left = _lefts(moved, moved.keys(), others)
    new = tuple(
        replace(f, to_shot=finer[f.number], residual_px=left[f.number].px)
        if f.number in left
        else f
        for f in stack.fits
    )
    cut = [frame.cut(photos[k].grey, fit) for k, fit in finer.items()]
    return Stack(stack.reference, frame, new, np.stack(cut), stack.proven)


def check_count(count: int) -> None:
    """Refuse too few or too many shots.

    Raises:
        UsageError: fewer than 3 or more than 12.
    """
    if count < FEWEST_SHOTS:
        raise UsageError(
            f"{count} shot{'s are' if count != 1 else ' is'} too few to tell relief from shading",
            remedy=f"Give {FEWEST_SHOTS} to {MOST_SHOTS} shots of the same face with the lamp "
            "moved round; see `stampreader capture-guide`.",
        )
    if count > MOST_SHOTS:
        raise UsageError(
            f"{count} shots are more than the {MOST_SHOTS} that are put together",
            remedy="Give the sharpest of them, with the lamp on every side.",
        )


def _fitting(fits: Sequence[Fit]) -> int:
    return sum(fit.to_shot is not None for fit in fits)


def _best_reference(
    faces: Sequence[Sequence[Face]], features: Sequence[Features]
) -> tuple[int, list[Matrix | None]]:
    """The shot most others fit, and the rough fits to it; those that show most are tried first."""

    def shown(k: int) -> tuple[float, int]:
        written = sum(f.score * quad_size(f.quad)[0] for f in faces[k])
        return written, len(features[k].points)

    best: tuple[int, list[Matrix | None]] | None = None
    for reference in sorted(range(len(faces)), key=shown, reverse=True)[:TRIES]:
        rough = _rough_fits(features, reference)
        if best is None or _count(rough) > _count(best[1]):
            best = (reference, rough)
        if 2 * _count(rough) > len(faces):
            break
    assert best is not None
    return best


def _count(fits: Sequence[Matrix | None]) -> int:
    return sum(fit is not None for fit in fits)


def _rough_fits(features: Sequence[Features], reference: int) -> list[Matrix | None]:
    """Fits of all shots to one; a shot too differently lit may fit by way of another one."""
    fits: list[Matrix | None] = [
        np.eye(3) if k == reference else rough_fit(features[reference], shot)
        for k, shot in enumerate(features)
    ]
    reached = [k for k, fit in enumerate(fits) if fit is not None and k != reference]
    for k, fit in enumerate(fits):
        for between in reached if fit is None else ():
            step = rough_fit(features[between], features[k])
            first = fits[between]
            if step is not None and first is not None:
                fits[k] = step @ first
                break
    return fits


def _on_reference(faces: Sequence[Sequence[Face]], rough: Sequence[Matrix | None]) -> list[Face]:
    """Faces found on all shots, in pixels of the reference."""
    out: list[Face] = []
    for found, fit in zip(faces, rough, strict=True):
        if fit is not None:
            back = np.asarray(np.linalg.inv(fit), np.float64)
            out += [_moved(face, back) for face in found]
    return out


def _moved(face: Face, matrix: Matrix) -> Face:
    corners = np.asarray(cv2.perspectiveTransform(np.array([face.quad], np.float64), matrix))[0]
    a, b, c, d = ((float(x), float(y)) for x, y in corners)
    along = corners[1] - corners[0]
    turn = float(np.degrees(np.arctan2(along[1], along[0]))) % 360.0
    old = np.subtract(face.quad[1], face.quad[0])
    grown = float(np.linalg.norm(along) / max(float(np.linalg.norm(old)), 1e-9))
    return replace(face, quad=(a, b, c, d), angle_deg=turn, glyph_px=face.glyph_px * grown)


def _fits(
    photos: Sequence[Photo],
    frame: Frame,
    reference: int,
    rough: Sequence[Matrix | None],
) -> list[Fit]:
    """Fine fits: each shot against the reference first, then against all that fit together.

    A shot lit from the other side has little in common with the reference alone, but with those
    lit from between.
    """
    fits = {k: fit for k, fit in enumerate(rough) if fit is not None}
    moved = _fields(photos, frame, fits)
    fitting, fine = {reference}, {reference}
    left: dict[int, Residual] = {}
    for _ in range(ROUNDS):
        shared = _mean(moved[k] for k in fitting)
        open_yet = fits.keys() - fine
        for some, sides in ((open_yet & fitting, SMALL), (open_yet - fitting, LARGE)):
            fits |= _refined(photos, frame, fits, some, in_sides(shared, sides))
        moved |= _fields(photos, frame, {k: fits[k] for k in open_yet})
        fine |= open_yet & fitting
        left = _lefts(moved, fitting, fits.keys() - {reference})
        fitting = {reference, *(k for k, rest in left.items() if rest.share >= LEAST_SHARE)}
        if fits.keys() == fine:
            break
    return [_fit(k, fits.get(k), left.get(k)) for k in range(len(photos))]


def _on_the_spine(whole: Sequence[Fit], spine: Sequence[Fit]) -> tuple[list[Fit], bool]:
    """Fits on the spine where it shows enough, else those of the whole picture.

    Shots of two connectors on one bench fit by the bench. So a shot that shows nothing on the
    spine that the others show is left out, if three others do have something in common.

    Returns:
        The fits, and whether three shots have something in common on the spine itself.
    """
    fits = [
        before if before.to_shot is None or after.to_shot is None else after
        for before, after in zip(whole, spine, strict=True)
    ]
    alike = [
        before.to_shot is not None and after.share >= STRANGE and after.residual_px <= CHANCE_PX
        for before, after in zip(whole, spine, strict=True)
    ]
    if sum(alike) < FEWEST_SHOTS:
        return fits, False
    return [
        fit if same or fit.to_shot is None else replace(fit, to_shot=None, trouble=LONE)
        for fit, same in zip(fits, alike, strict=True)
    ], True


def _refined(
    photos: Sequence[Photo],
    frame: Frame,
    fits: Mapping[int, Matrix],
    numbers: Collection[int],
    shared: Sequence[Blocks],
) -> dict[int, Matrix]:
    """Finer fits of some of the shots."""
    return _each(lambda k: refine(shared, photos[k].grey, frame, fits[k]), numbers)


def _fields(photos: Sequence[Photo], frame: Frame, fits: Mapping[int, Matrix]) -> dict[int, Field]:
    """The edges of each shot that fits, in the frame."""
    return _each(lambda k: _field(photos, frame, k, fits[k]), fits.keys())


def _each(task: Callable[[int], T], numbers: Collection[int]) -> dict[int, T]:
    """A task done for shots by number, several at a time: NumPy and OpenCV let threads run."""
    ordered = sorted(numbers)
    with ThreadPoolExecutor(max_workers=min(len(ordered), os.cpu_count() or 1) or 1) as pool:
        return dict(zip(ordered, pool.map(task, ordered), strict=True))


def _field(photos: Sequence[Photo], frame: Frame, number: int, fit: Matrix) -> Field:
    return edges(frame.cut(photos[number].grey, fit), frame.glyph_px) * frame.weight


def _mean(fields: Iterable[Field]) -> Field:
    return np.asarray(np.mean(list(fields), axis=0), np.complex64)


def _lefts(
    moved: Mapping[int, Field], fitting: Collection[int], numbers: Collection[int]
) -> dict[int, Residual]:
    return _each(lambda k: _left(moved, fitting, k), numbers)


def _left(moved: Mapping[int, Field], fitting: Collection[int], number: int) -> Residual:
    """What is left between one shot and all others that fit, itself not among them."""
    return measure_residual(_mean(moved[k] for k in fitting if k != number), moved[number])


def _fit(number: int, fit: Matrix | None, left: Residual | None) -> Fit:
    if fit is None:
        return Fit(number, None, trouble=LONE)
    if left is None:
        return Fit(number, fit)
    if left.share < LEAST_SHARE:
        return Fit(number, None, left.px, left.share, LONE)
    return Fit(number, fit, left.px, left.share)


def sharpness(cut: Pixels) -> float:
    """Fine detail as a share of coarser detail: light changes both alike, blur only the fine."""
    values = cut.astype(np.float32)
    blurs = [cv2.GaussianBlur(values, (0, 0), sigma) for sigma in (0.7, 1.4, 3.0, 6.0)]
    return float((blurs[0] - blurs[1]).std() / ((blurs[2] - blurs[3]).std() + 1e-6))


def _without_blurred(photos: Sequence[Photo], fits: Sequence[Fit], frame: Frame) -> list[Fit]:
    """The fits, blurred shots left out; a shot that does not fit may be one for that reason."""
    sharp = {
        f.number: sharpness(frame.cut(photos[f.number].grey, f.to_shot))
        for f in fits
        if f.to_shot is not None
    }
    typical = float(np.median(list(sharp.values())))
    small = {k: sharpness(_small(photo.grey)) for k, photo in enumerate(photos)}
    usual = float(np.median(list(small.values())))
    out = []
    for fit in fits:
        here, whole = sharp.get(fit.number), small[fit.number]
        blurred = whole < BLURRED * usual if here is None else here < BLURRED * typical
        out.append(replace(fit, to_shot=None, trouble=BLUR) if blurred else fit)
    return out


def _small(grey: Pixels) -> Pixels:
    scale = min(1.0, 1000 / max(grey.shape))
    return np.asarray(
        cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8
    )


def _too_few(photos: Sequence[Photo], fits: Sequence[Fit]) -> PhotoError:
    named = "; ".join(
        f"{printable(str(photos[f.number].path))} {f.trouble}" for f in fits if f.to_shot is None
    )
    count = sum(f.to_shot is not None for f in fits)
    return PhotoError(
        f"only {count} of the {len(fits)} shots show{'s' if count == 1 else ''} the same face: "
        f"{named}",
        remedy="Rest the camera and the connector, move only the lamp, and take the shots again.",
    )
