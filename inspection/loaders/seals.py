"""A sheet as plain values: what a seal signs and a printed sheet says."""

from typing import Any

import numpy as np

from inspection.compute.chains import name_hash
from inspection.compute.quantities import COLUMNS
from inspection.compute.rules import Field
from inspection.loaders.sheets import LoadedSheet, RuleFinding
from inspection.loaders.values import ColumnValue, is_struck
from inspection.models import SheetPart, SheetReading
from inventory.models import Club, Person

FORMAT = "feelerbook sheet 1"


def sheet_as_json(loaded: LoadedSheet) -> dict[str, Any]:
    """Say all that the sheet rests on; sizes in millionths of their unit."""
    sheet, entry = loaded.sheet, loaded.sheet.entry
    return {
        "format": FORMAT,
        "issuer": issuer(),
        "number": sheet.number,
        "supersedes": sheet.previous.number if sheet.previous else None,
        "night": {
            "name": entry.night.name,
            "date": entry.night.date.isoformat(),
            "place": entry.night.place,
        },
        "item": {
            "car": entry.car.number,
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
        "readings": [_reading(reading) for reading in loaded.readings],
        "values": [_value(loaded.values[c]) for c in COLUMNS if c in loaded.values],
        "findings": [_finding(found) for found in loaded.findings],
    }


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


def _reading(reading: SheetReading) -> dict[str, Any]:
    said: dict[str, Any] = {
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
    if reading.gauge_mode is not None:
        said["gauge"] = {
            "name": reading.gauge_mode.gauge.name,
            "mode": reading.gauge_mode.mode,
            "resolution": reading.gauge_mode.resolution,
            "max_permissible_error": reading.gauge_mode.max_permissible_error,
            "repeatability": reading.gauge_mode.repeatability,
            "checked_at": _iso(reading.gauge_check and reading.gauge_check.taken_at),
            "check": reading.gauge_check and reading.gauge_check.result,
        }
    if reading.carried_from is not None:
        said["carried_from"] = reading.carried_from.sheet.number
    if is_struck(reading):
        said["struck"] = {
            "by": person_as_json(reading.strike.by),
            "at": reading.strike.at.isoformat(),
            "reason": reading.strike.reason,
        }
    return said


def _iso(moment: Any) -> str | None:
    return moment.isoformat() if moment else None


def _value(value: ColumnValue) -> dict[str, Any]:
    return {
        "column": value.column,
        "value": whole(value.value),
        "random": whole(value.random),
        "systematic": whole(value.systematic),
        "gauge": list(value.gauge) if value.gauge else None,
        "source": value.source.value,
        "readings": list(value.reading_ids),
        "went_under": value.went_under,
    }


def _finding(found: RuleFinding) -> dict[str, Any]:
    return {
        "rule": found.rule.number,
        "quantity": found.rule.quantity.key,
        "lower": whole(found.lower),
        "upper": whole(found.upper),
        "force": found.rule.force.value,
        "outcome": found.outcome.value,
        "admitted": found.is_admitted,
        "taken": found.is_taken,
        "value": whole(found.value),
        "u": whole(found.u_value),
        "margin": whole(found.margin),
        "point": found.point.value if found.point else None,
    }


def whole(value: float | None) -> int | None:
    """Turn a value into stored millionths; nothing stays nothing."""
    return None if value is None else round(value * 1_000_000)


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
            *(np.rint(part[0, known] * 1_000_000) for part in parts),
            field.gauge[0, known],
            bound,
        ]
    )
    return (
        " ".join(field.quantities[index] for index in known.tolist()),
        numbers.astype("<i8").tobytes(),
    )
