"""Add to a TFLite network the note on its input range that the pose landmarker asks for."""

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
    network.buffers = [_AlignedBuffer(buffer.data) for buffer in network.buffers]
    builder = flatbuffers.Builder(len(model))
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
