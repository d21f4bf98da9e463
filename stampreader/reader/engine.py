"""Runs the embedded networks: `cv2.dnn`, or ONNX Runtime where it is installed.

The weights lie beside `card.json`, which names each file with its SHA-256; a file that does not
match is refused. Nothing is downloaded.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, Protocol

import cv2
import numpy as np
import numpy.typing as npt

from stampreader.errors import ReaderError
from stampreader.reader.prepare import VERSION

FOLDER = Path(__file__).parent
Tensor = npt.NDArray[np.float32]


class Engine(Protocol):
    """A loaded network."""

    def run(self, x: Tensor) -> Tensor:
        """(1, 2, H, W) prepared grey → the network's raw output."""
        ...


class OpenCvEngine:
    """A network in OpenCV's own graph engine."""

    def __init__(self, data: bytes) -> None:
        """Load an ONNX file.

        Raises:
            ReaderError: this OpenCV has no engine for it.
        """
        # The engine was called ENGINE_NEW in OpenCV 5.0; later versions call it ENGINE_OPENCV.
        engine = getattr(cv2.dnn, "ENGINE_OPENCV", getattr(cv2.dnn, "ENGINE_NEW", None))
        if engine is None:
            raise ReaderError(
                f"OpenCV {cv2.__version__} has no engine for the readers",
                remedy="Install opencv-python 5.0 or newer.",
            )
        try:
            self._net = cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8), engine=engine)
        except cv2.error as error:
            raise ReaderError(f"OpenCV cannot load the reader's network ({error.err})") from error

    def run(self, x: Tensor) -> Tensor:
        """(1, 2, H, W) prepared grey → the network's raw output."""
        self._net.setInput(x)
        return np.array(self._net.forward(), np.float32)


class OnnxEngine:
    """The same network in ONNX Runtime (extra `[fast]`)."""

    def __init__(self, data: bytes) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = max(cv2.getNumThreads(), 1)
        options.log_severity_level = 3
        self._session = onnxruntime.InferenceSession(
            data, options, providers=["CPUExecutionProvider"]
        )
        self._name = self._session.get_inputs()[0].name

    def run(self, x: Tensor) -> Tensor:
        """(1, 2, H, W) prepared grey → the network's raw output."""
        return np.asarray(self._session.run(None, {self._name: x})[0], np.float32)


@cache
def read_card(folder: Path = FOLDER) -> Mapping[str, Any]:
    """The card of the weights: hashes, scores, thresholds.

    Raises:
        ReaderError: missing or damaged.
    """
    try:
        card: Mapping[str, Any] = json.loads((folder / "card.json").read_text("utf-8"))
    except (OSError, ValueError) as error:
        raise ReaderError("the reader's card is missing or damaged") from error
    if card.get("preparation") != VERSION:
        raise ReaderError("the reader's weights belong to another version of stampreader")
    return card


def load(part: str, folder: Path = FOLDER) -> Engine:
    """The network of one part: `detector`, `finder` or `line`.

    Raises:
        ReaderError: weights missing, shortened or altered, or no engine for them.
    """
    entry = read_card(folder)["parts"][part]
    try:
        data = (folder / entry["file"]).read_bytes()
    except OSError as error:
        raise ReaderError(f"the weights {entry['file']} are missing") from error
    if hashlib.sha256(data).hexdigest() != entry["sha256"]:
        raise ReaderError(f"the weights {entry['file']} are not the ones they should be")
    wanted = os.environ.get("STAMPREADER_ENGINE", "")
    if wanted != "opencv" and importlib.util.find_spec("onnxruntime"):
        return OnnxEngine(data)
    return OpenCvEngine(data)
