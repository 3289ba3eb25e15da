"""Sessions as a FHIR R4 Bundle of Observations, checked by the fhir.resources package.

Units are UCUM. There are LOINC codes for pain (72514-3; from memory) and exercise duration
(55411-3; HL7 Physical Activity guide). None was found for the measures of running, so those are in
a code system of our own, which the bundle brings along. Nothing tells who the athlete is but the
athlete's id and code name.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from fhir.resources.R4B.bundle import Bundle

from feedback.records.summary import Digest, MeanValue
from feedback.texts.measures import full_title
from feedback.training.counting import SessionPart
from shared.catalogue import CATALOGUE, UNITS
from shared.flow import Side
from shared.identity import id_of
from shared.plain_text import plain_line
from shared.targets import Question

SYSTEM: Final = "urn:uuid:5d0c1a3e-6f0b-5c0e-9b53-0f6f6a1d2b77"
"""Our own code system; a name, not an address."""
LOINC: Final = "http://loinc.org"
UCUM: Final = "http://unitsofmeasure.org"
NAMES: Final = uuid.UUID(SYSTEM.removeprefix("urn:uuid:"))
PARTS: Final = {
    SessionPart.ALL: "steps with and without cues",
    SessionPart.CUED: "steps with cues",
    SessionPart.UNCUED: "steps without cues",
}
QUESTIONS: Final = {
    Question.PAIN: ((LOINC, "72514-3"), "Pain severity - 0-10 verbal numeric rating"),
    Question.EFFORT: ((SYSTEM, "effort"), "Effort, Borg CR10"),
    Question.AWKWARDNESS: ((SYSTEM, "awkwardness"), "Awkwardness, 0 to 10"),
}


def as_fhir(digests: Sequence[Digest]) -> str:
    """A Bundle (collection), JSON. Raises ValueError should it not be valid R4.

    Trials and drawn runners are left out: nothing there would tell them from a patient's sessions.
    """
    digests = [one for one in digests if is_of_a_patient(one)]
    entries = [_entry("code-system", _code_system())]
    patients = {id_of(digest): digest.code_name for digest in digests}  # the newest name
    for athlete_id, name in patients.items():
        entries.append({"fullUrl": _of(athlete_id), "resource": _patient(athlete_id, name)})
    for digest in digests:
        entries += [_entry(name, body) for name, body in _observations(digest)]
    bundle = {
        "resourceType": "Bundle",
        "type": "collection",
        "timestamp": datetime.now(tz=UTC).isoformat(timespec="seconds"),
        "entry": entries,
    }
    return str(Bundle.model_validate(bundle).model_dump_json(indent=1))


def is_of_a_patient(digest: Digest) -> bool:
    """Whether it belongs into a patient's record."""
    return not (digest.trial or digest.demo)


def _entry(name: str, body: dict[str, Any]) -> dict[str, Any]:
    return {"fullUrl": _urn(name), "resource": body}


def _urn(name: str) -> str:
    """The same for the same thing in every export."""
    return f"urn:uuid:{uuid.uuid5(NAMES, name)}"


def _of(athlete_id: str) -> str:
    return f"urn:uuid:{athlete_id}"


def _patient(athlete_id: str, code_name: str) -> dict[str, Any]:
    return {
        "resourceType": "Patient",
        # RFC 3986: the value is an address of its own (FHIR R4, Identifier.system).
        "identifier": [{"system": "urn:ietf:rfc:3986", "value": _of(athlete_id)}],
        "name": [{"use": "anonymous", "text": plain_line(code_name)}],
    }


def _code_system() -> dict[str, Any]:
    concepts = [
        {
            "code": spec.name,
            "display": full_title(spec.name),
            "definition": f"{spec.definition} + is {spec.sign}.",
        }
        for spec in CATALOGUE.values()
    ]
    concepts += [
        {"code": "effort", "display": "Effort, Borg CR10"},
        {"code": "awkwardness", "display": "Awkwardness of the new way of running, 0 to 10"},
        *({"code": part.value, "display": display} for part, display in PARTS.items()),
    ]
    return {
        "resourceType": "CodeSystem",
        "url": SYSTEM,
        "name": "RunningMeasures",
        "title": "Measures of treadmill running from one camera",
        "status": "active",
        "content": "complete",
        "concept": concepts,
    }


def _observations(digest: Digest) -> Iterator[tuple[str, dict[str, Any]]]:
    minutes = {"value": round(digest.run_s / 60, 2), "unit": "min", "system": UCUM, "code": "min"}
    duration = _observation(digest, (LOINC, "55411-3"), "Exercise duration")
    yield f"{digest.uid} duration", {**duration, "valueQuantity": minutes}
    for mean in digest.means:
        key = f"{digest.uid} {mean.measure} {mean.side} {mean.unit} {mean.part}"
        yield key, _mean(digest, mean)
    for number, answer in enumerate(digest.answers):
        code, display = QUESTIONS[answer.what]
        body = _observation(digest, code, display, "survey")
        score = {"value": answer.value, "unit": "of 10", "system": UCUM, "code": "{score}"}
        yield f"{digest.uid} answer {number}", {**body, "valueQuantity": score}


def _mean(digest: Digest, mean: MeanValue) -> dict[str, Any]:
    body = _observation(digest, (SYSTEM, mean.measure), full_title(mean.measure, mean.side))
    body["valueQuantity"] = {
        "value": round(mean.mean, 4),
        "unit": mean.unit,
        "system": UCUM,
        "code": UNITS[mean.unit].ucum,
    }
    at_speed = "" if digest.belt_speed_kmh is None else f", belt {digest.belt_speed_kmh:g} km/h"
    body["method"] = {
        "coding": [{"system": SYSTEM, "code": mean.part.value}],
        "text": f"Mean over {mean.values} values, {PARTS[mean.part]}; one camera, "
        f"{digest.view.value}{at_speed}",
    }
    if mean.side is not None:
        code, display = {
            Side.LEFT: ("7771000", "Left"),
            Side.RIGHT: ("24028007", "Right"),
        }[mean.side]  # SNOMED CT laterality, from memory
        site = {"system": "http://snomed.info/sct", "code": code, "display": display}
        body["bodySite"] = {"coding": [site], "text": display}
    if mean.sem is not None:
        body["note"] = [{"text": f"Standard error of the mean {mean.sem:.3g} {mean.unit}."}]
    return body


def _observation(
    digest: Digest, code: tuple[str, str], display: str, category: str = "activity"
) -> dict[str, Any]:
    system, value = code
    return {
        "resourceType": "Observation",
        "status": "preliminary" if digest.lost else "final",
        "category": [
            {
                "coding": [
                    {
                        "system": "http://terminology.hl7.org/CodeSystem/observation-category",
                        "code": category,
                    }
                ]
            }
        ],
        "code": {"coding": [{"system": system, "code": value}], "text": display},
        "subject": {"reference": _of(id_of(digest))},
        "effectiveDateTime": digest.started_utc,
    }
