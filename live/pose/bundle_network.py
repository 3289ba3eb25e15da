"""Make a TFLite network fit for the pose landmarker: note its input range, leave out a branch."""

from __future__ import annotations

from typing import Any, Final

import flatbuffers
import numpy as np
from mediapipe.tasks.metadata import metadata_schema_py_generated as notes
from mediapipe.tasks.metadata import schema_py_generated as tflite

ALIGNMENT: Final = 16
"""TFLite reads weights in place and so wants their first byte on a multiple of 16."""


def with_input_range(model: bytes, mean: float, std: float) -> bytes:
    """The same network with the metadata that pixels are fed in as (value - mean) / std."""
    network = tflite.ModelT.InitFromPackedBuf(model)
    network.buffers.append(tflite.BufferT(data=np.frombuffer(_note(mean, std), np.uint8)))
    network.metadata = [
        *(network.metadata or []),
        tflite.MetadataT(name="TFLITE_METADATA", buffer=len(network.buffers) - 1),
    ]
    return _packed(network, len(model))


def without_output(model: bytes, unused: int) -> bytes:
    """The network without the operators that only its output of this number needs.

    The library counts outputs, so another tensor stands in its place: the smallest of those that
    the branch left out was fed with, which is there anyhow. All other outputs stay the same to the
    last bit. Raises ValueError where the branch is not fed by any operator that stays.
    """
    network = tflite.ModelT.InitFromPackedBuf(model)
    graph = network.subgraphs[0]
    outputs = [int(tensor) for tensor in graph.outputs]
    maker = {int(out): k for k, op in enumerate(graph.operators) for out in op.outputs}

    def needed(tensors: list[int]) -> set[int]:
        found: set[int] = set()
        open_ends = list(tensors)
        while open_ends:
            at = maker.get(open_ends.pop())
            if at is not None and at not in found:
                found.add(at)
                open_ends += [int(tensor) for tensor in graph.operators[at].inputs]
        return found

    def from_picture(tensor: int) -> bool:
        inputs = set(map(int, graph.inputs))
        return any(inputs & set(map(int, graph.operators[at].inputs)) for at in needed([tensor]))

    kept = needed([tensor for k, tensor in enumerate(outputs) if k != unused])
    left_out = needed([outputs[unused]]) - kept
    fed = {int(tensor) for at in left_out for tensor in graph.operators[at].inputs}
    # Weights are unpacked by operators too, from constants alone: those are no outputs.
    stand_ins = [t for t in fed if maker.get(t) in kept and from_picture(t)]
    if not stand_ins:
        raise ValueError("nothing could stand in for the output")
    outputs[unused] = min(stand_ins, key=lambda t: (int(np.prod(graph.tensors[t].shape)), t))
    graph.outputs = np.array(outputs, np.int32)
    graph.operators = [op for k, op in enumerate(graph.operators) if k in kept]
    return _packed(network, len(model))


def _packed(network: Any, size: int) -> bytes:
    network.buffers = [_AlignedBuffer(buffer.data) for buffer in network.buffers]
    builder = flatbuffers.Builder(size)
    builder.Finish(network.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def _note(mean: float, std: float) -> bytes:
    scaling = notes.ProcessUnitT(
        optionsType=notes.ProcessUnitOptions.NormalizationOptions,
        options=notes.NormalizationOptionsT(mean=[mean], std=[std]),
    )
    picture = notes.ContentT(
        contentPropertiesType=notes.ContentProperties.ImageProperties,
        contentProperties=notes.ImagePropertiesT(colorSpace=notes.ColorSpaceType.RGB),
    )
    tensor = notes.TensorMetadataT(name="image", content=picture, processUnits=[scaling])
    metadata = notes.ModelMetadataT(
        subgraphMetadata=[notes.SubGraphMetadataT(inputTensorMetadata=[tensor])],
        minParserVersion="1.0.0",
    )
    builder = flatbuffers.Builder(0)
    builder.Finish(metadata.Pack(builder), b"M001")
    return bytes(builder.Output())


class _AlignedBuffer(tflite.BufferT):  # type: ignore[misc]  # the generated module has no types
    """A buffer whose data starts on a multiple of ALIGNMENT; the generated code packs bytes."""

    def Pack(self, builder: Any) -> Any:  # noqa: N802  (the generated code's name)
        if self.data is not None:
            builder.Prep(ALIGNMENT, len(self.data))
        return super().Pack(builder)
