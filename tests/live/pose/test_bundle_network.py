"""Leaving out a branch of a network: what stays is what the other outputs need, in its order."""

from __future__ import annotations

import zipfile
from typing import Any

import flatbuffers
import numpy as np
import pytest
from mediapipe.tasks.metadata import schema_py_generated as tflite

from live.pose.bundle import PINNED, ensure_bundle
from live.pose.bundle_network import without_output

PICTURE, PACKED, WEIGHTS, SHARED, SMALLER, POINTS, MASK_PART, MASK = range(8)
SHAPES = {
    PICTURE: (1, 8, 8, 3), PACKED: (1, 2), WEIGHTS: (1, 2), SHARED: (1, 8, 8, 2),
    SMALLER: (1, 4, 4, 2), POINTS: (1, 6), MASK_PART: (1, 8, 8, 1), MASK: (1, 8, 8, 1),
}  # fmt: skip
OPERATORS = {
    "unpack": ([PACKED], [WEIGHTS]),
    "look": ([PICTURE, WEIGHTS], [SHARED]),
    "shrink": ([SHARED], [SMALLER]),
    "point": ([SMALLER, WEIGHTS], [POINTS]),
    "paint": ([SHARED, SMALLER, WEIGHTS], [MASK_PART]),
    "finish": ([MASK_PART], [MASK]),
}


def network(outputs: list[int], without: tuple[str, ...] = ()) -> bytes:
    operators = [
        tflite.OperatorT(inputs=np.array(i, np.int32), outputs=np.array(o, np.int32))
        for name, (i, o) in OPERATORS.items()
        if name not in without
    ]
    tensors = [tflite.TensorT(shape=np.array(SHAPES[t], np.int32), name=str(t)) for t in SHAPES]
    graph = tflite.SubGraphT(
        tensors=tensors,
        inputs=np.array([PICTURE], np.int32),
        outputs=np.array(outputs, np.int32),
        operators=operators,
    )
    model = tflite.ModelT(version=3, subgraphs=[graph], buffers=[tflite.BufferT()])
    builder = flatbuffers.Builder(1024)
    builder.Finish(model.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def graph_of(model: bytes) -> Any:
    return tflite.ModelT.InitFromPackedBuf(model).subgraphs[0]


def test_only_the_unused_branch_goes() -> None:
    graph = graph_of(without_output(network([POINTS, MASK]), 1))
    made = [int(out) for op in graph.operators for out in op.outputs]
    assert made == [WEIGHTS, SHARED, SMALLER, POINTS]


def test_the_smallest_computed_tensor_stands_in() -> None:
    """Smaller still are the unpacked weights, but they hang on no picture."""
    assert list(graph_of(without_output(network([MASK, POINTS]), 0)).outputs) == [SMALLER, POINTS]


def test_a_branch_that_stands_alone_cannot_go() -> None:
    with pytest.raises(ValueError, match="stand in"):
        without_output(network([WEIGHTS, MASK]), 1)


@pytest.mark.model
def test_the_real_network_gives_its_landmarks_and_paints_nothing() -> None:
    """Shapes as the pose landmarker reads them: 39 points of 5 and of 3 numbers, presence, a map of
    64 by 64 for each point. Nothing at the outline's size of 256 by 256 is computed any more."""
    with zipfile.ZipFile(ensure_bundle()) as archive:
        graph = graph_of(archive.read("pose_landmarks_detector.tflite"))
    shapes = [tuple(int(n) for n in graph.tensors[out].shape) for out in graph.outputs]
    unused = PINNED.unused_output
    assert unused == 2
    assert shapes[:2] + shapes[3:] == [(1, 195), (1, 1), (1, 64, 64, 39), (1, 117)]
    made = {int(out) for op in graph.operators for out in op.outputs}
    assert {int(out) for out in graph.outputs} <= made
    full_size = [t for t in made if tuple(graph.tensors[t].shape[1:3]) == (256, 256)]
    assert full_size == []
