"""A sheet as plain values: what a seal signs and a printed sheet says."""

from typing import Any

import numpy as np

from inspection.compute.judging import JUDGING
from inspection.compute.night import name_hash
from inspection.compute.quantities import COLUMNS
from inspection.compute.stance import Field
from inspection.loaders.block.findings import RuleFinding
from inspection.loaders.block.notes import (
    motor_seal_as_json,
    motor_seals_on,
    note_as_json,
    notes_on,
    pictures_as_json,
)
from inspection.loaders.block.readings import is_struck
from inspection.loaders.block.sheets import LoadedSheet
from inspection.loaders.block.values import ColumnValue
from inspection.models import SheetPart, SheetReading
from inventory.compute.numbers import MILLION, to_millionths
from inventory.models import Club, Person

FORMAT = "feelerbook sheet 2"


def sheet_as_json(loaded: LoadedSheet) -> dict[str, Any]:
    """
    Say all that the sheet rests on; sizes in millionths of their unit.

    A reading's fact that is new is said only where there is one: what was sealed
    before it is held against the same rows.
    """
    sheet, entry = loaded.sheet, loaded.sheet.entry
    content: dict[str, Any] = {
        "format": FORMAT,
        "judging": JUDGING,
        "issuer": issuer(),
        "number": sheet.number,
        "supersedes": sheet.previous.number if sheet.previous else None,
        "night": {
            "name": entry.night.name,
            "date": entry.night.date.isoformat(),
            "place": entry.night.place,
        },
        "item": {
            "car": entry.number,
            "car_tag": entry.car.tag,
            "car_name": entry.car.name,
            "class": entry.race_class.name,
            "owner": person_as_json(entry.car.owner),
            "driver": person_as_json(entry.driver),
            "parts": _parts(loaded),
        },
        "procedure": {
            "edition": loaded.edition.name,
            "sha256": loaded.edition.sha256,
            "decision_rule": loaded.edition.decision_rule.value,
            "confidence": str(sheet.edition.confidence.normalize()),
            "stage": sheet.stage,
            "block": sheet.block.name if sheet.block else None,
        },
        "started_at": sheet.started_at.isoformat(),
        "started_by": person_as_json(sheet.started_by),
        "readings": [reading_as_json(reading) for reading in loaded.readings],
        "values": [_value(loaded.values[c]) for c in COLUMNS if c in loaded.values],
        "findings": [finding_as_json(finding) for finding in loaded.findings],
    }
    if motor_seals := list(motor_seals_on(sheet)):
        content["item"]["motor_seals"] = [
            motor_seal_as_json(seal, person_as_json(seal.by)) for seal in motor_seals
        ]
    if notes := list(notes_on(sheet)):
        pictures = pictures_as_json(notes)
        content["notes"] = [
            note_as_json(note, pictures.get(note.pk), person_as_json(note.by))
            for note in notes
        ]
    if sheet.paper_at:
        content["paper_at"] = sheet.paper_at.isoformat()
    return content


def person_as_json(person: Person) -> dict[str, Any]:
    """Name a person by id and salted hash; the name itself can be erased."""
    return {"id": person.pk, "name": name_hash(person.name_salt, person.name)}


def issuer() -> dict[str, str]:
    """Name the club that issues the sheet."""
    club = Club.objects.first()
    return {"name": club.name, "place": club.place} if club else {}


def _parts(loaded: LoadedSheet) -> list[dict[str, str]]:
    rows = SheetPart.objects.filter(sheet=loaded.sheet).select_related("part")
    return [{"position": row.position, "tag": row.part.tag} for row in rows]


def reading_as_json(reading: SheetReading) -> dict[str, Any]:
    """Say one reading in full, with its gauge and why it was struck."""
    members: dict[str, Any] = {
        "id": str(reading.reading_id),
        "column": reading.column,
        "kind": reading.kind,
        "text": reading.text,
        "unit_typed": reading.unit_typed,
        "value": reading.value,
        "low": reading.low,
        "high": reading.high,
        "answer": reading.answer,
        "by": person_as_json(reading.by),
        "taken_at": reading.taken_at.isoformat(),
        "received_at": reading.received_at.isoformat(),
        "was_asked_about": reading.was_asked_about,
    }
    if reading.clock_said:
        members["clock_said"] = reading.clock_said
    if reading.is_own_car:
        members["own_car"] = True
    if reading.gauge_mode is not None:
        members["gauge"] = {
            "name": reading.gauge_mode.gauge.name,
            "mode": reading.gauge_mode.mode,
            "resolution": reading.gauge_mode.resolution,
            "max_permissible_error": reading.gauge_mode.max_permissible_error,
            "repeatability": reading.gauge_mode.repeatability,
            "checked_at": _iso(reading.gauge_check and reading.gauge_check.taken_at),
            "check": reading.gauge_check and reading.gauge_check.result,
        }
    if reading.carried_from is not None:
        members["carried_from"] = {
            "sheet": reading.carried_from.sheet.number,
            "reading": str(reading.carried_from.reading_id),
        }
    if is_struck(reading):
        members["struck"] = {
            "by": person_as_json(reading.strike.by),
            "at": reading.strike.at.isoformat(),
            "reason": reading.strike.reason,
        }
    return members


def _iso(moment: Any) -> str | None:
    return moment.isoformat() if moment else None


def _value(value: ColumnValue) -> dict[str, Any]:
    members = {
        "column": value.column,
        "value": whole(value.value),
        "random": whole(value.random),
        "systematic": whole(value.systematic),
        "gauge": list(value.gauge) if value.gauge else None,
        "source": value.source.value,
        "readings": list(value.reading_ids),
        "went_under": value.went_under,
        "said_by": value.said_by_id,
        "said_at": _iso(value.said_at),
        "part": value.part_tag,
    }
    # Said only where it is so: what was sealed before is held against the same rows.
    return members | {"between_slips": True} if value.between_slips else members


def finding_as_json(finding: RuleFinding) -> dict[str, Any]:
    """
    Say one finding in full: it must stand alone when judging has changed.

    Sizes are whole millionths of the unit, but for ``u`` and ``guard_band``, which
    are not rounded: the outcome is worked out of them again.  ``critical`` is the
    number of standard uncertainties in a guard band where that is not the normal
    quantile of the confidence; ``half_width`` is said where the value lies between
    two slips, half of what they are apart, not rounded; ``places`` where so many
    places near the limit were judged together, of which the probability then is.
    """
    members = {
        "rule": finding.rule.number,
        "quantity": finding.rule.quantity.key,
        "lower": whole(finding.lower),
        "upper": whole(finding.upper),
        "force": finding.rule.force.value,
        "evidence": finding.rule.evidence.value,
        "outcome": finding.outcome.value,
        "admitted": finding.is_admitted,
        "taken": finding.is_taken,
        "value": whole(finding.value),
        "went_under": finding.went_under,
        "u": _unrounded(finding.u_value),
        "critical": finding.critical,
        "guard_band": _unrounded(finding.guard_band),
        "margin": whole(finding.margin),
        "probability": finding.probability,
        "point": finding.point.value if finding.point else None,
        "derived": whole(finding.derived),
        "disagrees": finding.disagrees,
    }
    if finding.half_width is not None:
        members["half_width"] = _unrounded(finding.half_width)
    if finding.places:
        members["places"] = finding.places
    return members


def _unrounded(value: float | None) -> float | None:
    return None if value is None else value * MILLION


def whole(value: float | None) -> int | None:
    """Turn a value into stored millionths; nothing stays nothing."""
    return None if value is None else to_millionths(value)


def pack_inputs(field: Field) -> tuple[str, bytes]:
    """
    Pack one car's values, as SealInputs keeps them.

    Millionths of the units, which a field of a sheet is rounded to already.
    """
    known = np.flatnonzero(~np.isnan(field.value[0]))
    bound = np.zeros(len(known)) if field.bound is None else field.bound[0, known]
    parts = (field.value, field.random, field.systematic)
    numbers = np.column_stack(
        [
            *(np.rint(part[0, known] * MILLION) for part in parts),
            field.gauge[0, known],
            bound,
        ]
    )
    return (
        " ".join(field.columns[index] for index in known.tolist()),
        numbers.astype("<i8").tobytes(),
    )
