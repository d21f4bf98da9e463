"""Weights that are missing, shortened or altered are refused; both engines say the same."""

import json
import shutil

import numpy as np
import pytest

from stampreader.errors import ReaderError
from stampreader.reader import engine

SHAPES = {"detector": (1, 2, 96, 160), "finder": (1, 2, 64, 96), "line": (1, 2, 48, 160)}


@pytest.fixture
def weights(tmp_path):
    """A copy of the shipped weights that a test may spoil."""
    for name in ("card.json", "detector.onnx", "finder.onnx", "line.onnx"):
        shutil.copy(engine.FOLDER / name, tmp_path / name)
    engine.read_card.cache_clear()
    yield tmp_path
    engine.read_card.cache_clear()


def test_missing_weights_say_what_to_do(weights):
    """A part that is not there is an error with a remedy, not a guess."""
    (weights / "line.onnx").unlink()
    with pytest.raises(ReaderError) as caught:
        engine.load("line", weights)
    assert "line.onnx are missing. Reinstall stampreader." in caught.value.line()


@pytest.mark.parametrize(
    "spoil", [lambda b: b[: len(b) // 2], lambda b: b"", lambda b: b[:-1] + bytes([b[-1] ^ 1])]
)
def test_altered_weights_are_refused(weights, spoil):
    """Shortened, empty or changed by one bit: the hash on the card tells."""
    path = weights / "detector.onnx"
    path.write_bytes(spoil(path.read_bytes()))
    with pytest.raises(ReaderError, match="not the ones they should be"):
        engine.load("detector", weights)


@pytest.mark.parametrize("text", ["", "{", "[1, 2"])
def test_damaged_card_is_refused(weights, text):
    """A card that cannot be read is an error."""
    (weights / "card.json").write_text(text)
    with pytest.raises(ReaderError, match="card is missing or damaged"):
        engine.load("finder", weights)


def test_weights_of_another_preparation_are_refused(weights):
    """Weights name the preparation they were trained with."""
    card = json.loads((weights / "card.json").read_text())
    (weights / "card.json").write_text(json.dumps(card | {"preparation": 999}))
    with pytest.raises(ReaderError, match="another version"):
        engine.load("finder", weights)


def test_opencv_without_its_graph_engine(monkeypatch):
    """An OpenCV that lacks the engine is named with its remedy."""
    for name in ("ENGINE_NEW", "ENGINE_OPENCV"):
        monkeypatch.delattr(engine.cv2.dnn, name, raising=False)
    with pytest.raises(ReaderError) as caught:
        engine.OpenCvEngine(b"")
    assert "Install opencv-python 5.0 or newer." in caught.value.line()


@pytest.mark.parametrize("part", SHAPES)
def test_both_engines_agree(part):
    """OpenCV's engine and ONNX Runtime (the reference here) give the same numbers from one file."""
    data = (engine.FOLDER / f"{part}.onnx").read_bytes()
    x = np.random.default_rng(1).normal(size=SHAPES[part]).astype(np.float32)
    one, other = engine.OpenCvEngine(data).run(x), engine.OnnxEngine(data).run(x)
    assert one.shape == other.shape
    assert float(np.abs(one - other).max()) < 1e-3 * max(1.0, float(np.abs(other).max()))


def test_all_weights_together_stay_small():
    """The wheel carries less than 12 MB of weights."""
    assert 12e6 > sum(p.stat().st_size for p in engine.FOLDER.glob("*.onnx"))
