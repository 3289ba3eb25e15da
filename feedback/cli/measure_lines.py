"""The lines that ``beltside measure --json`` writes, and their JSON Schema.

``measure_lines.schema.json`` beside this file is made from it: after a change write
``schema_text()`` there again.
"""

from __future__ import annotations

from typing import Annotated, Any, Final

import msgspec
from msgspec import UNSET, Meta, UnsetType

from shared.flow import EventKind, Side, View

DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
Share = Annotated[float, Meta(ge=0, le=1)]
Count = Annotated[int, Meta(ge=0)]
Seconds = Annotated[float, Meta(description="Seconds of the file's own time.")]
OneSide = Annotated[
    Side | None,
    Meta(description="The runner's own; null for both together, or where it is not known."),
]
Unit = Annotated[str, Meta(description="One of those that the catalogue has for the measure.")]


class EventLine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A foot has met or left the belt."""

    event: EventKind
    side: OneSide
    at_s: Seconds
    quality: Share
    uncertainty_ms: Annotated[float, Meta(ge=0)]


class MeasureLine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One value of one measure, as it becomes known."""

    measure: Annotated[str, Meta(description="The measure's name in the catalogue.")]
    side: OneSide
    value: float
    unit: Unit
    uncertainty: Annotated[float, Meta(ge=0, description="Half the 90 % interval.")]
    quality: Share
    steps: Annotated[int, Meta(ge=1, description="Steps that the value is the mean of.")]
    at_s: Seconds
    percent_leg: (
        Annotated[
            float, Meta(description="A length in cm once more, in % of leg length; else not there.")
        ]
        | UnsetType
    ) = UNSET


class Reason(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One reason why nothing was measured, with what to do about it."""

    code: str
    title: str
    meaning: str
    action: str


class UnmeasuredLine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Why no value is given, the likeliest reason first; the last line but one, if at all."""

    unmeasured: Annotated[list[Reason], Meta(min_length=1)]


class MeanRow(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One measure and side over the whole file, in one unit."""

    measure: str
    side: OneSide
    unit: Unit
    mean: float
    sd: Annotated[float, Meta(ge=0)] | None
    """Spread of the values; null for one value."""
    n: Annotated[int, Meta(ge=1, description="Values that count.")]


class Summary(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What the whole file came to."""

    measures: list[MeanRow]
    contacts: Annotated[
        dict[str, Count], Meta(description="Steps by side: left, right, side_not_known.")
    ]
    frames: Annotated[Count, Meta(description="Pictures measured.")]
    dropped: Annotated[Count, Meta(description="Pictures passed over, with --as-live alone.")]
    doubtful_frames: Annotated[
        dict[str, Count], Meta(description="Pictures in which nothing counted, by reason.")
    ]
    duration_s: Annotated[float, Meta(ge=0)]
    standing_seen: bool
    """The runner was seen to stand before the run."""
    view_seen: Annotated[
        View | None,
        Meta(description="From where the camera looks; null where that is not sure."),
    ]
    unmeasured: Annotated[list[str], Meta(description="Codes of why no value is given.")]


class SummaryLine(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The last line."""

    summary: Summary


Line = EventLine | MeasureLine | UnmeasuredLine | SummaryLine
KINDS: Final = (EventLine, MeasureLine, UnmeasuredLine, SummaryLine)
"""Each is known by its first field."""


def line_text(line: Line) -> str:
    """One line, with its end."""
    return msgspec.json.encode(line).decode() + "\n"


def schema() -> dict[str, Any]:
    """JSON Schema of any one line."""
    kinds, parts = msgspec.json.schema_components(KINDS, ref_template="#/$defs/{name}")
    return {
        "$schema": DRAFT,
        "title": "A line of beltside measure --json",
        "anyOf": list(kinds),
        "$defs": {name: parts[name] for name in sorted(parts)},
    }


def schema_text() -> str:
    """The same, as it stands in the file."""
    return msgspec.json.format(msgspec.json.encode(schema()), indent=2).decode() + "\n"
