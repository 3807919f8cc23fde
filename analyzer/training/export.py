"""Writes trained weights as ONNX: 8-bit picture in, 8-bit logits out, 8-bit arithmetic between.

``python -m analyzer.training.export RUN --out FOLDER`` takes ``average.pt`` and ``holdout.npy`` of
a training run. The graph's input is ``rgb`` (1, rows, cols, 3) uint8 with sides that are multiples
of the network's stride; its output is ``logits`` (1, 4, rows, cols) uint8, value 128 + 16 x logit.
Needs PyTorch, onnx and onnxruntime.

Weights are quantised per output channel to seven bits: with eight, processors that have AVX2 but
no VNNI saturate their 16-bit sums (documented by ONNX Runtime), and the same picture would give
different cracks on different machines.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
import torch
from numpy.typing import NDArray
from onnx import TensorProto, helper, numpy_helper
from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static
from onnxruntime.quantization.shape_inference import quant_pre_process
from torch import nn

from .model import CLASSES, ZERO, Shape, SlabNet

LOGIT_STEP = 1 / 16
LOGIT_ZERO = 128
OPSET = 17


def load_network(checkpoint: Path) -> tuple[SlabNet, dict[str, Any]]:
    """The averaged network of a run and what the checkpoint says about it."""
    saved: dict[str, Any] = torch.load(checkpoint, map_location="cpu", weights_only=True)
    n = saved["config"]["network"]
    net = SlabNet(Shape(tuple(n["channels"]), tuple(n["encoder_convs"]), tuple(n["decoder_convs"])))
    net.load_state_dict(saved["average"])
    return net.eval(), saved


class _Tiles(CalibrationDataReader):  # type: ignore[misc]
    """Feeds tiles, made to reach both ends of the scale so that the input's step is 1/255."""

    def __init__(self, tiles: NDArray[np.uint8]) -> None:
        self.feed = self._each(tiles)

    @staticmethod
    def _each(tiles: NDArray[np.uint8]) -> Iterator[dict[str, NDArray[np.float32]]]:
        for tile in tiles:
            rgb = tile[..., :3].copy()
            rgb[0, 0], rgb[0, 1] = 0, 255
            x = rgb.transpose(2, 0, 1)[None].astype(np.float32) / 255 - np.float32(ZERO)
            yield {"rgb": x}

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        return next(self.feed, None)


class _Graph:
    """Collects nodes and constants of an ONNX graph; every layer takes and gives a tensor's name."""

    def __init__(self) -> None:
        self.nodes: list[Any] = []
        self.constants: list[Any] = []

    def constant(self, value: NDArray[Any]) -> str:
        name = f"c{len(self.constants)}"
        self.constants.append(numpy_helper.from_array(value, name))
        return name

    def add(self, kind: str, inputs: list[str], output: str = "", **attributes: Any) -> str:
        output = output or f"t{len(self.nodes)}"
        self.nodes.append(helper.make_node(kind, inputs, [output], output, **attributes))
        return output

    def conv(self, x: str, conv: nn.Conv2d, norm: nn.BatchNorm2d | None = None) -> str:
        """Convolution; a batch norm after it is folded into its weights."""
        weight = conv.weight.detach().double()
        bias = torch.zeros(len(weight)) if conv.bias is None else conv.bias.detach()
        bias = bias.double()
        if norm is not None and norm.running_var is not None and norm.running_mean is not None:
            gain = norm.weight.double() / torch.sqrt(norm.running_var.double() + norm.eps)
            weight = weight * gain.view(-1, 1, 1, 1)
            bias = (bias - norm.running_mean.double()) * gain + norm.bias.double()
        names = [self.constant(v.detach().numpy().astype(np.float32)) for v in (weight, bias)]
        side, stride, edge = conv.kernel_size[0], conv.stride[0], int(conv.padding[0])
        return self.add(
            "Conv",
            [x, *names],
            kernel_shape=[side, side],
            strides=[stride, stride],
            pads=[edge] * 4,
        )

    def blocks(self, x: str, level: nn.Sequential) -> str:
        """Blocks of convolution, batch norm and rectifier."""
        for block in level:
            conv, norm, _ = block
            x = self.add("Relu", [self.conv(x, conv, norm)])
        return x


def export_float(net: SlabNet, path: Path) -> None:
    """ONNX with float input (centred) and float logits; batch norm folded.

    Written layer by layer and not traced, so that the file holds what the network is and no more.
    """
    g = _Graph()
    twice = g.constant(np.array([1, 1, 2, 2], np.float32))
    skips = []
    x = "rgb"
    for level in net.encoder:
        x = g.blocks(x, level)
        skips.append(x)
    x = skips.pop()
    for lateral, level in reversed(list(zip(net.lateral, net.decoder, strict=True))):
        x = g.conv(x, lateral)
        x = g.add(
            "Resize",
            [x, "", twice],
            mode="nearest",
            coordinate_transformation_mode="asymmetric",
            nearest_mode="floor",
        )
        x = g.blocks(g.add("Add", [x, skips.pop()]), level)
    x = g.conv(x, net.head)
    g.add("DepthToSpace", [x], "logits", blocksize=2, mode="CRD")
    io = [
        helper.make_tensor_value_info(name, TensorProto.FLOAT, [1, planes, "rows", "cols"])
        for name, planes in (("rgb", 3), ("logits", len(CLASSES)))
    ]
    graph = helper.make_graph(g.nodes, "slab", io[:1], io[1:], g.constants)
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", OPSET)])
    model.ir_version = 8
    onnx.checker.check_model(model)
    onnx.save(model, str(path))


def quantise(source: Path, target: Path, tiles: NDArray[np.uint8]) -> None:
    """Static quantisation (ONNX Runtime, QDQ form) with value ranges taken from `tiles`."""
    with tempfile.TemporaryDirectory() as folder:
        ready = Path(folder) / "ready.onnx"
        quant_pre_process(str(source), str(ready), skip_symbolic_shape=True)
        quantize_static(
            str(ready),
            str(target),
            _Tiles(tiles),
            quant_format=QuantFormat.QDQ,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            per_channel=True,
            reduce_range=True,
            op_types_to_quantize=["Conv", "Add", "Resize", "Relu", "DepthToSpace"],
            extra_options={"CalibMovingAverage": True},
        )
    model = onnx.load(str(target))
    _bytes_in(model.graph)
    _bytes_out(model.graph)
    model.graph.name = "slab"
    onnx.checker.check_model(model)
    onnx.save(model, str(target))


def _set(graph: Any, name: str, value: NDArray[Any]) -> None:
    for old in graph.initializer:
        if old.name == name:
            graph.initializer.remove(old)
            break
    graph.initializer.append(numpy_helper.from_array(value, name))


def _bytes_in(graph: Any) -> None:
    """Takes the picture's bytes, channels last, instead of quantising floats."""
    first = next(n for n in graph.node if n.op_type == "QuantizeLinear" and n.input[0] == "rgb")
    _set(graph, first.input[1], np.asarray(1 / 255, np.float32))
    _set(graph, first.input[2], np.asarray(128, np.uint8))
    planes = helper.make_node("Transpose", ["rgb"], [first.output[0]], perm=[0, 3, 1, 2])
    at = list(graph.node).index(first)
    graph.node.remove(first)
    graph.node.insert(at, planes)
    del graph.input[:]
    graph.input.append(helper.make_tensor_value_info("rgb", TensorProto.UINT8, [1, "rows", "cols", 3]))


def _bytes_out(graph: Any) -> None:
    """Gives quantised logits of a fixed step instead of floats."""
    last = next(n for n in graph.node if n.output[0] == "logits")
    if last.op_type != "DequantizeLinear":
        raise RuntimeError(f"the quantised graph ends in {last.op_type}, not in DequantizeLinear")
    graph.node.remove(last)
    made_by = {n.output[0]: n for n in graph.node}
    step, zero = np.asarray(LOGIT_STEP, np.float32), np.asarray(LOGIT_ZERO, np.uint8)
    name = last.input[0]
    made_by[name].output[0] = "logits"
    node = made_by[name]
    while node.op_type in ("QuantizeLinear", "DepthToSpace", "DequantizeLinear"):
        if node.op_type != "DepthToSpace":  # the pixel shuffle moves bytes: one scale before, after
            _set(graph, node.input[1], step)
            _set(graph, node.input[2], zero)
        node = made_by[node.input[0]]
    del graph.output[:]
    graph.output.append(helper.make_tensor_value_info("logits", TensorProto.UINT8, [1, 4, "rows", "cols"]))


def compare(net: SlabNet, path: Path, tiles: NDArray[np.uint8]) -> dict[str, float]:
    """Mean and 99th percentile of the difference in probability, float network to file."""
    session = onnxruntime.InferenceSession(str(path), providers=["CPUExecutionProvider"])
    gaps = []
    for tile in tiles:
        rgb = np.ascontiguousarray(tile[..., :3])
        got = session.run(None, {"rgb": rgb[None]})[0].astype(np.float32)
        with torch.no_grad():
            want = torch.sigmoid(net(torch.from_numpy(rgb).permute(2, 0, 1)[None].float() / 255))
        p = 1 / (1 + np.exp(-(got - LOGIT_ZERO) * LOGIT_STEP))
        gap = np.abs(p - want.numpy())[0, :2]
        gaps.append(gap[want.numpy()[0, :2] > 0.05])
    every = np.concatenate(gaps)
    if not every.size:
        return {"mean": 0.0, "p99": 0.0}
    return {"mean": float(every.mean()), "p99": float(np.percentile(every, 99))}


def export(checkpoint: Path, out: Path, tiles: NDArray[np.uint8]) -> Path:
    """Writes ``slab_lines.onnx`` and ``slab_lines.json`` into `out`; returns the ONNX path.

    `tiles` (n, side, side, 4) are packed tiles that set the value ranges and check the result.
    """
    out.mkdir(parents=True, exist_ok=True)
    net, saved = load_network(checkpoint)
    path = out / "slab_lines.onnx"
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "float.onnx"
        export_float(net, plain)
        quantise(plain, path, tiles[:48])
    gap = compare(net, path, tiles[48:56] if len(tiles) >= 56 else tiles[:8])
    about = {
        "classes": list(CLASSES),
        "stride_px": net.shape.stride,
        "logit_step": LOGIT_STEP,
        "logit_zero": LOGIT_ZERO,
        "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
        "steps": saved["step"],
        "seconds": round(saved["seconds"]),
        "quantisation_gap": {k: round(v, 4) for k, v in gap.items()},
        "training": saved["config"],
    }
    (out / "slab_lines.json").write_text(json.dumps(about, indent=1) + "\n")
    print(f"{path}: {path.stat().st_size / 1e6:.2f} MB, gap {gap}")
    return path


def main(arguments: list[str] | None = None) -> int:
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("run", type=Path)
    parser.add_argument("--out", type=Path, required=True)
    a = parser.parse_args(arguments)
    export(a.run / "average.pt", a.out, np.load(a.run / "holdout.npy"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
