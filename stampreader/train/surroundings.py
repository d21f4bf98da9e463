"""Real surroundings as light for the training stamps: photographed rooms, streets and woods.

    python -m stampreader.train.surroundings --cache DIR --out surroundings.npz

Light-probe pictures (latitude and longitude, high dynamic range) of the npm package
`@pmndrs/assets`, version below, CC0-1.0, taken from Poly Haven. Training goes on without them,
in invented light alone.
"""

from __future__ import annotations

import argparse
import base64
import re
import subprocess
import tarfile
import tempfile
from pathlib import Path

import cv2
import numpy as np

Array = np.ndarray

PACKAGE = "@pmndrs/assets@1.7.0"
ARCHIVE = "pmndrs-assets-1.7.0.tgz"
SIDES = (128, 256)
"""Rows and columns of a baked probe."""
BRIGHTEST = 60.0
"""Times the middle brightness of a probe at which its lamps and the sun are cut off."""


def bake(cache: Path) -> dict[str, Array]:
    """All probes of the package: name → (128, 256) float16 luminance, its median 1."""
    cache.mkdir(parents=True, exist_ok=True)
    if not (cache / ARCHIVE).exists():
        subprocess.run(
            ["npm", "pack", "--silent", PACKAGE], cwd=cache, check=True, stdout=subprocess.DEVNULL
        )
    probes = {}
    with tarfile.open(cache / ARCHIVE) as tar:
        for member in tar.getmembers():
            name = re.fullmatch(r"package/hdri/(\w+)\.exr\.js", member.name)
            stream = tar.extractfile(member) if name else None
            if name and stream:
                packed = re.search(rb"base64,([A-Za-z0-9+/=]+)", stream.read())
                assert packed, member.name
                probes[name.group(1)] = _levelled(_decoded(base64.b64decode(packed.group(1))))
    return probes


def _decoded(data: bytes) -> Array:
    """(h, w, 3) float32 of an OpenEXR file."""
    import OpenEXR

    with tempfile.NamedTemporaryFile(suffix=".exr") as file:
        file.write(data)
        file.flush()
        with OpenEXR.File(file.name) as opened:
            pixels = next(iter(opened.channels().values())).pixels
    return np.asarray(pixels, np.float32)[..., :3]


def _levelled(colour: Array) -> Array:
    light = colour @ np.array([0.2126, 0.7152, 0.0722], np.float32)
    light = light / np.median(light)
    light = np.clip(light, 0.0, BRIGHTEST)
    return cv2.resize(light, SIDES[::-1], interpolation=cv2.INTER_AREA).astype(np.float16)


def load(path: Path) -> list[Array]:
    """The baked probes, in the order of their names."""
    with np.load(path) as file:
        return [file[name].astype(np.float32) for name in sorted(file.files)]


def mirrored(rng: np.random.Generator, probe: Array, size: int) -> Array:
    """(size, size) light that a mirror shows, by its surface normal, seen from a chance place.

    The phone looks down at the bench more or less steeply, so that what lies behind it is mirrored:
    ceiling, windows, sky, and often the dark shape of the person who holds it.
    """
    y, x = np.mgrid[-1 : 1 : size * 1j, -1 : 1 : size * 1j].astype(np.float32)
    short = np.sqrt(x**2 + y**2) / 0.999
    x, y = x / np.maximum(short, 1), y / np.maximum(short, 1)
    z = np.sqrt(1 - x**2 - y**2)
    way = np.stack([2 * z * x, -2 * z * y, 2 * z * z - 1], -1)  # right, up, towards the phone
    way = way @ _view(rng).T
    across = (np.arctan2(way[..., 0], way[..., 1]) / (2 * np.pi) + 0.5) * probe.shape[1] - 0.5
    down = np.arccos(np.clip(way[..., 2], -1, 1)) / np.pi * probe.shape[0] - 0.5
    wide = cv2.copyMakeBorder(probe, 0, 0, 2, 2, cv2.BORDER_WRAP)
    light = cv2.remap(
        wide, across.astype(np.float32) + 2, down.astype(np.float32), cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )  # fmt: skip
    if rng.random() < 0.6:  # the bench, in place of the ground the probe was taken over
        below = 1 / (1 + np.exp(np.clip((way[..., 2] + 0.05) * rng.uniform(4, 40), -30, 30)))
        light = light * (1 - below) + rng.uniform(0.1, 1.3) * below
    if rng.random() < 0.55:
        light = light * (1 - rng.uniform(0.5, 0.97) * _photographer(rng, size))
    return light.astype(np.float32)


def _view(rng: np.random.Generator) -> Array:
    """(3, 3) columns: the phone's right, up and backward in the room, z upwards."""
    steep, turn, roll = rng.uniform(0.2, 1.55), rng.uniform(0, 2 * np.pi), rng.uniform(0, 2 * np.pi)
    back = np.array([np.cos(steep) * np.cos(turn), np.cos(steep) * np.sin(turn), np.sin(steep)])
    right = np.array([-np.sin(turn), np.cos(turn), 0.0])
    up = np.cross(back, right)
    cos, sin = np.cos(roll), np.sin(roll)
    axes = np.stack([cos * right + sin * up, cos * up - sin * right, back], -1)
    return np.asarray(axes, np.float32)


def _photographer(rng: np.random.Generator, size: int) -> Array:
    """Where a person and a phone stand before the light, 0 to 1."""
    shape = np.zeros((size, size), np.float32)
    centre = (size / 2 * (1 + rng.normal(0, 0.12, 2))).astype(int)
    axes = (size * np.exp(rng.uniform(-3.2, -1.6, 2))).astype(int) + 1
    cv2.ellipse(shape, centre.tolist(), axes.tolist(), float(rng.uniform(0, 180)), 0, 360, 1.0, -1)
    if rng.random() < 0.7:  # the body goes on to one side
        angle = rng.uniform(0, 2 * np.pi)
        far = (centre + size * np.array([np.cos(angle), np.sin(angle)])).astype(int)
        cv2.line(shape, centre.tolist(), far.tolist(), 1.0, int(axes.max() * 1.4) + 1)
    return cv2.GaussianBlur(shape, (0, 0), float(rng.uniform(0.6, 2.5)))


def main() -> None:
    """Bake the probes of the package into one file."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--cache", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    args = parser.parse_args()
    probes = bake(args.cache)
    np.savez_compressed(args.out, **probes)
    print(f"{len(probes)} surroundings, {args.out.stat().st_size / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
