"""The works: truth fits the pictures, a stopped run goes on, bad pictures are made anew."""

from __future__ import annotations

import io
import json
from pathlib import Path
from typing import Any, ClassVar

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from stampreader.train.photos import phone, shot, tracer, truth, works


class PaintedTracer:
    """Stands in for the path tracer: paints every glyph's box white on grey."""

    made: ClassVar[list[str]] = []
    bad: ClassVar[set[str]] = set()

    def __init__(self, variant: str) -> None:
        assert variant == "painted"

    def trace(self, scene: shot.Scene, spp: int, seed: int) -> list[np.ndarray]:
        """Pictures in which a glyph lies where its corners project to."""
        name = f"{scene.shot.name}/{scene.shot.seed[1]}"
        self.made.append(name)
        if name in self.bad:
            return [np.full((c.height, c.width, 3), np.nan, np.float32) for c in scene.cameras]
        out = []
        for camera in scene.cameras:
            picture = np.full((camera.height, camera.width, 3), 0.1, np.float32)
            for glyph in (g for gs in scene.glyphs for g in gs):
                quad = camera.project(glyph.corners).round().astype(np.int32)
                cv2.fillPoly(picture, [quad], (0.9, 0.9, 0.9))
            out.append(picture)
        return out


@pytest.fixture
def painted(monkeypatch: pytest.MonkeyPatch) -> type[PaintedTracer]:
    """The works with the painted tracer."""
    monkeypatch.setattr(tracer, "Tracer", PaintedTracer)
    PaintedTracer.made, PaintedTracer.bad = [], set()
    return PaintedTracer


def run(out: Path, kind: str = "calibration", count: int = 3, **more: Any) -> int:
    """Run the command."""
    words = ["--kind", kind, "--count", str(count), "--out", str(out), "--variant", "painted"]
    words += ["--size", "400x300", "--workers", "2", "--seed", "11"]
    for key, value in more.items():
        words += [f"--{key}", str(value)]
    return works.main(words)


@pytest.mark.slow
def test_a_stopped_run_goes_on(tmp_path: Path, painted: type[PaintedTracer]) -> None:
    """Pictures that are there are not made again, and the truth covers all."""
    assert 0 == run(tmp_path, count=2)
    before = {p.name: p.read_bytes() for p in tmp_path.glob("*.jpg")}
    painted.made.clear()
    assert 0 == run(tmp_path, count=3)
    assert ["calibration-0002/0"] == painted.made
    assert all((tmp_path / n).read_bytes() == b for n, b in before.items())
    records = json.loads((tmp_path / "truth.json").read_text())
    assert [r["photo"] for r in records] == sorted(p.name for p in tmp_path.glob("*.jpg"))


@pytest.mark.slow
def test_a_bad_picture_is_made_anew(
    tmp_path: Path, painted: type[PaintedTracer], capsys: pytest.CaptureFixture[str]
) -> None:
    """A picture of non-finite pixels is logged and made with another seed."""
    painted.bad = {"calibration-0000/0"}
    assert 0 == run(tmp_path, count=1)
    assert ["calibration-0000/0", "calibration-0000/1"] == painted.made
    assert "non-finite" in capsys.readouterr().err


@pytest.mark.slow
def test_a_hopeless_picture_does_not_stop_the_run(
    tmp_path: Path, painted: type[PaintedTracer]
) -> None:
    """After three failures the picture is left out, the rest is made, the exit status is 1."""
    painted.bad = {f"calibration-0000/{k}" for k in range(3)}
    assert 1 == run(tmp_path, count=2)
    assert ["calibration-0001.jpg"] == [p.name for p in tmp_path.glob("*.jpg")]


@pytest.mark.slow
def test_truth_fits_the_picture(tmp_path: Path, painted: type[PaintedTracer]) -> None:
    """Boxes of glyphs in truth lie on the painted glyphs of the upright JPEG (read by Pillow)."""
    assert 0 == run(tmp_path, count=4)
    boxes = {b["photo"]: b for b in json.loads((tmp_path / "glyphs.json").read_text())}
    seen = 0
    for record in json.loads((tmp_path / "truth.json").read_text()):
        image = ImageOps.exif_transpose(Image.open(tmp_path / record["photo"])).convert("L")
        assert image.size == tuple(record["size"])
        grey = np.array(image, float)
        for glyph in boxes[record["photo"]]["connectors"][0]:
            x, y = np.mean(glyph["box"], axis=0)
            if 12 < x < 388 and 12 < y < 288 and glyph["cap_px"] > 9:
                seen += grey[int(y), int(x)] > np.median(grey) + 20
                assert 0 <= glyph["angle_deg"] < 360
    assert seen > 20


def test_figures_in_truth_equal_the_glyphs() -> None:
    """The figure in kN is what the glyphs of its slot spell."""
    done = 0
    for index in range(4):
        planned = shot.invent_shot("tuning", 2, index, pixels=(320, 240))
        scene = shot.build_scene(planned)
        grey = np.full((240, 320), 90, np.float32)
        record, boxes = truth.photo_truth(scene, 0, grey, "x.jpg", 80)
        for made, glyphs in zip(record["connectors"], boxes["connectors"], strict=True):
            for slot, figure in made["figures"].items():
                spelt = "".join(
                    g["char"] for g in glyphs if g["role"] == slot and len(g["char"]) == 1
                )
                assert figure["stamped"] == spelt
                if made["unit"] == "kN":
                    assert float(spelt.replace(",", ".")) == made[f"{slot}_kN"]
                done += 1
    assert done >= 4


def test_exif_orientations_are_undone_by_pillow() -> None:
    """Whatever the stored orientation, Pillow turns the picture upright again."""
    upright = np.zeros((60, 80, 3), np.uint8)
    upright[:20, :30] = 255
    for exif in phone.TURNS:
        data, _ = phone.encode(upright, exif, 90, 10**6)
        back = np.array(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))
        assert back.shape == upright.shape
        assert back[10, 15].min() > 200 and back[50, 70].max() < 60


def test_jpegs_keep_to_their_limit() -> None:
    """A noisy picture is compressed harder until it fits."""
    noise = np.random.default_rng(0).integers(90, 160, (600, 800, 3), dtype=np.uint8)
    free, _ = phone.encode(noise, 1, 90, 10**7)
    tight, quality = phone.encode(noise, 1, 90, len(free) * 2 // 3)
    assert len(tight) <= len(free) * 2 // 3 and quality < 90


def test_defects_are_named() -> None:
    """Black and non-finite pictures are refused, a few broken pixels are mended."""
    good = np.random.default_rng(0).uniform(0.05, 0.5, (120, 160, 3)).astype(np.float32)
    assert "" == phone.defects(good)
    assert "black picture" == phone.defects(good * 0)
    broken = good.copy()
    broken[:40] = np.nan
    assert "non-finite pixels" == phone.defects(broken)
    good[60, 80] = np.nan
    assert "" == phone.defects(good)
    assert np.isfinite(phone.calm(good)).all()


def test_grade_follows_its_bounds() -> None:
    """One hard quantity makes a hard picture, three middling ones too, none an easy one."""
    easy = {"glyph_px": 40.0, "edge": 4.0, "tilt_deg": 5.0, "glare": 0.0, "wear": 0.1}
    assert "easy" == truth.grade(easy)
    assert "medium" == truth.grade({**easy, "glyph_px": 20.0})
    assert "hard" == truth.grade({**easy, "glyph_px": 12.0})
    assert "hard" == truth.grade({**easy, "glyph_px": 20.0, "edge": 2.0, "wear": 0.4})


def test_a_qr_label_is_read_back() -> None:
    """OpenCV's reader finds the text in the drawn label."""
    image = (np.clip(shot.qr_image("K-0421"), 0, 1) * 255).astype(np.uint8)
    wide = cv2.copyMakeBorder(image, 40, 40, 40, 40, cv2.BORDER_CONSTANT, value=(230, 230, 230))
    text, _, _ = cv2.QRCodeDetector().detectAndDecode(cv2.resize(wide, None, fx=2, fy=2))
    assert "K-0421" == text
