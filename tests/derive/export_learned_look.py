"""Turn trained weights into the file that is shipped.

    python tests/derive/export_learned_look.py learned_look.npz

Needs onnx. Weights are stored as 16-bit numbers and widened when the file is opened; the layers are those of
train_learned_look.py.
"""

import argparse
from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

LEVELS = 6
SHIPPED = Path(__file__).resolve().parents[2] / "blendkit" / "data" / "learned_look.onnx"


def network(weights: dict[str, np.ndarray]) -> onnx.ModelProto:
    """Build the network: darkness (1, 1, h, w) to five shares (1, 5, h, w)."""
    nodes, constants = [], []
    used = 0

    def constant(name: str, value: np.ndarray) -> str:
        constants.append(numpy_helper.from_array(value, name))
        return name

    constant("twice", np.array([1, 1, 2, 2], np.float32))

    def conv(x: str, step: int = 1, active: bool = True) -> str:
        nonlocal used
        k, used = used, used + 1
        names = []
        for letter in "wb":
            constant(f"{letter}{k}_16", weights[f"{letter}{k}"].astype(np.float16))
            nodes.append(
                helper.make_node("Cast", [f"{letter}{k}_16"], [f"{letter}{k}"], to=TensorProto.FLOAT)
            )
            names.append(f"{letter}{k}")
        side = weights[f"w{k}"].shape[-1]
        pad = side // 2
        shape = {"kernel_shape": [side, side], "strides": [step] * 2, "pads": [pad] * 4}
        nodes.append(helper.make_node("Conv", [x, *names], [f"c{k}"], **shape))
        if not active:
            return f"c{k}"
        nodes.append(helper.make_node("Relu", [f"c{k}"], [f"r{k}"]))
        return f"r{k}"

    def up(x: str) -> str:
        how = {"coordinate_transformation_mode": "asymmetric", "mode": "nearest", "nearest_mode": "floor"}
        nodes.append(helper.make_node("Resize", [x, "", "twice"], [f"u_{x}"], **how))
        return f"u_{x}"

    def join(a: str, b: str) -> str:
        nodes.append(helper.make_node("Concat", [a, b], [f"{a}_{b}"], axis=1))
        return f"{a}_{b}"

    full = conv("darkness")
    x = conv(full, 2)
    kept = []
    for level in range(LEVELS):
        if level:
            nodes.append(helper.make_node("MaxPool", [x], [f"p{level}"], kernel_shape=[2, 2], strides=[2, 2]))
            x = f"p{level}"
        x = conv(conv(x))
        kept.append(x)
    for skip in kept[-2::-1]:
        x = conv(conv(join(up(x), skip)))
    x = conv(conv(join(up(x), full)), active=False)
    nodes.append(helper.make_node("Sigmoid", [x], ["maps"]))
    sides = ["h", "w"]
    graph = helper.make_graph(
        nodes,
        "learned_look",
        [helper.make_tensor_value_info("darkness", TensorProto.FLOAT, [1, 1, *sides])],
        [helper.make_tensor_value_info("maps", TensorProto.FLOAT, [1, 5, *sides])],
        constants,
    )
    model = helper.make_model(graph, opset_imports=[helper.make_opsetid("", 13)], ir_version=8)
    onnx.checker.check_model(model)
    return model


def main() -> None:
    """Write the file and say its size."""
    parser = argparse.ArgumentParser()
    parser.add_argument("weights", type=Path)
    parser.add_argument("--out", type=Path, default=SHIPPED)
    args = parser.parse_args()
    onnx.save(network(dict(np.load(args.weights))), args.out)
    print(f"{args.out.name}: {args.out.stat().st_size / 1e6:.2f} MB")


if __name__ == "__main__":
    main()
