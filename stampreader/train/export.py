"""Trained weights → what ships: ONNX files with half-precision weights and `card.json`.

python -m stampreader.train.export --weights DIR [--scores scores.json] [--caps caps.json]
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper

from stampreader.reader.alphabet import CLASSES, ROLES
from stampreader.reader.prepare import CHANNELS, VERSION
from stampreader.train.__main__ import NETS
from stampreader.train.model import widened

SHAPES = {
    "detector": (1, CHANNELS, 256, 256),
    "finder": (1, CHANNELS, 256, 256),
    "line": (1, CHANNELS, 48, 320),
}
READER = Path(__file__).parent.parent / "reader"


def halve(model: onnx.ModelProto) -> onnx.ModelProto:
    """Store large weights as half precision, cast back when loaded; arithmetic stays single."""
    graph = model.graph
    kept, casts = [], []
    for weight in graph.initializer:
        values = numpy_helper.to_array(weight)
        if weight.data_type != TensorProto.FLOAT or values.size < 256 or np.abs(values).max() > 6e4:
            kept.append(weight)
            continue
        name = weight.name + "_half"
        kept.append(numpy_helper.from_array(values.astype(np.float16), name))
        casts.append(helper.make_node("Cast", [name], [weight.name], to=TensorProto.FLOAT))
    del graph.initializer[:]
    graph.initializer.extend(kept)
    nodes = list(graph.node)
    del graph.node[:]
    graph.node.extend(casts + nodes)
    return model


def export(part: str, weights: Path, folder: Path) -> dict[str, Any]:
    """Write one part's ONNX file; returns its entry in the card."""
    raw = torch.load(weights, map_location="cpu", weights_only=True)
    net = NETS[part]().eval()
    net.load_state_dict(widened(raw["shown"], net))
    path = folder / f"{part}.onnx"
    axes = {"x": {3: "w"}} if part == "line" else {"x": {2: "h", 3: "w"}}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        torch.onnx.export(
            net, torch.zeros(SHAPES[part]), str(path), opset_version=17, dynamo=False,
            input_names=["x"], output_names=["y"], dynamic_axes=axes,
        )  # fmt: skip
    onnx.save(halve(onnx.load(path)), path)
    printed = raw["config"].get("printed", 0.0)
    traced = f" --prints PICTURES --printed {printed:g}" if printed else ""
    return {
        "file": path.name,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "parameters": sum(p.numel() for p in net.parameters()),
        "shape": list(SHAPES[part]),
        "steps": raw["step"],
        "config": raw["config"],
        "command": f"python -m stampreader.train --part {part} --minutes {raw['config']['minutes']:g}"
        f" --batch {raw['config']['batch']} --seed {raw['config']['seed']}{traced}",
    }


def main() -> None:
    """Export all parts and write the card."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--weights", type=Path, required=True, help="folder of checkpoints")
    parser.add_argument("--to", type=Path, default=READER)
    args = parser.parse_args()
    path = args.to / "card.json"
    card: dict[str, Any] = json.loads(path.read_text()) if path.exists() else {}
    commit = subprocess.run(
        ["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=False
    )
    card |= {
        "preparation": VERSION, "mean": 127.5, "std": 63.75, "classes": list(CLASSES),
        "roles": list(ROLES), "commit": commit.stdout.strip(),
    }  # fmt: skip
    card.setdefault("caps", {"calibrated": False})
    parts = card.setdefault("parts", {})
    for part in NETS:
        if (args.weights / f"{part}.pt").exists():
            parts[part] = export(part, args.weights / f"{part}.pt", args.to)
    path.write_text(json.dumps(card, indent=1) + "\n")


if __name__ == "__main__":
    main()
