"""The weights that ship → checkpoints to go on from, where those of the last run are gone.

    python -m stampreader.train.revive --faces faces.pkl.xz --out RUN

An exported file holds each batch normalisation folded into its convolution. Here the network is run
on freshly shaded tiles, layer by layer: each normalisation gets the mean and variance it meets, and
a gain and bias that undo them, so that the revived network gives what the file gave, and its
normalisations are fit to be trained on.
"""

from __future__ import annotations

import argparse
from dataclasses import asdict
from pathlib import Path

import numpy as np
import onnx
import torch
from onnx import numpy_helper
from torch import nn

from stampreader.train import banks, losses
from stampreader.train.__main__ import NETS, SIZES, Config, photograph
from stampreader.train.dice import Shader
from stampreader.train.export import READER
from stampreader.train.model import prepare
from stampreader.train.pool import Pool

Tensor = torch.Tensor
TILES = 48
"""Shaded tiles the normalisations are set on."""


def convolutions(path: Path) -> list[tuple[np.ndarray, np.ndarray | None]]:
    """Weight and bias of each convolution of an exported file, in the order they are run."""
    graph = onnx.load(path).graph
    halved = {node.output[0]: node.input[0] for node in graph.node if node.op_type == "Cast"}
    stored = {w.name: numpy_helper.to_array(w).astype(np.float32) for w in graph.initializer}
    found = []
    for node in graph.node:
        if node.op_type == "Conv":
            weight, *bias = (stored[halved.get(name, name)] for name in node.input[1:])
            found.append((weight, bias[0] if bias else None))
    return found


def revive(
    net: nn.Module, exported: list[tuple[np.ndarray, np.ndarray | None]], sight: Tensor
) -> None:
    """Fill `net` with exported weights; `sight` (n, 2, h, w) is what its input usually looks like.

    Raises:
        ValueError: the file is of another network.
    """
    waiting = iter(exported)
    pending: list[Tensor] = []

    def fill(module: nn.Module, _: tuple[Tensor, ...]) -> None:
        weight, bias = next(waiting, (None, None))
        if weight is None or module.weight.shape != weight.shape:
            raise ValueError("the exported file holds another network; train from nothing instead")
        module.weight.data = torch.from_numpy(weight).to(module.weight.device)
        folded = torch.zeros(len(weight)) if bias is None else torch.from_numpy(bias)
        if module.bias is not None:
            module.bias.data = folded.to(module.weight.device)
        else:
            pending.append(folded.to(module.weight.device))

    def settle(module: nn.Module, given: tuple[Tensor, ...]) -> None:
        mean = given[0].mean((0, 2, 3))
        spread = given[0].var((0, 2, 3))
        module.running_mean.copy_(mean)
        module.running_var.copy_(spread)
        module.weight.data = torch.sqrt(spread + module.eps)
        module.bias.data = mean + pending.pop()

    hooks = [
        module.register_forward_pre_hook(fill if isinstance(module, nn.Conv2d) else settle)
        for module in net.modules()
        if isinstance(module, nn.Conv2d | nn.BatchNorm2d)
    ]
    with torch.no_grad():
        net.eval()(sight)
    for hook in hooks:
        hook.remove()
    if next(waiting, None) is not None:
        raise ValueError("the exported file holds another network; train from nothing instead")
    net.train()


def sights(part: str, faces: Path, out: Path, tiles: int) -> Tensor:
    """Inputs of one part on freshly drawn and shaded tiles."""
    device = torch.device("cpu")
    config = Config(part=part, batch=tiles, kept=tiles)
    pool = Pool(faces, out / "shards", part, tiles, 0, config.seed, device)
    lit = {k: torch.from_numpy(v) for k, v in banks.build(config.seed, 64).items()}
    sh = Shader(lit, SIZES[part], torch.Generator().manual_seed(config.seed), device)
    pictures, glyphs = photograph(config, pool.batch(tiles, sh.generator), sh)
    pool.close()
    if part == "finder":
        pictures, _ = losses.shrink(pictures)
    if part == "line":
        pictures, _ = losses.strips(pictures, glyphs, sh)
    return prepare(pictures)


def main() -> None:
    """Revive every part."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("--faces", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--tiles", type=int, default=TILES)
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    for part, kind in NETS.items():
        net = kind()
        sight = sights(part, args.faces, args.out, args.tiles)
        revive(net, convolutions(READER / f"{part}.onnx"), sight)
        raw = {"net": net.state_dict(), "shown": net.state_dict(), "step": 0, "seconds": 0.0}
        torch.save({**raw, "config": asdict(Config(part=part))}, args.out / f"{part}.pt")
        print(f"{part}: {sum(p.numel() for p in net.parameters()):,} parameters")


if __name__ == "__main__":
    main()
