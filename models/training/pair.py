"""Two networks in one file: one reads crops as they are, the other their mirror images; which, the input `mirrored` says.

usage: pair.py PLAIN.onnx MIRRORED.onnx OUT.onnx
Both take `image`; the torso's outputs are kept. Only one of them runs at a time, so a reading costs what it did.
"""

from __future__ import annotations

import sys

import onnx
from onnx import TensorProto, helper

SHAPES = dict(rotation=(2, 3, 3), log_sigma=(2, 3), points=(25, 2), log_b=(25, 2))


def branch(path: str, prefix: str, outputs: list[str]) -> onnx.GraphProto:
    """A network's graph with its own names, as a branch: `image` comes from outside."""
    graph = onnx.load(path).graph
    for node in graph.node:
        node.input[:] = [n if n in ("", "image") else prefix + n for n in node.input]
        node.output[:] = [prefix + n if n else n for n in node.output]
        node.name = prefix + node.name if node.name else ""
    for tensor in graph.initializer:
        tensor.name = prefix + tensor.name
    kept = [o for name in outputs for o in graph.output if o.name == name]
    for o in kept:
        o.name = prefix + o.name
    return helper.make_graph(list(graph.node), prefix.rstrip("/"), [], kept, list(graph.initializer))


def pair(plain: str, mirrored: str, out: str) -> None:
    """Write the file."""
    a, b = onnx.load(plain), onnx.load(mirrored)
    names = list(SHAPES)
    if {i.version for i in a.opset_import if i.domain == ""} != {i.version for i in b.opset_import if i.domain == ""}:
        raise SystemExit("the two files are of different operator sets")
    choose = helper.make_node("If", ["mirrored"], names, then_branch=branch(mirrored, "mirrored/", names), else_branch=branch(plain, "plain/", names))
    outputs = [helper.make_tensor_value_info(name, TensorProto.FLOAT, ["batch", *SHAPES[name]]) for name in names]
    image = helper.make_tensor_value_info("image", TensorProto.FLOAT, ["batch", 3, 256, 256])
    told = helper.make_tensor_value_info("mirrored", TensorProto.BOOL, [1])
    model = helper.make_model(helper.make_graph([choose], "torso", [image, told], outputs), opset_imports=list(a.opset_import), ir_version=a.ir_version)
    onnx.checker.check_model(model)
    onnx.save(model, out)


if __name__ == "__main__":
    pair(*sys.argv[1:4])
