"""The training: labels lie on what was drawn, shading is sound, a toy run learns and resumes."""

import subprocess
import sys
from dataclasses import replace

import cv2
import numpy as np
import pytest
import torch

from stampreader.reader.alphabet import CLASSES, INDEX
from stampreader.train import banks, faces, losses, pictograms, surroundings
from stampreader.train.__main__ import Config, again, rate_at
from stampreader.train.album import Album
from stampreader.train.camera import gauss, jpeg
from stampreader.train.draw import STRIP, STRIPS, TILE, draw_lines, draw_tile
from stampreader.train.model import HEADS, Detector, Finder, LineReader
from stampreader.train.shade import IGNORED, move, shade
from stampreader.train.sheet import Sheet, choose_hand, write_logo


def tensors(tiles):
    """Masks, glyph rows and frames of tiles as the training sees them."""
    return (
        torch.from_numpy(np.stack([t.mask for t in tiles])).float()[:, None] / 255,
        torch.from_numpy(np.stack([t.glyphs for t in tiles])),
        torch.from_numpy(np.stack([t.frame for t in tiles])),
    )


def ink_share(mask, row):
    """Share of glyph boxes' middles that something was drawn in."""
    x, y, h = (round(float(v)) for v in row[1:4])
    reach = max(h // 2, 3)
    return mask[max(y - reach, 0) : y + reach + 1, max(x - reach, 0) : x + reach + 1].max() > 60


def test_labels_lie_on_what_was_drawn(baked):
    """Nearly every labelled place holds ink (characters a face lacks are skipped)."""
    rng = np.random.default_rng(5)
    hits = [
        ink_share(t.mask, row)
        for t in (draw_tile(rng, baked) for _ in range(40))
        for row in t.glyphs
        if row[8]
    ]
    assert len(hits) > 150
    assert np.mean(hits) > 0.97


def test_moving_keeps_labels_on_the_ink(baked, shader):
    """A random similarity moves masks and labels alike."""
    rng = np.random.default_rng(6)
    masks, glyphs, _ = move(*tensors([draw_tile(rng, baked) for _ in range(16)]), shader)
    pixels = (masks[:, 0].numpy() * 255).astype(np.uint8)
    hits = [
        ink_share(p, row)
        for p, rows in zip(pixels, glyphs.numpy(), strict=True)
        for row in rows
        if row[8]
    ]
    assert len(hits) > 40
    assert np.mean(hits) > 0.95


def test_shaded_pictures_are_sound(baked, shader):
    """Pictures are finite, within 0 and 1, and not flat."""
    rng = np.random.default_rng(7)
    pictures = shade(
        *move(*tensors([draw_tile(rng, baked) for _ in range(8)]), shader)[::2], shader
    )
    assert (8, 1, TILE, TILE) == pictures.shape
    assert bool(torch.isfinite(pictures).all())
    assert 0 <= float(pictures.min()) <= float(pictures.max()) <= 1
    assert float(pictures.flatten(1).std(1).min()) > 0.003


def test_blur_against_scipy(shader):
    """The band-matrix blur is SciPy's gaussian filter away from the edges."""
    from scipy.ndimage import gaussian_filter

    x = torch.rand(2, 1, 64, 64)
    got = gauss(x, torch.tensor([1.3, 2.2]).view(2, 1, 1, 1))
    for i, sigma in enumerate((1.3, 2.2)):
        wanted = gaussian_filter(x[i, 0].numpy(), sigma, truncate=8)
        assert np.abs(got[i, 0].numpy() - wanted)[20:-20, 20:-20].max() < 1e-4


def test_jpeg_blocks_come_near_opencv(shader):
    """Quantised pictures stay as near to the original as JPEG of like quality (OpenCV's) does."""
    smooth = cv2.GaussianBlur(
        np.random.default_rng(1).integers(0, 255, (64, 64)).astype(np.uint8), (0, 0), 2
    )
    x = torch.from_numpy(smooth).float()[None, None].repeat(32, 1, 1, 1) / 255
    error = (jpeg(x, shader) - x).abs().mean(dim=(1, 2, 3)) * 255
    coarse = cv2.imdecode(cv2.imencode(".jpg", smooth, [cv2.IMWRITE_JPEG_QUALITY, 30])[1], 0)
    assert float(error.max()) < 1.5 * float(np.abs(coarse.astype(float) - smooth).mean()) + 0.5
    assert float(error.max()) > 0.1


def test_lines_read_in_order(baked):
    """Rows of a line tile stand in reading order within each strip."""
    tile = draw_lines(np.random.default_rng(8), baked)
    rows = tile.glyphs[tile.glyphs[:, 8] > 0]
    assert set(rows[:, 2]) <= set(range(STRIPS))
    for strip in range(STRIPS):
        xs = rows[rows[:, 2] == strip, 1]
        assert (np.diff(xs) >= 0).all()
    assert TILE == STRIP * STRIPS


def test_perfect_maps_have_next_to_no_loss():
    """Maps built from the labels themselves are what the detector is asked for."""
    glyphs = torch.zeros(1, 4, 9)
    glyphs[0, 0] = torch.tensor([INDEX["7"], 49.5, 89.5, 32, 20, 1, 0, 1, 1])
    raw = torch.zeros(1, sum(HEADS.values()), 96, 96)
    raw[:, 0] = -12
    raw[0, 0, 22, 12] = 12
    raw[0, 1 + INDEX["7"]] = 20
    raw[0, 1 + len(CLASSES) + 1] = 20
    ends = np.cumsum([0, *HEADS.values()])
    ys, xs = torch.meshgrid(torch.arange(96.0), torch.arange(96.0), indexing="ij")
    raw[0, ends[3]], raw[0, ends[3] + 1] = 12.0 - xs, 22.0 - ys
    raw[0, ends[4] + 1] = np.log(20 / 32)
    raw[0, ends[5]] = 1
    parts = losses.detector(raw, glyphs)
    assert all(float(v) < 0.5 for v in parts.values())
    raw[0, 1 + INDEX["7"]] = 0
    raw[0, 1 + INDEX["1"]] = 20
    assert float(losses.detector(raw, glyphs)["cls"]) > 5


@pytest.mark.parametrize(
    ("net", "shape", "wanted"),
    [
        (Detector, (1, 2, 96, 128), (1, sum(HEADS.values()), 24, 32)),
        (Finder, (1, 2, 96, 128), (1, 4, 12, 16)),
        (LineReader, (1, 2, 48, 160), (1, len(CLASSES) + 1, 40)),
    ],
)
def test_shapes(net, shape, wanted):
    """Output sizes are as the readers expect."""
    assert wanted == tuple(net().eval()(torch.zeros(shape)).shape)


def test_detector_size():
    """1.5 to 4 million parameters."""
    assert 1.5e6 < sum(p.numel() for p in Detector().parameters()) < 4e6


def test_rate_rises_and_falls():
    """Warm-up, then half a cosine."""
    config = Config()
    rates = [rate_at(config, p) for p in (0.0, config.warm, 0.5, 1.0)]
    assert rates[0] < rates[2] < rates[1]
    assert pytest.approx(config.rate * 0.01, rel=0.01) == rates[3]


@pytest.mark.parametrize("part", ["detector", "finder", "line"])
def test_toy_run_goes_on_where_it_stopped(part, tmp_path, baked):
    """The command trains three small steps, and three more from its checkpoint."""
    import lzma
    import pickle

    kept = tmp_path / "faces.pkl.xz"
    kept.write_bytes(lzma.compress(pickle.dumps({k: baked[k] for k in ("outline", "stroke")})))
    command = [
        sys.executable, "-m", "stampreader.train", "--faces", str(kept), "--out", str(tmp_path / "run"),
        "--part", part, "--toy", "--workers", "0",
    ]  # fmt: skip
    first = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    again = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    assert "start at step 0" in first.stdout
    assert "start at step 3" in again.stdout
    assert 6 == torch.load(tmp_path / "run" / f"{part}.pt", weights_only=True)["step"]


def test_faces_listed_with_licences():
    """At least 60 open faces, each with its licence."""
    listed = faces.list_faces()
    assert 60 <= len(listed["npm"])
    assert all(f["licence"] in {"OFL-1.1", "Apache-2.0", "UFL-1.0", "MIT"} for f in listed["npm"])
    assert all(f["licence"] for f in listed["debian"])


def test_the_same_picture_is_prepared_as_in_use():
    """Training's preparation is the reader's, to rounding."""
    from stampreader.reader import prepare as used
    from stampreader.train.model import prepare as trained

    grey = np.random.default_rng(4).integers(0, 256, (70, 50)).astype(np.uint8)
    got = trained(torch.from_numpy(grey).float()[None, None] / 255).numpy()
    assert np.abs(got - used.prepare(grey)).max() < 2e-3


def test_level_tiles_lie_level(baked, shader):
    """With `level` 1 the text runs along the picture, either way up, but for some degrees."""
    rng = np.random.default_rng(9)
    low = replace(shader, size=(192, TILE))
    masks, glyphs, _ = move(*tensors([draw_tile(rng, baked) for _ in range(24)]), low, 1.0)
    assert (24, 1, 192, TILE) == masks.shape
    cos = [float((g[:, 5] * g[:, 8]).sum() / g[:, 8].sum()) for g in glyphs if g[:, 8].sum() > 0]
    assert np.mean(np.abs(cos) > 0.85) > 0.9
    assert min(cos) < 0 < max(cos)


def test_turned_pictures_keep_their_labels(baked, shader):
    """Used again, a low picture may be turned; its labels turn with it."""
    torch.manual_seed(10)
    rng = np.random.default_rng(10)
    low = replace(shader, size=(192, TILE))
    masks, glyphs, _ = move(*tensors([draw_tile(rng, baked) for _ in range(12)]), low, 0.5)
    shapes = set()
    for _ in range(12):
        pictures, rows = again(Config(level=0.0), (masks, glyphs), low)
        shapes.add(tuple(pictures.shape[2:]))
        plain = (
            ((pictures[:, 0] - pictures[:, 0].amin((1, 2), True)) * 255).numpy().astype(np.uint8)
        )
        hits = [
            ink_share(cv2.normalize(p, None, 0, 255, cv2.NORM_MINMAX), row)
            for p, kept in zip(plain, rows.numpy(), strict=True)
            for row in kept
            if row[8] > 0.9
        ]
        assert np.mean(hits) > 0.93
    assert {(192, TILE), (TILE, 192)} == shapes


def test_strips_hold_the_characters_they_are_said_to_hold(shader):
    """Ticks in the place of characters: as many are seen on a taught strip as it is asked for."""
    torch.manual_seed(11)
    rng = np.random.default_rng(11)
    pictures, glyphs = torch.zeros(40, 1, TILE, TILE), torch.zeros(40, 112, 9)
    for tile in range(40):
        row = 0
        for strip in range(STRIPS):
            for x in rng.permutation(np.arange(12, TILE - 12, 24))[: rng.integers(0, 14)]:
                pictures[tile, 0, strip * STRIP : (strip + 1) * STRIP, x - 1 : x + 2] = 1.0
                glyphs[tile, row, [1, 2, 8]] = torch.tensor([float(x), float(strip), 1.0])
                row += 1
    cut, (classes, lengths, taught) = losses.strips(pictures, glyphs, shader)
    assert len(classes) == int(lengths.sum())
    assert len(cut) == round(losses.KEPT * 40 * STRIPS) == len(taught)
    inner = (cut[:, 0, 24] > 0.4).float()
    inner[:, :8] = inner[:, -8:] = 0  # what is cut through there is not asked for
    ticks = (inner.diff(dim=1) > 0).sum(1)
    assert taught.sum() > 80
    assert torch.equal(ticks[taught > 0], lengths[taught > 0])


def test_an_album_forgets_the_oldest_and_what_cannot_be_seen():
    """Its pictures are the last ones put in; tiles without a legible character mostly stay out."""
    torch.manual_seed(12)
    kept = Album(6, (4, 8), 3, torch.device("cpu"))
    rows = torch.zeros(4, 3, 9)
    rows[..., 8] = 1.0
    for value in (0.2, 0.4, 0.6):
        kept.put(torch.full((4, 1, 4, 8), value), rows)
    assert sorted(np.unique(kept.pictures.numpy())) == [round(0.4 * 255), round(0.6 * 255)]
    many = Album(4000, (1, 1), 3, torch.device("cpu"))
    many.put(torch.zeros(2000, 1, 1, 1), rows[:1].expand(2000, 3, 9) * IGNORED)
    assert 0.1 < many.filled / 2000 < 0.2
    many.put(torch.zeros(500, 1, 1, 1), torch.zeros(500, 3, 9))
    assert many.filled > 700  # bare tiles teach what is no writing


def test_a_mirror_shows_what_lies_behind_the_phone():
    """Level with the room, a face that looks at the phone mirrors what is behind it.

    Law of reflection: the middle of the map is the direction towards the phone, whichever way it
    is held; a probe that is bright above and dark below therefore shows bright there.
    """
    probe = np.zeros((128, 256), np.float32)
    probe[:64] = 1.0
    middles = [
        surroundings.mirrored(np.random.default_rng(seed), probe, 64)[30:34, 30:34].mean()
        for seed in range(60)
    ]
    lit = [value for value in middles if value > 0.95]
    assert len(lit) >= 20  # where no photographer stands before it
    assert min(middles) >= 0.0


def test_real_surroundings_go_into_the_bank_of_lights(monkeypatch):
    """With probes about half of the lights are taken from them; without, all are invented."""
    taken = []
    monkeypatch.setattr(banks, "mirrored", lambda rng, probe, size: taken.append(1) or probe[:64])
    lights = banks.environments(
        np.random.default_rng(2), 60, probes=[np.ones((64, 64), np.float32)]
    )
    assert (60, 3, 64, 64) == lights.shape
    assert np.isfinite(lights).all()
    assert 18 <= len(taken) <= 42  # binomial, 60 tries: outside in 1 of 700
    taken.clear()
    banks.environments(np.random.default_rng(2), 6)
    assert [] == taken


def test_the_conformity_mark_is_labelled_as_its_letters(baked):
    """C and E of the drawn mark are arcs of one circle, the E with a bar."""
    rng = np.random.default_rng(4)
    for letter, strokes in pictograms.conformity(rng):
        radius = np.hypot(*(strokes[0] - 0.5).T)
        assert np.allclose(0.5, radius)
        assert {"C": 1, "E": 2}[letter] == len(strokes)
    sheet = Sheet()
    end = write_logo(sheet, choose_hand(rng, baked), 2.0, 0.0, 1.0, 0, rng)
    assert [INDEX["C"], INDEX["E"]] == [g[0] for g in sheet.glyphs]
    assert 3.0 < end < 7.0


def test_bare_benches_join_the_finders_batch(shader):
    """They are pictures like the others, with nothing to find, and no two alike."""
    small, rows = torch.rand(5, 1, 96, 96), torch.ones(5, 7, 9)
    pictures, glyphs = losses.with_bare(small, rows, shader)
    assert (7, 1, 96, 96) == tuple(pictures.shape)
    assert torch.equal(small, pictures[:5])
    assert torch.equal(rows, glyphs[:5])
    assert 0 == glyphs[5:].abs().sum()
    assert 0 <= float(pictures.min()) <= float(pictures.max()) <= 1
    assert not torch.allclose(pictures[5], pictures[6])
