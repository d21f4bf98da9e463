"""The traced training pictures: geometry, labels, what is shown of them to the networks."""

import lzma
import math
import pickle
from dataclasses import replace

import cv2
import numpy as np
import pytest
import torch

from stampreader.reader.alphabet import INDEX
from stampreader.train import __main__ as training
from stampreader.train.dice import Shader
from stampreader.train.draw import MOST, STRIP, TILE
from stampreader.train.prints import Prints, read_prints, resampled, visible
from stampreader.train.shade import IGNORED
from stampreader.train.traced import blender, scene, supply
from stampreader.train.traced.body import FEW, PITCH, make_body

SEEDS = range(12)


@pytest.fixture(scope="module")
def scenes(baked):
    """Some bodies with their views."""
    made = []
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        made.append(scene.make_scene(rng, baked, [], [np.full((8, 8), 99, np.uint8)]))
    return made


def grid_of(body):
    """Points and flat places of the fine part of a body's grid."""
    rows, columns = body.mask.shape
    column = (body.points.shape[0] - columns) // 2
    s = body.corner[0] + np.arange(columns) * PITCH
    t = body.corner[1] - np.arange(rows) * PITCH
    flat = np.stack(np.meshgrid(s, t, indexing="ij"), -1)
    inner = body.points[column : column + columns, FEW : FEW + rows]
    return inner, flat


def test_the_fine_grid_lies_on_the_form(scenes):
    """The points of the window are the form's own, but for the tool's and the metal's small heights."""
    for body, _, _ in scenes:
        points, flat = grid_of(body)
        far = np.linalg.norm(points - body.form.place(flat), axis=-1)
        assert np.isfinite(body.points).all()
        assert np.percentile(far, 99) < 0.4
        assert np.percentile(far[:, [0, -1]], 99) < 1e-3  # nothing is cut at the rims


def test_a_cut_stamp_is_deeper_where_the_tool_was(baked):
    """Over many bodies the stamped points stand off the others as often as two thirds are relief."""
    moved = 0
    for seed in range(40):
        body = make_body(np.random.default_rng(100 + seed), baked)
        points, flat = grid_of(body)
        off = ((points - body.form.place(flat)) * body.form.normal(flat)).sum(-1)
        on = body.mask.T > 0.9
        if on.sum() > 50:
            moved += abs(np.median(off[on]) - np.median(off[body.mask.T == 0])) > 0.008
    assert 18 <= moved <= 38


def test_normals_stand_upright_on_the_surface(scenes):
    """A normal is at right angles to two steps on the surface, and points away from the bench."""
    for body, _, _ in scenes:
        at = np.array([[0.3, 0.2 * body.form.half]])
        steps = [body.form.place(at + d) - body.form.place(at - d) for d in ([0.01, 0], [0, 0.01])]
        normal = body.form.normal(at)
        for step in steps:
            lean = (normal * step).sum() / np.linalg.norm(step)
            assert abs(lean) < 0.05
        assert normal[0, 2] > 0


def test_the_camera_against_opencv(scenes):
    """Places in a picture are those of cv2.projectPoints with the same pose."""
    for body, _, views in scenes[:4]:
        view = views[0]
        points = body.points[::97, ::31].reshape(-1, 3).astype(float)
        flip = np.diag([1.0, -1.0, -1.0])  # there y runs down and z forward
        turn, shift = flip @ view.eye[:, :3], flip @ view.eye[:, 3]
        ahead = points @ view.eye[2, :3] + view.eye[2, 3] < -1
        lens = np.array([[view.focal, 0, (scene.WIDE - 1) / 2], [0, view.focal, (scene.HIGH - 1) / 2],
                         [0, 0, 1]])  # fmt: skip
        theirs, _ = cv2.projectPoints(points[ahead], cv2.Rodrigues(turn)[0], shift, lens, None)
        assert np.allclose(scene.project(view, points[ahead]), theirs[:, 0], atol=1e-6)


def test_labels_are_sound(scenes):
    """Rows lie in the picture with unit directions; each belongs to a line, and lines pass through them."""
    rows_seen = 0
    for _, _, views in scenes:
        for view in views:
            rows = view.glyphs[view.glyphs[:, 8] > 0]
            rows_seen += len(rows)
            assert ((rows[:, 1:3] > 0) & (rows[:, 1:3] < [scene.WIDE, scene.HIGH])).all()
            assert np.allclose(np.hypot(rows[:, 5], rows[:, 6]), 1, atol=1e-4)
            for number in np.unique(rows[rows[:, 9] >= 0, 9]).astype(int):
                mine = rows[rows[:, 9] == number]
                x, y, cos, sin, a, b, c, cap, first, last = view.lines[number]
                u = (mine[:, 1] - x) * cos + (mine[:, 2] - y) * sin
                v = (mine[:, 2] - y) * cos - (mine[:, 1] - x) * sin
                assert first - 1e-2 <= u.min() <= u.max() <= last + 1e-2
                assert np.median(np.abs(v - (a * u**2 + b * u + c))) < 0.35 * cap
    assert rows_seen > 200


def lit_like_the_mask(body, view):
    """A picture in which the tool's mark is bright, drawn from the grid's points."""
    picture = np.full((scene.HIGH, scene.WIDE), 0.2, np.float32)
    points, _ = grid_of(body)
    at = np.round(scene.project(view, points[body.mask.T > 0.5].astype(float))).astype(int)
    here = (at >= 0).all(1) & (at < [scene.WIDE, scene.HIGH]).all(1)
    picture[at[here, 1], at[here, 0]] = 1.0
    return cv2.GaussianBlur(picture, (0, 0), 0.8)


def test_what_shows_is_taught_and_what_does_not_is_ignored(scenes):
    """On a picture of the mark most glyphs count as seen, on bare grey metal none."""
    seen = total = 0
    for body, _, views in scenes:
        for view in views:
            there = view.glyphs[:, 8] > 0
            large = there & (view.glyphs[:, 3] > 20)
            marked = visible(lit_like_the_mask(body, view), view.glyphs, view.spots)
            seen, total = seen + (marked[large] == 1).sum(), total + large.sum()
            bare = visible(
                np.full((scene.HIGH, scene.WIDE), 0.2, np.float32), view.glyphs, view.spots
            )
            assert (bare[there] == IGNORED).all()
            assert (bare[~there] == 0).all()
    assert seen > 0.85 * total > 50


def laid_out(folder, scenes):
    """Files as the tracer leaves them, with pictures of the marks."""
    for number, (body, around, views) in enumerate(scenes):
        scene.save(folder / "scene.npz", body, around, views)
        with np.load(folder / "scene.npz") as file:
            kept = {name: file[name] for name in blender.PASSED_ON}
        picture = np.stack([lit_like_the_mask(body, v) for v in views]).astype(np.float16)
        np.savez(folder / f"1-{number}.npz", picture=picture, **kept)
    (folder / "scene.npz").unlink()


class Undeveloped(Prints):
    """Pictures as they were traced: no exposure, noise or blur."""

    def _developed(self, count):
        pick = torch.randint(self.filled, (count,), generator=self.sh.generator)
        return pick, self.picture[pick].float()


@pytest.fixture
def prints(tmp_path, scenes):
    """A store of pictures of the marks alone."""
    laid_out(tmp_path, scenes)
    sh = Shader({}, (192, 384), torch.Generator().manual_seed(2), torch.device("cpu"))
    store = Undeveloped(tmp_path, 100, (scene.HIGH, scene.WIDE), sh)
    while store.filled < scene.VIEWS * len(scenes):
        store.refresh()
    store.close()
    return store


def on_ink(picture, rows, kinds):
    """For each glyph of these kinds, whether there is something bright within half its height."""
    hits = []
    for row in rows:
        if row[8] > 0.9 and row[0] in kinds:
            x, y, reach = round(row[1]), round(row[2]), max(round(row[3] / 2), 3)
            hits.append(
                picture[max(y - reach, 0) : y + reach, max(x - reach, 0) : x + reach].max() > 0.45
            )
    return hits


def test_rows_follow_the_tiles(prints):
    """Tiles are laid level, and their rows stay on the marks."""
    pictures, rows = prints.tiles(40, (192, 384), 1.0)
    assert pictures.shape == (40, 1, 192, 384)
    digits = {INDEX[c] for c in "0123456789KN"}
    hits = [
        hit
        for picture, own in zip(pictures[:, 0].numpy(), rows.numpy(), strict=True)
        for hit in on_ink(picture, own, digits)
    ]
    assert len(hits) > 100
    assert np.mean(hits) > 0.95
    taught = rows[rows[..., 8] > 0.9]
    assert taught[:, 6].abs().median() < 0.15


def test_strips_hold_their_lines_in_reading_order(prints):
    """Characters stand at the height of a strip's middle, from left to right."""
    pictures, rows = prints.strips(24)
    assert pictures.shape == (24, 1, TILE, TILE)
    hits = []
    for picture, own in zip(pictures[:, 0].numpy(), rows.numpy(), strict=True):
        for strip in range(TILE // STRIP):
            mine = own[(own[:, 8] > 0.1) & (own[:, 2] == strip)]
            assert (np.diff(mine[:, 1]) >= 0).all()
            for row in mine[mine[:, 8] > 0.9]:
                x, y = round(row[1]), strip * STRIP + STRIP // 2
                hits.append(picture[y - 16 : y + 16, max(x - 8, 0) : x + 8].max() > 0.45)
    assert len(hits) > 200
    assert np.mean(hits) > 0.93


def test_resampling_against_opencv():
    """Within the picture and at its own scale it is cv2.remap."""
    rng = np.random.default_rng(3)
    picture = cv2.GaussianBlur(rng.random((60, 80)).astype(np.float32), (0, 0), 1)
    x, y = (rng.uniform(2, 57, (20, 30)).astype(np.float32) for _ in range(2))
    ours = resampled(torch.from_numpy(picture)[None, None], torch.from_numpy(np.stack([x, y], -1))[None],
                     torch.ones(1))  # fmt: skip
    assert np.allclose(ours[0, 0].numpy(), cv2.remap(picture, x, y, cv2.INTER_LINEAR), atol=2e-3)


def test_few_prints_are_shown_less(prints):
    """With 48 of them the share is small, with many it is what was asked."""
    assert prints.share(0.5) < 0.05
    prints.filled = 10_000
    assert prints.share(0.5) == 0.5


def test_scenes_go_through_the_tracer(tmp_path, baked, monkeypatch):
    """Made, taken, traced (here by a stand-in for Blender) and read back with all that was said of them."""
    baked_at, scenes_at, pictures = tmp_path / "faces", tmp_path / "scenes", tmp_path / "pictures"
    baked_at.write_bytes(
        lzma.compress(pickle.dumps({k: v for k, v in baked.items() if k != "names"}))
    )
    scenes_at.mkdir()
    pictures.mkdir()
    supply.supply(baked_at, None, scenes_at, [0, 1, 2], 5)
    (scenes_at / "end").touch()

    class Dark:
        def __init__(self, device, samples, size):
            self.size = size

        def fill(self, file):
            assert file["points"].shape[-1] == 3

        def take(self, file, view):
            assert file["sky"][view].shape == scene.SKY
            return np.full(self.size[::-1], 0.5, np.float16)

    monkeypatch.setattr(blender, "Studio", Dark)
    blender.main([str(scenes_at), str(pictures)])
    files = sorted(pictures.iterdir())
    assert [f.name for f in files] == ["5-0.npz", "5-1.npz", "5-2.npz"]
    assert not list(scenes_at.glob("*.npz"))
    read = read_prints(files[0])
    assert len(read) == scene.VIEWS
    assert read[0].picture.shape == (scene.HIGH, scene.WIDE)
    assert set(np.unique(read[0].rows[:, 8])) <= {0.0, IGNORED}  # nothing shows on even grey


def test_a_tracer_without_blender_says_what_is_missing(tmp_path):
    """Here, where `bpy` is not installed, it ends with that name and touches no scene."""
    with pytest.raises(ModuleNotFoundError, match="bpy"):
        blender.main([str(tmp_path), str(tmp_path)])


@pytest.mark.parametrize("part", ["detector", "finder", "line"])
def test_a_toy_run_shows_them(part, tmp_path, baked, scenes, monkeypatch):
    """A run takes its steps with traced pictures alone."""
    faces = tmp_path / "faces.xz"
    faces.write_bytes(lzma.compress(pickle.dumps({k: v for k, v in baked.items() if k != "names"})))
    folder = tmp_path / "prints"
    folder.mkdir()
    laid_out(folder, scenes[:3])
    monkeypatch.setattr("stampreader.train.prints.ENOUGH", 1)
    shown = []
    real = training.of_prints
    monkeypatch.setattr(training, "of_prints", lambda *a: shown.append(1) or real(*a))

    class Waiting(Prints):
        def refresh(self):
            while self.filled < 4:
                super().refresh()

    monkeypatch.setattr(training, "Prints", Waiting)
    config = training.toy(replace(training.Config(), part=part, printed=1.0, uses=1))
    sums = training.run(config, faces, tmp_path / "out", math.inf, 0, 3, None, folder)
    assert len(shown) == 3
    assert all(math.isfinite(v) for v in sums.values())


def test_rows_fit(scenes):
    """No more rows than a store holds."""
    assert all(view.glyphs.shape == (MOST, 10) for _, _, views in scenes for view in views)
