"""The exported 8-bit network against the trained one, layer arithmetic against PyTorch."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

torch = pytest.importorskip("torch")
pytest.importorskip("onnx")
onnxruntime = pytest.importorskip("onnxruntime")

from analyzer.training.config import read_config  # noqa: E402
from analyzer.training.export import (  # noqa: E402
    LOGIT_STEP,
    LOGIT_ZERO,
    compare,
    export,
    export_float,
    load_network,
)
from analyzer.training.model import ZERO, Shape, SlabNet  # noqa: E402

SHAPE = Shape((8, 12, 16), (0, 1, 1), (0, 1))
SIDE = 64


def _lively_network() -> SlabNet:
    """Random weights with batch-norm statistics that are not those of a fresh network."""
    torch.manual_seed(3)
    net = SlabNet(SHAPE).train()
    with torch.no_grad():
        for _ in range(20):
            net(torch.rand(4, 3, SIDE, SIDE))
        for p in net.parameters():
            p.add_(0.02 * torch.randn_like(p))
        net.head.bias.zero_()
        net.head.weight.mul_(4)
    return net.eval()


def _tiles(count: int = 12) -> np.ndarray:
    rng = np.random.default_rng(4)
    coarse = rng.integers(0, 256, (count, SIDE // 8, SIDE // 8, 4), dtype=np.uint8)
    return coarse.repeat(8, 1).repeat(8, 2)


@pytest.fixture(scope="module")
def exported(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, SlabNet]:
    out = tmp_path_factory.mktemp("export")
    net = _lively_network()
    config = read_config(
        network__channels=list(SHAPE.channels),
        network__encoder_convs=list(SHAPE.encoder_convs),
        network__decoder_convs=list(SHAPE.decoder_convs),
    ).as_dict()
    saved = {"average": net.state_dict(), "step": 5, "seconds": 1.0, "config": config}
    torch.save(saved, out / "average.pt")
    return export(out / "average.pt", out / "weights", _tiles()), net


def test_float_graph_computes_what_pytorch_computes(tmp_path: Path) -> None:
    net = _lively_network()
    path = tmp_path / "float.onnx"
    export_float(net, path)
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    x = torch.rand(1, 3, 48, 80)
    with torch.no_grad():
        want = net(x).numpy()
    got = session.run(None, {"rgb": (x - ZERO).numpy()})[0]
    np.testing.assert_allclose(got, want, atol=2e-4)


def test_bytes_go_in_and_out_and_mean_nearly_the_same(exported: tuple[Path, SlabNet]) -> None:
    path, net = exported
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    rgb = np.ascontiguousarray(_tiles(1)[..., :3])
    logits = session.run(None, {"rgb": rgb})[0]
    assert logits.shape == (1, 4, SIDE, SIDE)
    assert logits.dtype == np.uint8
    with torch.no_grad():
        want = net(torch.from_numpy(rgb).permute(0, 3, 1, 2).float() / 255).numpy()
    got = (logits.astype(np.float64) - LOGIT_ZERO) * LOGIT_STEP
    inside = np.abs(want) < 7.5  # the rest is clipped on purpose
    assert np.ptp(want[inside]) > 2
    assert np.abs(got - want)[inside].mean() < 0.05 * np.ptp(want[inside])
    assert np.corrcoef(got[inside], want[inside])[0, 1] > 0.98
    assert compare(net, path, _tiles(4))["mean"] < 0.05


def test_companion_names_classes_scale_and_training(exported: tuple[Path, SlabNet]) -> None:
    path, net = exported
    about = json.loads(path.with_suffix(".json").read_text())
    assert about["classes"] == ["crack", "joint", "patch", "slab"]
    assert about["stride_px"] == 8 == net.shape.stride
    assert about["training"]["network"]["channels"] == list(SHAPE.channels)
    loaded, saved = load_network(path.parent.parent / "average.pt")
    assert saved["step"] == 5
    for a, b in zip(loaded.parameters(), net.parameters(), strict=True):
        assert torch.equal(a, b)
