"""Three networks in one file: one reads crops as they are, another their mirror images (the input `mirrored`), the third
reads those where the first two contradict each other over a clip (the input `contradicted`).

usage: bundle.py PLAIN.onnx MIRRORED.onnx CONTRADICTED.onnx OUT.onnx
All take `image`; the torso's outputs are kept. Only one of them runs at a time, so a reading costs what it did.
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


def choice(question: str, yes: onnx.GraphProto, no: onnx.GraphProto, outputs: list[str]) -> onnx.NodeProto:
    """One of two branches, as the input tells."""
    return helper.make_node("If", [question], outputs, then_branch=yes, else_branch=no)


def bundle(plain: str, mirrored: str, contradicted: str, out: str) -> None:
    """Write the file."""
    models = [onnx.load(path) for path in (plain, mirrored, contradicted)]
    names = list(SHAPES)
    if len({i.version for m in models for i in m.opset_import if i.domain == ""}) != 1:
        raise SystemExit("the files are of different operator sets")

    def told(prefix: str = "") -> list[onnx.ValueInfoProto]:
        return [helper.make_tensor_value_info(prefix + name, TensorProto.FLOAT, ["batch", *SHAPES[name]]) for name in names]

    inner = choice("contradicted", branch(contradicted, "contradicted/", names), branch(mirrored, "mirrored/", names), ["of_mirrored/" + n for n in names])
    of_mirrored = helper.make_graph([inner], "of_mirrored", [], told("of_mirrored/"))
    outer = choice("mirrored", of_mirrored, branch(plain, "plain/", names), names)
    inputs = [helper.make_tensor_value_info("image", TensorProto.FLOAT, ["batch", 3, 256, 256])]
    inputs += [helper.make_tensor_value_info(name, TensorProto.BOOL, [1]) for name in ("mirrored", "contradicted")]
    model = helper.make_model(helper.make_graph([outer], "torso", inputs, told()), opset_imports=list(models[0].opset_import), ir_version=models[0].ir_version)
    onnx.checker.check_model(model)
    onnx.save(model, out)


if __name__ == "__main__":
    bundle(*sys.argv[1:5])
