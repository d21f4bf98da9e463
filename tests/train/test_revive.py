"""Shipped weights become checkpoints that give the same answers, with live normalisations."""

import pytest
import torch
from torch import nn

from stampreader.train.export import export
from stampreader.train.model import Detector, Finder
from stampreader.train.revive import convolutions, revive


@pytest.fixture
def exported(tmp_path):
    """A finder with random weights and normalisations, and its exported convolutions."""
    torch.manual_seed(4)
    net = Finder().eval()
    for module in net.modules():
        if isinstance(module, nn.BatchNorm2d):
            nn.init.uniform_(module.weight, 0.5, 1.5)
            nn.init.normal_(module.bias)
            nn.init.uniform_(module.running_var, 0.5, 2.0)
            nn.init.normal_(module.running_mean)
    raw = {"shown": net.state_dict(), "step": 0, "config": {"minutes": 1.0, "batch": 1, "seed": 1}}
    torch.save(raw, tmp_path / "finder.pt")
    export("finder", tmp_path / "finder.pt", tmp_path)
    return net, tmp_path / "finder.onnx"


def test_a_revived_network_gives_what_the_file_gave(exported):
    """Equal to half precision of the stored weights; its normalisations fit what they meet."""
    net, file = exported
    again = Finder()
    sight = torch.randn(6, 2, 96, 96)
    revive(again, convolutions(file), sight)
    picture = torch.randn(1, 2, 64, 64)
    with torch.no_grad():
        wanted, got = net(picture), again.eval()(picture)
        trained, plain = again.train()(sight), again.eval()(sight)
    assert float((wanted - got).abs().max()) < 0.03 * float(wanted.abs().max())
    assert float((trained - plain).abs().max()) < 0.05 * float(trained.abs().max())


def test_another_network_is_refused(exported):
    """Weights of the finder are no weights of the detector."""
    with pytest.raises(ValueError, match="another network"):
        revive(Detector(), convolutions(exported[1]), torch.randn(1, 2, 64, 64))


def test_weights_left_over_are_refused(exported):
    """A file with one convolution too many is of another network."""
    with pytest.raises(ValueError, match="another network"):
        revive(
            Finder(),
            [*convolutions(exported[1]), convolutions(exported[1])[0]],
            torch.randn(1, 2, 64, 64),
        )
